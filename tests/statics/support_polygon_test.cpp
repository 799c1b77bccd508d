// Hull, edges and distances against exact arithmetic: gift wrapping (Jarvis 1973) on rational numbers, which
// shares no code and no rounding with the library.
#include "rimstance/statics/support_polygon.hpp"

#include <boost/multiprecision/cpp_int.hpp>
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using Rational = boost::multiprecision::cpp_rational;
struct Exact {
  Rational x, y;
  bool operator==(const Exact& o) const { return x == o.x && y == o.y; }
};

Exact exact(const Vec3& p) { return {Rational(p.x()), Rational(p.y())}; }
Rational cross(const Exact& o, const Exact& a, const Exact& b) {
  return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}
Rational square(const Exact& a, const Exact& b) {
  return (a.x - b.x) * (a.x - b.x) + (a.y - b.y) * (a.y - b.y);
}

/// Strict corners, counter-clockwise, from the lowest of the leftmost; fewer than three where flat.
std::vector<Exact> wrapped_hull(const std::vector<Vec3>& points) {
  std::vector<Exact> all;
  for (const Vec3& p : points) all.push_back(exact(p));
  Exact start = all[0];
  for (const Exact& p : all)
    if (p.x < start.x || (p.x == start.x && p.y < start.y)) start = p;
  std::vector<Exact> hull;
  Exact at = start;
  do {
    hull.push_back(at);
    Exact next = at;
    for (const Exact& p : all) {
      if (p == at) continue;
      const Rational turn = next == at ? Rational(-1) : cross(at, next, p);
      if (turn < 0 || (turn == 0 && square(at, p) > square(at, next))) next = p;
    }
    at = next;
  } while (!(at == start) && hull.size() <= all.size());
  return hull;
}

/// Signed distance of a point to the line a -> b, positive on the left: one rounding.
double distance(const Exact& p, const Exact& a, const Exact& b) {
  return cross(a, b, p).convert_to<double>() / std::sqrt(square(a, b).convert_to<double>());
}
double least_distance(const Exact& p, const std::vector<Exact>& hull) {
  double least = kInfinity;
  for (std::size_t i = 0; i < hull.size(); ++i)
    least = std::min(least, distance(p, hull[i], hull[(i + 1) % hull.size()]));
  return least;
}

std::vector<Contact> contacts_at(const std::vector<Vec3>& points) {
  std::vector<Contact> out;
  for (const Vec3& p : points) out.push_back(stands::at(p));
  return out;
}

/// Clearances of a weight at p, one per edge.
std::vector<double> clearances(const std::vector<Edge>& edges, const Vec3& p_C) {
  const std::vector<Part> load{drawn::lump(1000, p_C)};
  std::vector<double> out;
  for (const Edge& e : edges) out.push_back(measures(load, tipping_axis(e, Vec3(0, 0, -1.62)), 0).clearance);
  return out;
}
double least_clearance(const std::vector<Edge>& edges, const Vec3& p_C) {
  const auto all = clearances(edges, p_C);
  return *std::min_element(all.begin(), all.end());
}

/// 3 to 9 feet about the origin; every other set on a coarse lattice, full of duplicates and straight rows.
std::vector<Vec3> drawn_feet(Draw& draw) {
  const bool lattice = draw.in(0, 1) < 0.5;
  const int n = 3 + static_cast<int>(draw.in(0, 7));
  std::vector<Vec3> out;
  for (int i = 0; i < n; ++i) {
    Vec3 p(draw.in(-3, 3), draw.in(-3, 3), draw.in(-0.5, 0.5));
    if (lattice) p = {std::round(p.x()), std::round(p.y()), p.z()};
    out.push_back(p);
  }
  return out;
}

/// Four feet, one in each quadrant.
std::vector<Vec3> quad(Draw& draw) {
  std::vector<Vec3> out;
  for (const auto& [x, y] : {std::pair{1.0, 1.0}, {-1.0, 1.0}, {-1.0, -1.0}, {1.0, -1.0}})
    out.emplace_back(x * draw.in(1, 3), y * draw.in(1, 3), draw.in(-0.5, 0.5));
  return out;
}

}  // namespace

TEST_CASE(
    "the polygon's corners are those of exact gift wrapping, lattices with rows and duplicates included") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{401, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const std::vector<Vec3> feet = drawn_feet(draw);
    const auto hull = wrapped_hull(feet);
    const auto edges = support_polygon(contacts_at(feet), {});
    if (hull.size() < 3) {
      CHECK(edges.empty());
      continue;
    }
    REQUIRE(edges.size() == hull.size());
    std::size_t turn = 0;
    while (turn < hull.size() && !(hull[turn] == exact(feet[static_cast<std::size_t>(edges[0].from)])))
      ++turn;
    for (std::size_t k = 0; k < edges.size(); ++k) {
      CHECK(exact(feet[static_cast<std::size_t>(edges[k].from)]) == hull[(turn + k) % hull.size()]);
      CHECK(edges[k].to == edges[(k + 1) % edges.size()].from);
    }
  }
}

