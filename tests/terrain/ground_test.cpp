#include "rimstance/terrain/ground.hpp"

#include <catch2/catch.hpp>

#include "oracles.hpp"
#include "worlds.hpp"

using namespace rimstance;

namespace {

double uniform(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  return lo + (hi - lo) * random_uniform(23, stream, k);
}

Box2 random_box(std::uint64_t k, double half, double greatest) {
  const Vec2 lo(uniform(0, k, -half, half), uniform(1, k, -half, half));
  return {lo, lo + Vec2(uniform(2, k, 0, greatest), uniform(3, k, 0, greatest))};
}

std::vector<std::uint64_t> ids(const Ground& ground, const Box2& box) {
  std::vector<Facet> found;
  ground.facets(box, found);
  std::vector<std::uint64_t> list;
  for (const Facet& f : found) list.push_back(f.id);
  return list;
}

/// A rim with an undercut, sizes from coarse to fine, one wall and a few dead triangles.
TriangleMesh rough() {
  TriangleMesh mesh =
      worlds::joined(worlds::meshed(worlds::bumps(2, 0.5, 1), {Vec2(-6, -6), Vec2(2, 6)}, 0.25, 0.4, 2),
                     worlds::meshed(worlds::plane(-3, 0.1, 0), {Vec2(0, -6), Vec2(6, 6)}, 1.5, 0.3, 3));
  mesh = worlds::joined(mesh, {{{2, -6, -3}, {2, 6, -3}, {2, 6, 0}}, {{0, 1, 2}}});  // a wall
  return worlds::joined(
      mesh, {{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}, {0, 0, 0}}, {{0, 1, 2}, {0, 3, 1}}});  // without area
}

TriangleMesh triangulated(const HeightGrid& grid) {
  TriangleMesh mesh;
  for (std::uint32_t j = 0; j < grid.rows; ++j)
    for (std::uint32_t i = 0; i < grid.columns; ++i)
      mesh.vertices.emplace_back(grid.first.x() + i * grid.spacing.x(), grid.first.y() + j * grid.spacing.y(),
                                 grid.heights[j * grid.columns + i]);
  for (std::uint32_t j = 0; j + 1 < grid.rows; ++j)
    for (std::uint32_t i = 0; i + 1 < grid.columns; ++i) {
      const std::uint32_t sw = j * grid.columns + i, se = sw + 1, nw = sw + grid.columns, ne = nw + 1;
      mesh.triangles.push_back({sw, se, ne});
      mesh.triangles.push_back({sw, ne, nw});
    }
  return mesh;
}

}  // namespace

TEST_CASE("mesh ground: a box finds each facet whose plan box meets it, once and in order") {
  const TriangleMesh mesh = rough();
  const auto ground = mesh_ground(mesh);
  for (std::uint64_t k = 0; k < 300; ++k) {
    const Box2 box = random_box(k, 7, k % 3 ? 0.4 : 9);
    std::vector<std::uint64_t> expected;
    for (std::uint64_t id = 0; id < mesh.triangles.size(); ++id) {
      const Vec3 &a = mesh.vertices[mesh.triangles[id][0]], &b = mesh.vertices[mesh.triangles[id][1]],
                 &c = mesh.vertices[mesh.triangles[id][2]];
      const Vec3 lo = a.cwiseMin(b).cwiseMin(c), hi = a.cwiseMax(b).cwiseMax(c);
      const bool plan = std::abs(cross2((b - a).head<2>(), (c - a).head<2>())) > 1e-12;
      if (plan && lo.x() <= box.hi.x() && hi.x() >= box.lo.x() && lo.y() <= box.hi.y() &&
          hi.y() >= box.lo.y())
        expected.push_back(id);
    }
    CHECK(ids(*ground, box) == expected);
  }
}

TEST_CASE("mesh ground: a wall is no facet but a triangle, and what has no area is neither") {
  const TriangleMesh mesh = rough();
  const auto ground = mesh_ground(mesh);
  const Box2 all = ground->extent();
  std::vector<Facet> triangles;
  all_triangles(*ground, all, triangles);
  CHECK(triangles.size() == mesh.triangles.size() - 2);
  CHECK(ids(*ground, all).size() == mesh.triangles.size() - 3);
  CHECK(all.lo == Vec2(-6, -6));
  CHECK(all.hi == Vec2(6, 6));
}

