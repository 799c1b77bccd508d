#include "rimstance/output/contours.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <set>
#include <stdexcept>
#include <utility>
#include <vector>

#include "cases.hpp"
#include "draw.hpp"

using namespace rimstance;

namespace {

Samples sampled(int columns, int rows, const Vec2& first, double step,
                const std::function<double(const Vec2&)>& z) {
  Samples s{first, Vec2::Constant(step), columns, rows, {}};
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < columns; ++c) s.values.push_back(z(first + step * Vec2(c, r)));
  return s;
}

/// Points where the level lies between two neighbouring posts, found side by side.
std::vector<Vec2> crossings(const Samples& s, double level) {
  std::vector<Vec2> out;
  const auto side = [&](int c, int r, int dc, int dr) {
    if (c + dc >= s.columns || r + dr >= s.rows) return;
    const double a = s.at(c, r), b = s.at(c + dc, r + dr);
    if ((a >= level) == (b >= level)) return;
    out.push_back(s.first + s.step.cwiseProduct(Vec2(c, r) + (level - a) / (b - a) * Vec2(dc, dr)));
  };
  for (int r = 0; r < s.rows; ++r)
    for (int c = 0; c < s.columns; ++c) {
      side(c, r, 1, 0);
      side(c, r, 0, 1);
    }
  return out;
}

bool before(const Vec2& a, const Vec2& b) { return std::pair(a.x(), a.y()) < std::pair(b.x(), b.y()); }

double signed_area(const std::vector<Vec2>& ring) {
  double twice = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) twice += cross2(ring[i], ring[(i + 1) % ring.size()]);
  return twice / 2;
}

}  // namespace

TEST_CASE("contours: those of a plane are straight lines at the levels, high ground on the left") {
  const Samples s = sampled(11, 8, {0.05, 0}, 0.1, [](const Vec2& p) { return 10 * p.x(); });
  const auto lines = contours(s, 2);
  REQUIRE(lines.size() == 5);  // 2, 4, 6, 8, 10 between 0.5 and 10.5
  for (std::size_t k = 0; k < lines.size(); ++k) {
    CHECK(lines[k].level == 2.0 * static_cast<double>(k + 1));
    CHECK_FALSE(lines[k].closed);
    REQUIRE(lines[k].points.size() == 8);
    CHECK(lines[k].points.front().y() >
          lines[k].points.back().y());  // southwards: east, the high side, is left
    for (const Vec2& p : lines[k].points) CHECK(p.x() == Approx(lines[k].level / 10).margin(1e-12));
  }
}

TEST_CASE("contours: those of a cone close into circles as round as the grid can show") {
  const double step = 0.25;
  const Samples s = sampled(81, 81, {-10, -10}, step, [](const Vec2& p) { return p.norm(); });
  const auto lines = contours(s, 1);
  int closed = 0;
  for (const Contour& c : lines) {
    if (!c.closed) continue;
    ++closed;
    CHECK((c.points.front() - c.points.back()).norm() == 0);
    // A chord of a convex function lies at most step^2 / 8 times its second derivative (<= 1/r) above it.
    for (const Vec2& p : c.points)
      CHECK(std::abs(p.norm() - c.level) <= step * step / (8 * (c.level - step)) + 1e-12);
    const std::vector<Vec2> ring(c.points.begin(), c.points.end() - 1);
    CHECK(signed_area(ring) < 0);  // high ground outside, on the left of a clockwise loop
  }
  CHECK(closed == 10);  // radii of 1 to 10 m fit the square of 20 m
}

TEST_CASE("contours: every side whose ends straddle a level is crossed exactly once") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(41, number);
    const int columns = draw.whole(2, 8), rows = draw.whole(2, 8);
    Samples s{Vec2(3, -1), Vec2(0.5, 2), columns, rows, {}};
    for (int k = 0; k < columns * rows; ++k) s.values.push_back(draw.whole(-12, 12) / 4.0);
    std::vector<Vec2> drawn, wanted;
    for (const Contour& c : contours(s, 1))
      drawn.insert(drawn.end(), c.points.begin(), c.closed ? c.points.end() - 1 : c.points.end());
    for (int level = -3; level <= 3; ++level)
      for (const Vec2& p : crossings(s, level)) wanted.push_back(p);
    std::sort(drawn.begin(), drawn.end(), before);
    std::sort(wanted.begin(), wanted.end(), before);
    CHECK(drawn == wanted);
  }
}

