// Meshes that the import program reads, through the real program: a tilted plane and its place, which every
// swapped axis, lost transform or wrong unit would move.
#include <algorithm>
#include <atomic>
#include <thread>

#include "cases.hpp"
#include "import_program.hpp"
#include "import_there.hpp"
#include "made_rasters.hpp"
#include "made_scenes.hpp"
#include "reading.hpp"
#include "rimstance/base/random.hpp"

using namespace reading;

namespace {

/// Heights over east and north, steeper to the east; no number of it is a single-precision neighbour of
/// another.
double plane(double east, double north) { return 2 + 0.25 * east - 0.125 * north; }

/// 5 x 5 posts, east 0..8, north 0..8, in axes (east, north, up).
TriangleMesh tilted() { return made::sheet(4, 2, plane); }

TriangleMesh mapped(TriangleMesh mesh, const std::function<Vec3(const Vec3&)>& f) {
  for (Vec3& p : mesh.vertices) p = f(p);
  return mesh;
}

/// The plane as glTF has it: x east, y up, z south.
TriangleMesh y_up() {
  return mapped(tilted(), [](const Vec3& p) { return Vec3(p.x(), p.z(), -p.y()); });
}

LoadedTerrain loaded(const std::string& name, std::string_view bytes, const TerrainOptions& options = {}) {
  const made::Folder folder;
  return load_terrain(folder.write(name, bytes), options);
}

std::string refused(const std::string& name, std::string_view bytes, const TerrainOptions& options = {}) {
  try {
    (void)loaded(name, bytes, options);
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

/// The plane is where it should be, at places off its posts and its diagonals.
void check_plane(const Terrain& t, const std::function<double(double, double)>& z, const Vec2& at = {0, 0},
                 double size = 8) {
  for (const Vec2& share : {Vec2(0.1, 0.2), Vec2(0.8, 0.3), Vec2(0.45, 0.9), Vec2(0.65, 0.55)}) {
    const Vec2 p = at + size * share;
    CHECK(map_height(t, p.x(), p.y()) == Approx(z(p.x(), p.y())).margin(1e-5 * size));
  }
}

/// Reads n binary glTF files, several at a time: "" for finite ground of at most 32 facets, a refusal's
/// message, or "broken: ..." for anything else.
std::vector<std::string> read_all(std::size_t n, const std::function<std::string(std::size_t)>& bytes) {
  const made::Folder folder;
  std::vector<std::string> out(n);
  std::atomic<std::size_t> next = 0;
  const auto work = [&] {
    for (std::size_t i = next++; i < n; i = next++) try {
        const LoadedTerrain t = load_terrain(folder.write(fmt::format("{}.glb", i), bytes(i)), {});
        if (!all_finite(t)) out[i] = "broken: not finite";
        if (t.facts.triangles > 32) out[i] = "broken: more ground than there was";
      } catch (const InputError& error) {
        out[i] = error.issues.empty() || error.issues[0].what.empty() ? "broken: no reason" : error.what();
      } catch (const std::exception& error) {
        out[i] = std::string("broken: ") + error.what();
      }
  };
  std::vector<std::jthread> threads;
  for (int k = 0; k < 4; ++k) threads.emplace_back(work);
  threads.clear();
  return out;
}

bool any_says(const std::vector<std::string>& sentences, std::initializer_list<std::string_view> parts) {
  return std::any_of(sentences.begin(), sentences.end(),
                     [&](const std::string& s) { return says(s, parts); });
}

}  // namespace

TEST_CASE("Binary glTF is read with y up and in metres, and the user is told where that comes from",
          "[import]") {
  if (!import_program_there()) return;
  const LoadedTerrain t = loaded("a.glb", made::glb(y_up()));
  check_plane(t.terrain, plane);
  CHECK(t.facts.triangles == 32);
  CHECK(t.facts.vertices == 25);
  CHECK(t.facts.format == "glTF 2.0 (binary)");
  CHECK(any_says(t.facts.from_file, {"up y: glTF 2.0"}));
  CHECK(any_says(t.facts.from_file, {"unit m: glTF 2.0"}));
  CHECK(t.facts.notes.empty());
}

TEST_CASE("What is stated wins over what the format says, with a note where they differ", "[import]") {
  if (!import_program_there()) return;
  const LoadedTerrain t = loaded("a.glb", made::glb(tilted()), {.up = UpAxis::z, .unit = 0.5});
  check_plane(
      t.terrain, [](double x, double y) { return 0.5 * plane(2 * x, 2 * y); }, {0, 0}, 4);
  CHECK(any_says(t.facts.notes, {"up z is stated", "glTF 2.0 (binary) says y"}));
  CHECK(any_says(t.facts.notes, {"unit 0.5 m is stated", "says m"}));
  CHECK(t.facts.from_file.empty());
  const LoadedTerrain same = loaded("a.glb", made::glb(y_up()), {.up = UpAxis::y, .unit = 1.0});
  CHECK((same.facts.notes.empty() && same.facts.from_file.empty()));
  // A guess of the caller is no statement.
  TerrainOptions guessed{.up = UpAxis::z, .unit = 0.5};
  guessed.up_assumed = guessed.unit_assumed = true;
  const LoadedTerrain guess = loaded("a.glb", made::glb(y_up()), guessed);
  check_plane(guess.terrain, plane);
  CHECK((guess.facts.assumed_up.empty() && guess.facts.assumed_unit.empty()));
}

TEST_CASE("A glTF text with its buffer beside it is read; a buffer elsewhere is not", "[import]") {
  if (!import_program_there()) return;
  made::Gltf scene;
  scene.add(y_up());
  const made::Folder folder;
  (void)folder.write("heights.bin", scene.bin);
  const LoadedTerrain t =
      load_terrain(folder.write("a.gltf", scene.json(R"({"mesh":0})", "heights.bin")), {});
  check_plane(t.terrain, plane);
  CHECK(t.facts.format == "glTF 2.0");
  const made::Folder inner;
  for (const std::string& uri :
       {std::string("../") + std::filesystem::path(folder / "x").parent_path().filename().string() +
            "/heights.bin",
        folder / "heights.bin", "file://" + (folder / "heights.bin"),
        std::string("http://localhost/heights.bin"), std::string("sub/heights.bin"),
        std::string("/dev/zero")}) {
    INFO(uri);
    try {
      (void)load_terrain(inner.write("a.gltf", scene.json(R"({"mesh":0})", uri)), {});
      FAIL("was read");
    } catch (const InputError& error) {
      CHECK(says(error.what(), {"a.gltf: needs the file", "one folder"}));
    }
  }
  // A link beside the mesh leads elsewhere as well.
  std::filesystem::create_symlink(folder / "heights.bin", inner / "link.bin");
  CHECK_THROWS_AS(load_terrain(inner.write("a.gltf", scene.json(R"({"mesh":0})", "link.bin")), {}),
                  InputError);
}

TEST_CASE("Transforms of nested nodes are all applied, from the root down", "[import]") {
  if (!import_program_there()) return;
  // Root: turned 90 deg about y (up) and moved; child: twice as large. A point p of the mesh comes to R (2 p)
  // + d with R taking x to -z and z to x (right-handed about +y).
  const std::string nodes =
      R"({"rotation":[0,0.70710678118654757,0,0.70710678118654757],"translation":[100,10,20],)"
      R"("children":[1]},{"scale":[2,2,2],"mesh":0})";
  const LoadedTerrain t = loaded("a.glb", made::glb(y_up(), nodes));
  // (east, north, up) e, n, u of the mesh is (x, y, z) = (e, u, -n), comes to (2 z + 100, 2 y + 10, -2 x +
  // 20) = (100 - 2 n, 10 + 2 u, 20 - 2 e): east' = 100 - 2 n, north' = 2 e - 20, up' = 10 + 2 u.
  const auto z = [](double east, double north) { return 10 + 2 * plane((north + 20) / 2, (100 - east) / 2); };
  check_plane(t.terrain, z, {84, -20}, 16);
  CHECK(t.facts.lowest_corner.head<2>().isApprox(Vec2(84, -20), 1e-5));
  CHECK(t.facts.highest_corner.head<2>().isApprox(Vec2(100, -4), 1e-5));
}

TEST_CASE("Every mesh at every node that shows it is ground; a mesh of lines is said to be left out",
          "[import]") {
  if (!import_program_there()) return;
  made::Gltf scene;
  scene.add(y_up(), 1);  // lines first: a reader of the first mesh alone would get nothing
  scene.add(y_up());
  const std::string nodes = R"({"children":[1,2,3]},{"mesh":0},{"mesh":1},{"mesh":1,"translation":[20,3,0]})";
  const LoadedTerrain t = loaded("a.glb", scene.glb(nodes));
  CHECK(t.facts.triangles == 64);
  check_plane(t.terrain, plane);
  check_plane(t.terrain, [](double x, double y) { return 3 + plane(x - 20, y); }, {20, 0});
  CHECK(any_says(t.facts.notes, {"32 lines and 0 points", "left out"}));
  CHECK(any_says(t.facts.notes, {"2 meshes of the file were put together"}));

  made::Gltf lines;
  lines.add(y_up(), 1);
  CHECK(says(refused("a.glb", lines.glb(R"({"mesh":0})")), {"holds no triangle", "32 lines"}));
}

TEST_CASE("A mirrored node keeps its triangles facing up, and says so", "[import]") {
  if (!import_program_there()) return;
  const LoadedTerrain t = loaded("a.glb", made::glb(y_up(), R"({"mesh":0,"scale":[-1,1,1]})"));
  check_plane(t.terrain, [](double x, double y) { return plane(-x, y); }, {-8, 0});
  CHECK(any_says(t.facts.notes, {"1 mesh is shown mirrored"}));
  CHECK(t.facts.overhanging == 0);
}

TEST_CASE("Coordinates too large for single precision bring a note with the step in metres", "[import]") {
  if (!import_program_there()) return;
  const double far = 4e6;  // neighbours in single precision: 2^(21 - 23) m = 0.25 m (IEEE 754)
  const auto moved = mapped(y_up(), [&](const Vec3& p) { return Vec3(p.x() + far, p.y(), p.z()); });
  const LoadedTerrain t = loaded("a.glb", made::glb(moved));
  CHECK(any_says(t.facts.notes, {"single precision", "0.25 m apart"}));
  // The same place by a node, which has single-precision numbers too.
  const LoadedTerrain node = loaded("a.glb", made::glb(y_up(), R"({"mesh":0,"translation":[4000000,0,0]})"));
  CHECK(any_says(node.facts.notes, {"0.25 m apart"}));
  check_plane(node.terrain, [&](double x, double y) { return plane(x - far, y); }, {far, 0});
}

TEST_CASE("glTF that is compressed or needs an extension that is not read is refused by its name",
          "[import]") {
  if (!import_program_there()) return;
  for (const char* name : {"KHR_draco_mesh_compression", "EXT_meshopt_compression"}) {
    made::Gltf scene;
    scene.more = fmt::format(R"("extensionsUsed":["{0}"],"extensionsRequired":["{0}"],)", name);
    scene.add(y_up());
    CHECK(says(refused("a.glb", scene.glb(R"({"mesh":0})")),
               {"is compressed by", name, "without compression"}));
  }
  made::Gltf quantized, unlit;
  quantized.more = R"("extensionsRequired":["KHR_materials_unlit", "KHR_mesh_quantization"],)";
  quantized.add(y_up());
  CHECK(says(refused("a.glb", quantized.glb(R"({"mesh":0})")), {"KHR_mesh_quantization", "not read"}));
  unlit.more = R"("extensionsUsed":["KHR_materials_unlit"],"extensionsRequired":["KHR_materials_unlit"],)";
  unlit.add(y_up());
  CHECK(refused("a.glb", unlit.glb(R"({"mesh":0})")).empty());
}

TEST_CASE("COLLADA is read in its own axes and unit, whichever they are", "[import]") {
  if (!import_program_there()) return;
  const std::string metre = R"(<unit name="meter" meter="1"/>)";
  const LoadedTerrain z = loaded("a.dae", made::dae(tilted(), metre + "<up_axis>Z_UP</up_axis>"));
  check_plane(z.terrain, plane);
  CHECK(z.facts.format == "COLLADA 1.4.1");
  check_plane(loaded("a.dae", made::dae(y_up(), metre + "<up_axis>Y_UP</up_axis>")).terrain, plane);
  // Neither stated: y up, metres (COLLADA 1.4.1, <up_axis> and <unit>).
  check_plane(loaded("a.dae", made::dae(y_up(), "")).terrain, plane);
  // X_UP: right is -y, up is x, in is z (the same place), so that east = -y and north = -z.
  const auto x_up = mapped(tilted(), [](const Vec3& p) { return Vec3(p.z(), -p.x(), -p.y()); });
  check_plane(loaded("a.dae", made::dae(x_up, metre + "<up_axis>X_UP</up_axis>")).terrain, plane);
  // Centimetres, and a node that moves the mesh by 3 m in them.
  const auto cm = mapped(tilted(), [](const Vec3& p) { return Vec3(100 * p); });
  const LoadedTerrain moved =
      loaded("a.dae", made::dae(cm, R"(<unit name="centimeter" meter="0.01"/><up_axis>Z_UP</up_axis>)",
                                "<translate>300 0 0</translate>"));
  check_plane(moved.terrain, [](double x, double y) { return plane(x - 3, y); }, {3, 0});
  CHECK(any_says(moved.facts.from_file, {"up", "COLLADA"}));
}

TEST_CASE("3MF is read with z up and in its own unit, millimetres if it states none", "[import]") {
  if (!import_program_there()) return;
  const LoadedTerrain t = loaded("a.3mf", made::threemf(tilted(), R"(unit="meter")"));
  check_plane(t.terrain, plane);
  CHECK(t.facts.format == "3MF");
  CHECK(any_says(t.facts.from_file, {"up z: 3MF"}));
  struct Unit {
    const char* text;
    double metres;  // 3MF core specification 1.3, table of units
  };
  for (const Unit& unit : {Unit{"", 1e-3}, Unit{R"(unit="millimeter")", 1e-3}, Unit{R"(unit="foot")", 0.3048},
                           Unit{R"(unit="centimeter")", 1e-2}, Unit{R"(unit='inch')", 0.0254}}) {
    const auto scaled = [&](double x, double y) {
      return unit.metres * plane(x / unit.metres, y / unit.metres);
    };
    check_plane(loaded("a.3mf", made::threemf(tilted(), unit.text)).terrain, scaled, {0, 0}, 8 * unit.metres);
  }
  // A place in the build: a point (x, y, z, 1), a row, times the matrix (3MF core 3.3): here (10 - y, x + 20,
  // z).
  const LoadedTerrain turned = loaded(
      "a.3mf", made::threemf(tilted(), R"(unit="meter")", R"(transform="0 1 0 -1 0 0 0 0 1 10 20 0")"));
  check_plane(turned.terrain, [](double x, double y) { return plane(y - 20, 10 - x); }, {2, 20});
  CHECK(says(refused("a.3mf", made::threemf(tilted(), R"(unit="furlong")")), {"furlong", "does not know"}));
  CHECK(says(refused("a.3mf", made::zip({{"a.txt", "x"}})), {"a.3mf: "}));
}

TEST_CASE("A scene format that fixes neither axis nor unit needs both stated", "[import]") {
  if (!import_program_there()) return;
  CHECK(says(refused("a.x3d", made::x3d(tilted())),
             {"the up axis of the mesh is not stated", "z looks right"}));
  CHECK(says(refused("a.x3d", made::x3d(tilted()), {.up = UpAxis::z}), {"unit of the file is not stated"}));
  check_plane(loaded("a.x3d", made::x3d(tilted()), kMetresZ).terrain, plane);
}

TEST_CASE("A scene of more vertices than allowed is refused", "[import]") {
  if (!import_program_there()) return;
  TerrainOptions few;
  few.greatest_vertices = 24;
  CHECK(says(refused("a.glb", made::glb(y_up()), few), {"24 are allowed", "smaller piece"}));
  few.greatest_vertices = 25;
  CHECK(refused("a.glb", made::glb(y_up()), few).empty());
}

TEST_CASE("Too little memory for the import program is an error of the file that says so", "[import]") {
  if (!import_program_there()) return;
  const made::Folder folder;
  const std::string file = folder.write("a.glb", made::glb(y_up()));
  CHECK_NOTHROW(import_mesh(file, 1000));
  CHECK_THROWS_WITH(import_mesh(file, 1000, {.seconds = 20, .memory = 1 << 20}),
                    Catch::Contains("a.glb: needs more memory than allowed (1 MiB); give a smaller piece"));
}

TEST_CASE("A scene is not read from memory, for its other files would be missing", "[import]") {
  CHECK(says(refusal(made::glb(y_up()), "a.glb", {}), {"a.glb: is not read from memory"}));
}

TEST_CASE("A 3D tile is refused with the command that takes its mesh out", "[import]") {
  const std::string mesh = made::glb(y_up()), table = R"({"BATCH_LENGTH":0} )";
  std::string tile = "b3dm";
  for (const std::size_t n : {std::size_t{1}, 28 + table.size() + mesh.size(), table.size(), std::size_t{0},
                              std::size_t{0}, std::size_t{0}})
    made::put(tile, "uint", static_cast<double>(n), false);
  tile += table + mesh;
  // 28 bytes of header, 19 of table: the mesh begins with byte 48, counted from 1.
  REQUIRE(table.size() == 19);
  CHECK(says(refused("a.b3dm", tile), {"3D tile", "tail -c +48 "}));
  CHECK(says(refused("a.b3dm", tile.substr(0, 30)), {"3D tile"}));
}

TEST_CASE("A damaged glTF file, whatever was done to it, is refused or gives finite ground", "[import]") {
  if (!import_program_there()) return;
  const std::string whole = made::glb(y_up());
  const auto mutant = [&](std::size_t i) {
    std::string bytes = whole;
    std::uint64_t n = 0;
    const auto draw = [&](std::size_t most) {
      return static_cast<std::size_t>(random_bits(i, 78, n++) % most);
    };
    for (std::size_t k = 1 + draw(3); k > 0; --k) bytes[draw(bytes.size())] = static_cast<char>(draw(256));
    return bytes;
  };
  const std::size_t mutants = static_cast<std::size_t>(std::max(cases() / 20, 10));  // each is a process
  const std::vector<std::string> outcomes = read_all(mutants, mutant);
  for (std::size_t i = 0; i < mutants; ++i) {
    INFO("mutant " << i << ": " << outcomes[i]);
    CHECK(outcomes[i].find("broken: ") == std::string::npos);
  }
  const auto accepted = static_cast<std::size_t>(std::count(outcomes.begin(), outcomes.end(), ""));
  CHECK(accepted > 0);
  CHECK(mutants - accepted > mutants / 10);
}

TEST_CASE("A glTF file that was cut anywhere is refused", "[import]") {
  if (!import_program_there()) return;
  const std::string whole = made::glb(y_up());
  const auto cuts = static_cast<std::size_t>(std::max(cases() / 20, 10));
  const std::vector<std::string> outcomes =
      read_all(cuts, [&](std::size_t k) { return whole.substr(0, k * whole.size() / cuts); });
  for (std::size_t k = 0; k < cuts; ++k) {
    INFO("cut " << k << ": " << outcomes[k]);
    CHECK_FALSE(outcomes[k].empty());
    CHECK(outcomes[k].find("broken: ") == std::string::npos);
  }
  CHECK(
      says(refused("c.glb", std::string_view(whole).substr(0, whole.size() - 1)), {"but says that it has"}));
}

namespace {

const std::string kPit = RIMSTANCE_SHARED_DATA "/moon_pit_mesh_tiles/";

bool data_there(const std::string& file) {
  if (std::filesystem::exists(kPit + file)) return true;
  WARN("measured terrain is not here (" << kPit + file << "); nothing was tested");
  return false;
}

}  // namespace

TEST_CASE("A measured pit as glTF has the counts that were found by other means", "[import]") {
  if (!data_there("root.glb") || !import_program_there()) return;
  // From the description of the files: counted by another program.
  const TerrainFacts f = load_terrain(kPit + "root.glb", {}).facts;
  CHECK(f.triangles == 1966);
  CHECK(f.vertices == 1264);
  CHECK(f.vertices - f.welded == 1093);
  CHECK((f.boundary_edges == 220 && f.non_manifold_edges == 1 && f.duplicate == 1));
  // x 54.6518631..377.8018, y 0.129257..64.46993, z -30.2294731..211.6605; east x, north -z, up y.
  CHECK(f.lowest_corner.isApprox(Vec3(54.6518631, -211.6605, 0.129257), 1e-6));
  CHECK(f.highest_corner.isApprox(Vec3(377.8018, 30.2294731, 64.46993), 1e-6));
  for (const char* tile : {"0.glb", "1.glb", "2.glb", "3.glb"})
    CHECK(load_terrain(kPit + tile, {}).facts.triangles > 1000);
}

TEST_CASE("A measured tile is refused with the byte at which its mesh begins", "[import]") {
  for (const char* tile : {"root.b3dm", "020.b3dm"}) {
    if (!data_there(tile)) return;
    try {
      (void)load_terrain(kPit + tile, {});
      FAIL("was read");
    } catch (const InputError& error) {
      // 28 bytes of header and 20 of table.
      CHECK(says(error.what(), {"3D tile", "tail -c +49 "}));
    }
  }
}

TEST_CASE("The list of measured tiles is no terrain itself", "[import]") {
  if (!data_there("tileset.json")) return;
  try {
    (void)load_terrain(kPit + "tileset.json", {});
    FAIL("was read");
  } catch (const InputError& error) {
    CHECK(says(error.what(), {"JSON", "give the data it describes"}));
  }
}

TEST_CASE("A measured pit merged from overlapping tiles has the counts that were found by other means",
          "[import]") {
  if (!data_there("all_leaves_merged.ply")) return;
  const TerrainFacts f = load_terrain(kPit + "all_leaves_merged.ply", {.up = UpAxis::y, .unit = 1.0}).facts;
  CHECK((f.vertices == 132064 && f.triangles == 177950));
  CHECK(f.vertices - f.welded == 89530);
  CHECK((f.degenerate == 132 && f.boundary_edges == 1268 && f.non_manifold_edges == 0 && f.overhanging == 0));
  CHECK(degrees(f.slope_p50) == Approx(26.7).margin(0.05));
  CHECK(degrees(f.slope_p90) == Approx(58.7).margin(0.05));
  CHECK(degrees(f.slope_p99) == Approx(79.6).margin(0.05));
  CHECK(f.surface_area == Approx(79097).margin(0.5));
  CHECK(f.plan_area == Approx(65494).margin(0.5));
}
