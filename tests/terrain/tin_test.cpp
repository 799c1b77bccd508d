// Laws of the triangulation of points, and point clouds that were measured.
#include "tin.hpp"

#include <array>
#include <chrono>
#include <cstdint>
#include <map>
#include <numeric>

#include "cases.hpp"
#include "made_files.hpp"
#include "made_points.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

constexpr TerrainOptions kWide{.unit = 1.0, .longest_edge = kInfinity};

LoadedTerrain tin(const std::vector<Vec3>& points, const TerrainOptions& options = kWide) {
  return load_terrain_bytes(made::xyz(points), "a.xyz", options);
}
std::string why_not(const std::vector<Vec3>& points, const TerrainOptions& options = kWide) {
  return refusal(made::xyz(points), "a.xyz", options);
}
std::vector<Facet> all_facets(const Terrain& t) {
  std::vector<Facet> out;
  t.ground->triangles(t.ground->extent(), out);
  return out;
}
bool noted(const TerrainFacts& facts, std::initializer_list<std::string_view> parts) {
  return std::any_of(facts.notes.begin(), facts.notes.end(),
                     [&](const std::string& note) { return says(note, parts); });
}

/// Numbers of whole eighths: exact in 64 bits, so that products of four differences fit in 128.
std::int64_t eighths(double x) { return std::llround(8 * x); }

__extension__ using Wide = __int128;

/// > 0: d lies inside the circle through a, b, c, which run counter-clockwise (exact; the determinant of
/// Guibas & Stolfi 1985).
Wide in_circle(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  std::array<std::array<Wide, 3>, 3> m{};
  const Vec3* rows[] = {&a, &b, &c};
  for (std::size_t i = 0; i < 3; ++i) {
    const Wide x = eighths(rows[i]->x()) - eighths(d.x()), y = eighths(rows[i]->y()) - eighths(d.y());
    m[i] = {x, y, x * x + y * y};
  }
  return m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) -
         m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
         m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
}

/// Area of the convex hull: monotone chain (Andrew 1979) and the shoelace formula, in whole numbers of 1/64.
double hull_area(std::vector<Vec3> points) {
  std::vector<std::array<std::int64_t, 2>> p;
  for (const Vec3& q : points) p.push_back({eighths(q.x()), eighths(q.y())});
  std::sort(p.begin(), p.end());
  std::vector<std::array<std::int64_t, 2>> hull;
  const auto turn = [](const auto& a, const auto& b, const auto& c) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
  };
  for (int pass = 0; pass < 2; ++pass) {
    const std::size_t base = hull.size();
    for (const auto& q : p) {
      while (hull.size() >= base + 2 && turn(hull[hull.size() - 2], hull.back(), q) <= 0) hull.pop_back();
      hull.push_back(q);
    }
    hull.pop_back();
    std::reverse(p.begin(), p.end());
  }
  std::int64_t twice = 0;
  for (std::size_t i = 0; i < hull.size(); ++i) {
    const auto& a = hull[i];
    const auto& b = hull[(i + 1) % hull.size()];
    twice += a[0] * b[1] - a[1] * b[0];
  }
  return static_cast<double>(twice) / 128;
}

std::vector<Vec3> rough(int n) {
  return made::shaken(n, 2, Vec2::Zero(),
                      [](double x, double y) { return std::round(8 * std::sin(x + 0.5 * y)) / 8; });
}

std::vector<double> sorted_facets(const LoadedTerrain& t) {
  std::vector<std::array<double, 9>> rows;
  for (const Facet& f : all_facets(t.terrain)) {
    std::array<Vec3, 3> c{f.a + t.terrain.map_offset, f.b + t.terrain.map_offset, f.c + t.terrain.map_offset};
    std::sort(c.begin(), c.end(),
              [](const Vec3& a, const Vec3& b) { return std::tie(a.x(), a.y()) < std::tie(b.x(), b.y()); });
    rows.push_back(
        {c[0].x(), c[0].y(), c[0].z(), c[1].x(), c[1].y(), c[1].z(), c[2].x(), c[2].y(), c[2].z()});
  }
  std::sort(rows.begin(), rows.end());
  std::vector<double> out;
  for (const auto& r : rows) out.insert(out.end(), r.begin(), r.end());
  return out;
}

}  // namespace

