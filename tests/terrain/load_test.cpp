#include <filesystem>
#include <map>
#include <set>

#include "made_files.hpp"
#include "reading.hpp"
#include "rimstance/base/files.hpp"

using namespace reading;

namespace {

TriangleMesh rolling() {
  return made::sheet(12, 0.75,
                     [](double x, double y) { return 4 + 0.3 * std::sin(x) + 0.2 * std::cos(1.3 * y); });
}

using EdgeUses = std::map<std::pair<std::uint32_t, std::uint32_t>, std::vector<bool>>;

/// Edges of the facets with the direction of each use, the slow way.
EdgeUses edge_uses(const std::vector<std::array<std::uint32_t, 3>>& triangles) {
  EdgeUses uses;
  for (const auto& t : triangles)
    for (std::size_t k = 0; k < 3; ++k) {
      const std::uint32_t a = t[k], b = t[(k + 1) % 3];
      uses[std::minmax(a, b)].push_back(a < b);
    }
  return uses;
}

std::string with_triangles(const TriangleMesh& mesh) { return made::obj(mesh); }

}  // namespace

TEST_CASE("The same ground in every format has the same heights, slopes and edges") {
  const TriangleMesh mesh = rolling();
  made::PlyStyle binary;
  binary.format = "binary_big_endian";
  const std::map<std::string, std::string> files = {
      {"a.obj", made::obj(mesh)},      {"a.off", made::off(mesh)},
      {"a.ply", made::ply(mesh, {})},  {"b.ply", made::ply(mesh, binary)},
      {"a.stl", made::stl_text(mesh)}, {"a.asc", made::asc(mesh, 12, 0.75)}};
  const LoadedTerrain first = load_terrain_bytes(files.at("a.obj"), "a.obj", kMetresZ);
  for (const auto& [name, bytes] : files) {
    INFO(name);
    const LoadedTerrain t = load_terrain_bytes(bytes, name, kMetresZ);
    for (int i = 0; i <= 40; ++i) {
      const double x = 9 * random_uniform(1, 0, static_cast<std::uint64_t>(i)),
                   y = 9 * random_uniform(1, 1, static_cast<std::uint64_t>(i));
      CHECK(std::abs(map_height(t.terrain, x, y) - map_height(first.terrain, x, y)) < 1e-12);
    }
    CHECK(t.facts.triangles == 288);
    CHECK(t.facts.slope_p50 == Approx(first.facts.slope_p50).epsilon(1e-6));
    CHECK(t.facts.slope_p99 == Approx(first.facts.slope_p99).epsilon(1e-6));
    CHECK(t.facts.surface_area == Approx(first.facts.surface_area).epsilon(1e-12));
    CHECK(t.facts.plan_area == Approx(81).epsilon(1e-12));
    CHECK(t.terrain.sha256 == sha256(bytes));
    if (t.facts.kind == "mesh") CHECK(t.facts.boundary_edges == 48);
  }
}

TEST_CASE("Up axis and unit must be stated, and both are asked for at once") {
  const std::string bytes = made::obj(rolling());
  const TerrainOptions none;
  const std::string message = refusal(bytes, "a.obj", none);
  CHECK(says(message, {"terrain.up", "z looks right", "terrain.unit", "9 x 9"}));
  TerrainOptions only_up;
  only_up.up = UpAxis::z;
  CHECK_FALSE(says(refusal(bytes, "a.obj", only_up), {"terrain.up"}));
  TerrainOptions only_unit;
  only_unit.unit = 1;
  CHECK_FALSE(says(refusal(bytes, "a.obj", only_unit), {"terrain.unit"}));
}

