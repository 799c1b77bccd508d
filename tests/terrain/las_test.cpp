#include <cstring>

#include "cases.hpp"
#include "made_points.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

constexpr TerrainOptions kWide{.longest_edge = 1e3};

/// A plane that falls differently along every axis; eighths of whole numbers, so that nothing is rounded.
double plane(double x, double y) { return 20 + 0.25 * x - 0.125 * y; }
std::vector<Vec3> plane_points() {
  std::vector<Vec3> out;
  for (int j = 0; j < 4; ++j)
    for (int i = 0; i < 5; ++i) out.emplace_back(2 * i, 4 * j, plane(2 * i, 4 * j));
  return out;
}
std::vector<made::LasPoint> plane_cloud() { return made::of_class(plane_points(), 2); }

LoadedTerrain load(const std::string& bytes, const TerrainOptions& options = kWide) {
  return load_terrain_bytes(bytes, "a.las", options);
}
std::string why_not(const std::string& bytes, const TerrainOptions& options = kWide) {
  return refusal(bytes, "a.las", options);
}

/// The plane with positions and heights multiplied.
void check_plane(const LoadedTerrain& t, double plan, double up) {
  CHECK(t.facts.points == 20);
  CHECK((t.facts.lowest_corner - Vec3(0, 0, 18.5 * up)).norm() < 1e-9);
  CHECK((t.facts.highest_corner - Vec3(8 * plan, 12 * plan, 22 * up)).norm() < 1e-9);
  CHECK(map_height(t.terrain, 3 * plan, 5 * plan) == Approx(up * plane(3, 5)).epsilon(1e-12));
  CHECK(t.facts.slope_max == Approx(std::atan(std::hypot(0.25, 0.125) * up / plan)).epsilon(1e-7));
}

bool noted(const std::vector<std::string>& notes, std::initializer_list<std::string_view> parts) {
  return std::any_of(notes.begin(), notes.end(), [&](const std::string& note) { return says(note, parts); });
}

}  // namespace

TEST_CASE("LAS: every point format of every version gives the same ground") {
  for (int minor = 2; minor <= 4; ++minor)
    for (int format = 0; format <= (minor == 2 ? 3 : minor == 3 ? 5 : 10); ++format)
      for (const std::size_t surplus : {0U, 7U}) {
        CAPTURE(minor, format, surplus);
        made::LasStyle style{.minor = minor, .format = format, .surplus = surplus};
        const LoadedTerrain t = load(made::las(plane_cloud(), style));
        check_plane(t, 1, 1);
        CHECK(t.facts.format == fmt::format("LAS 1.{}, point format {}", minor, format));
        CHECK(t.facts.kind == "points");
      }
}

TEST_CASE("LAS: a place is number times scale plus offset, in double") {
  made::LasStyle style;
  style.scale = Vec3(0.5, 0.25, 0.125);
  style.shift = Vec3(500000, 4300000, -3000);
  std::vector<made::LasPoint> points = plane_cloud();
  for (auto& p : points) p.at += style.shift;
  const LoadedTerrain t = load(made::las(points, style));
  CHECK(t.facts.lowest_corner == Vec3(500000, 4300000, 18.5 - 3000));
  CHECK(map_height(t.terrain, 500003, 4300005) == Approx(plane(3, 5) - 3000).epsilon(1e-14));
  CHECK(t.terrain.map_offset.head<2>() == Vec2(500004, 4300006));
}