TEST_CASE("mesh ground: without a facet there is no extent and no ground, and no failure") {
  const TriangleMesh wall{{{0, 0, 0}, {1, 0, 0}, {1, 0, 1}}, {{0, 1, 2}}};
  for (const TriangleMesh& mesh : {TriangleMesh{}, wall}) {
    const auto ground = mesh_ground(mesh);
    CHECK_FALSE(ground->extent().contains(Vec2(0.5, 0)));
    CHECK(ids(*ground, worlds::square(9)).empty());
    CHECK(ground->bounds(worlds::square(9)).hole);
    CHECK(ground->bounds(worlds::square(9)).lo == kInfinity);
    CHECK(std::isnan(height(worlds::terrain(ground), Vec2(0.5, 0), kInfinity)));
  }
  CHECK_THROWS_AS(mesh_ground({{{0, 0, 0}}, {{0, 1, 2}}}), std::logic_error);
  CHECK_THROWS_AS(mesh_ground({{{0, 0, 0}, {1, 0, 0}, {0, 1, kUnset}}, {{0, 1, 2}}}), std::logic_error);
}

TEST_CASE("mesh ground: bounds contain every height, and 'no hole' is said only where there is none") {
  TriangleMesh mesh = worlds::meshed(worlds::bumps(2, 0.5, 1), worlds::square(6), 0.25, 0.4, 2);
  for (std::size_t k = 0; k < 20; ++k)
    mesh.triangles.erase(mesh.triangles.begin() + 150 * static_cast<std::ptrdiff_t>(k));
  const auto ground = mesh_ground(mesh);
  int sure = 0;
  for (std::uint64_t k = 0; k < 2000; ++k) {
    const Box2 box = random_box(k, 6.5, k % 2 ? 0.3 : 4);
    const HeightBounds bounds = ground->bounds(box);
    sure += !bounds.hole;
    for (std::uint64_t i = 0; i < 20; ++i) {
      const Vec2 p(uniform(4, 20 * k + i, box.lo.x(), box.hi.x()),
                   uniform(5, 20 * k + i, box.lo.y(), box.hi.y()));
      const double z = height(worlds::terrain(ground), p, kInfinity);
      if (std::isnan(z)) {
        CHECK(bounds.hole);
      } else {
        CHECK(z >= bounds.lo);
        CHECK(z <= bounds.hi);
      }
    }
  }
  CHECK(sure > 400);  // it is said often enough to be of use
}

TEST_CASE("mesh ground: a box on a missing triangle may have a hole, also where other ground lies double") {
  const TriangleMesh whole = worlds::meshed(worlds::plane(0, 0, 0), worlds::square(2), 0.25, 0.3, 4);
  for (std::size_t k = 0; k < whole.triangles.size(); k += 7) {
    TriangleMesh mesh = whole;
    mesh.triangles[k] =
        mesh.triangles[k % 2 ? k - 1 : k + 1];  // the neighbour twice: area alone would not tell
    const auto ground = mesh_ground(mesh);
    const Vec3 middle = (whole.vertices[whole.triangles[k][0]] + whole.vertices[whole.triangles[k][1]] +
                         whole.vertices[whole.triangles[k][2]]) /
                        3;
    const Vec2 m = middle.head<2>();
    CHECK(ground->bounds({m, m}).hole);
    CHECK(ground->bounds({m - Vec2(0.5, 0.1), m + Vec2(0.7, 0.3)}).hole);
  }
  CHECK_FALSE(mesh_ground(whole)->bounds({Vec2(-1.4, -1.4), Vec2(1.4, 1.4)}).hole);
  CHECK(mesh_ground(whole)->bounds({Vec2(-1.4, -1.4), Vec2(2.1, 1.4)}).hole);  // beyond the map
}

TEST_CASE("mesh ground: between two islands there is a hole, and heights of neither") {
  const auto ground =
      mesh_ground(worlds::joined(worlds::meshed(worlds::plane(1, 0, 0), {Vec2(-5, -1), Vec2(-3, 1)}, 0.25),
                                 worlds::meshed(worlds::plane(2, 0, 0), {Vec2(3, -1), Vec2(5, 1)}, 0.25)));
  const HeightBounds between = ground->bounds({Vec2(-1, -0.5), Vec2(1, 0.5)});
  CHECK(between.hole);
  CHECK(between.lo == kInfinity);
  CHECK(between.hi == -kInfinity);
  const HeightBounds on = ground->bounds({Vec2(3.9, -0.1), Vec2(4.1, 0.1)});
  CHECK_FALSE(on.hole);
  CHECK(on.lo == 2);
  CHECK(on.hi == 2);
}