TEST_CASE("Each up axis is a turn of the file, never a mirror image") {
  const TriangleMesh mesh = rolling();
  const LoadedTerrain z_up = load_terrain_bytes(made::obj(mesh), "z.obj", kMetresZ);
  TriangleMesh y_file = mesh, x_file = mesh;
  for (std::size_t i = 0; i < mesh.vertices.size(); ++i) {
    const Vec3& p = mesh.vertices[i];  // east, north, up
    y_file.vertices[i] = Vec3(p.x(), p.z(), -p.y());
    x_file.vertices[i] = Vec3(p.z(), p.x(), p.y());
  }
  for (const auto& [up, file] : {std::pair{UpAxis::y, &y_file}, std::pair{UpAxis::x, &x_file}}) {
    const LoadedTerrain t = load_terrain_bytes(made::obj(*file), "a.obj", {.up = up, .unit = 1.0});
    CHECK(std::abs(map_height(t.terrain, 2.1, 5.7) - map_height(z_up.terrain, 2.1, 5.7)) < 1e-12);
    CHECK(t.facts.overhanging == 0);
    CHECK(t.facts.plan_area == Approx(81).epsilon(1e-12));
  }
  CHECK(says(refusal(made::obj(x_file), "a.obj"), {"terrain.up: x"}));
}

TEST_CASE("Taking the local origin off loses no digit of any coordinate") {
  for (std::uint64_t seed = 0; seed < 50; ++seed) {
    TriangleMesh mesh = rolling();
    const double scale = std::pow(10.0, 7 * random_uniform(seed, 0, 0));
    const Vec3 shift(scale * (random_uniform(seed, 0, 1) - 0.5), scale * (random_uniform(seed, 0, 2) - 0.5),
                     4000 * (random_uniform(seed, 0, 3) - 0.5));
    for (Vec3& p : mesh.vertices) p += shift;
    const LoadedTerrain t = load_terrain_bytes(made::obj(mesh), "a.obj", kMetresZ);
    std::set<std::array<double, 3>> expected, found;
    for (const Vec3& p : mesh.vertices) expected.insert({p.x(), p.y(), p.z()});
    std::vector<Facet> facets;
    t.terrain.ground->facets(t.terrain.ground->extent(), facets);
    for (const Facet& f : facets)
      for (const Vec3& p : {f.a, f.b, f.c}) {
        const Vec3 map = p + t.terrain.map_offset;
        found.insert({map.x(), map.y(), map.z()});
      }
    CHECK(found == expected);
    for (int axis = 0; axis < 3; ++axis)
      CHECK(t.terrain.map_offset[axis] == std::round(t.terrain.map_offset[axis]));
    // Local coordinates stay small: within one and a half spans of the ground.
    const Box2 box = t.terrain.ground->extent();
    CHECK(std::max(box.lo.cwiseAbs().maxCoeff(), box.hi.cwiseAbs().maxCoeff()) <= 1.5 * 9 + 1);
  }
}

TEST_CASE("Equal positions become one vertex, near ones within the stated tolerance only") {
  TriangleMesh soup;
  const TriangleMesh mesh = rolling();
  for (const auto& t : mesh.triangles)
    for (const std::uint32_t v : t) {
      const auto i = static_cast<std::uint64_t>(soup.vertices.size());
      const Vec3 noise(random_uniform(5, 0, i), random_uniform(5, 1, i), random_uniform(5, 2, i));
      soup.vertices.push_back(mesh.vertices[v] + 1e-5 * noise);
      if (i % 3 == 2) {
        const auto k = static_cast<std::uint32_t>(i);
        soup.triangles.push_back({k - 2, k - 1, k});
      }
    }
  const TerrainFacts apart = facts_of(made::obj(soup), "a.obj");
  CHECK(apart.welded == 0);
  CHECK(apart.boundary_edges == 3 * 288);
  TerrainOptions options = kMetresZ;
  options.weld = 2e-5;  // above the noise's longest step, sqrt(3) 1e-5
  const TerrainFacts joined = facts_of(made::obj(soup), "a.obj", options);
  CHECK(joined.vertices - joined.welded == 169);
  CHECK(joined.boundary_edges == 48);
  CHECK(joined.degenerate == 0);
  options.weld =
      1.0;  // more than the posts' distance: facets collapse, and are counted as what is left of them
  CHECK(facts_of(made::obj(soup), "a.obj", options).degenerate > 0);
  options.weld = 0.1;  // far below the posts' distance
  CHECK(facts_of(made::obj(soup), "a.obj", options).welded == joined.welded);
  TriangleMesh signs = made::sheet(2, 1, [](double, double) { return 1.0; });
  const std::string twins =
      "v 0 0 0\nv 1 0 0\nv 0 1 0\nv -0 -0 -0\nv 1 1 0\nv -1 0 0\nf 1 2 3\nf 4 3 6\nf 2 5 3\n";
  CHECK(facts_of(twins, "a.obj").welded == 1);  // minus zero is zero
}

