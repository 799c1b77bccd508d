#include "rimstance/output/terrain_figure.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

#include "worlds.hpp"

using namespace rimstance;
using Kind = GroundView::Kind;

namespace {

const Box2 kBox{Vec2(-10, -8), Vec2(10, 8)};

bool has(const TerrainLayer& layer, const std::string& name) {
  const bool drawn = std::any_of(layer.marks.begin(), layer.marks.end(), [&](const Mark& m) {
    const auto* a = std::get_if<Area>(&m);
    return a && a->look == name;
  });
  const bool explained = std::any_of(layer.legend.begin(), layer.legend.end(),
                                     [&](const auto& key) { return key.look == name; });
  CHECK(drawn == explained);
  return drawn;
}

/// Mean grey of the relief.
double brightness(const Terrain& terrain) {
  double sum = 0;
  const TerrainLayer layer = terrain_layer(terrain, kBox);
  const auto& image = std::get<Raster>(layer.marks.front()).image;
  for (const std::uint8_t level : image.levels) sum += level;
  return sum / static_cast<double>(image.levels.size());
}

}  // namespace

TEST_CASE("terrain figure: heights drawn are the heights analysed") {
  const Terrain terrain =
      worlds::terrain(worlds::meshed(worlds::bumps(3, 0.4, 5), worlds::square(12), 0.5, 0.3));
  const GroundView v = ground_view(terrain, kBox, 90);
  CHECK(v.heights.rows == 72);  // square cells: 90 * 16 / 20
  for (int r = 0; r < v.heights.rows; ++r)
    for (int c = 0; c < v.heights.columns; ++c) {
      const Vec2 p = v.heights.first + v.heights.step.cwiseProduct(Vec2(c, r));
      CHECK(std::abs(v.heights.at(c, r) - height(terrain, p, kInfinity)) <= 1e-12);
    }
}

TEST_CASE("terrain figure: map coordinates are the terrain's own plus its offset") {
  Terrain terrain = worlds::terrain(worlds::plane(1, 0.1, 0.2));
  const GroundView here = ground_view(terrain, kBox, 20);
  terrain.map_offset = Vec3(5000, 7000, 100);
  const Box2 there{kBox.lo + Vec2(5000, 7000), kBox.hi + Vec2(5000, 7000)};
  const GroundView moved = ground_view(terrain, there, 20, 150);
  CHECK((moved.heights.first - here.heights.first - Vec2(5000, 7000)).norm() < 1e-9);
  for (std::size_t k = 0; k < here.heights.values.size(); ++k)
    CHECK(moved.heights.values[k] == Approx(here.heights.values[k] + 100).margin(1e-9));
}

TEST_CASE("terrain figure: the layer shown is the highest at or below the height asked for") {
  const Terrain terrain = worlds::terrain(worlds::overhang(0, 5, 3));
  const GroundView top = ground_view(terrain, kBox, 40), lower = ground_view(terrain, kBox, 40, -2.0);
  const auto value_at = [](const GroundView& v, double x) {
    return v.heights.at(static_cast<int>((x - v.box.lo.x()) / v.heights.step.x()), v.heights.rows / 2);
  };
  CHECK(value_at(top, -1.0) == Approx(0).margin(1e-12));
  CHECK(value_at(lower, -1.0) == Approx(-5).margin(1e-12));
  CHECK(value_at(top, 4.0) == Approx(-5).margin(1e-12));
}

TEST_CASE("terrain figure: missing data, a gap in a mesh and the outside are told apart") {
  HeightGrid grid = worlds::gridded(worlds::plane(0, 0.05, 0), worlds::square(12), 1);
  grid.heights[12 * grid.columns + 12] = kUnset;  // the post at the origin
  const Terrain holed = worlds::terrain(std::move(grid));
  const GroundView v = ground_view(holed, {Vec2(-14, -2), Vec2(2, 2)}, 160);
  const auto kind_at = [&](double x, double y) {
    const int c = static_cast<int>((x - v.box.lo.x()) / v.heights.step.x()),
              r = static_cast<int>((y - v.box.lo.y()) / v.heights.step.y());
    return v.kinds[static_cast<std::size_t>(r * v.heights.columns + c)];
  };
  CHECK(kind_at(0.05, 0.05) == Kind::hole);
  CHECK(kind_at(-5.05, 0.05) == Kind::ground);
  CHECK(kind_at(-13.05, 0.05) == Kind::off_map);
  CHECK(has(terrain_layer(v), "hole"));
  CHECK_FALSE(has(terrain_layer(v), "void"));

  TriangleMesh west = worlds::meshed(worlds::plane(0, 0, 0), {Vec2(-12, -12), Vec2(-4, 12)}, 1);
  const TriangleMesh east = worlds::meshed(worlds::plane(0, 0, 0), {Vec2(4, -12), Vec2(12, 12)}, 1);
  const TerrainLayer gap = terrain_layer(worlds::terrain(worlds::joined(std::move(west), east)), kBox);
  CHECK(has(gap, "void"));
  CHECK_FALSE(has(gap, "hole"));
  for (const Mark& m : gap.marks)
    if (const auto* a = std::get_if<Area>(&m))
      for (const Vec2& p : a->rings.at(0)) CHECK(std::abs(p.x()) <= 4 + 20.0 / 640);
}