TEST_CASE("edge distances are those of exact arithmetic, at the origin and at map offsets") {
  for (const Vec3& origin : {Vec3(0, 0, 0), Vec3(5e5, 4.3e6, 1e3)})
    for (int i = 0; i < cases(); ++i) {
      Draw draw{402, static_cast<std::uint64_t>(i)};
      INFO(draw.text() << ", offset " << origin.x());
      std::vector<Vec3> feet = drawn_feet(draw);
      for (Vec3& p : feet) p += origin;
      Pose X_WC;
      X_WC.p = origin;
      const auto edges = support_polygon(contacts_at(feet), X_WC);
      const auto hull = wrapped_hull(feet);
      if (hull.size() < 3) continue;
      const Vec3 r_C(draw.in(-4, 4), draw.in(-4, 4), draw.in(0, 2));
      const Exact r{Rational(origin.x()) + Rational(r_C.x()), Rational(origin.y()) + Rational(r_C.y())};
      const auto found = clearances(edges, r_C);
      for (std::size_t k = 0; k < edges.size(); ++k)
        CHECK(found[k] == Approx(distance(r, exact(feet[static_cast<std::size_t>(edges[k].from)]),
                                          exact(feet[static_cast<std::size_t>(edges[k].to)])))
                              .margin(1e-12));
      CHECK(least_clearance(edges, r_C) == Approx(least_distance(r, hull)).margin(kOnEdge));
    }
}

TEST_CASE("area and widths are those of exact arithmetic") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{403, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const std::vector<Vec3> feet = drawn_feet(draw);
    const auto hull = wrapped_hull(feet);
    const auto edges = support_polygon(contacts_at(feet), {});
    if (hull.size() < 3) continue;
    Rational twice = 0;
    for (std::size_t k = 0; k < hull.size(); ++k)
      twice += cross({0, 0}, hull[k], hull[(k + 1) % hull.size()]);
    CHECK(plan_area(edges) == Approx(twice.convert_to<double>() / 2).epsilon(1e-13));
    for (const Edge& e : edges) {
      double width = 0;
      for (const Exact& p : hull)
        width = std::max(width, distance(p, exact(feet[static_cast<std::size_t>(e.from)]),
                                         exact(feet[static_cast<std::size_t>(e.to)])));
      CHECK(e.width == Approx(width).epsilon(1e-13));
    }
  }
}

TEST_CASE("three feet in a row within two last places at map offsets never upset the polygon") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{404, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Vec3 a(5e5 + draw.in(-3, 3), 4.3e6 + draw.in(-3, 3), 0);
    const Vec3 b(5e5 + draw.in(-3, 3), 4.3e6 + draw.in(-3, 3), 0);
    Vec3 middle = a + draw.in(0, 1) * (b - a);
    for (int k = 0; k < 2; ++k)
      for (int steps = static_cast<int>(draw.in(-2, 3)); steps != 0; steps += steps > 0 ? -1 : 1)
        middle[k] = std::nextafter(middle[k], steps > 0 ? kInfinity : -kInfinity);
    const Vec3 far = 0.5 * (a + b) + draw.in(1, 3) * Vec3(a.y() - b.y(), b.x() - a.x(), 0).normalized();
    const std::vector<Vec3> feet{a, b, middle, far};
    const auto edges = support_polygon(contacts_at(feet), {});
    REQUIRE(edges.size() >= 3);
    Pose X_WC;
    X_WC.p = Vec3(5e5, 4.3e6, 0);
    const Vec3 r_C = 0.4 * (a + b) + 0.2 * far - X_WC.p;
    const Exact r{Rational(5e5) + Rational(r_C.x()), Rational(4.3e6) + Rational(r_C.y())};
    // A corner may be dropped when it lies within 1e-9 m of the line through its neighbours.
    CHECK(least_clearance(support_polygon(contacts_at(feet), X_WC), r_C) ==
          Approx(least_distance(r, wrapped_hull(feet))).margin(2 * kOnEdge));
  }
}

TEST_CASE("feet in one row, on one spot or fewer than three hold nothing") {
  CHECK(support_polygon(stands::at({{0, 0, 0}, {1, 1, 0}, {2, 2, 1}, {5, 5, 0}}), {}).empty());
  CHECK(support_polygon(stands::at({{1, 2, 0}, {1, 2, 0}, {1, 2, 3}}), {}).empty());
  CHECK(support_polygon(stands::at({{0, 0, 0}, {1, 0, 0}}), {}).empty());
  CHECK(support_polygon({}, {}).empty());
  auto feet = stands::at({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}});
  CHECK(support_polygon(feet, {}).size() == 3);
  feet[1].supported = false;
  CHECK(support_polygon(feet, {}).empty());
}