TEST_CASE("Edges and facets are counted as the slow way counts them") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    TriangleMesh mesh = rolling();
    for (std::uint64_t k = 0; k < 12; ++k) {  // flip, repeat, remove, and hang facets on edges
      const auto n = mesh.triangles.size();
      const std::size_t i = random_bits(seed, 0, k) % n;
      switch (random_bits(seed, 1, k) % 4) {
        case 0:
          std::swap(mesh.triangles[i][0], mesh.triangles[i][1]);
          break;
        case 1:
          mesh.triangles.push_back(mesh.triangles[i]);
          break;
        case 2:
          mesh.triangles.erase(mesh.triangles.begin() + static_cast<std::ptrdiff_t>(i));
          break;
        default: {
          const auto apex = static_cast<std::uint32_t>(random_bits(seed, 2, k) % 169);
          const auto& t = mesh.triangles[i];
          if (apex != t[0] && apex != t[1]) mesh.triangles.push_back({t[0], t[1], apex});
        }
      }
    }
    std::uint64_t boundary = 0, inconsistent = 0, many = 0, duplicate = 0;
    for (const auto& [edge, uses] : edge_uses(mesh.triangles)) {
      boundary += uses.size() == 1;
      many += uses.size() > 2;
      inconsistent += uses.size() == 2 && uses[0] == uses[1];
    }
    std::set<std::array<std::uint32_t, 3>> seen;
    for (auto t : mesh.triangles) {
      std::sort(t.begin(), t.end());
      duplicate += !seen.insert(t).second;
    }
    const TerrainFacts facts = facts_of(with_triangles(mesh), "a.obj");
    CHECK(facts.boundary_edges == boundary);
    CHECK(facts.non_manifold_edges == many);
    CHECK(facts.inconsistent_edges == inconsistent);
    CHECK(facts.duplicate == duplicate);
  }
}

TEST_CASE("Slope percentiles, areas and the median edge are those of the sorted lists") {
  const TriangleMesh mesh = rolling();
  const TerrainFacts facts = facts_of(made::obj(mesh), "a.obj");
  std::vector<std::pair<double, double>> slopes;  // slope, area
  double area = 0;
  std::vector<double> lengths;
  for (const auto& t : mesh.triangles) {
    const Vec3 n =
        (mesh.vertices[t[1]] - mesh.vertices[t[0]]).cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]) / 2;
    slopes.emplace_back(std::acos(n.z() / n.norm()), n.norm());
    area += n.norm();
  }
  for (const auto& [edge, uses] : edge_uses(mesh.triangles))
    lengths.push_back((mesh.vertices[edge.first] - mesh.vertices[edge.second]).head<2>().norm());
  std::sort(slopes.begin(), slopes.end());
  std::sort(lengths.begin(), lengths.end());
  const auto quantile = [&](double share) {
    double sum = 0;
    for (const auto& [slope, size] : slopes)
      if ((sum += size) >= share * area) return slope;
    return kUnset;
  };
  CHECK(facts.slope_p50 == Approx(quantile(0.5)).epsilon(1e-6));
  CHECK(facts.slope_p90 == Approx(quantile(0.9)).epsilon(1e-6));
  CHECK(facts.slope_p99 == Approx(quantile(0.99)).epsilon(1e-6));
  CHECK(facts.slope_max == Approx(slopes.back().first).epsilon(1e-6));
  CHECK(facts.surface_area == Approx(area).epsilon(1e-12));
  CHECK(facts.spacing == Approx(lengths[lengths.size() / 2]).epsilon(1e-6));
}

