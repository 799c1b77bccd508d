// Files with one defect each, tests/terrain/nasty; manifest.tsv there says what is wrong with them. All
// hold parts of one plane, z = 10 + 0.1 x + 0.05 y over [0, 10] x [0, 8], posts 2 m apart.
#include <algorithm>
#include <cmath>
#include <map>

#include "reading.hpp"

using namespace reading;

namespace {

const std::string kFolder = std::string(RIMSTANCE_SOURCE_DIR) + "/tests/terrain/nasty/";

double plane(double x, double y) { return 10 + 0.1 * x + 0.05 * y; }
const double kPlaneSlope = std::atan(std::hypot(0.1, 0.05));

LoadedTerrain accepted(const std::string& file, const TerrainOptions& options = kMetresZ) {
  return load_terrain(kFolder + file, options);
}
std::string refused(const std::string& file, const TerrainOptions& options = kMetresZ) {
  return refusal(file_bytes(kFolder + file), file, options);
}
bool has_ground(const LoadedTerrain& t, double x, double y) {
  return !std::isnan(map_height(t.terrain, x, y));
}

}  // namespace

TEST_CASE("t01: relative indices count back from the vertex read last") {
  const LoadedTerrain t = accepted("t01_relative_interleaved.obj");
  CHECK(t.facts.triangles == 40);
  CHECK(t.facts.vertices == 120);
  CHECK(t.facts.vertices - t.facts.welded == 30);
  CHECK((t.facts.lowest_corner - Vec3(0, 0, 10)).norm() < 1e-12);
  CHECK((t.facts.highest_corner - Vec3(10, 8, 11.4)).norm() < 1e-12);
  CHECK(map_height(t.terrain, 3, 5) == Approx(plane(3, 5)).epsilon(1e-12));
  CHECK(t.facts.plan_area == Approx(80).epsilon(1e-12));
  CHECK(t.facts.boundary_edges == 18);  // once round the 5 x 4 squares
  CHECK(t.facts.non_manifold_edges == 0);
}

TEST_CASE("t02: a byte order mark and CRLF line ends change nothing") {
  const LoadedTerrain t = accepted("t02_bom_crlf.obj");
  CHECK(t.facts.vertices == 30);
  CHECK(t.facts.triangles == 40);
  CHECK((t.facts.lowest_corner - Vec3(0, 0, 10)).norm() < 1e-12);
  CHECK(map_height(t.terrain, 0.5, 0.5) == Approx(plane(0.5, 0.5)).epsilon(1e-12));
  CHECK(map_height(t.terrain, 3, 5) == Approx(plane(3, 5)).epsilon(1e-12));
}

TEST_CASE("t03: a decimal comma is refused with its token and line") {
  CHECK(says(refused("t03_decimal_comma.obj"), {"t03_decimal_comma.obj:1:", "\"0,000000\"", "comma"}));
}

TEST_CASE("t04: an index out of range is refused with its line") {
  const std::string bytes = file_bytes(kFolder + "t04_index_out_of_range.obj");
  const auto line =
      1 + std::count(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(bytes.find("999")), '\n');
  CHECK(says(refused("t04_index_out_of_range.obj"), {fmt::format(":{}:", line), "999", "30"}));
}

TEST_CASE("t05: a vertex that is not a number is refused with its line") {
  CHECK(says(refused("t05_nan_vertex.obj"), {"t05_nan_vertex.obj:15:", "nan"}));
}

TEST_CASE("t06: millimetres survive map offsets of millions") {
  const LoadedTerrain t = accepted("t06_utm_offset_mm.obj");
  CHECK(t.facts.vertices - t.facts.welded == 30);
  CHECK(std::abs(t.facts.spacing - 0.002) < 1e-9);
  CHECK(std::abs(degrees(map_slope(t.terrain, 500000.128, 4300000.460).slope) - degrees(kPlaneSlope)) < 1e-6);
  // The file starts at (500000.123, 4300000.456, 1200) with the same two grades.
  const double expected = 1200 + 0.1 * 0.005 + 0.05 * 0.004;
  CHECK(std::abs(map_height(t.terrain, 500000.128, 4300000.460) - expected) < 1e-9);
}

