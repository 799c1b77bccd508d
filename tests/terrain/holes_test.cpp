#include "rimstance/terrain/holes.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/ground.hpp"

using namespace rimstance;

namespace {

/// Posts 2 m (east) by 1 m (north) apart with z = x in W, some without data; map = W + (100, 200, 50).
Terrain posts(std::uint32_t columns, std::uint32_t rows,
              const std::vector<std::pair<std::uint32_t, std::uint32_t>>& without) {
  HeightGrid grid{Vec2(0, 0), Vec2(2, 1), columns, rows, {}};
  for (std::uint32_t r = 0; r < rows; ++r)
    for (std::uint32_t c = 0; c < columns; ++c) grid.heights.push_back(2.0 * c);
  for (const auto& [c, r] : without) grid.heights[r * columns + c] = kUnset;
  return {grid_ground(std::move(grid)), Vec3(100, 200, 50), "", ""};
}

}  // namespace

TEST_CASE("holes: ground without gaps has none") {
  const HoleSurvey s = survey_holes(posts(5, 4, {}), Vec2(2, 1));
  CHECK(s.count == 0);
  CHECK(s.area == 0);
  CHECK(s.largest.empty());
}

TEST_CASE("holes: a post without data takes the six facets round it, and no more") {
  // Of the four cells at a post, two lose both halves and two (across the diagonal) one: 6 * 2 * 1 / 2 m2.
  const HoleSurvey s = survey_holes(posts(7, 6, {{3, 2}}), Vec2(2, 1));
  REQUIRE(s.count == 1);
  const Hole& h = s.largest[0];
  CHECK(h.area == Approx(6.0));
  CHECK(s.area == Approx(6.0));
  CHECK(s.share == Approx(6.0 / (12 * 5)));
  CHECK((h.box.lo - Vec2(104, 201)).norm() < 1e-12);
  CHECK((h.box.hi - Vec2(108, 203)).norm() < 1e-12);
  CHECK_FALSE(h.at_border);
  // The height is x, so ground next to the hole lies within a cell of its box: 50 + [2, 10].
  CHECK(h.lowest >= 52);
  CHECK(h.lowest < 54);
  CHECK(h.highest > 58);
  CHECK(h.highest <= 60);
  CHECK(h.box.contains(h.place));
}

TEST_CASE("holes: gaps that share no side of a cell are two, the larger first; the border is told") {
  const HoleSurvey s = survey_holes(posts(12, 9, {{0, 0}, {6, 4}, {7, 4}}), Vec2(2, 1));
  REQUIRE(s.count == 2);
  CHECK(s.largest[0].area > s.largest[1].area);
  CHECK_FALSE(s.largest[0].at_border);
  CHECK(s.largest[1].at_border);
  CHECK(s.largest[1].area == Approx(2.0));  // a corner post: both facets of its one cell have it as a corner
}

TEST_CASE("holes: only so many are listed, all are counted") {
  const HoleSurvey s = survey_holes(posts(20, 20, {{3, 3}, {3, 9}, {3, 15}, {12, 3}}), Vec2(2, 1), 2);
  CHECK(s.count == 4);
  CHECK(s.largest.size() == 2);
  CHECK(s.area == Approx(4 * 6.0));
}

TEST_CASE("holes: a gap of a mesh is found to within its rim") {
  // A square ring of 12 x 12 m with a gap of 4 x 4 m in its middle, as eight triangles.
  TriangleMesh ring;
  for (const double a : {6.0, 2.0})
    for (const Vec2& corner : {Vec2(-a, -a), Vec2(a, -a), Vec2(a, a), Vec2(-a, a)})
      ring.vertices.emplace_back(corner.x(), corner.y(), 7);
  for (std::uint32_t k = 0; k < 4; ++k) {
    const std::uint32_t n = (k + 1) % 4;
    ring.triangles.push_back({k, n, 4 + n});
    ring.triangles.push_back({k, 4 + n, 4 + k});
  }
  const Terrain terrain{mesh_ground(std::move(ring)), Vec3::Zero(), "", ""};
  const HoleSurvey s = survey_holes(terrain, Vec2(0.1, 0.1));
  REQUIRE(s.count == 1);
  CHECK(s.area == Approx(16).margin(4 * 4 * 0.1));  // a cell's width round the rim
  CHECK(s.largest[0].lowest == Approx(7));
  CHECK(s.largest[0].highest == Approx(7));
  CHECK_FALSE(s.largest[0].at_border);
}

TEST_CASE("holes: a cell without size is the caller's mistake") {
  CHECK_THROWS(survey_holes(posts(3, 3, {}), Vec2(0, 1)));
}