TEST_CASE("TIN: every point is a corner, with its height to the bit") {
  const std::vector<Vec3> points = rough(20);
  const LoadedTerrain t = tin(points);
  CHECK(t.facts.vertices == points.size());
  std::map<std::pair<double, double>, double> corners;
  for (const Facet& f : all_facets(t.terrain))
    for (const Vec3* p : {&f.a, &f.b, &f.c}) {
      const Vec3 q = *p + t.terrain.map_offset;
      corners[{q.x(), q.y()}] = q.z();
    }
  CHECK(corners.size() == points.size());
  for (const Vec3& p : points) {
    REQUIRE(corners.contains({p.x(), p.y()}));
    CHECK(corners[{p.x(), p.y()}] == p.z());
  }
}

TEST_CASE("TIN: no point lies inside the circle of a facet") {
  const std::vector<Vec3> points = rough(14);
  const LoadedTerrain t = tin(points);
  std::size_t facets = 0;
  for (const Facet& f : all_facets(t.terrain)) {
    const Vec3 a = f.a + t.terrain.map_offset, b = f.b + t.terrain.map_offset, c = f.c + t.terrain.map_offset;
    REQUIRE(cross2(Vec2((b - a).head<2>()), Vec2((c - a).head<2>())) > 0);
    for (const Vec3& p : points)
      if (in_circle(a, b, c, p) > 0) FAIL("a point lies inside the circle of facet " << f.id);
    ++facets;
  }
  CHECK(facets == t.facts.triangles);
}

TEST_CASE("TIN: without a greatest edge the facets cover the convex hull") {
  const std::vector<Vec3> points = rough(25);
  CHECK(tin(points).facts.plan_area == Approx(hull_area(points)).epsilon(1e-12));
  std::vector<Vec3> few = {{0, 0, 1}, {8, 0, 1}, {8, 6, 1}, {3, 2, 1.5}};
  CHECK(tin(few).facts.plan_area == Approx(hull_area(few)).epsilon(1e-12));
  CHECK(hull_area(few) == 24);  // half of 8 x 6: the fourth point lies inside
}

TEST_CASE("TIN: a plane is reproduced wherever the points are") {
  const auto plane = [](double x, double y) { return 100 + 0.25 * x - 0.125 * y; };
  const LoadedTerrain t = tin(made::shaken(12, 2, Vec2::Zero(), plane));
  for (const Vec2& p : {Vec2(3.3, 4.4), Vec2(11.1, 17.9), Vec2(20, 5)})
    CHECK(map_height(t.terrain, p.x(), p.y()) == Approx(plane(p.x(), p.y())).epsilon(1e-13));
  CHECK(t.facts.slope_p50 == Approx(std::atan(std::hypot(0.25, 0.125))).epsilon(1e-9));
}

TEST_CASE("TIN: neither the order of the points nor an offset of the map changes the ground") {
  std::vector<Vec3> points = rough(15);
  const std::vector<double> facets = sorted_facets(tin(points));
  for (std::uint64_t seed = 0; seed < 3; ++seed) {
    for (std::size_t i = points.size(); i > 1; --i)
      std::swap(points[i - 1], points[random_bits(seed, 3, i) % i]);
    CHECK(sorted_facets(tin(points)) == facets);
  }
  for (Vec3& p : points) p += Vec3(500000, 4300000, -2048);
  std::vector<double> moved = sorted_facets(tin(points));
  REQUIRE(moved.size() == facets.size());
  for (std::size_t i = 0; i < moved.size(); ++i)
    moved[i] -= i % 3 == 0 ? 500000 : i % 3 == 1 ? 4300000 : -2048;
  CHECK(moved == facets);
}