TEST_CASE("t07: a mesh with y up is refused with z up, and the axis named") {
  const TerrainOptions y_up{.up = UpAxis::y, .unit = 1.0};
  const LoadedTerrain t = accepted("t07_y_up.obj", y_up);
  CHECK(map_height(t.terrain, 3, 5) == Approx(plane(3, 5)).epsilon(1e-12));
  CHECK(std::abs(map_slope(t.terrain, 3, 5).slope - kPlaneSlope) < 1e-12);
  CHECK(std::abs(t.facts.slope_p50 - kPlaneSlope) < 1e-6);
  // With z up the normal (-0.1, 1, 0.05) makes this angle with the vertical.
  const double seen = degrees(std::acos(0.05 / std::sqrt(1 + 0.01 + 0.0025)));
  CHECK(says(refused("t07_y_up.obj"), {"terrain.up", fmt::format("{:.2f} deg", seen), "terrain.up: y"}));
  CHECK(says(refused("t07_y_up.obj", {.up = UpAxis::x, .unit = 1.0}), {"terrain.up: y"}));
  CHECK(says(refused("t07_y_up.obj", {.up = std::nullopt, .unit = 1.0}), {"terrain.up", "y looks right"}));
}

TEST_CASE("t08: the size of a file, not its first word, says that an STL is binary") {
  const LoadedTerrain t = accepted("t08_binary_starts_with_solid.stl");
  CHECK(t.facts.format == "STL (binary)");
  CHECK(t.facts.triangles == 40);
  CHECK(std::abs(map_height(t.terrain, 3, 5) - plane(3, 5)) < 1e-6);
}

TEST_CASE("t09: an STL text that ends early is refused with its last line") {
  const std::string bytes = file_bytes(kFolder + "t09_ascii_truncated.stl");
  const auto lines = std::count(bytes.begin(), bytes.end(), '\n') + (bytes.back() == '\n' ? 0 : 1);
  CHECK(says(refused("t09_ascii_truncated.stl"), {fmt::format(".stl:{}:", lines)}));
}

TEST_CASE("t10: a triangle count that the file cannot hold is refused before anything is allocated") {
  CHECK(says(refused("t10_binary_count_lies.stl"),
             {"4294967280", "2084", fmt::format("{}", 84 + 50 * 4294967280)}));
}

TEST_CASE("t11: big-endian doubles of a PLY keep every digit") {
  const LoadedTerrain t = accepted("t11_big_endian_double.ply");
  CHECK(t.facts.vertices == 30);
  CHECK(t.facts.triangles == 40);
  CHECK(std::abs(map_height(t.terrain, 500003, 4300005) - plane(3, 5)) < 1e-9);
}

TEST_CASE("t12: a vertex count that the file cannot hold is refused before anything is allocated") {
  CHECK(says(refused("t12_vertex_count_lies.ply"), {"expected 1000000000 vertices, found"}));
}

TEST_CASE("t13: declared missing data are holes") {
  const LoadedTerrain t = accepted("t13_hole_-9999.asc");
  CHECK(t.facts.lowest_corner.z() == Approx(10.0).epsilon(1e-12));
  CHECK(t.facts.highest_corner.z() == Approx(11.4).epsilon(1e-12));
  CHECK_FALSE(has_ground(t, 5, 4));
  CHECK(t.terrain.ground->hole_at(Vec2(5, 4) - t.terrain.map_offset.head<2>()));
  CHECK(map_height(t.terrain, 1, 1) == Approx(plane(1, 1)).epsilon(1e-12));
  CHECK(t.facts.vertices == 28);
  CHECK(t.facts.holes == 2);
}