TEST_CASE("LAS: classes and marks sit where the point format has them") {
  for (const int format : {1, 7}) {
    CAPTURE(format);
    std::vector<made::LasPoint> points = plane_cloud();
    points.push_back({Vec3(1, 1, 22.5), 5});
    points.push_back({Vec3(3, 1, 23), format == 1 ? 31 : 200});
    points.push_back({Vec3(5, 1, 24), 2, false, true});
    points.push_back({Vec3(5, 5, plane(5, 5)), 2, true, false, true});
    made::LasStyle style{.minor = 4, .format = format};
    const std::string bytes = made::las(points, style);
    const std::string several = why_not(bytes);
    CHECK(says(several, {"several classes", "2 (ground): 21 points", "5 (high vegetation): 1 point",
                         "terrain.classes: [2]"}));
    CHECK(says(several, {format == 1 ? "31 (reserved): 1" : "200 (defined by its maker): 1"}));
    TerrainOptions ground = kWide;
    ground.classes = {2};
    const LoadedTerrain t = load(bytes, ground);
    CHECK(t.facts.highest_corner.z() == 22);
    CHECK(t.facts.points == 23);
    CHECK(t.facts.vertices == 21);
    CHECK(noted(t.facts.notes, {"1 point is", "withheld", "left out"}));
    CHECK(noted(t.facts.notes, {"1 point is", "synthetic", "kept"}));
    CHECK(noted(t.facts.notes, {"1 point is", "overlap"}) == (format == 7));
    CHECK(noted(t.facts.notes, {"2 of 23 points", "other classes"}));
    ground.classes = {2, 5};
    CHECK(load(bytes, ground).facts.highest_corner.z() == 22.5);
    ground.classes = {3};
    CHECK(says(why_not(bytes, ground), {"class 3 holds no point", "2 (ground): 21 points"}));
  }
}

TEST_CASE("LAS: a single class needs no statement, a look at several takes the ground and says so") {
  CHECK(load(made::las(made::of_class(plane_points(), 0))).facts.classes.empty());
  std::vector<made::LasPoint> points = plane_cloud();
  points.push_back({Vec3(1, 1, 90), 6});
  TerrainOptions look;
  look.points_assumed = true;
  const TerrainFacts facts = load(made::las(points), look).facts;
  CHECK(facts.classes == std::vector<int>{2});
  CHECK(facts.highest_corner.z() == 22);
  REQUIRE(facts.assumed.size() == 2);
  CHECK(says(facts.assumed[0], {"only class 2 is ground", "6 (building): 1 point", "terrain.classes"}));
  CHECK(says(facts.assumed[1], {"terrain.longest_edge"}));
}

TEST_CASE("LAS: feet are told by the keys of the coordinate system, for positions and heights apart") {
  const double ft = 0.3048, us = 1200.0 / 3937;  // EPSG 9002, 9003
  const auto with = [](int plan, int up) {
    made::LasStyle style;
    style.records = {made::geo_keys({{1024, 1}, {3072, 2903}, {3076, plan}, {4096, 5703}, {4099, up}})};
    return load(made::las(plane_cloud(), style));
  };
  check_plane(with(9001, 9001), 1, 1);
  check_plane(with(9002, 9001), ft, 1);
  check_plane(with(9001, 9003), 1, us);
  check_plane(with(9003, 9002), us, ft);
  const TerrainFacts facts = with(9003, 9002).facts;
  CHECK(facts.crs == "EPSG 2903 + EPSG 5703");
  REQUIRE(facts.from_file.size() == 2);
  CHECK(says(facts.from_file[0], {"positions", "0.3048006096012192 m"}));
  CHECK(says(facts.from_file[1], {"heights", "0.3048 m"}));
}

TEST_CASE("LAS: a unit of the maker's own is taken from its size") {
  made::LasStyle style;
  made::Record keys = made::geo_keys({{1024, 1}, {3076, 32767}, {4099, 9001}});
  std::string size_key;
  for (const int number : {3077, 34736, 1, 1}) made::little(size_key, static_cast<std::uint64_t>(number), 2);
  keys.content += size_key;
  made::set(keys.content, 6, 4, 2);
  made::Record doubles{"LASF_Projection", 34736, {}};
  made::little(doubles.content, 7.0);
  made::little(doubles.content, 0.5);
  style.records = {keys, doubles};
  check_plane(load(made::las(plane_cloud(), style)), 0.5, 1);
  doubles.content.resize(8);
  style.records = {keys, doubles};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"key 3077 refers to double 1, the file has 1"}));
}