TEST_CASE("TIN: a gap wider than the greatest edge is a hole, and so are slivers along the hull") {
  std::vector<Vec3> points;
  for (int j = 0; j <= 20; ++j)
    for (int i = 0; i <= 20; ++i)
      if (std::hypot(i - 10, j - 10) > 4) points.emplace_back(i, j, 5);
  const LoadedTerrain t = tin(points, {.unit = 1.0, .longest_edge = 1.5});
  CHECK(std::isnan(map_height(t.terrain, 10, 10)));
  CHECK(map_height(t.terrain, 3.3, 3.3) == 5);
  CHECK(t.facts.long_facets > 0);
  CHECK(noted(t.facts, {fmt::format("{} facets", t.facts.long_facets), "longest_edge", "holes"}));
  for (const Facet& f : all_facets(t.terrain))
    for (const double side :
         {(f.a - f.b).head<2>().norm(), (f.b - f.c).head<2>().norm(), (f.c - f.a).head<2>().norm()})
      CHECK(side <= 1.5);
  const TerrainFacts wide = tin(points).facts;
  CHECK(wide.long_facets == 0);
  CHECK(wide.triangles == t.facts.triangles + t.facts.long_facets);
  CHECK(wide.plan_area == Approx(400).epsilon(1e-12));
}

TEST_CASE("TIN: of points over one another the highest is kept and the others are counted") {
  std::vector<Vec3> points = {{0, 0, 1}, {4, 0, 1}, {0, 4, 1}, {4, 4, 1}, {0, 0, 3}, {0, 0, 2}, {4, 4, 1}};
  const LoadedTerrain t = tin(points);
  CHECK(map_height(t.terrain, 0, 0) == 3);
  CHECK(t.facts.vertices == 4);
  CHECK(t.facts.points == 7);
  CHECK(noted(t.facts, {"3 points", "highest"}));
}

TEST_CASE("TIN: points that span no area are refused") {
  CHECK(says(why_not({{0, 0, 1}, {1, 2, 1}, {2, 4, 7}, {3, 6, 2}}),
             {"4 points lie on one line", "cover an area"}));
  CHECK(says(why_not({{0, 0, 1}, {0, 0, 2}, {1, 1, 2}}), {"2 different places"}));
  CHECK(says(why_not({{0, 0, 1}}), {"1 place in plan makes no surface"}));
  CHECK(says(why_not({{0, 0, 1}, {1e10, 0, 1}, {0, 1e10, 2}}), {"1e9 m", "terrain.unit"}));
}

TEST_CASE("TIN: the edge that is proposed is four times the usual one; a look takes it and says so") {
  std::vector<Vec3> points;
  for (int j = 0; j <= 10; ++j)
    for (int i = 0; i <= 10; ++i) points.emplace_back(0.5 * i, 0.5 * j, 1);
  CHECK(says(why_not(points, {.unit = 1.0}), {"0.5 m", "terrain.longest_edge; 2 m looks right"}));
  const LoadedTerrain t = tin(points, {.unit = 1.0, .points_assumed = true});
  CHECK(t.facts.spacing == 0.5);  // of the sides of a square lattice 2 in 3 are along it
  CHECK(t.facts.longest_edge == 2);
  REQUIRE(t.facts.assumed.size() == 1);
  CHECK(says(t.facts.assumed[0], {"gaps over 2 m", "holes", "terrain.longest_edge"}));
}

TEST_CASE("TIN: cliffs without a point on their face are said, with their height") {
  std::vector<Vec3> points;
  for (int j = 0; j <= 8; ++j)
    for (int i = 0; i <= 20; ++i) points.emplace_back(i, j, i < 4 ? 12 : 0);
  const TerrainFacts facts = tin(points).facts;
  CHECK(noted(facts, {"cliff faces are straight lines", "16 facets", "up to 12 m"}));  // 8 cells of two
  for (Vec3& p : points) p.z() /= 6;  // 2 m: less than three times the spacing
  CHECK_FALSE(noted(tin(points).facts, {"cliff faces"}));
}

TEST_CASE("TIN: walls and trees taken for ground are refused with what to do") {
  std::vector<Vec3> points;
  for (int j = 0; j <= 10; ++j)
    for (int i = 0; i <= 10; ++i) points.emplace_back(i, j, (i + j) % 2 ? 20 : 0);
  CHECK(says(why_not(points), {"half of the surface is steeper", "trees and walls", "terrain.unit"}));
}