TEST_CASE("Degenerate, vertical and overhanging facets are counted for what they are") {
  const std::string vertices = "v 0 0 0\nv 4 0 0\nv 4 4 0\nv 0 4 0\nv 4 0 2\nv 4 4 2\nv 2 0 0\nv 2 2 1\n";
  const std::string ground = "f 1 2 3\nf 1 3 4\n";
  const TerrainFacts facts = facts_of(vertices + ground +
                                          "f 2 5 6\n"   // a wall
                                          "f 1 7 2\n"   // three corners in line
                                          "f 1 1 2\n"   // two corners are one
                                          "f 1 8 2\n",  // seen from above it turns the other way
                                      "a.obj");
  CHECK(facts.triangles == 6);
  CHECK(facts.vertical == 1);
  CHECK(facts.degenerate == 2);
  CHECK(facts.overhanging == 1);
  CHECK(facts.slope_max == Approx(kPi / 2).epsilon(1e-12));
  CHECK(facts.plan_area == Approx(16).epsilon(1e-12));
}

TEST_CASE("A mesh whose facets all face down has no overhang: orientation is a habit of its maker") {
  TriangleMesh mesh = rolling();
  for (auto& t : mesh.triangles) std::swap(t[0], t[1]);
  const TerrainFacts facts = facts_of(made::obj(mesh), "a.obj");
  CHECK(facts.overhanging == 0);
  CHECK(facts.plan_area == Approx(81).epsilon(1e-12));
}

TEST_CASE("Vertices below hole_below take their triangles with them") {
  TriangleMesh mesh = rolling();
  mesh.vertices[6 * 13 + 6].z() = -9999;  // its six facets are all but the whole surface
  CHECK(says(refusal(made::obj(mesh), "a.obj"), {"-9999", "terrain.hole_below"}));
  TerrainOptions options = kMetresZ;
  options.hole_below = -100;
  const LoadedTerrain t = load_terrain_bytes(made::obj(mesh), "a.obj", options);
  CHECK(t.facts.triangles == 288 - 6);
  CHECK(t.facts.lowest_corner.z() > 3);
  CHECK(std::isnan(map_height(t.terrain, 6 * 0.75, 6 * 0.75)));
  CHECK(says(t.facts.notes.at(0), {"6 triangles", "-100 m"}));
  options.hole_below = 1000;
  CHECK(says(refusal(made::obj(mesh), "a.obj", options), {"every triangle"}));
}

TEST_CASE("Heights that no body has are refused with unit and axis as suspects") {
  TriangleMesh mesh = rolling();
  for (Vec3& p : mesh.vertices) p.z() += 4.3e6;
  CHECK(says(refusal(made::obj(mesh), "a.obj"), {"100 km", "terrain.unit", "terrain.up"}));
  for (Vec3& p : mesh.vertices) p.x() += 2e9;
  CHECK(says(refusal(made::obj(mesh), "a.obj"), {"no place on ground"}));
  mesh = rolling();
  mesh.vertices[80].z() = -3.4028234663852886e38;
  CHECK(says(refusal(made::obj(mesh), "a.obj"), {"terrain.hole_below"}));
  TerrainOptions options = kMetresZ;
  options.hole_below = -1e6;
  CHECK(facts_of(made::obj(mesh), "a.obj", options).triangles == 288 - 6);
}

TEST_CASE("Vertices that no face uses do not stretch the ground") {
  const LoadedTerrain t = load_terrain_bytes(
      "v 1e6 1e6 -32768\n" + std::string("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 2 3 4\n"), "a.obj", kMetresZ);
  CHECK(t.facts.highest_corner.x() == 1);
  CHECK(t.facts.vertices == 4);
  CHECK(says(t.facts.notes.at(0), {"1 vertex belongs", "no triangle", "was left out"}));
}

