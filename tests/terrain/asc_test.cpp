#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

/// Three columns and two rows of a plane z = 1 + x / 4 + y / 2, posts 1 apart, the first at (10, 20).
const std::string kValues = "1.5 1.75 2.0\n1.0 1.25 1.5\n";
double plane(double x, double y) { return 1 + 0.25 * (x - 10) + 0.5 * (y - 20); }

void check_plane(const std::string& text) {
  INFO(text);
  const LoadedTerrain t = load_terrain_bytes(text, "a.asc", kMetresZ);
  CHECK(t.facts.columns == 3);
  CHECK(t.facts.rows == 2);
  CHECK((t.facts.lowest_corner - Vec3(10, 20, 1)).norm() < 1e-12);
  CHECK((t.facts.highest_corner - Vec3(12, 21, 2)).norm() < 1e-12);
  CHECK(map_height(t.terrain, 11.25, 20.5) == Approx(plane(11.25, 20.5)).epsilon(1e-12));
  CHECK(t.facts.slope_p50 == Approx(std::atan(std::hypot(0.25, 0.5))).epsilon(1e-6));
}

}  // namespace

TEST_CASE("ASCII grid: keys come in any order, case and registration") {
  check_plane("ncols 3\nnrows 2\nxllcenter 10\nyllcenter 20\ncellsize 1\n" + kValues);
  check_plane("NCOLS 3\nNROWS 2\nXLLCORNER 9.5\nYLLCORNER 19.5\nCELLSIZE 1\nNODATA_VALUE -9999\n" + kValues);
  check_plane("NODATA_value -1\n\ndy 1\nyllcenter 20\nxllcorner 9.5\ndx 1\nnrows 2\nncols 3\n" + kValues);
  check_plane(
      "\xEF\xBB\xBFncols\t3\r\nnrows 2\r\nxllcenter 10\r\nyllcorner 19.5\r\ncellsize 1.0\r\n1.5 1.75 "
      "2.0\r\n1.0 1.25 1.5");
  check_plane("ncols 3\rnrows 2\rxllcenter 10\ryllcenter 20\rcellsize 1\r1.5 1.75 2.0\r1.0 1.25 1.5\r");
}

TEST_CASE("ASCII grid: rows may be wrapped or joined where no row can lose its place") {
  const std::string header = "ncols 3\nnrows 2\nxllcenter 10\nyllcenter 20\ncellsize 1\n";
  check_plane(header + "1.5 1.75 2.0 1.0 1.25 1.5\n");
  check_plane(header + "1.5\n1.75\n2.0\n1.0\n1.25\n1.5\n");
  check_plane(header + "1.5 1.75\n2.0\n\n1.0 1.25\n1.5\n");
  CHECK(says(refusal(header + "1.5 1.75\n2.0 1.0\n1.25 1.5\n", "a.asc"), {"a.asc:6:", "2 of 3 values"}));
  CHECK(says(refusal(header + "1.5 1.75\n2.0 1.0 1.25 1.5\n", "a.asc"), {"a.asc:6:", "2 of 3 values"}));
  CHECK(says(refusal(header + "1.5 1.75 2.0 1.0\n1.25 1.5\n", "a.asc"), {"a.asc:6:", "4 of 3 values"}));
  CHECK(
      says(refusal(header + "1.5 1.75 2.0\n1.0 1.25  \n", "a.asc"), {"a.asc:7:", "2 of 3 values", "5 of 6"}));
  CHECK(says(refusal(header + "1.5 1.75 2.0\n           \n", "a.asc"), {"3 of 3 values", "3 of 6"}));
  CHECK(says(refusal(header + kValues + "7\n", "a.asc"), {"a.asc:8:", "\"7\"", "6 values"}));
}

TEST_CASE("ASCII grid: a header with a key that is missing, unknown, double or senseless is refused") {
  const auto with = [](const std::string& header) { return refusal(header + kValues, "a.asc"); };
  const std::string rest = "xllcenter 10\nyllcenter 20\n";
  CHECK(says(with("ncols 3\n" + rest + "cellsize 1\n"), {"lacks nrows"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest), {"neither", "cellsize", "dx"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest + "dx 1\n"), {"neither", "dy"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest + "dx 1\ndy 1\ncellsize 1\n"), {"both", "dx"}));
  CHECK(says(with("ncols 3\nnrows 2\nyllcenter 20\ncellsize 1\n"), {"neither", "xllcorner"}));
  CHECK(says(with("ncols 3\nnrows 2\nxllcorner 9.5\n" + rest + "cellsize 1\n"), {"both", "xllcorner"}));
  CHECK(says(with("ncols 3\nnrows 2\nncols 3\n" + rest + "cellsize 1\n"), {"a.asc:3:", "second time"}));
  CHECK(says(with("ncols 3\nnrows 2\nzllcorner 1\n" + rest + "cellsize 1\n"), {"a.asc:3:", "\"zllcorner\""}));
  CHECK(says(with("ncols 3.5\nnrows 2\n" + rest + "cellsize 1\n"), {"ncols is 3.5"}));
  CHECK(says(with("ncols 1\nnrows 6\n" + rest + "cellsize 1\n"), {"ncols is 1", "from 2"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest + "cellsize 0\n"), {"cellsize is 0", "greater than 0"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest + "cellsize -1\n"), {"cellsize is -1"}));
  CHECK(says(with("ncols 3\nnrows 2\n" + rest + "cellsize 1 2\n"), {"a.asc:5:", "\"2\""}));
  CHECK(says(with("ncols 3\nnrows two\n" + rest + "cellsize 1\n"), {"a.asc:2:", "\"two\""}));
  CHECK(says(with("ncols 4000000000\nnrows 4000000000\n" + rest + "cellsize 1\n"),
             {"16000000000000000000", "bytes"}));
}

