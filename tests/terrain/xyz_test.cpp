#include "made_points.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

constexpr TerrainOptions kPoints{.unit = 1.0, .longest_edge = 1e3};

double plane(double x, double y) { return 20 + 0.5 * x - 0.25 * y; }
std::vector<Vec3> corner_points() {
  std::vector<Vec3> out;
  for (const Vec2& p : {Vec2(1, 2), Vec2(5, 2), Vec2(1, 8), Vec2(5, 8)})
    out.emplace_back(p.x(), p.y(), plane(p.x(), p.y()));
  return out;
}
LoadedTerrain load(const std::string& text) { return load_terrain_bytes(text, "a.xyz", kPoints); }
std::string why_not(const std::string& text) { return refusal(text, "a.xyz", kPoints); }

void check_plane(const std::string& text) {
  INFO(text);
  const LoadedTerrain t = load(text);
  CHECK(t.facts.points == 4);
  CHECK(t.facts.lowest_corner.head<2>() == Vec2(1, 2));
  CHECK(map_height(t.terrain, 2.5, 3) == Approx(plane(2.5, 3)).epsilon(1e-12));
}

}  // namespace

TEST_CASE("XYZ: blanks, tabs, commas and semicolons separate; every end of line ends one") {
  for (const char* separator : {" ", "   ", "\t", ",", ", ", " , ", ";", "; "})
    for (const char* end : {"\n", "\r\n", "\r", "  \n", "\n\n"})
      check_plane(made::xyz(corner_points(), separator, end));
  std::string open = made::xyz(corner_points());
  open.pop_back();
  check_plane(open);
  const auto notes = load(open).facts.notes;
  REQUIRE(notes.size() == 1);
  CHECK(says(notes[0], {"no end-of-line"}));
  CHECK(load(made::xyz(corner_points())).facts.notes.empty());
}

TEST_CASE("XYZ: comments, a mark of UTF-8, a heading and a count may come first") {
  const std::string points = made::xyz(corner_points());
  check_plane("# made\n// made\n" + points);
  check_plane("\xEF\xBB\xBF" + points);
  check_plane("x y z\n" + points);
  check_plane("Easting;Northing;Height\n" + made::xyz(corner_points(), ";"));
  check_plane("4\n" + points);
  CHECK(says(why_not("5\n" + points), {"announces 5 points", "4 follow"}));
  CHECK(says(load("\"X\",\"Y\",\"Z\"\n" + made::xyz(corner_points(), ",")).facts.notes[0],
             {"line 1", "heading"}));
  CHECK(says(why_not("y x z\n" + points), {"a.xyz:1:1", "column 1 \"y\"", "order x y z"}));
  CHECK(says(why_not("lon lat z\n" + points), {"\"lon\"", "degrees", "project"}));
}

TEST_CASE("XYZ: columns after the third are counted and left out") {
  std::string text;
  for (const Vec3& p : corner_points()) text += fmt::format("{} {} {} 17 abc\n", p.x(), p.y(), p.z());
  check_plane(text);
  CHECK(says(load(text).facts.notes[0], {"5 columns", "left out"}));
}

TEST_CASE("XYZ: what is no point is refused with its line") {
  const std::string good = "1 2 3\n5 2 3\n";
  CHECK(says(why_not(good + "1 8\n"), {"a.xyz:3:1", "2 columns", "has 3"}));
  CHECK(says(why_not(good + "1 8 3 4\n"), {"a.xyz:3:1", "4 columns", "has 3"}));
  CHECK(says(why_not(good + "1 8 nan\n"), {"a.xyz:3:5", "z is \"nan\"", "finite"}));
  CHECK(says(why_not(good + "1 inf 3\n"), {"a.xyz:3:3", "y is \"inf\""}));
  CHECK(says(why_not(good + "1 8 3m\n"), {"a.xyz:3:5", "\"3m\""}));
  CHECK(says(why_not(good + "1 8 1e999\n"), {"a.xyz:3:5", "\"1e999\""}));
  CHECK(says(why_not(good + "x y z\n"), {"a.xyz:3:1", "x is \"x\""}));
  CHECK(says(why_not("1,2,3\n5,2,3\n1,,3\n"), {"a.xyz:3:3", "y is \"\""}));
  CHECK(says(why_not("1 2\n3 4\n"), {"a.xyz:1:1", "two columns", "x y z on every line"}));
  CHECK(says(why_not("# nothing\n"), {"holds no points"}));
}

TEST_CASE("XYZ: decimal commas are refused with the number as it should be") {
  CHECK(says(why_not("1,5 2,5 3,5\n4,5 2,5 3,5\n"),
             {"a.xyz:1:1", "x is \"1,5\"", "decimal comma", "write \"1.5\""}));
  CHECK(says(why_not("1,5;2,5;3,5\n"), {"a.xyz:1:1", "decimal comma", "write \"1.5\""}));
  CHECK(says(why_not("1,5\t2\t3\n"), {"decimal comma"}));
  CHECK(says(why_not("1,5,2,5,3,5\n"),
             {"a.xyz:1:1", "6 whole numbers or 3 with decimal commas", "decimal point"}));
}

TEST_CASE("XYZ: points are known by their content, whatever the name") {
  const std::string points = made::xyz(corner_points());
  for (const char* name : {"a.xyz", "a.txt", "a.csv", "a.pts", "points", "a.dat"}) {
    CAPTURE(name);
    CHECK(load_terrain_bytes(points, name, kPoints).facts.points == 4);
  }
}

TEST_CASE("XYZ: unit and greatest edge are owed, up axis and classes are not") {
  const std::string points = made::xyz(corner_points());
  CHECK(says(refusal(points, "a.xyz", {.longest_edge = 10}), {"terrain.unit", "4 x 6 x 3.5"}));
  CHECK(says(refusal(points, "a.xyz", {.unit = 1.0}), {"terrain.longest_edge", "m looks right"}));
  TerrainOptions wrong = kPoints;
  wrong.classes = {2};
  CHECK(says(refusal(points, "a.xyz", wrong), {"terrain.classes", "no classes"}));
  wrong = kPoints;
  wrong.up = UpAxis::y;
  CHECK(says(refusal(points, "a.xyz", wrong), {"terrain.up", "leave terrain.up out"}));
  wrong = kPoints;
  wrong.weld = 0.1;
  CHECK(says(refusal(points, "a.xyz", wrong), {"terrain.weld", "for meshes"}));
  wrong = kPoints;
  wrong.longest_edge = 0;
  CHECK(says(refusal(points, "a.xyz", wrong), {"terrain.longest_edge", "greater than 0"}));
  wrong.longest_edge = 1;
  CHECK(says(refusal(points, "a.xyz", wrong), {"every facet has a side over 1 m", "looks right"}));
}