TEST_CASE("More vertices than allowed are refused before they are read") {
  TerrainOptions few = kMetresZ;
  few.greatest_vertices = 100;
  const TriangleMesh mesh = rolling();  // 169 vertices
  for (const auto& [name, bytes] : {std::pair<std::string, std::string>{"a.obj", made::obj(mesh)},
                                    {"a.off", made::off(mesh)},
                                    {"a.ply", made::ply(mesh, {})},
                                    {"a.stl", made::stl_binary(mesh)},
                                    {"b.stl", made::stl_text(mesh)},
                                    {"a.asc", made::asc(mesh, 12, 0.75)}})
    CHECK(says(refusal(bytes, name, few), {"at most 100", "greatest_vertices"}));
}

TEST_CASE("Content decides the format, the extension only where it must") {
  const TriangleMesh mesh = rolling();
  CHECK(facts_of(made::ply(mesh, {}), "a.stl").format == "PLY (ascii)");
  CHECK(facts_of(made::stl_binary(mesh), "a.txt").format == "STL (binary)");
  CHECK(facts_of(made::stl_text(mesh), "a").format == "STL (ascii)");
  CHECK(facts_of(made::asc(mesh, 12, 0.75), "a.dem").format == "ESRI ASCII grid");
  CHECK(facts_of(made::off(mesh), "a.mesh").format == "OFF");
  CHECK(facts_of(made::obj(mesh), "a.mesh").format == "OBJ");
  CHECK(says(refusal("", "a.ply"), {"empty"}));
  CHECK(says(refusal(std::string("II*\0abc", 7), "a.tif"), {"not read from memory", "give the file"}));
  CHECK(says(refusal("LASF....", "a.las"), {"LAS", "header"}));
  CHECK(says(refusal(std::string("\xff\xfev\0 \0", 6), "a.obj"), {"UTF-16"}));
  CHECK(says(refusal("hello there", "a.zzz"), {"PLY, OBJ, STL, OFF"}));
  CHECK(says(refusal("not a mesh\n", "a.ply"), {"ply"}));
  CHECK_THROWS_AS(load_terrain("/nowhere/at/all.ply", kMetresZ), InputError);
}

TEST_CASE("A message never carries raw bytes of the file") {
  const std::string message = refusal("v 0 0 \x1b[31m\x80\xff\nf 1 1 1\n", "a.obj");
  CHECK(says(message, {"\\x1B[31m\\x80\\xFF"}));
}

// ---- ground that nobody here made; the folder is not part of the project -------------------------

namespace {

/// The path of a data file, or nothing (said aloud) where it is not at hand.
std::optional<std::string> real_file(const std::string& relative) {
  const std::string path = std::string(RIMSTANCE_SHARED_DATA) + "/" + relative;
  if (std::filesystem::exists(path)) return path;
  WARN("skipped: " << path << " is not at hand");
  return std::nullopt;
}

}  // namespace

TEST_CASE("Real pit mesh: counts, areas and slopes are those measured by other means") {
  const auto path = real_file("moon_pit_mesh_tiles/all_leaves_merged.ply");
  if (!path) return;
  // Expected values: README beside the file (numpy script of its collector).
  const TerrainFacts f = load_terrain(*path, {.up = UpAxis::y, .unit = 1.0}).facts;
  CHECK(f.vertices == 132064);
  CHECK(f.triangles == 177950);
  CHECK(f.vertices - f.welded == 89530);
  CHECK(f.boundary_edges == 1268);
  CHECK(f.non_manifold_edges == 0);
  CHECK(f.degenerate == 132);
  CHECK(f.overhanging == 0);
  CHECK(std::abs(degrees(f.slope_p50) - 26.7) < 0.05);
  CHECK(std::abs(degrees(f.slope_p90) - 58.7) < 0.05);
  CHECK(std::abs(degrees(f.slope_p99) - 79.6) < 0.05);
  CHECK(std::abs(f.surface_area - 79097) < 0.5);
  CHECK(std::abs(f.plan_area - 65494) < 0.5);
  CHECK(std::abs(f.lowest_corner.x() - 54.6518631) < 1e-6);
  CHECK(std::abs(f.highest_corner.x() - 377.8018) < 1e-4);
  CHECK(std::abs(f.lowest_corner.z() - 0.129257) < 1e-6);
  CHECK(std::abs(f.highest_corner.z() - 64.46993) < 1e-5);
  CHECK(says(refusal(file_bytes(*path), "pit.ply"), {"terrain.up: y"}));
}

