// Ground of which more than half of the surface is steeper than 60 degrees: a wrong axis or unit, or a deep
// pit.
#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

constexpr double kRim = 10;  // radius [m]

/// A pit in a plain that reaches `margin` beyond its rim, in rings of 48 sectors; a floor wider than the rim
/// makes its wall undercut.
TriangleMesh pit(double depth, double floor, double margin) {
  constexpr std::uint32_t kSectors = 48;
  TriangleMesh mesh;
  const auto ring = [&](double radius, double z) {
    const auto first = static_cast<std::uint32_t>(mesh.vertices.size());
    for (std::uint32_t k = 0; k < kSectors; ++k) {
      const double angle = 2 * kPi * k / kSectors;
      mesh.vertices.emplace_back(radius * std::cos(angle), radius * std::sin(angle), z);
    }
    return first;
  };
  const auto band = [&](std::uint32_t inner, std::uint32_t outer) {
    for (std::uint32_t k = 0; k < kSectors; ++k) {
      const std::uint32_t next = (k + 1) % kSectors;
      mesh.triangles.push_back({inner + k, outer + k, outer + next});
      mesh.triangles.push_back({inner + k, outer + next, inner + next});
    }
  };
  const std::uint32_t middle = ring(0.1 * floor, -depth), foot = ring(floor, -depth), rim = ring(kRim, 0),
                      edge = ring(kRim + margin, 0);
  band(middle, foot);
  band(foot, rim);
  band(rim, edge);
  return mesh;
}

/// A plain and, from its edge down, a wall: ground at a rim of which only one side was mapped.
TriangleMesh plain_and_wall(double plain, double wall) {
  TriangleMesh mesh;
  mesh.vertices = {{0, 0, 0},     {20, 0, 0},        {20, plain, 0},
                   {0, plain, 0}, {0, plain, -wall}, {20, plain, -wall}};
  mesh.triangles = {{0, 1, 2}, {0, 2, 3}, {3, 2, 5}, {3, 5, 4}};
  return mesh;
}

/// As a file with y up has it.
TriangleMesh with_y_up(TriangleMesh mesh) {
  for (Vec3& p : mesh.vertices) p = Vec3(p.x(), p.z(), -p.y());
  return mesh;
}

TriangleMesh turned_over(TriangleMesh mesh) {
  for (auto& t : mesh.triangles) std::swap(t[1], t[2]);
  return mesh;
}

const TerrainOptions kYUp{.up = UpAxis::y, .unit = 1.0};
constexpr double kLimit = 60;  // degrees

}  // namespace

TEST_CASE("A mesh with y up is not taken for ground with z up: a plain, a hill, a pit, one side of a rim") {
  const TriangleMesh plain = made::sheet(12, 1, [](double x, double y) { return 0.2 * std::sin(x + 2 * y); });
  const TriangleMesh hill = made::sheet(12, 1, [](double, double y) { return -y * std::tan(radians(25)); });
  for (const TriangleMesh& ground : {plain, hill, pit(8, 9, 40), plain_and_wall(40, 30)}) {
    CHECK(refusal(made::obj(ground), "a.obj").empty());
    const std::string turned = made::obj(with_y_up(ground));
    CHECK(says(refusal(turned, "a.obj"), {"terrain.up", "the up axis looks wrong: state terrain.up: y"}));
    CHECK(load_terrain_bytes(turned, "a.obj", kYUp).facts.slope_p50 < radians(kLimit));
  }
}

TEST_CASE(
    "A deep pit mapped up to its rim has more wall than floor, and is ground with straight and undercut "
    "walls") {
  for (const double floor : {9.0, 10.0, 14.0})
    for (const TriangleMesh& ground : {pit(60, floor, 1), turned_over(pit(60, floor, 1))}) {
      INFO("floor " << floor);
      const LoadedTerrain t = load_terrain_bytes(made::obj(ground), "a.obj", kMetresZ);
      CHECK(degrees(t.facts.slope_p50) > kLimit);
      REQUIRE_FALSE(t.facts.notes.empty());
      CHECK(says(t.facts.notes.back(),
                 {"half of the surface is steeper", "half of its plan is not", "deep pit"}));
      // On its side half of it is flatter than 60 deg, but it does not face up.
      const std::string turned = made::obj(with_y_up(ground));
      CHECK(
          says(refusal(turned, "a.obj"), {"faces sideways", "the up axis looks wrong: state terrain.up: y"}));
      CHECK(degrees(load_terrain_bytes(turned, "a.obj", kYUp).facts.slope_p50) > kLimit);
    }
  // Ground as is said of in no note.
  CHECK(load_terrain_bytes(made::obj(pit(8, 9, 40)), "a.obj", kMetresZ).facts.notes.empty());
}