TEST_CASE("t14: missing data are known again after rounding to float, other monsters are refused by place") {
  const std::string message = refused("t14_nodata_float32_max.asc");
  CHECK(says(message, {"row 1, column 6", "(line 7)", "hole_below"}));
  CHECK_FALSE(says(message, {"row 3"}));  // that one is the declared value
  TerrainOptions options = kMetresZ;
  options.hole_below = -1000;
  const LoadedTerrain t = accepted("t14_nodata_float32_max.asc", options);
  CHECK(t.facts.holes == 2);
  CHECK(t.facts.lowest_corner.z() == Approx(10.0).epsilon(1e-12));
  CHECK_FALSE(has_ground(t, 4, 4));
  CHECK_FALSE(has_ground(t, 10, 8));
}

TEST_CASE("t15: undeclared missing data are refused with their number, places and distance") {
  CHECK(says(refused("t15_nodata_undeclared.asc"), {"2 cells", "row 2, column 2", "row 5, column 5", "3277",
                                                    "missing data", "NODATA_value", "hole_below"}));
}

TEST_CASE("t16: xllcenter gives the first post itself") {
  const LoadedTerrain t = accepted("t16_xllcenter.asc");
  CHECK(map_height(t.terrain, 3, 5) == Approx(plane(3, 5)).epsilon(1e-14));
}

TEST_CASE("t17: dx and dy may differ") {
  const LoadedTerrain t = accepted("t17_dx_dy.asc");
  CHECK(map_height(t.terrain, 3, 2) == Approx(10 + 0.1 * 3 + 0.05 * 2).epsilon(1e-12));
  CHECK(std::abs(map_slope(t.terrain, 3, 2).slope - kPlaneSlope) < 1e-12);
  CHECK((t.facts.cell - Vec2(2, 1)).norm() == 0);
}

TEST_CASE("t18: a missing value is refused with its line and how many there are of how many") {
  CHECK(says(refused("t18_short_row.asc"), {"t18_short_row.asc:9:", "5 of 6 values"}));
}

TEST_CASE("t21: a binary PLY that ends among its faces is refused with what is missing") {
  CHECK(says(refused("t21_truncated_binary.ply"), {"the file ends in face ", "of 40", "520 bytes"}));
}

TEST_CASE("No prefix of a file that counts its content is accepted with fewer facets") {
  const std::map<std::string, std::uint64_t> files = {{"t08_binary_starts_with_solid.stl", 40},
                                                      {"t11_big_endian_double.ply", 40},
                                                      // A post has six facets round it; the two on the edge
                                                      // between the holes belong to both: 40 - (6 + 6 - 2).
                                                      {"t13_hole_-9999.asc", 30},
                                                      {"t16_xllcenter.asc", 40},
                                                      {"t17_dx_dy.asc", 40}};
  for (const auto& [file, facets] : files) {
    const std::string whole = file_bytes(kFolder + file);
    INFO(file);
    const auto all = facets_accepted(whole, file);
    REQUIRE(all.has_value());
    CHECK(*all == facets);
    for (std::size_t size = 0; size < whole.size(); ++size) {
      const auto some = facets_accepted(std::string_view(whole).substr(0, size), file);
      if (some && *some != *all) FAIL(file << " cut at byte " << size << " gives " << *some << " facets");
    }
  }
}

TEST_CASE("An OBJ has no counts: a prefix is whole up to a line end, or refused, or the user is told") {
  for (const char* const file : {"t01_relative_interleaved.obj", "t02_bom_crlf.obj"}) {
    const std::string whole = file_bytes(kFolder + file);
    for (std::size_t size = 0; size < whole.size(); ++size) {
      const std::string_view part = std::string_view(whole).substr(0, size);
      std::vector<std::string> notes;
      try {
        notes = load_terrain_bytes(part, file, kMetresZ).facts.notes;
      } catch (const InputError&) {
        continue;
      }
      const bool at_line_end = part.back() == '\n' || part.back() == '\r';
      const bool told = std::any_of(notes.begin(), notes.end(), [](const std::string& note) {
        return note.find("no end-of-line") != std::string::npos;
      });
      if (at_line_end == told) FAIL(file << " cut at byte " << size);
    }
  }
}