TEST_CASE("load: the four corners of the stated extent are ground, to the last digit, in every format") {
  // Posts of drawn spacing from a drawn corner on; the last is where adding up rounds to.
  for (std::uint64_t i = 0; i < 200; ++i) {
    const auto draw = [&](std::uint64_t k, double lo, double hi) {
      return lo + (hi - lo) * random_uniform(71, k, i);
    };
    const Vec2 first(std::copysign(std::pow(10, draw(0, 0, 7)), draw(1, -1, 1)),
                     std::copysign(std::pow(10, draw(2, 0, 7)), draw(3, -1, 1)));
    const double step = std::pow(10, draw(4, -1, 2.5));
    const int columns = 2 + static_cast<int>(draw(5, 0, 60)), rows = 2 + static_cast<int>(draw(6, 0, 60));
    std::string asc = fmt::format("ncols {}\nnrows {}\nxllcenter {}\nyllcenter {}\ncellsize {}\n", columns,
                                  rows, first.x(), first.y(), step);
    std::string obj, xyz;
    for (int r = rows - 1; r >= 0; --r)
      for (int c = 0; c < columns; ++c) {
        const Vec2 p = first + Vec2(c * step, r * step);
        asc += c + 1 < columns ? "7 " : "7\n";
        xyz += fmt::format("{} {} 7\n", p.x(), p.y());
        obj += fmt::format("v {} {} 7\n", p.x(), p.y());
      }
    for (int r = 0; r + 1 < rows; ++r)
      for (int c = 1; c < columns; ++c) {
        const int at = r * columns + c;
        obj += fmt::format("f {0} {1} {2}\nf {1} {3} {2}\n", at, at + 1, at + columns, at + columns + 1);
      }
    TerrainOptions options = kMetresZ;
    for (const auto& [bytes, name] :
         {std::pair(asc, "a.asc"), std::pair(obj, "a.obj"), std::pair(xyz, "a.xyz")}) {
      if (name == std::string("a.xyz")) {
        if (i % 10 != 0) continue;
        options.longest_edge = kInfinity;
      }
      INFO(name << " from " << first.transpose() << ", " << columns << " x " << rows << " by " << step);
      const LoadedTerrain t = load_terrain_bytes(bytes, name, options);
      const Vec3 &lo = t.facts.lowest_corner, &hi = t.facts.highest_corner;
      CHECK(hi.head<2>() == Vec2(first + Vec2((columns - 1) * step, (rows - 1) * step)));
      for (const Vec2& corner :
           {Vec2(lo.x(), lo.y()), Vec2(hi.x(), lo.y()), Vec2(lo.x(), hi.y()), Vec2(hi.x(), hi.y())})
        CHECK(map_height(t.terrain, corner.x(), corner.y()) == 7);
    }
  }
}