TEST_CASE(
    "Where more wall than plain was mapped on one side, or faces turn any way, the axis is asked about") {
  CHECK(says(refusal(made::obj(plain_and_wall(20, 30)), "a.obj"),
             {"terrain.up", "steeper than 90.00 deg", "looks wrong: state terrain.up: y",
              "if z is up and more wall than ground was mapped, state terrain.mostly_wall: true"}));
  // Every other sector is turned over, but for one of the floor: what is left of the sum points up and is
  // next to nothing.
  TriangleMesh mixed = pit(60, 10, 1);
  for (std::size_t k = 0; k < mixed.triangles.size(); ++k)
    if (k / 2 % 2 == 1 && k / 2 != 1) std::swap(mixed.triangles[k][1], mixed.triangles[k][2]);
  CHECK(says(refusal(made::obj(mixed), "a.obj"), {"terrain.up", "half of the surface is steeper"}));
}

TEST_CASE(
    "Where more wall than plain is stated, the stated axis holds, and both axes of a corner are ground") {
  // With the roles of plain and wall exchanged the same corner is ground with y up.
  for (const UpAxis up : {UpAxis::z, UpAxis::y}) {
    const bool z = up == UpAxis::z;
    const std::string file = made::obj(z ? plain_and_wall(20, 30) : with_y_up(plain_and_wall(20, 30)));
    const LoadedTerrain t = load_terrain_bytes(file, "a.obj", {.up = up, .unit = 1.0, .mostly_wall = true});
    CHECK(t.facts.plan_area == Approx(20 * 20));
    CHECK(t.facts.surface_area == Approx(20 * 20 + 20 * 30));
    CHECK(map_height(t.terrain, 10, 10) == 0);
    REQUIRE_FALSE(t.facts.notes.empty());
    CHECK(says(t.facts.notes.back(),
               {"mostly_wall is stated", z ? "90.00 deg with z up" : "90.00 deg with y up"}));
    // Nobody stated the axis: there is nothing that the statement speaks for.
    const TerrainOptions guessed{.up = up, .unit = 1.0, .up_assumed = true, .mostly_wall = true};
    CHECK(says(refusal(file, "a.obj", guessed), {"terrain.mostly_wall: speaks for the up axis, which is not "
                                                 "stated; state terrain.up as well"}));
  }
  // What is no wall is told from it by nothing, and needs no statement.
  const TriangleMesh plain = made::sheet(6, 1, [](double x, double) { return 0.1 * x; });
  CHECK(load_terrain_bytes(made::obj(plain), "a.obj", {.up = UpAxis::z, .unit = 1.0, .mostly_wall = true})
            .facts.notes.empty());
}

TEST_CASE("Plan in degrees and heights in metres leave nothing flat, walls or not") {
  const double degree = 111e3;  // metres on Earth, roughly
  TriangleMesh rolling = made::sheet(12, 10, [](double x, double y) {
    return std::sin(kPi * x / 20) + std::sin(kPi * y / 20);
  });  // no mean slope
  TriangleMesh deep = pit(60, 10, 1);
  for (Vec3& p : deep.vertices) p.z() += 0.02 * p.x();  // no floor on any map is level to 1e-5
  for (TriangleMesh* mesh : {&rolling, &deep}) {
    for (Vec3& p : mesh->vertices) p.head<2>() /= degree;
    CHECK(says(refusal(made::obj(*mesh), "a.obj"), {"half of the surface is steeper"}));
  }
}

TEST_CASE("A grid with a deep pit is ground; one with heights in a smaller unit is refused") {
  const auto grid = [](double depth, double slope) {
    return made::asc(made::sheet(14, 1,
                                 [=](double x, double y) {
                                   return 1000 + slope * x + (std::hypot(x - 7, y - 7) < 5 ? -depth : 0);
                                 }),
                     14, 1);
  };
  const LoadedTerrain t = load_terrain_bytes(grid(100, 0.1), "a.asc", kMetresZ);
  CHECK(degrees(t.facts.slope_p50) > kLimit);
  REQUIRE_FALSE(t.facts.notes.empty());
  CHECK(says(t.facts.notes.back(), {"half of the surface is steeper", "deep pit"}));
  CHECK(says(refusal(grid(100, 10), "a.asc"), {"terrain.unit", "half of the surface is steeper"}));
  CHECK(says(refusal(grid(0, 10), "a.asc"), {"terrain.unit"}));
}