TEST_CASE("contours: a saddle is cut by the side on which its middle lies") {
  const auto joins_south_to_east = [](double bias) {
    const Samples s{Vec2::Zero(), Vec2::Ones(), 2, 2, {1 + bias, -1 + bias, -1 + bias, 1 + bias}};
    const auto lines = contours(s, 100);  // the level 0 only
    REQUIRE(lines.size() == 2);
    const auto on = [&](const Contour& c, auto test) {
      return std::any_of(c.points.begin(), c.points.end(), test);
    };
    return on(lines[0], [](const Vec2& p) { return p.y() == 0; }) ==
           on(lines[0], [](const Vec2& p) { return p.x() == 1; });
  };
  CHECK(joins_south_to_east(0.1));  // middle high: the lines go round the low south-east and north-west
  CHECK_FALSE(joins_south_to_east(-0.1));  // middle low: round the high corners
}

TEST_CASE("contours: none crosses missing ground or ground that is too steep") {
  Samples s = sampled(21, 21, {0, 0}, 1, [](const Vec2& p) { return p.x() + 0.5; });
  s.values[10 * 21 + 10] = std::numeric_limits<double>::quiet_NaN();
  for (const Contour& c : contours(s, 1))
    for (std::size_t i = 0; i + 1 < c.points.size(); ++i) {
      const Vec2 middle = 0.5 * (c.points[i] + c.points[i + 1]);
      CHECK(std::max(std::abs(middle.x() - 10), std::abs(middle.y() - 10)) >= 1);
    }
  const Samples step =
      sampled(21, 5, {0, 0}, 1, [](const Vec2& p) { return p.x() < 9.5 ? 0.1 * p.x() : 50 + 0.1 * p.x(); });
  CHECK(contours(step, 0.25).size() > 200);  // the step's own
  for (const Contour& c : contours(step, 0.25, 1.0))
    for (const Vec2& p : c.points) CHECK((p.x() <= 9 || p.x() >= 10));
}

TEST_CASE("contours: nothing to draw gives nothing") {
  CHECK(contours({}, 1).empty());
  CHECK(contours(sampled(1, 5, {0, 0}, 1, [](const Vec2& p) { return p.y(); }), 1).empty());
  CHECK(contours(sampled(4, 4, {0, 0}, 1, [](const Vec2&) { return std::nan(""); }), 1).empty());
  CHECK(contours(sampled(4, 4, {0, 0}, 1, [](const Vec2&) { return 0.5; }), 1).empty());
  CHECK_THROWS_AS(contours(Samples{}, 0), std::logic_error);
  CHECK_THROWS_AS(contours(Samples{}, std::nan("")), std::logic_error);
}

TEST_CASE("outlines: rings enclose exactly the marked posts, openings counting negative") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(42, number);
    const int columns = draw.whole(1, 8), rows = draw.whole(1, 8);
    Samples s{Vec2(1, 2), Vec2(0.5, 0.25), columns, rows, {}};
    int marked = 0;
    for (int k = 0; k < columns * rows; ++k) {
      s.values.push_back(draw.whole(0, 1));
      marked += s.values.back() > 0;
    }
    double area = 0;
    for (const auto& ring : outlines(s)) {
      area += signed_area(ring);
      for (const Vec2& p : ring) {
        CHECK((p.x() >= 1 - 0.25 && p.x() <= 1 + 0.5 * (columns - 0.5)));
        CHECK((p.y() >= 2 - 0.125 && p.y() <= 2 + 0.25 * (rows - 0.5)));
      }
    }
    CHECK(std::abs(area - marked * 0.125) < 1e-12);
  }
}

TEST_CASE("outlines: a ring of posts has an outer and an inner outline") {
  Samples s{Vec2::Zero(), Vec2::Ones(), 3, 3, {1, 1, 1, 1, 0, 1, 1, 1, 1}};
  const auto rings = outlines(s);
  REQUIRE(rings.size() == 2);
  std::multiset<double> areas{signed_area(rings[0]), signed_area(rings[1])};
  CHECK(areas == std::multiset<double>{-1.0, 9.0});
}