TEST_CASE("load: slivers round one vertex, or layer on layer, are refused before they are searched") {
  const auto fan = [](int slivers) {
    TriangleMesh mesh;
    mesh.vertices.emplace_back(0, 0, 0);
    for (int k = 0; k <= slivers; ++k)
      mesh.vertices.emplace_back(std::cos(6.28 * k / slivers), std::sin(6.28 * k / slivers), 0);
    for (std::uint32_t k = 1; k <= static_cast<std::uint32_t>(slivers); ++k)
      mesh.triangles.push_back({0, k, k + 1});
    return made::obj(mesh);
  };
  // The box of a sliver at the angle a is |cos a sin a| large, 1 / pi on average, in a square of 2 by 2.
  const TerrainFacts few = load_terrain_bytes(fan(1000), "a.obj", kMetresZ).facts;
  CHECK(few.crowding == Approx(1000 / (4 * kPi)).epsilon(0.02));
  CHECK(says(refusal(fan(40'000), "a.obj"), {"long and thin", "a mesh of even triangles"}));
  // Of a sheet each place lies in the boxes of the two triangles of its square.
  const TriangleMesh sheet = made::sheet(6, 1, [](double, double) { return 0.0; });
  CHECK(load_terrain_bytes(made::obj(sheet), "a.obj", kMetresZ).facts.crowding == Approx(2));
}

TEST_CASE("load: ground of no size is refused with the unit, in every format") {
  const TriangleMesh dust = made::sheet(2, 1e-8, [](double, double) { return 0.0; });
  for (const auto& [bytes, name] :
       {std::pair(made::obj(dust), "a.obj"), std::pair(made::asc(dust, 2, 1e-8), "a.asc")})
    CHECK(says(refusal(bytes, name),
               {"terrain.unit: the ground spans only 2e-08 m in plan", "check the unit"}));
  CHECK(says(refusal("ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1e-300\n1 1\n1 1\n", "a.asc"),
             {"spans only 1e-300 m"}));
}

TEST_CASE("load: a mesh whose edges are not counted is the same ground, and says that they are not known") {
  const TriangleMesh mesh = made::sheet(12, 0.75, [](double x, double y) { return 0.1 * x + 0.02 * x * y; });
  const std::string bytes = made::obj(mesh);
  TerrainOptions quick = kMetresZ;
  quick.edges = false;
  const LoadedTerrain all = load_terrain_bytes(bytes, "a.obj", kMetresZ),
                      few = load_terrain_bytes(bytes, "a.obj", quick);
  CHECK(all.facts.edges_counted);
  CHECK(std::isfinite(all.facts.spacing));
  CHECK_FALSE(few.facts.edges_counted);
  CHECK_FALSE(std::isfinite(few.facts.spacing));
  CHECK(few.facts.slope_p50 == all.facts.slope_p50);
  CHECK(few.facts.triangles == all.facts.triangles);
  for (const Vec2& at : {Vec2(3, 5), Vec2(0.5, 0.5), Vec2(8.9, 7)})
    CHECK(map_height(few.terrain, at.x(), at.y()) == map_height(all.terrain, at.x(), at.y()));
}

TEST_CASE("Real grids: heights at known posts, holes, and what is refused") {
  const auto gully = real_file("earth_gully_ascii/west_bijou_gully.asc");
  if (!gully) return;
  // Expected values: README beside the files.
  const TerrainFacts holes = load_terrain(*gully, kMetresZ).facts;
  CHECK(holes.holes == 2739);
  CHECK(holes.vertices + holes.holes == 3827);
  CHECK(std::abs(holes.lowest_corner.z() - 1680.779) < 5e-4);
  CHECK(std::abs(holes.highest_corner.z() - 1725.4326171875) < 6e-5);  // half a float there

  const LoadedTerrain slide = load_terrain(*real_file("earth_gully_ascii/pre_runout_DEM.asc"), kMetresZ);
  CHECK(slide.facts.holes == 122);
  // Post (row 61, column 40) from the north-west, half a cell inside the corner of the lower left cell.
  const double x = 361015.59563119 + (40 + 0.5) * 10, y = 70223.434086869 + (122 - 61 - 0.5) * 10;
  CHECK(std::abs(map_height(slide.terrain, x, y) - 333.75821) < 1.5e-5);

  const LoadedTerrain bank =
      load_terrain(*real_file("earth_gully_ascii/DEM-kootenai_37x50_1x1.asc"), kMetresZ);
  CHECK(std::abs(map_height(bank.terrain, 556440.5 + 25, 5394932.5 + 36 - 18) - 538.03) < 5e-3);
  CHECK(bank.facts.holes == 0);

  const auto refused = [](const char* file) {
    const std::string path = *real_file(std::string("earth_gully_ascii/") + file);
    return refusal(file_bytes(path), path);
  };
  CHECK(says(refused("west_bijou_escarpment_snippet.asc"), {"degrees"}));
  CHECK(says(refused("hugo_site_filled.asc"), {"2028 cells", "-9999"}));
}