TEST_CASE("PLY: vertices without faces are triangulated where the greatest edge is stated") {
  TriangleMesh mesh = made::sheet(6, 1, [](double x, double y) { return 5 + 0.25 * x - 0.5 * y; });
  mesh.triangles.clear();
  const std::string bytes = made::ply(mesh, {});
  CHECK(says(refusal(bytes, "a.ply"), {"49 vertices but no faces", "terrain.longest_edge"}));
  const LoadedTerrain t = load_terrain_bytes(bytes, "a.ply", {.unit = 1.0, .longest_edge = 2});
  CHECK(t.facts.kind == "points");
  CHECK(t.facts.points == 49);
  CHECK(map_height(t.terrain, 2.25, 3.5) == Approx(5 + 0.25 * 2.25 - 0.5 * 3.5).epsilon(1e-13));
  for (Vec3& p : mesh.vertices) p = Vec3(p.x(), p.z(), -p.y());  // y up
  const LoadedTerrain turned =
      load_terrain_bytes(made::ply(mesh, {}), "a.ply", {.up = UpAxis::y, .unit = 1.0, .longest_edge = 2});
  CHECK(map_height(turned.terrain, 2.25, 3.5) == Approx(5 + 0.25 * 2.25 - 0.5 * 3.5).epsilon(1e-13));
}

TEST_CASE("What is for points only is refused where the file has a surface") {
  const TriangleMesh mesh = made::sheet(3, 1, [](double x, double y) { return x * y / 8; });
  TerrainOptions options = kMetresZ;
  options.longest_edge = 2;
  const std::pair<const char*, std::string> files[] = {{"a.ply", made::ply(mesh, {})},
                                                       {"a.obj", made::obj(mesh)},
                                                       {"a.off", made::off(mesh)},
                                                       {"a.stl", made::stl_text(mesh)},
                                                       {"a.asc", made::asc(mesh, 3, 1)}};
  for (const auto& [name, bytes] : files) {
    CHECK(says(refusal(bytes, name, options), {"terrain.longest_edge", "for points only"}));
    TerrainOptions classes = kMetresZ;
    classes.classes = {2};
    CHECK(says(refusal(bytes, name, classes), {"terrain.classes", "for points only"}));
  }
}

TEST_CASE(
    "Points: however many lie on one line, with one beside it or none, they take no more than a moment") {
  std::string line;
  for (int k = 0; k < 100'000; ++k) line += fmt::format("{0} {0} 1\n", k);
  const TerrainOptions options{.unit = 1.0, .longest_edge = kInfinity};
  const auto start = std::chrono::steady_clock::now();
  CHECK(
      says(refusal(line, "a.xyz", options), {"all 100000 points lie on one line in plan", "cover an area"}));
  // Each side of the line is one of a triangle with the point beside it.
  CHECK(delaunay(std::vector<Vec2>{{0, 0}, {1, 1}, {2, 2}, {3, 3}, {0, 3}}).size() == 3);
  CHECK(refusal(line + "0 99999 1\n", "a.xyz", options) != "");
  CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(20));  // it took minutes
}

namespace {

/// The first of the folders in which a measured file lies; the test says what it lacks and passes over it.
std::optional<std::string> measured(std::initializer_list<std::string> paths) {
  for (const std::string& path : paths)
    if (std::ifstream(path).good()) return path;
  WARN("not here, so not tested: " << *paths.begin());
  return std::nullopt;
}
const std::string kShared = RIMSTANCE_SHARED_DATA;
const std::string kFetched = RIMSTANCE_SOURCE_DIR "/build/real_ground";

}  // namespace

TEST_CASE("Measured points: a sea stack, metres by its keys, with cliffs that nobody sampled") {
  const auto path =
      measured({kFetched + "/Haystack_Rock.las", kShared + "/earth_seastack_las/Haystack_Rock.las"});
  if (!path) return;
  const LoadedTerrain t = load_terrain(*path, {.longest_edge = kInfinity});
  CHECK(t.facts.points == 21932);
  CHECK(t.facts.vertices == 21932);  // no two over one another
  CHECK((t.facts.lowest_corner - Vec3(2230738.84, 252070.78, -1.316)).norm() < 1e-6);
  CHECK((t.facts.highest_corner - Vec3(2231104.52, 252410.10, 80.815)).norm() < 1e-6);
  CHECK(t.facts.crs == "EPSG 3645 + EPSG 5703");
  CHECK(t.facts.format == "LAS 1.2, point format 0");
  CHECK(map_height(t.terrain, 2230864.35, 252218.58) == Approx(80.815).margin(1e-6));
  CHECK(noted(t.facts, {"cliff faces are straight lines"}));
  CHECK(t.facts.slope_max > radians(85));
  std::map<std::pair<double, double>, double> high;
  for (const Facet& f : all_facets(t.terrain))
    for (const Vec3* p : {&f.a, &f.b, &f.c})
      if (p->z() + t.terrain.map_offset.z() > 10) high[{p->x(), p->y()}] = p->z();
  CHECK(high.size() == 914);
}