TEST_CASE("ASCII grid: holes are the declared value, its float neighbour and NaN") {
  const std::string header = "ncols 3\nnrows 3\nxllcenter 0\nyllcenter 0\ncellsize 1\n";
  const auto holes = [&](const std::string& nodata, const std::string& token) {
    const std::string text = header + nodata + "1 1 1\n1 " + token + " 1\n1 1 1\n";
    const LoadedTerrain t = load_terrain_bytes(text, "a.asc", kMetresZ);
    CHECK(all_finite(t));
    CHECK((t.facts.holes == 0) == !t.terrain.ground->hole_at(Vec2(1, 1) - t.terrain.map_offset.head<2>()));
    return t.facts.holes;
  };
  CHECK(holes("", "NaN") == 1);
  CHECK(holes("", "nan") == 1);
  CHECK(holes("nodata_value -9999\n", "-9999.00") == 1);
  CHECK(holes("nodata_value -9999\n", "-9.999e3") == 1);
  CHECK(holes("nodata_value 1.00000001\n", "1.5") == 8);  // equal as floats: declared so
  CHECK(holes("nodata_value 0.1\n", "0.100000001490116") == 1);
  CHECK(holes("nodata_value nan\n", "NAN") == 1);
  CHECK(holes("nodata_value -9999\n", "2") == 0);
  CHECK(holes("nodata_value -1.7e308\n", "-1.7e+308") == 1);
  CHECK(says(refusal(header + "1 1 1\n1 inf 1\n1 1 1\n", "a.asc"), {"a.asc:7:3", "\"inf\""}));
  CHECK(says(refusal(header + "1 1 1\n1 1,5 1\n1 1 1\n", "a.asc"), {"a.asc:7:3", "comma", "1.5"}));
  CHECK(says(refusal(header + "nodata_value 1\n1 1 1\n1 1 1\n1 1 1\n", "a.asc"), {"every cell"}));
}

TEST_CASE("ASCII grid: a cliff is ground, a kilometre between neighbours is missing data") {
  // 50 x 50 posts 1 apart, all level but the last of the third row.
  const auto with = [&](const std::string& z) {
    std::string text = "ncols 50\nnrows 50\nxllcenter 0\nyllcenter 0\ncellsize 1\n";
    for (int row = 1; row <= 50; ++row)
      for (int column = 1; column <= 50; ++column)
        text += (row == 3 && column == 50 ? z : "0") + (column == 50 ? "\n" : " ");
    return refusal(text, "a.asc");
  };
  CHECK(with("-900").empty());
  CHECK(says(with("-1001"), {"1 cell near", "row 3, column 50 (line 8)", "1001 m"}));
  CHECK(with("-900.5").empty());
  CHECK(says(with("-999"), {"row 3, column 50", "999 m"}));  // the value is a customary mark
  CHECK(says(with("-99999999"), {"100 km", "row 3, column 50"}));
  // The same step over posts a kilometre apart is a slope of 45 degrees.
  CHECK(
      refusal("ncols 2\nnrows 2\nxllcenter 0\nyllcenter 0\ncellsize 1500\n0 0\n0 -1500\n", "a.asc").empty());
}

TEST_CASE("ASCII grid: longitude and latitude are refused") {
  const std::string degrees_grid =
      "ncols 3\nnrows 2\nxllcorner -104.3\nyllcorner 39.5\ncellsize 0.000277777778\n1770 1771 1772\n1771 "
      "1771 1771\n";
  CHECK(says(refusal(degrees_grid, "a.asc"), {"degrees", "0.00027", "project"}));
  const std::string flat =
      "ncols 3\nnrows 2\nxllcorner -104.3\nyllcorner 39.5\ncellsize 0.0083333333\n7 7 7\n7 7 7\n";
  CHECK(says(refusal(flat, "a.asc"), {"degrees"}));
  // A bench model with posts 5 mm apart near a local origin is none.
  CHECK(refusal("ncols 3\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 0.005\n0 0 0.001\n0 0 0.001\n", "a.asc")
            .empty());
}

TEST_CASE("ASCII grid: a median slope over 60 degrees points at unit and cell size") {
  std::string text =
      "ncols 3\nnrows 3\nxllcenter 500000\nyllcenter 4000000\ncellsize 1\n0 3 6\n0 3 6\n0 3 6\n";
  CHECK(says(refusal(text, "a.asc"),
             {"terrain.unit", fmt::format("{:.2f} deg", degrees(std::atan(3.0))), "60 deg"}));
}

TEST_CASE("ASCII grid: the unit holds for posts and heights alike") {
  TerrainOptions feet = kMetresZ;
  feet.unit = 0.3048;  // exact by definition of the international foot
  const LoadedTerrain t = load_terrain_bytes(
      "ncols 3\nnrows 2\nxllcenter 10\nyllcenter 20\ncellsize 1\n" + kValues, "a.asc", feet);
  CHECK(map_height(t.terrain, 11 * 0.3048, 20.5 * 0.3048) == Approx(0.3048 * plane(11, 20.5)).epsilon(1e-12));
  CHECK(t.facts.spacing == Approx(0.3048).epsilon(1e-15));
  TerrainOptions none;
  CHECK(says(refusal("ncols 3\nnrows 2\nxllcenter 10\nyllcenter 20\ncellsize 1\n" + kValues, "a.asc", none),
             {"terrain.unit", "2 x 1 x 1"}));
}