TEST_CASE(
    "LAS: a unit that the file does not say must be stated, one that it says must not be contradicted") {
  made::LasStyle style;
  style.records = {};
  const std::string bare = made::las(plane_cloud(), style);
  CHECK(says(why_not(bare), {"terrain.unit", "8 x 12 x 3.5", "for instance m"}));
  TerrainOptions feet = kWide;
  feet.unit = 0.3048;
  check_plane(load(bare, feet), 0.3048, 0.3048);
  style.records = {made::geo_keys({{1024, 1}, {3072, 2903}, {3076, 9001}})};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"the unit of its heights", "terrain.unit"}));
  check_plane(load(made::las(plane_cloud(), style), feet), 1, 0.3048);
  CHECK(says(why_not(made::las(plane_cloud()), feet), {"is 0.3048 m", "positions in m and heights in m"}));
  style.records = {made::geo_keys({{1024, 1}, {3076, 9099}, {4099, 9001}})};
  const LoadedTerrain strange = load(made::las(plane_cloud(), style), feet);
  check_plane(strange, 0.3048, 1);
  CHECK(noted(strange.facts.notes, {"positions", "9099"}));
}

TEST_CASE("LAS: positions that are no lengths are refused") {
  made::LasStyle style;
  style.records = {made::geo_keys({{1024, 2}, {2048, 4326}})};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"degrees", "EPSG 4326", "project"}));
  style.records = {made::geo_keys({{1024, 3}})};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"centre of a body"}));
  style.records = {
      made::wkt("GEOGCS[\"somewhere\",DATUM[\"d\",SPHEROID[\"s\",6378137,298]],UNIT[\"degree\",0.0174]]")};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"degrees", "somewhere"}));
  style.records = {made::wkt("GEODCRS[\"c\",CS[Cartesian,3],LENGTHUNIT[\"metre\",1]]")};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"centre of a body"}));
  style.records = {
      made::wkt("VERT_CS[\"sea\",VERT_DATUM[\"d\",2005],UNIT[\"metre\",1],AXIS[\"Depth\",DOWN]]")};
  TerrainOptions stated = kWide;
  stated.unit = 1;
  CHECK(says(why_not(made::las(plane_cloud(), style), stated), {"depths"}));
}

TEST_CASE("LAS: well-known text of both versions gives the units of its own level, not of those within") {
  const auto with = [](const std::string& text, bool late = false) {
    made::LasStyle style{.minor = 4, .format = 6};
    (late ? style.late_records : style.records) = {made::wkt(text)};
    if (late) style.records.clear();
    return made::las(plane_cloud(), style);
  };
  const std::string one =
      "COMPD_CS[\"both\",PROJCS[\"plan \"\"a\"\"\",GEOGCS[\"g\",UNIT[\"degree\",0.0174532925199433]],"
      "PROJECTION[\"Transverse_Mercator\"],UNIT[\"foot\",0.3048,AUTHORITY[\"EPSG\",\"9002\"]],AXIS[\"X\","
      "EAST]],"
      "VERT_CS[\"up\",UNIT[\"metre\",1.0],AXIS[\"Up\",UP]]]";
  check_plane(load(with(one)), 0.3048, 1);
  check_plane(load(with(one, true)), 0.3048, 1);
  CHECK(load(with(one)).facts.crs == "plan \"a\" + up");
  const std::string two =
      "COMPOUNDCRS[\"both\", PROJCRS[\"p\", BASEGEOGCRS[\"b\", ANGLEUNIT[\"degree\", 0.0174]], CS[Cartesian, "
      "2],\n"
      " AXIS[\"(E)\", east, ORDER[1], LENGTHUNIT[\"metre\", 1]], AXIS[\"(N)\", north, LENGTHUNIT[\"metre\", "
      "1]]],\n"
      " VERTCRS[\"v\", CS[vertical, 1], AXIS[\"up (H)\", up], LENGTHUNIT[\"foot\", 3.048E-1]]]";
  check_plane(load(with(two)), 1, 0.3048);
  const std::string three = "PROJCRS[\"p\",CS[Cartesian,3],AXIS[\"E\",east],LENGTHUNIT[\"foot\",0.3048]]";
  check_plane(load(with(three)), 0.3048, 0.3048);
  const std::string mixed =
      "PROJCRS[\"p\",AXIS[\"E\",east,LENGTHUNIT[\"m\",1]],AXIS[\"N\",north,LENGTHUNIT[\"f\",0.3048]]]";
  CHECK(says(why_not(with(mixed)), {"terrain.unit"}));
  for (std::size_t size = 1; size < one.size(); ++size)
    CHECK(says(why_not(with(one.substr(0, size))), {"a.las"}));
  CHECK(says(why_not(with("PROJCS[\"p\",UNIT[\"m\",1]] x")), {"after its end"}));
  CHECK(says(why_not(with("PROJCS")), {"KEYWORD[...]"}));
  CHECK(says(why_not(with("PROJCS[\"p\",UNIT[\"m\",1e999]]")), {"malformed number"}));
  CHECK(says(why_not(with("PROJCS[\"p")), {"cut within a text"}));
  std::string deep;
  for (int k = 0; k < 40; ++k) deep += "A[";
  CHECK(says(why_not(with(deep)), {"nested"}));
}