TEST_CASE("point location: no vertex, no middle of a side and no point on a side is missed") {
  const Mat3 R = rotation(0.7, 0, 0);
  const Vec3 shift(1234.567, -765.4321, 10);
  const double slope_x = 0.3, slope_y = -0.2;
  TriangleMesh mesh = worlds::meshed(worlds::plane(0, slope_x, slope_y), worlds::square(3), 0.1, 0.45, 9);
  mesh = worlds::moved(mesh, R, shift);
  const Terrain t = worlds::terrain(mesh);
  int missed = 0;
  const auto look = [&](const Vec3& on) {
    // a point of the outer border may be rounded off the map
    const Vec3 home = R.transpose() * (on - shift);
    if (home.head<2>().cwiseAbs().maxCoeff() > 3 - 1e-9) return;
    const std::vector<double> found = layers(t, on.head<2>());
    const bool once =
        found.size() == 1 && std::abs(found[0] - on.z()) < 1e-9;  // though several facets share it
    missed += !once;
  };
  for (const Vec3& v : mesh.vertices) look(v);
  std::uint64_t k = 0;
  for (const auto& tri : mesh.triangles)
    for (std::size_t i = 0; i < 3; ++i) {
      const Vec3 &a = mesh.vertices[tri[i]], &b = mesh.vertices[tri[(i + 1) % 3]];
      look(0.5 * (a + b));
      for (int n = 0; n < 5; ++n) look(a + uniform(0, k++, 0, 1) * (b - a));
    }
  CHECK(k >= 100'000);
  CHECK(missed == 0);
}

TEST_CASE("grid ground: the diagonal of each cell runs from south-west to north-east") {
  const Terrain t = worlds::terrain(worlds::drawn(R"( 7 3
                                                      1 8 )"));
  CHECK(height(t, Vec2(0.5, 0.5), kInfinity) == Approx(0.5 * (1 + 3)));
  CHECK(height(t, Vec2(0.75, 0.25), kInfinity) ==
        Approx((1 + 3 + 2 * 8) / 4.0));  // half-way from the diagonal to the corner
  CHECK(height(t, Vec2(0.25, 0.75), kInfinity) == Approx((1 + 3 + 2 * 7) / 4.0));
  CHECK(ids(*t.ground, worlds::square(5)) == std::vector<std::uint64_t>{0, 1});
}

TEST_CASE("grid ground: it is the mesh of its triangles, holes left out") {
  HeightGrid grid = worlds::gridded(worlds::bumps(2, 0.5, 6), {Vec2(-4, -3), Vec2(5, 6)}, 0.3);
  for (std::size_t k = 5; k < grid.heights.size(); k += 37) grid.heights[k] = kUnset;
  const Terrain given = worlds::terrain(grid);
  TriangleMesh mesh = triangulated(grid);
  std::erase_if(mesh.triangles, [&](const auto& t) {
    return std::any_of(t.begin(), t.end(), [&](std::uint32_t v) { return std::isnan(mesh.vertices[v].z()); });
  });
  for (Vec3& v : mesh.vertices)
    if (std::isnan(v.z())) v.z() = 0;  // of no triangle
  const Terrain same = worlds::terrain(mesh);
  int bare = 0;
  for (std::uint64_t k = 0; k < 3000; ++k) {
    const Vec2 p(uniform(6, k, -4.2, 5.2), uniform(7, k, -3.2, 6.2));
    const double a = height(given, p, kInfinity), b = height(same, p, kInfinity);
    REQUIRE(std::isnan(a) == std::isnan(b));
    bare += std::isnan(a);
    if (!std::isnan(a)) CHECK(a == Approx(b).margin(1e-12));
    CHECK(given.ground->hole_at(p) == (std::isnan(a) && given.ground->extent().contains(p)));
    CHECK_FALSE(same.ground->hole_at(p));
    const Patch u = patch(given, p, 0.2, kInfinity), v = patch(same, p, 0.2, kInfinity);
    CHECK(u.supported_share == Approx(v.supported_share).margin(1e-12));
    if (u.outcome == Patch::Outcome::full) CHECK(u.rest_height == Approx(v.rest_height).margin(1e-12));
  }
  CHECK(bare > 100);
}

TEST_CASE("grid ground: a box finds the facets of each cell that it meets, its borders included") {
  const HeightGrid grid = worlds::gridded(worlds::plane(0, 1, 0), {Vec2(-1, -2), Vec2(3, 2)}, 0.5);
  const auto ground = grid_ground(grid);
  for (std::uint64_t k = 0; k < 500; ++k) {
    const auto corner = [&](std::uint64_t stream) {  // every other time on the lines between the cells
      const double x = uniform(stream, k, -3, 4);
      return k % 2 ? x : 0.5 * std::round(2 * x);
    };
    const Box2 box{Vec2(corner(0), corner(1)), Vec2(corner(2), corner(3))};
    std::vector<std::uint64_t> expected;
    for (std::uint64_t cell = 0; cell < 64; ++cell) {
      const Vec2 lo = grid.first + 0.5 * Vec2(static_cast<double>(cell % 8), static_cast<double>(cell / 8));
      if (box.lo.x() <= box.hi.x() && box.lo.y() <= box.hi.y() && lo.x() <= box.hi.x() &&
          lo.x() + 0.5 >= box.lo.x() && lo.y() <= box.hi.y() && lo.y() + 0.5 >= box.lo.y())
        expected.insert(expected.end(), {2 * cell, 2 * cell + 1});
    }
    CHECK(ids(*ground, box) == expected);
  }
}

TEST_CASE("grid ground: bounds are those of the cells that the box meets, holes exactly there") {
  HeightGrid grid =
      worlds::gridded(worlds::bumps(4, 0.5, 6), {Vec2(0, 0), Vec2(30, 25)}, 0.3);  // more than one block
  for (std::size_t k = 2000; k < grid.heights.size(); k += 1999) grid.heights[k] = kUnset;
  const auto ground = grid_ground(grid);
  int sure = 0;
  for (std::uint64_t k = 0; k < 1500; ++k) {
    const Vec2 lo(uniform(8, k, -1, 31), uniform(9, k, -1, 26));
    const Box2 box{lo, lo + Vec2(uniform(10, k, 0, 12), uniform(11, k, 0, 12))};
    std::vector<Facet> found;
    ground->facets(box, found);
    double least = kInfinity, greatest = -kInfinity;
    for (const Facet& f : found)
      for (const Vec3& v : {f.a, f.b, f.c})
        least = std::min(least, v.z()), greatest = std::max(greatest, v.z());
    const HeightBounds bounds = ground->bounds(box);
    CHECK(bounds.lo == least);
    CHECK(bounds.hi == greatest);
    const Box2 all = ground->extent();
    const auto cells = [](double a, double b) {  // closed cells of 0.3 m met by [a, b]
      return std::floor(b / 0.3 + 1e-9) - std::ceil(a / 0.3 - 1e-9) + 2;
    };
    const bool inside = all.contains(box.lo) && all.contains(box.hi);
    if (inside && box.hi.x() < 29.6 && box.hi.y() < 24.6 && box.lo.x() > 0.01 && box.lo.y() > 0.01) {
      const double whole = 2 * cells(box.lo.x(), box.hi.x()) * cells(box.lo.y(), box.hi.y());
      CHECK(bounds.hole == (static_cast<double>(found.size()) < whole));
      sure += !bounds.hole;
    } else if (!inside) {
      CHECK(bounds.hole);
    }
  }
  CHECK(sure > 100);
}

TEST_CASE("grid ground: a grid that is none is the caller's error") {
  HeightGrid grid = worlds::drawn("1 1\n1 1");
  CHECK_THROWS_AS(grid_ground(HeightGrid{}), std::logic_error);
  grid.spacing.x() = 0;
  CHECK_THROWS_AS(grid_ground(grid), std::logic_error);
  grid.spacing.x() = 1;
  grid.heights.pop_back();
  CHECK_THROWS_AS(grid_ground(grid), std::logic_error);
}
