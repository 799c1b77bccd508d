#include "rimstance/output/inspect.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/output/json.hpp"
#include "rimstance/output/text.hpp"

using namespace rimstance;
using nlohmann::json;

namespace {

/// A file that is gone again with this value.
class Scratch {
 public:
  Scratch(const std::string& name, const std::string& text)
      : folder_(std::filesystem::temp_directory_path() /
                ("rimstance_inspect_" + sha256(name + text).substr(0, 12))) {
    std::filesystem::create_directories(folder_);
    path = (folder_ / name).string();
    write_whole(path, text);
  }
  ~Scratch() { std::filesystem::remove_all(folder_); }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  std::string path;

 private:
  std::filesystem::path folder_;
};

/// z = 10 + 0.1 x + 0.2 y at posts 1 m apart, x and y from 0 to 5; the post (4, 4) has no data.
std::string plane_grid() {
  std::string text = "ncols 6\nnrows 6\nxllcenter 0\nyllcenter 0\ncellsize 1\nNODATA_value -9999\n";
  for (int y = 5; y >= 0; --y)
    for (int x = 0; x < 6; ++x)
      text += (x == 4 && y == 4 ? "-9999" : shortest(10 + 0.1 * x + 0.2 * y)) + (x < 5 ? " " : "\n");
  return text;
}

/// A roof 2 m above the western half of a level floor, as OFF.
const char* const kRoof =
    "OFF\n8 4 0\n0 0 0\n8 0 0\n8 4 0\n0 4 0\n0 0 2\n4 0 2\n4 4 2\n0 4 2\n3 0 1 2\n3 0 2 3\n3 4 5 6\n3 4 6 "
    "7\n";

json described(const Inspection& i, const std::vector<Vec2>& asked) {
  return json::parse(to_json(describe(i, asked)));
}

}  // namespace

TEST_CASE("inspect: a place on a plane has its height, slope and downslope azimuth") {
  const Scratch file("plane.asc", plane_grid());
  const json d = described(inspect(file.path, {}), {{1.25, 2.5}});
  const json& at = d["at"][0];
  CHECK(at["xy_m"] == json({1.25, 2.5}));
  CHECK(at["height_m"].get<double>() == Approx(10 + 0.1 * 1.25 + 0.2 * 2.5).margin(1e-12));
  CHECK(at["layers_m"].size() == 1);
  CHECK(at["slope_deg"].get<double>() == Approx(degrees(std::atan(std::hypot(0.1, 0.2)))).margin(1e-9));
  // Downslope is (-0.1, -0.2) east, north: clockwise from north it lies between south and west.
  CHECK(at["aspect_azimuth_deg"].get<double>() == Approx(180 + degrees(std::atan(0.1 / 0.2))).margin(1e-9));
  CHECK(at["reason"].is_null());
}

TEST_CASE("inspect: where there is no ground the height is null and the reason says which kind of nothing") {
  const Scratch grid("plane.asc", plane_grid());
  const json d = described(inspect(grid.path, {}), {{4.0, 4.0}, {9.0, 1.0}});
  for (const json& at : d["at"]) {
    CHECK(at["height_m"].is_null());
    CHECK(at["slope_deg"].is_null());
    CHECK(at["layers_m"].empty());
  }
  CHECK(d["at"][0]["reason"].get<std::string>().find("hole") != std::string::npos);
  CHECK(d["at"][1]["reason"] == "off the map");
  CHECK(d["posts_without_data"] == 1);

  const Scratch gap("gap.off", "OFF\n6 2 0\n0 0 0\n1 0 0\n0 1 0\n9 0 0\n9 1 0\n8 1 0\n3 0 1 2\n3 3 4 5\n");
  CHECK(described(inspect(gap.path, {}), {{5.0, 0.5}})["at"][0]["reason"].get<std::string>().find("void") !=
        std::string::npos);
}

TEST_CASE("inspect: layers come from the top down, and level ground has no aspect") {
  const Scratch file("roof.off", kRoof);
  const json d = described(inspect(file.path, {}), {{2.0, 1.0}, {6.0, 1.0}});
  CHECK(d["at"][0]["layers_m"] == json({2.0, 0.0}));
  CHECK(d["at"][0]["height_m"] == 2.0);
  CHECK(d["at"][0]["slope_deg"] == 0.0);
  CHECK(d["at"][0]["aspect_azimuth_deg"].is_null());
  CHECK(d["at"][1]["layers_m"] == json({0.0}));
}