TEST_CASE("LAS: two descriptions of a coordinate system must agree in their units") {
  made::LasStyle style;
  style.records = {made::metres(), made::wkt("PROJCS[\"p\",UNIT[\"foot\",0.3048]]")};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"stated twice", "0.3048 m", "1 m", "positions"}));
  style.records = {made::metres(), made::metres()};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"two records 34735"}));
  style.records = {made::geo_keys({{1024, 1}, {1024, 2}})};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"key 1024", "twice"}));
  style.records[0].content.resize(10);
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"announces 2 keys"}));
  style.records[0].content.resize(3);
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"no header of version 1"}));
}

TEST_CASE("LAS: compressed points are refused with what to do") {
  std::string bytes = made::las(plane_cloud());
  bytes[104] = static_cast<char>(0x80);
  CHECK(says(why_not(bytes), {"LAZ", "decompress it to LAS"}));
  made::LasStyle style;
  style.records = {{"laszip encoded", 22204, std::string(52, '\0')}};
  CHECK(says(why_not(made::las(plane_cloud(), style)), {"LAZ", "decompress it to LAS"}));
}

TEST_CASE("LAS: what the header says is held against the bytes") {
  const made::LasStyle late{.minor = 4, .format = 6};
  const std::string two = made::las(plane_cloud()), four = made::las(plane_cloud(), late);
  const auto lie = [](std::string bytes, std::size_t at, std::uint64_t value, std::size_t size) {
    made::set(bytes, at, value, size);
    return why_not(bytes);
  };
  const auto real_lie = [&](std::size_t at, double value) {
    return lie(two, at, std::bit_cast<std::uint64_t>(value), 8);
  };
  CHECK(says(lie(two, 25, 1, 1), {"LAS version 1.1", "1.2, 1.3 and 1.4"}));
  CHECK(says(lie(two, 24, 2, 1), {"LAS version 2.2"}));
  CHECK(says(lie(two, 94, 226, 2), {"226 bytes", "at least 227"}));
  CHECK(says(lie(two, 94, 60000, 2), {"60000 bytes"}));
  CHECK(says(lie(four, 94, 227, 2), {"227 bytes", "at least 375"}));
  CHECK(says(lie(two, 96, 100, 4), {"begin at byte 100"}));
  CHECK(says(lie(two, 96, 4000000000, 4), {"begin at byte 4000000000"}));
  CHECK(says(lie(two, 100, 2, 4), {"announces 2 variable length records", "number 2"}));
  CHECK(says(lie(two, 100, 4000000000, 4), {"announces 4000000000"}));
  CHECK(says(lie(two, 104, 6, 1), {"point format 6", "formats 0 to 3"}));
  CHECK(says(lie(two, 104, 1, 1), {"20 bytes each", "format 1", "at least 28"}));
  CHECK(says(lie(two, 105, 19, 2), {"19 bytes each", "at least 20"}));
  CHECK(says(lie(two, 107, 21, 4), {"expected 21 points", "found 20"}));
  CHECK(says(lie(two, 107, 4000000000, 4), {"expected 4000000000 points"}));
  CHECK(says(lie(two, 107, 19, 4), {"20 bytes are left after the 19 points", "1 more"}));
  CHECK(says(lie(two, 107, 0, 4), {"holds no points"}));
  CHECK(says(lie(four, 247, ~std::uint64_t{0}, 8), {"expected 18446744073709551615 points"}));
  CHECK(says(lie(four, 107, 7, 4), {"counts 7 points in one place and 20 in another"}));
  CHECK(says(real_lie(131, 0.0), {"scale of x is 0"}));
  CHECK(says(real_lie(139, -1.0), {"scale of y is -1"}));
  CHECK(says(real_lie(147, kUnset), {"scale of z is not finite"}));
  CHECK(says(real_lie(155, kInfinity), {"offset not finite"}));
  CHECK(says(real_lie(131, 1e300), {"a.las"}));
  std::string cut_records =
      made::las(plane_cloud(), {.minor = 4, .format = 6, .records = {}, .late_records = {made::metres()}});
  CHECK(load(cut_records).facts.points == 20);
  CHECK(says(lie(cut_records, 235, 400, 8), {"extended records are said to begin at byte 400"}));
  CHECK(says(lie(cut_records, 243, 2, 4), {"announces 2 extended records", "number 2"}));
  TerrainOptions few = kWide;
  few.greatest_vertices = 19;
  CHECK(says(why_not(two, few), {"20", "at most 19"}));
}