TEST_CASE(
    "Measured points: US survey feet of both kinds become metres, and only the ground class is ground") {
  const auto path = measured({kShared + "/earth_feet_las/4_6_crop.las"});
  if (!path) return;
  CHECK(says(refusal(file_bytes(*path), "crop.las", {.longest_edge = 5}),
             {"1 (unclassified): 14872 points", "2 (ground): 9003 points"}));
  const LoadedTerrain t = load_terrain(*path, {.longest_edge = 5, .classes = {2}});
  const double ft = 1200.0 / 3937;
  CHECK(t.facts.points == 23875);
  CHECK(t.facts.crs == "EPSG 2903 + EPSG 5103");
  CHECK((t.facts.lowest_corner.head<2>() - ft * Vec2(1639600.00, 1454500.02)).norm() < 3);
  CHECK((t.facts.highest_corner.head<2>() - ft * Vec2(1639799.98, 1454700.00)).norm() < 3);
  CHECK(t.facts.lowest_corner.z() >= 2157.35 - 0.01);
  CHECK(t.facts.highest_corner.z() <= 2176.19 + 0.01);
  // Planes through neighbours have a median slope of 5.2 deg (measured apart from this); facets between
  // single points carry their noise besides.
  CHECK(t.facts.slope_p50 > radians(5.2));
  CHECK(t.facts.slope_p50 < radians(1.5 * 5.2));
  // Trees and walls with the ground: half of it steeper than 60 deg.
  CHECK(says(refusal(file_bytes(*path), "crop.las", {.longest_edge = 5, .classes = {1, 2}}),
             {"half of the surface is steeper", "terrain.classes"}));
}

TEST_CASE("Measured points: without a coordinate system the unit must be stated") {
  const auto path = measured({kShared + "/earth_feet_las/noise-dirty.las"});
  if (!path) return;
  TerrainOptions options{.longest_edge = kInfinity, .classes = {1, 2}};
  CHECK(says(refusal(file_bytes(*path), "dirty.las", options), {"terrain.unit", "not stated"}));
  options.unit = 0.3048;
  const LoadedTerrain t = load_terrain(*path, options);
  CHECK(t.facts.points == 1065);
  CHECK(t.facts.lowest_corner.z() == Approx(0.3048 * 406.59).epsilon(1e-12));
  CHECK(t.facts.highest_corner.z() == Approx(0.3048 * 586.38).epsilon(1e-12));
}

TEST_CASE("Measured points: a compressed file is refused with what to do") {
  const auto path = measured({kShared + "/earth_feet_las/simple.laz"});
  if (!path) return;
  CHECK(says(refusal(file_bytes(*path), "simple.laz"), {"LAZ", "decompress it to LAS"}));
}

TEST_CASE("Measured points: houses and trees, as the vertices of a PLY file far from zero, are no ground") {
  const auto path = measured({kFetched + "/b9_training.ply"});
  if (!path) return;
  // 22 300 points over 90.9 x 112.0 x 23.7 m, measured apart from this.
  const std::string bytes = file_bytes(*path);
  CHECK(
      says(refusal(bytes, "b9.ply", {.unit = 1.0}), {"22300 vertices but no faces", "terrain.longest_edge"}));
  CHECK(says(refusal(bytes, "b9.ply", {.longest_edge = 3}),
             {"spans 90.8", "x 111.9", "x 23.6", "terrain.unit"}));
  CHECK(says(refusal(bytes, "b9.ply", {.unit = 1.0, .longest_edge = 3}), {"half of the surface is steeper"}));
}