TEST_CASE("terrain figure: ground that faces the light in the north-west is lighter") {
  const double towards = brightness(worlds::terrain(worlds::plane(0, 0.2, -0.2)));  // falls to the north-west
  const double level = brightness(worlds::terrain(worlds::plane(0, 0, 0)));
  const double away = brightness(worlds::terrain(worlds::plane(0, -0.2, 0.2)));
  CHECK(away < level - 10);
  CHECK(towards > away + 25);
}

TEST_CASE("terrain figure: level ground has no contours and says so") {
  const TerrainLayer layer = terrain_layer(worlds::terrain(worlds::plane(3, 0, 0)), kBox);
  CHECK(std::isnan(layer.interval));
  CHECK(layer.marks.size() == 1);
  CHECK(layer.note.find("no contours") != std::string::npos);
}

TEST_CASE("terrain figure: the interval keeps contours of an even slope a finger's breadth apart") {
  for (const double slope : {0.003, 0.02, 0.1, 0.35, 1.0}) {
    const TerrainLayer layer = terrain_layer(worlds::terrain(worlds::plane(0, slope, 0)), kBox);
    const double apart = layer.interval / slope / (20.0 / 640);  // pixels between neighbours
    CHECK(apart >= 34 * (1 - 1e-6));
    CHECK(apart <= 34 * 2.5 * (1 + 1e-6));  // the next round number is at most 2.5 times as large
    const double power = std::pow(10, std::floor(std::log10(layer.interval) + 1e-9));
    const double digit = layer.interval / power;
    CHECK((digit == Approx(1) || digit == Approx(2) || digit == Approx(5)));
  }
}

TEST_CASE("terrain figure: a box without area is the caller's mistake") {
  const Terrain terrain = worlds::terrain(worlds::plane(0, 0, 0));
  CHECK_THROWS_AS(ground_view(terrain, {Vec2(0, 0), Vec2(0, 1)}, 10), std::logic_error);
  CHECK_THROWS_AS(ground_view(terrain, {Vec2(0, 0), Vec2(1, kUnset)}, 10), std::logic_error);
  CHECK_THROWS_AS(ground_view(terrain, kBox, 1), std::logic_error);
}

TEST_CASE("terrain figure: a strip, however narrow, is drawn with a bounded number of cells") {
  const Terrain terrain = worlds::terrain(worlds::plane(0, 0.1, 0.1));
  const GroundView tall = ground_view(terrain, {Vec2(0, -10), Vec2(1e-5, 10)}, 4);
  CHECK(tall.heights.rows == 4096);
  const GroundView wide = ground_view(terrain, {Vec2(-10, 0), Vec2(10, 1e-5)}, 640);
  CHECK(wide.heights.rows == 2);
  CHECK(wide.heights.at(639, 1) == Approx(0.1 * (10 - 20.0 / 1280)).margin(1e-5));
}

TEST_CASE(
    "terrain figure: the demo ground's picture names its file, its steep parts and the places asked about") {
  TerrainOptions options;
  options.up = UpAxis::z;
  options.unit = 1;
  const LoadedTerrain kettle =
      load_terrain(std::string(RIMSTANCE_SOURCE_DIR) + "/terrain/kettle.ply", options);
  const std::string svg = to_svg(terrain_figure(kettle, {{1.25, 2.5}}));
  CHECK(svg == to_svg(terrain_figure(kettle, {{1.25, 2.5}})));
  for (const char* part :
       {"kettle.ply", "overhanging triangles", "1.25, 2.50", "class=\"contour-index\"", "class=\"probe\""})
    CHECK(svg.find(part) != std::string::npos);
}