TEST_CASE("LAS: an extent in the header that the points do not have is told") {
  std::string bytes = made::las(plane_cloud());
  CHECK(load(bytes).facts.notes.empty());
  made::set(bytes, 179, std::bit_cast<std::uint64_t>(1e6), 8);
  const LoadedTerrain t = load(bytes);
  check_plane(t, 1, 1);
  CHECK(noted(t.facts.notes, {"x runs from 0 to 1000000", "the points run from 0 to 8"}));
}

TEST_CASE("LAS: a file cut at any byte is refused, never read in part") {
  for (const made::LasStyle& style :
       {made::LasStyle{}, made::LasStyle{.minor = 3, .format = 5},
        made::LasStyle{.minor = 4, .format = 6, .records = {}, .late_records = {made::metres()}}}) {
    const std::string bytes = made::las(plane_cloud(), style);
    REQUIRE(why_not(bytes).empty());
    for (std::size_t size = 0; size < bytes.size(); ++size)
      if (why_not(bytes.substr(0, size)).empty()) FAIL("cut at byte " << size << " of LAS 1." << style.minor);
  }
  std::string padded = made::las(plane_cloud()) + "xyz";
  CHECK(noted(load(padded).facts.notes, {"3 bytes after the last point"}));
}

TEST_CASE("LAS: damaged files are refused with a reason or give finite ground") {
  const std::string seeds[] = {
      made::las(plane_cloud()),
      made::las(plane_cloud(), {.minor = 4, .format = 7, .records = {}, .late_records = {made::metres()}})};
  std::uint64_t accepted = 0, refused = 0;
  const std::uint64_t mutants = 5 * static_cast<std::uint64_t>(cases());
  for (std::uint64_t i = 0; i < mutants; ++i) {
    std::string bytes = seeds[i % 2];
    std::uint64_t index = 0;
    const auto draw = [&](std::size_t n) {
      return static_cast<std::size_t>(random_bits(i, 31, index++) % n);
    };
    for (std::size_t k = 1 + draw(3); k > 0; --k) {
      const std::size_t at = draw(2) ? draw(bytes.size()) : draw(475);
      bytes[at] =
          static_cast<char>(draw(3) == 0 ? draw(256) : static_cast<unsigned>(bytes[at]) ^ (1U << draw(8)));
    }
    try {
      const LoadedTerrain t = load(bytes);
      ++accepted;
      if (!all_finite(t)) FAIL("mutant " << i << " gives ground that is not finite");
    } catch (const InputError& error) {
      ++refused;
      if (error.issues.empty() || error.issues[0].what.empty()) FAIL("mutant " << i << " has no reason");
    }
  }
  CHECK(accepted > mutants / 50);
  CHECK(refused > mutants / 50);
}