TEST_CASE("inspect: axis and unit that are not stated are assumed and said; stated ones are not") {
  const Scratch file("roof.off", kRoof);
  const json assumed = described(inspect(file.path, {}), {});
  REQUIRE(assumed["assumed"].size() == 2);
  CHECK(assumed["assumed"][0].get<std::string>().find("up axis z") == 0);
  CHECK(assumed["assumed"][1].get<std::string>().find("unit m") == 0);
  CHECK_FALSE(assumed.contains("at"));
  TerrainOptions stated;
  stated.up = UpAxis::z;
  stated.unit = 0.01;
  const json given = described(inspect(file.path, stated), {});
  CHECK(given["assumed"].empty());
  CHECK(given["size_m"][0].get<double>() == Approx(0.08));
  CHECK(given["scenario_lines"].get<std::string>().find("\n  up: z\n  unit: cm\n") != std::string::npos);

  const Scratch grid("plane.asc", plane_grid());  // a grid has no up axis to state
  const json d = described(inspect(grid.path, {}), {});
  REQUIRE(d["assumed"].size() == 1);
  CHECK(d["assumed"][0].get<std::string>().find("unit m") == 0);
  CHECK(d["scenario_lines"].get<std::string>().find("up:") == std::string::npos);
}

TEST_CASE("inspect: extent, spacing and slope of a plane are those of its formula") {
  const Scratch file("plane.asc", plane_grid());
  const json d = described(inspect(file.path, {}), {});
  CHECK(d["kind"] == "grid");
  CHECK(d["spacing_m"] == 1.0);
  CHECK(d["columns"] == 6);
  CHECK(d["extent_m"][0][0].get<double>() == Approx(0).margin(1e-12));
  CHECK(d["extent_m"][1][1].get<double>() == Approx(5));
  CHECK(d["extent_m"][1][2].get<double>() == Approx(10 + 0.5 + 1.0));
  CHECK(d["slope_deg"]["p50"].get<double>() == Approx(degrees(std::atan(std::hypot(0.1, 0.2)))));
}

TEST_CASE("inspect: the text holds the numbers, the reasons and lines to paste") {
  const Scratch file("plane with \"quotes\".asc", plane_grid());
  const std::string text = inspection_text(describe(inspect(file.path, {}), {{1.25, 2.5}, {9, 9}}));
  for (const char* part : {"unit m", "0.00 to 5.00 m", "6 x 6 posts, 1 without data", "10.625", "12.6", "207",
                           "off the map", "terrain:\n  file: \""})
    CHECK(text.find(part) != std::string::npos);
  CHECK(text.find("\\\"quotes\\\"") != std::string::npos);
}

TEST_CASE("inspect: a file that is wrong is refused as by the loader") {
  const Scratch file("broken.asc", "ncols 2\nnrows 2\n");
  CHECK_THROWS_AS(inspect(file.path, {}), InputError);
  CHECK_THROWS_AS(inspect("no/such/file.ply", {}), InputError);
}

TEST_CASE("inspect: spacing is told against a pad, stated or assumed") {
  const Scratch file("plane.asc", plane_grid());  // posts 1 m apart
  const json coarse = described(inspect(file.path, {}), {});
  CHECK(coarse["pad"]["radius_assumed"] == true);
  CHECK(coarse["pad"]["resolved"] == false);
  CHECK(coarse["pad"]["spacing_over_diameter"].get<double>() ==
        Approx(1 / (2 * coarse["pad"]["radius_m"].get<double>())));
  CHECK(inspection_text(describe(inspect(file.path, {}), {})).find("under a pad is not known") !=
        std::string::npos);
  const Inspection wide = inspect(file.path, {}, 2.0);
  const json fine = described(wide, {});
  CHECK(fine["pad"]["radius_assumed"] == false);
  CHECK(fine["pad"]["resolved"] == true);
  CHECK(inspection_text(describe(wide, {})).find("not known") == std::string::npos);
}

TEST_CASE("inspect: a post without data is one hole of six facets, with its place and no depth") {
  const Scratch file("plane.asc", plane_grid());
  const json holes = described(inspect(file.path, {}), {})["hole_areas"];
  CHECK(holes["count"] == 1);
  CHECK(holes["area_m2"].get<double>() == Approx(6 * 0.5));
  CHECK(holes["share_of_extent"].get<double>() == Approx(3.0 / 25));
  CHECK(holes["largest"][0]["box_m"][0][0].get<double>() == Approx(3).margin(1e-9));
  CHECK(holes["largest"][0]["box_m"][1][0].get<double>() == Approx(5).margin(1e-9));
  CHECK(holes["largest"][0]["at_border"] == true);
  const std::string text = inspection_text(describe(inspect(file.path, {}), {}));
  CHECK(text.find("1 place, " + rounded(3) + " m2, " + rounded(12, 2) +
                  " % of the extent; no data, not a depth") != std::string::npos);
}