TEST_CASE("a foot nearer than 1e-9 m to an edge lies on it; one 1e-6 m outside is a corner") {
  const auto square_and = [](double out) {
    return support_polygon(stands::at({{1, 1, 0}, {-1, 1, 0}, {-1, -1, 0}, {1, -1, 0}, {1 + out, 0, 0}}), {});
  };
  CHECK(square_and(0).size() == 4);
  CHECK(square_and(0.9e-9).size() == 4);
  CHECK(square_and(1e-6).size() == 5);
}

TEST_CASE("a further foot inside the hull changes no edge by a single bit") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{405, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    std::vector<Vec3> feet = quad(draw);
    const auto before = support_polygon(contacts_at(feet), {});
    feet.emplace_back(draw.in(-0.4, 0.4), draw.in(-0.4, 0.4), draw.in(-1, 1));
    const auto after = support_polygon(contacts_at(feet), {});
    const Vec3 r(draw.in(-1, 1), draw.in(-1, 1), 1);
    REQUIRE(after.size() == before.size());
    CHECK(clearances(before, r) == clearances(after, r));
  }
}

TEST_CASE("a further foot outside never shrinks the hull, and losing one never grows it") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{406, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    std::vector<Vec3> feet = quad(draw);
    const Vec3 r(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), 1);
    const auto before = support_polygon(contacts_at(feet), {});
    const double least = least_clearance(before, r);
    feet.emplace_back(draw.in(-6, 6), draw.in(-6, 6), draw.in(-1, 1));
    const auto more = support_polygon(contacts_at(feet), {});
    REQUIRE(least > 0);
    CHECK(least_clearance(more, r) >= least - 1e-12);
    CHECK(plan_area(more) >= plan_area(before) - 1e-12);
    feet.pop_back();
    feet.erase(feet.begin() + static_cast<std::ptrdiff_t>(draw.in(0, 4)));
    CHECK(least_clearance(support_polygon(contacts_at(feet), {}), r) <= least + 1e-12);
  }
}

TEST_CASE("a foot twice, or twice within 1e-12 m, changes nothing but rounding") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{407, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    std::vector<Vec3> feet = quad(draw);
    const Vec3 r(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), 1);
    const double least = least_clearance(support_polygon(contacts_at(feet), {}), r);
    const auto which = static_cast<std::size_t>(draw.in(0, 4));
    const auto at = static_cast<std::ptrdiff_t>(draw.in(0, 5));
    std::vector<Vec3> twice = feet, nearly = feet;
    twice.insert(twice.begin() + at, feet[which]);
    nearly.insert(nearly.begin() + at,
                  feet[which] + 1e-12 * Vec3(draw.in(-1, 1), draw.in(-1, 1), draw.in(-1, 1)));
    const auto edges = support_polygon(contacts_at(nearly), {});
    CHECK(edges.size() == 4);
    CHECK(least_clearance(support_polygon(contacts_at(twice), {}), r) == least);
    CHECK(least_clearance(edges, r) == Approx(least).margin(1e-9));
    for (const Edge& e : edges) CHECK(std::isfinite(e.length + e.inclination + e.width + e.a_W.sum()));
  }
}

TEST_CASE("each axis points along its edge in both frames, the polygon on its left") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{408, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const drawn::Stance s = drawn::stance(draw);
    REQUIRE(s.edges.size() == 4);
    for (const Edge& e : s.edges) {
      const Contact &from = s.contacts[static_cast<std::size_t>(e.from)],
                    &to = s.contacts[static_cast<std::size_t>(e.to)];
      CHECK((e.p_W - from.p_W).norm() == 0);
      CHECK((e.p_W + e.length * e.a_W - to.p_W).norm() <= 1e-12);
      CHECK((e.p_C + e.length * e.a_C - to.p_C).norm() <= 1e-12);
      CHECK(std::sin(e.inclination) == Approx((to.p_W.z() - from.p_W.z()) / e.length).margin(1e-12));
      for (const Contact& c : s.contacts)
        CHECK(cross2((to.p_W - from.p_W).head<2>(), (c.p_W - from.p_W).head<2>()) >= -1e-12);
      // The axis in Pluecker form gives the moment of a force about the edge, seen from either end.
      const Vec3 F(draw.in(-1, 1), draw.in(-1, 1), draw.in(-1, 1)), r = drawn::point(draw, 2, 2);
      CHECK(e.axis().dot(wrench(F, r)) == Approx(-(r - to.p_C).cross(F).dot(e.a_C)).margin(1e-12));
    }
  }
}

TEST_CASE("the scale of a rectangle is its greater half side") {
  CHECK(polygon_scale(drawn::polygon({{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}})) == Approx(2));
  // A triangle's centroid is a third of each height away from the side below it.
  CHECK(polygon_scale(drawn::polygon({{0, 0, 0}, {3, 0, 0}, {0, 6, 0}})) == Approx(2));
}

}  // namespace rimstance
