// Rasters, read by the program rimstance-import. Unless said otherwise a file holds the plane
// z = 10 + 0.1 x + 0.05 y over posts 2 m apart, moved to a place with large coordinates.
#include "cases.hpp"
#include "import_there.hpp"
#include "made_rasters.hpp"
#include "reading.hpp"
#include "rimstance/terrain/posts.hpp"

using namespace reading;
using made::Folder;
using made::Posts;
using made::TiffStyle;

namespace {

constexpr double kX = 500000, kY = 4300000, kFoot = 0.3048, kSurveyFoot = 1200.0 / 3937.0;
const double kSlope = std::atan(std::hypot(0.1, 0.05));

double plane(double x, double y) { return 10 + 0.1 * (x - kX) + 0.05 * (y - kY); }

/// The plane stored as (z - offset) / scale.
Posts posts(double scale = 1, double offset = 0) {
  return {Vec2(kX, kY), Vec2(2, 2), 6, 5, [=](double x, double y) { return (plane(x, y) - offset) / scale; }};
}

/// The same, where counts must be whole numbers.
Posts counts(double scale, double offset) {
  Posts p = posts();
  p.stored = [=](double x, double y) { return std::round((plane(x, y) - offset) / scale); };
  return p;
}

const TerrainOptions kMetres{.unit = 1.0};

std::string refused(const std::string& file, const TerrainOptions& options = kMetres) {
  try {
    (void)load_terrain(file, options);
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

LoadedTerrain loaded(const Folder& folder, const Posts& p, const TiffStyle& style,
                     const TerrainOptions& options = kMetres) {
  return load_terrain(folder.write("plane.tif", made::tiff_file(p, style)), options);
}
std::string refused(const Folder& folder, const Posts& p, const TiffStyle& style,
                    const TerrainOptions& options = kMetres) {
  return refused(folder.write("plane.tif", made::tiff_file(p, style)), options);
}

/// Height and fall of the plane between posts, its corners, and no hole.
void check_plane(const LoadedTerrain& t, double accuracy) {
  const double x = kX + 3, y = kY + 5;
  CHECK(std::abs(map_height(t.terrain, x, y) - plane(x, y)) < accuracy);
  const SlopeAspect fall = map_slope(t.terrain, x, y);
  CHECK(std::abs(fall.slope - kSlope) < accuracy);
  // Downhill is against the gradient (0.1, 0.05); mirrored rows would turn it to the north.
  CHECK(std::abs(fall.downslope - std::atan2(-0.05, -0.1)) < 10 * accuracy);
  const Vec2 span = t.facts.cell.cwiseProduct(
      Vec2(static_cast<double>(t.facts.columns) - 1, static_cast<double>(t.facts.rows) - 1));
  CHECK((t.facts.lowest_corner.head<2>() - Vec2(kX, kY)).norm() < accuracy);
  CHECK((t.facts.highest_corner.head<2>() - Vec2(kX, kY) - span).norm() < accuracy);
  CHECK(t.facts.holes == 0);
  CHECK(t.facts.triangles == 2 * (t.facts.columns - 1) * (t.facts.rows - 1));
}

bool any_says(const std::vector<std::string>& sentences, std::string_view part) {
  return std::any_of(sentences.begin(), sentences.end(),
                     [&](const std::string& s) { return s.find(part) != std::string::npos; });
}

bool is_hole(const LoadedTerrain& t, double x, double y) {
  return t.terrain.ground->hole_at(Vec2(x, y) - t.terrain.map_offset.head<2>());
}

}  // namespace

TEST_CASE("A plane reads the same from every kind of number, byte order and order of rows", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  for (const char* type : {"float", "double"})
    for (const bool big : {false, true}) {
      INFO(type << " big-endian " << big);
      check_plane(loaded(folder, posts(), {.type = type, .big_endian = big}), 2e-6);
    }
  check_plane(loaded(folder, posts(), {.south_up = true}), 2e-6);
  check_plane(loaded(folder, posts(), {.big_endian = true, .south_up = true, .bands = 1}), 2e-6);
}

TEST_CASE("A file that places points is not shifted by half a pixel, nor one that places pixels",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const LoadedTerrain point = loaded(folder, posts(), {.point = true});
  check_plane(point, 2e-6);
  CHECK(any_says(point.facts.from_file, "points that the file places"));
  const LoadedTerrain pixel = loaded(folder, posts(), {});
  check_plane(pixel, 2e-6);
  CHECK(any_says(pixel.facts.from_file, "centres of pixels"));
  CHECK(any_says(pixel.facts.from_file, "(500000, 4300000)"));
}

TEST_CASE("Posts may be closer northwards than eastwards", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts p = posts();
  p.spacing = {2, 1};
  const LoadedTerrain t = loaded(folder, p, {});
  CHECK(t.facts.cell == Vec2(2, 1));
  CHECK(t.facts.spacing == 2);
  CHECK(std::abs(map_height(t.terrain, kX + 3, kY + 2.5) - plane(kX + 3, kY + 2.5)) < 2e-6);
  CHECK(std::abs(map_slope(t.terrain, kX + 3, kY + 2.5).slope - kSlope) < 2e-6);
}

TEST_CASE("Counts become heights by the scale and offset of the file, whose step is the quantum",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const TiffStyle style{.type = "short", .metadata = made::item("scale", "0.05") + made::item("offset", "9")};
  const LoadedTerrain t = loaded(folder, counts(0.05, 9), style);
  check_plane(t, 1e-9);
  CHECK(t.facts.quantum == Approx(0.05).epsilon(1e-12));
  CHECK(any_says(t.facts.from_file, "counts x 0.05 + 9"));
  CHECK(std::isnan(loaded(folder, posts(), {}).facts.quantum));
  CHECK(says(refused(folder, counts(0.05, 9), {.type = "short", .metadata = made::item("scale", "0")}),
             {"scale 0"}));
}

TEST_CASE("Heights in feet are converted where the file says so, with positions in metres", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const auto in = [&](const char* unit) { return TiffStyle{.metadata = made::item("unittype", unit)}; };
  for (const char* unit : {"ft", "Feet"}) check_plane(loaded(folder, posts(kFoot), in(unit)), 2e-6);
  for (const char* unit : {"US survey foot", "us-ft"})
    check_plane(loaded(folder, posts(kSurveyFoot), in(unit)), 2e-6);
  check_plane(loaded(folder, posts(1000), in("km")), 2e-6);
  CHECK(says(refused(folder, posts(), in("furlong")), {"\"furlong\"", "no length", "gdal_edit.py -units m"}));
  // Nothing but the positions is open, and that is asked for.
  CHECK(says(refused(folder, posts(kFoot), in("ft"), {}), {"terrain.unit", "positions", "span 10"}));
}

TEST_CASE("Positions and heights are read in the units of the coordinate system; a contradiction is refused",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  // EPSG 32631 is in metres, 2225 in US survey feet, the vertical 6360 in US survey feet (EPSG registry).
  TiffStyle metres{.keys = {{1024, 1}, {3072, 32631}}};
  CHECK(says(refused(folder, posts(), metres, {}), {"terrain.unit", "unit of its heights", "span 1.4"}));
  const LoadedTerrain t = loaded(folder, posts(), metres);
  check_plane(t, 2e-6);
  CHECK(t.facts.crs == "WGS 84 / UTM zone 31N");
  CHECK(t.facts.body_radius == 6378137);  // WGS 84

  metres.metadata = made::item("unittype", "m");
  check_plane(loaded(folder, posts(), metres, {}), 2e-6);
  CHECK(says(refused(folder, posts(), metres, {.unit = kFoot}),
             {"terrain.unit", "0.3048 m", "heights in m", "leave"}));
  const LoadedTerrain guessed = loaded(folder, posts(), metres, {.unit = kFoot, .unit_assumed = true});
  check_plane(guessed, 2e-6);  // the file goes before a guess
  CHECK(guessed.facts.assumed_unit.empty());

  metres.metadata = made::item("unittype", "ft");
  check_plane(loaded(folder, posts(kFoot), metres, {}), 2e-6);

  TiffStyle compound{.keys = {{1024, 1}, {3072, 32631}, {4096, 6360}}};
  check_plane(loaded(folder, posts(kSurveyFoot), compound, {}), 2e-6);

  TiffStyle feet{.metadata = made::item("unittype", "m"), .keys = {{1024, 1}, {3072, 2225}}};
  Posts p = posts();
  p.first /= kSurveyFoot;
  p.spacing /= kSurveyFoot;
  p.stored = [](double x, double y) { return plane(x * kSurveyFoot, y * kSurveyFoot); };
  check_plane(loaded(folder, p, feet, {}), 4e-6);
}

TEST_CASE("A unit that is only assumed is named for the part it was needed for", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const TerrainOptions guess{.unit = 1.0, .unit_assumed = true};
  CHECK(loaded(folder, posts(), {}, guess).facts.assumed_unit == "m");
  CHECK(loaded(folder, posts(), {.keys = {{1024, 1}, {3072, 32631}}}, guess).facts.assumed_unit ==
        "m (heights)");
  CHECK(loaded(folder, posts(), {.metadata = made::item("unittype", "m")}, guess).facts.assumed_unit ==
        "m (positions)");
}

TEST_CASE("Missing data are holes: by the declared value as the cells hold it, and where a cell is no number",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const auto with = [](double mark) {
    Posts p = posts();
    p.stored = [mark](double x, double y) { return x == kX + 4 && y == kY + 4 ? mark : plane(x, y); };
    return p;
  };
  struct Case {
    const char *type, *nodata;
    double mark;
  };
  for (const Case& c :
       {Case{"float", "-9999", -9999.0}, Case{"float", "-3.40282346638528898e+38", -3.4028234663852886e38},
        Case{"float", "-3.4028235e+38", -3.4028234663852886e38}, Case{"double", "-1e30", -1e30},
        Case{"float", "0.1", static_cast<double>(0.1F)}, Case{"float", "nan", kUnset},
        Case{"float", "", kUnset}, Case{"float", "", kInfinity}, Case{"float", "-9999", kUnset}}) {
    INFO(c.type << " nodata " << c.nodata << " mark " << c.mark);
    const LoadedTerrain t = loaded(folder, with(c.mark), {.type = c.type, .nodata = c.nodata});
    CHECK(t.facts.holes == 1);
    CHECK(t.facts.vertices == 29);
    CHECK(t.facts.triangles == 40 - 6);  // six facets meet at a post
    CHECK(t.facts.lowest_corner.z() == Approx(10).epsilon(1e-6));
    CHECK(is_hole(t, kX + 4, kY + 4));
    CHECK_FALSE(is_hole(t, kX + 8.5, kY + 5.5));
  }
  // A value that the cells cannot hold marks nothing.
  const TiffStyle bytes{.type = "uchar", .nodata = "-9999", .metadata = made::item("scale", "0.05")};
  CHECK(loaded(folder, counts(0.05, 0), bytes).facts.holes == 0);
}

TEST_CASE("Undeclared marks of missing data are refused with their place, or cut on request", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts p = posts();
  p.stored = [](double x, double y) { return x == kX + 4 && y == kY + 4 ? -32768 : plane(x, y); };
  const std::string message = refused(folder, p, {});
  CHECK(
      says(message, {"1 cell near", "-32768", "row 3, column 3", "missing data", "hole_below", "-a_nodata"}));
  CHECK(loaded(folder, p, {}, {.unit = 1.0, .hole_below = -1000}).facts.holes == 1);
}

TEST_CASE("An alpha band cuts holes, other further bands are refused by name", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  std::string bytes = made::tiff_file(posts(), {.type = "ushort", .bands = 2, .alpha = true});
  bytes[bytes.size() - 2] = bytes[bytes.size() - 1] = '\0';  // the last post: south-east
  const LoadedTerrain t = load_terrain(folder.write("alpha.tif", bytes), kMetres);
  CHECK(t.facts.holes == 1);
  CHECK(is_hole(t, kX + 10, kY));
  CHECK(says(refused(folder, posts(), {.bands = 3}),
             {"has 3 bands", "1 (Float32, Gray)", "gdal_translate -b 1"}));
}

TEST_CASE("What is no straight grid of heights is refused with what it is", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  CHECK(says(refused(folder, posts(), {.turn = 0.1}), {"rotated or sheared", "gdalwarp"}));
  CHECK(says(refused(folder, posts(), {.complex = true}), {"complex numbers"}));
  CHECK(says(refused(folder, posts(), {.type = "uchar", .palette = true}), {"colour table"}));
  Posts line = posts();
  line.rows = 1;
  CHECK(says(refused(folder, line, {}), {"6 x 1 posts", "at least 2 x 2"}));
}

TEST_CASE("Degrees are refused with the command that makes metres of them, round the middle of the raster",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts p = posts();
  p.first = {10, 50};
  p.spacing = {0.5, 0.25};
  CHECK(says(refused(folder, p, {.keys = {{1024, 2}, {2048, 4326}}}),
             {"degrees", "WGS 84", "gdalwarp", "+lat_0=50.", "+lon_0=11.", "+ellps=WGS84"}));
}

TEST_CASE("A GeoTIFF that is cut short or whose header lies is refused, never read with zeros", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string whole = made::tiff_file(posts(), {});
  for (const std::size_t lost : {1U, 30U, 119U})
    CHECK(
        says(refused(folder.write("cut.tif", whole.substr(0, whole.size() - lost))), {"cut.tif: ", "whole"}));
  // 60 000 x 60 000 posts and the data of 30.
  Posts large = posts();
  large.columns = large.rows = 2;
  std::string lying = made::tiff_file(large, {});
  const std::string two("\x02\x00\x00\x00", 4), many("\x60\xea\x00\x00", 4);  // 60000, little-endian
  for (const char id : {'\x00', '\x01'})  // tags 256 and 257, SHORT, one value
    lying.replace(lying.find(std::string{id, '\x01', '\x03', '\0', '\x01', '\0', '\0', '\0'}) + 8, 4, many);
  CHECK(says(refused(folder.write("lying.tif", lying)), {"lying.tif: "}));
  TerrainOptions overview = kMetres;
  overview.overview = true;
  CHECK(says(refused(folder.write("lying.tif", lying), overview), {"lying.tif: "}));
  CHECK(says(refused(folder, posts(), {.sparse = true}), {"every cell is without data"}));
}

TEST_CASE("A map with a world file beside it is placed by it", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  folder.write("plane.tfw", fmt::format("2\n0\n0\n-2\n{}\n{}\n", kX, kY + 8));
  const LoadedTerrain t = loaded(folder, posts(), {.placed = false});
  check_plane(t, 2e-6);
}

TEST_CASE("PDS3: heights counted from the centre of the body are given above its radius", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string image =
      "  SAMPLE_TYPE = LSB_INTEGER\r\n  SAMPLE_BITS = 16\r\n  UNIT = METER\r\n"
      "  SCALING_FACTOR = 0.05\r\n  OFFSET = 1737400\r\n";
  const std::string data = folder.write("plane.img", made::raw(counts(0.05, 0), "short", false));
  const std::string label = folder.write("plane.lbl", made::pds3_label(posts(), "\"plane.img\"", image));
  for (const std::string& file : {data, label}) {
    const LoadedTerrain t = load_terrain(file, {});
    check_plane(t, 1e-6);
    CHECK(t.facts.quantum == Approx(0.05).epsilon(1e-12));
    CHECK(t.facts.body_radius == 1737400);
    CHECK(any_says(t.facts.notes, "centre of the body"));
  }
  // Both files make the ground: either one's change changes its name.
  const std::string before = load_terrain(label, {}).terrain.sha256;
  std::string other = file_bytes(data);
  ++other[0];
  folder.write("plane.img", other);
  CHECK(load_terrain(label, {}).terrain.sha256 != before);

  std::string cut = made::raw(counts(0.05, 0), "short", false);
  cut.pop_back();
  folder.write("plane.img", cut);
  CHECK(says(refused(label, {}), {"cannot be read whole"}));
}

TEST_CASE("PDS4, ISIS3 cubes and ENVI give the plane from their labels, in either byte order", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  folder.write("p4.dat", made::raw(posts(), "float", true));
  const std::string xml =
      folder.write("p4.xml", made::pds4_label(posts(), "p4.dat", "IEEE754MSBSingle", "m"));
  check_plane(load_terrain(xml, {}), 2e-6);
  for (const bool big : {false, true}) {
    check_plane(load_terrain(folder.write("plane.cub", made::isis3_cube(posts(), big)), kMetres), 2e-6);
    const std::string data = folder.write("plane.raw", made::raw(posts(), "float", big));
    const std::string place = fmt::format("UTM, 1, 1, {}, {}, 2, 2, 31, North, WGS-84", kX - 1, kY + 9);
    const std::string header = folder.write("plane.hdr", made::envi_header(posts(), 4, big, place));
    check_plane(load_terrain(data, kMetres), 2e-6);
    check_plane(load_terrain(header, kMetres), 2e-6);
  }
}

TEST_CASE("Raw data that end early are refused, in every format that describes them", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const auto cut = [](std::string bytes, std::size_t lost) { return bytes.substr(0, bytes.size() - lost); };
  for (const std::size_t lost : {1U, 60U}) {
    INFO(lost);
    folder.write("p4.dat", cut(made::raw(posts(), "float", true), lost));
    const std::string xml =
        folder.write("p4.xml", made::pds4_label(posts(), "p4.dat", "IEEE754MSBSingle", "m"));
    CHECK(says(refused(xml, {}), {"p4.xml: "}));
    CHECK(says(refused(folder.write("p.cub", cut(made::isis3_cube(posts(), false), lost))), {"whole"}));
    folder.write("e.hdr", made::envi_header(posts(), 4, 0, "UTM, 1, 1, 1, 9, 2, 2, 31, North, WGS-84"));
    CHECK(says(refused(folder.write("e.raw", cut(made::raw(posts(), "float", false), lost))),
               {"cut short", fmt::format("asks for 120 bytes, it has {}", 120 - lost)}));
    const std::string nc = made::netcdf_file(posts(), {"z"}, "m");
    CHECK(says(refused(folder.write("z.nc", cut(nc, lost))),
               {"cut short", fmt::format("asks for {} bytes, it has {}", nc.size(), nc.size() - lost)}));
  }
}

TEST_CASE("A header with the wrong byte order is told by the roughness of what it would make", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts wavy{Vec2(0, 0), Vec2(100, 100), 40, 30, [](double x, double y) {
               return std::round(1000 + 300 * std::sin(x / 850) + 200 * std::cos(y / 650));
             }};
  const std::string place = "UTM, 1, 1, 0, 3000, 100, 100, 31, North, WGS-84";
  struct Case {
    const char* type;
    int code;
    bool big;
  };
  for (const Case& c :
       {Case{"short", 2, false}, Case{"ushort", 12, true}, Case{"int", 3, true}, Case{"float", 4, false}}) {
    INFO(c.type << " big-endian " << c.big);
    const std::string data = folder.write("wavy.raw", made::raw(wavy, c.type, c.big));
    folder.write("wavy.hdr", made::envi_header(wavy, c.code, c.big, place));
    CHECK(refused(data).empty());
    folder.write("wavy.hdr", made::envi_header(wavy, c.code, !c.big, place));
    CHECK(says(refused(data), {"other byte order", "byte order = 0 or 1"}));
  }
}

TEST_CASE("Raw data without a description are refused with the header to write", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  // 2 * h * h posts of 2 bytes: a globe with twice as many columns as rows.
  const std::string raw = folder.write("globe.img", std::string(2 * 2 * 36 * 36, '\x11'));
  CHECK(says(refused(raw), {"raw data without a description", "72 x 36 posts of 2 bytes", "globe.hdr", "ENVI",
                            "samples = 72", "lines = 36", "data type = 2", "byte order"}));
  const std::string odd = folder.write("odd.img", std::string(1001, '\x11'));
  CHECK(says(refused(odd), {"1001 bytes", "samples = COLUMNS"}));
  CHECK(says(refused(folder.write("old.img", "EHFA_HEADER_TAG\0and so on")), {"Imagine", "gdal_translate"}));
}

TEST_CASE("A label that points elsewhere is refused before anything is opened", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string image = "  SAMPLE_TYPE = LSB_INTEGER\r\n  SAMPLE_BITS = 16\r\n";
  for (const char* where : {"\"/etc/hostname\"", "\"../plane.img\"", "(\"sub/plane.img\", 1)"})
    CHECK(says(refused(folder.write("a.lbl", made::pds3_label(posts(), where, image))),
               {"points to", "folder"}));
  for (const char* where : {"\"/vsicurl/http:x\"", "\"/vsimem/x\""})
    CHECK(says(refused(folder.write("a.lbl", made::pds3_label(posts(), where, image))), {"virtual file"}));
  CHECK(says(refused(folder.write("a.xml", made::pds4_label(posts(), "/etc/hostname", "UnsignedByte", "m"))),
             {"points to \"/etc/hostname\""}));
  std::string cube = made::isis3_cube(posts(), false);
  cube.replace(cube.find("    StartByte = 2049\n"), 21, "    ^Core = /etc/a.dat\n");
  CHECK(says(refused(folder.write("a.cub", cube)), {"points to \"/etc/a.dat\""}));
  // A name that looks like an address is no file of this machine, even where one is.
  std::filesystem::create_directories(folder / "http:");
  folder.write("http:/plane.tif", made::tiff_file(posts(), {}));
  CHECK(says(refused(folder / "http://plane.tif"), {"no file of this machine"}));
}

TEST_CASE("netCDF: one variable is the ground, of several one must be chosen", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  check_plane(load_terrain(folder.write("z.nc", made::netcdf_file(posts(), {"z"}, "m")), kMetres), 2e-6);
  check_plane(load_terrain(folder.write("z.nc", made::netcdf_file(posts(kFoot), {"z"}, "feet")), {}), 2e-6);
  CHECK(says(refused(folder.write("two.nc", made::netcdf_file(posts(), {"height", "slope"}, "m"))),
             {"holds 2 rasters", "height", "slope", "gdal_translate"}));
}

TEST_CASE("The least count of an image, far below all others, is a floor or a hole only when stated",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  // Heights -30 m + 0.25 m x count: one post at -30 m, the others from 20 m on.
  const Posts gap{Vec2(0, 0), Vec2(1, 1), 41, 41,
                  [](double x, double y) { return x == 20 && y == 20 ? 0 : 200 + (x + y) / 2; }};
  const std::string file = folder.write("gap.png", made::png_file(gap, 8));
  TerrainOptions options;
  options.image = TerrainOptions::Image{2, 0.25, -30};
  CHECK(says(refused(file, options), {"gap.png", "1 post holds -30 m", "no other is below 20 m",
                                      "terrain.hole_below: -29.875 m", "-30.125 m if it is ground"}));
  options.hole_below = -30.125;
  CHECK(load_terrain(file, options).facts.lowest_corner.z() == -30);
  CHECK(load_terrain(file, options).facts.holes == 0);
  options.hole_below = -29.875;
  CHECK(load_terrain(file, options).facts.lowest_corner.z() == 20);
  CHECK(load_terrain(file, options).facts.holes == 1);
}

TEST_CASE("The least count of an image is ground where the others lie as far apart, or it lies near them",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  TerrainOptions options;
  options.image = TerrainOptions::Image{20, 0.25, -30};
  const Posts ramp{Vec2(0, 0), Vec2(1, 1), 7, 6, [](double x, double) { return 30 * x; }};
  const Posts near{Vec2(0, 0), Vec2(1, 1), 7, 6,
                   [](double x, double y) { return x == 3 && y == 2 ? 0.0 : 20.0; }};
  for (const Posts& p : {ramp, near}) {
    const LoadedTerrain t = load_terrain(folder.write("map.png", made::png_file(p, 8)), options);
    CHECK(t.facts.lowest_corner.z() == -30);
    CHECK(t.facts.holes == 0);
  }
}

TEST_CASE("An image needs spacing, scale and offset, and says what its steps cannot show", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts p{Vec2(0, 0), Vec2(1, 1), 7, 6,
          [](double x, double y) { return x == 3 && y == 2 ? 0 : 200 + 2 * x + y; }};
  for (const int bits : {8, 16}) {
    const std::string file = folder.write("map.png", made::png_file(p, bits));
    CHECK(says(refused(file), {"terrain.image", "7 x 6 counts", "spacing", "scale", "offset", "hole_below"}));
    TerrainOptions options;
    options.image = TerrainOptions::Image{2, 0.25, -30};
    options.hole_below = -25;
    const LoadedTerrain t = load_terrain(file, options);
    CHECK(t.facts.cell == Vec2(2, 2));
    CHECK(t.facts.lowest_corner.head<2>() == Vec2(0, 0));
    CHECK(t.facts.highest_corner == Vec3(12, 10, -30 + 0.25 * (200 + 12 + 5)));
    CHECK(t.facts.holes == 1);
    CHECK(is_hole(t, 6, 4));
    // Counts 200 + 2 i + j at (2 i, 2 j).
    CHECK(map_height(t.terrain, 9, 9) == Approx(-30 + 0.25 * (200 + 9 + 4.5)).epsilon(1e-12));
    CHECK(t.facts.quantum == 0.25);
    CHECK(any_says(t.facts.notes, fmt::format("{:.1f} deg", degrees(std::atan(0.125)))));
    CHECK(any_says(t.facts.notes, "south-west post is (0, 0)"));
  }
  CHECK(says(refused(folder.write("map.png", made::png_file(p, 8, true))), {"colour table"}));
  TerrainOptions image = kMetres;
  image.image = TerrainOptions::Image{2, 0.25, -30};
  CHECK(says(refused(folder, posts(), {}, image), {"terrain.image", "without a place"}));
  image.image->scale = kUnset;
  CHECK(says(refused(folder.write("map.png", made::png_file(p, 8)), image), {"terrain.image", "above 0"}));
}

TEST_CASE("A raster with too many posts is read round a place, or as an overview with the facts of all",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  // Counts of 1 cm on a plane, one bump and one hole; of 100 x 90 posts 4096 may be held, so that every
  // second one is kept, and bands of 40 rows are looked through.
  const double x_grade = 0.01, y_grade = 0.02;
  Posts p{Vec2(1000, 2000), Vec2(1, 1), 100, 90, {}};
  const auto there = [](double x, double y, double i, double j) { return x == 1000 + i && y == 2000 + j; };
  p.stored = [&](double x, double y) {
    if (there(x, y, 41, 7)) return 65535.0;
    return 1 + (x - 1000) + 2 * (y - 2000) + (there(x, y, 61, 61) ? 500 : 0);
  };
  const TiffStyle style{.type = "ushort", .nodata = "65535", .metadata = made::item("scale", "0.01")};
  const std::string file = folder.write("large.tif", made::tiff_file(p, style));
  TerrainOptions options = kMetres;
  options.greatest_vertices = 4096;
  CHECK(says(refused(file, options), {"terrain.around", "100 x 90", "at most 4096", "the 64 x 64 posts"}));

  options.overview = true;
  const LoadedTerrain all = load_terrain(file, options);
  CHECK(all.facts.thinned == 2);
  CHECK(all.facts.holes == 1);
  CHECK(all.facts.vertices == 100 * 90 - 1);
  CHECK(all.facts.triangles == 2 * 99 * 89 - 6);
  CHECK(all.facts.lowest_corner == Vec3(1000, 2000, 0.01));
  CHECK((all.facts.highest_corner - Vec3(1099, 2089, 0.01 * (1 + 61 + 2 * 61 + 500))).norm() < 1e-9);
  const double slope = std::atan(std::hypot(x_grade, y_grade));
  CHECK(std::tan(all.facts.slope_p50) == Approx(std::tan(slope)).epsilon(1.0 / 4096));
  CHECK(std::tan(all.facts.slope_p99) == Approx(std::tan(slope)).epsilon(1.0 / 4096));
  // The facet whose north-western corner is the top of the 5 m bump rises 5 m to it from the south and falls
  // as far to the east.
  CHECK(std::tan(all.facts.slope_max) == Approx(std::hypot(5 - x_grade, 5 + y_grade)).epsilon(1e-9));
  CHECK(is_hole(all, 1040, 2006));  // the kept post of the hole's block of 2 x 2
  CHECK(std::abs(map_height(all.terrain, 1033.3, 2044.4) - 0.01 * (1 + 33.3 + 2 * 44.4)) < 1e-8);

  options.overview = false;
  options.around = Vec2(1095, 2005);
  const LoadedTerrain part = load_terrain(file, options);
  CHECK(part.facts.columns == 64);
  CHECK(part.facts.rows == 64);
  CHECK(part.facts.thinned == 1);
  CHECK(part.facts.lowest_corner.head<2>() == Vec2(1036, 2000));  // up to the borders in the east and south
  CHECK(part.facts.highest_corner.head<2>() == Vec2(1099, 2063));
  CHECK(is_hole(part, 1041, 2007));
  CHECK(std::abs(map_height(part.terrain, 1090.5, 2050.25) - 0.01 * (1 + 90.5 + 2 * 50.25)) < 1e-8);
  CHECK(any_says(part.facts.notes, "columns 37 to 100, rows 27 to 90 from the north"));
  options.around = Vec2(1100, 2005);
  CHECK(says(refused(file, options), {"terrain.around", "off the raster", "(1000, 2000) to (1099, 2089)"}));
}

TEST_CASE("The corners of a raster are on it to the last digit: whole, as an overview, and round themselves",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  for (std::uint64_t i = 0; i < 4; ++i) {
    const auto draw = [&](std::uint64_t k) { return random_uniform(72, k, i); };
    const int more = i == 3 ? 70 : 0;
    const Posts p{Vec2(1e6 * draw(0), -1e6 * draw(1)), Vec2(0.1 + 30 * draw(2), 0.1 + 30 * draw(3)),
                  3 + more + static_cast<int>(20 * draw(4)), 3 + more + static_cast<int>(20 * draw(5)),
                  [](double, double) { return 7; }};
    const std::string file = folder.write("flat.tif", made::tiff_file(p, {}));
    TerrainOptions options = kMetres;
    options.overview = more > 0;
    options.greatest_vertices = 4096;
    const LoadedTerrain t = load_terrain(file, options);
    options.overview = false;
    const Vec3 &lo = t.facts.lowest_corner, &hi = t.facts.highest_corner;
    for (const Vec2& corner : {Vec2(hi.x(), hi.y()), Vec2(hi.x(), lo.y()), Vec2(lo.x(), hi.y())}) {
      if (more > 0) options.around = corner;
      const LoadedTerrain near = more > 0 ? load_terrain(file, options) : t;
      CHECK(map_height(near.terrain, corner.x(), corner.y()) == 7);
    }
  }
}

TEST_CASE("Several bands are listed with what tells them apart", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  CHECK(says(refused(folder, posts(), {.bands = 3}),
             {"has 3 bands of 6 x 5 posts, heights are one: 1 (Float32, Gray), 2 (Float32), 3 (Float32)",
              "gdal_translate -b 1 IN heights.tif"}));
  std::string header = made::envi_header(posts(), 4, 0, "UTM, 1, 1, 1, 9, 2, 2, 31, North, WGS-84");
  header.replace(header.find("bands = 1"), 9, "bands = 2");
  folder.write("two.hdr", header + "band names = {elevation, roughness}\n");
  const std::string one = made::raw(posts(), "float", false);
  const std::string message = refused(folder.write("two.raw", one + one));
  CHECK(says(message, {"1 (Float32, \"elevation\"", "2 (Float32, \"roughness\""}));
  CHECK_FALSE(says(message, {"Undefined"}));
}

TEST_CASE("Posts over any ground are written as a GeoTIFF that reads back the same", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  Posts p = posts();
  p.stored = [](double x, double y) { return x == kX + 4 && y == kY + 4 ? kUnset : plane(x, y); };
  const LoadedTerrain ground = loaded(folder, p, {});
  const RasterToWrite raster = sampled(ground.terrain, 0.5);
  CHECK(raster.columns == 21);
  CHECK(raster.rows == 17);
  CHECK(raster.first == Vec2(kX, kY));
  write_posts(folder / "heights.tif", raster);
  const LoadedTerrain back = load_terrain(folder / "heights.tif", {});  // it says that it is in metres
  CHECK(back.facts.cell == Vec2(0.5, 0.5));
  for (std::size_t j = 0; j < 17; ++j)
    for (std::size_t i = 0; i < 21; ++i) {
      const Vec2 at(kX + 0.5 * static_cast<double>(i), kY + 0.5 * static_cast<double>(j));
      const double z = map_height(back.terrain, at.x(), at.y()), written = raster.heights[j * 21 + i];
      if (std::isnan(written))
        CHECK(std::isnan(z));
      else if (!std::isnan(z))  // a post beside a hole stays a corner of some facet, or of none
        CHECK(std::abs(z - plane(at.x(), at.y())) < 2e-6);
    }
  CHECK_THROWS_AS(sampled(ground.terrain, 1e-4), InputError);
  CHECK_THROWS_AS(write_posts(folder / "nowhere/heights.tif", raster), MachineError);
  CHECK(std::filesystem::exists(folder / "heights.tif"));
}

TEST_CASE("A damaged raster is refused with a reason or gives as many posts as before", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string whole =
      made::tiff_file(posts(), {.nodata = "-9999", .metadata = made::item("unittype", "m")});
  const auto mutants = static_cast<std::uint64_t>(std::max(cases() / 13, 15));
  std::uint64_t taken = 0;
  for (std::uint64_t i = 0; i < mutants; ++i) {
    std::string bytes = whole;
    const std::size_t at = static_cast<std::size_t>(random_bits(31, 0, i) % whole.size());
    bytes[at] =
        static_cast<char>(static_cast<unsigned char>(bytes[at]) ^ (1U << (random_bits(31, 1, i) % 8)));
    const std::string file = folder.write("mutant.tif", bytes);
    try {
      const LoadedTerrain t = load_terrain(file, kMetres);
      ++taken;
      if (!all_finite(t)) FAIL("bit flipped in byte " << at << ": ground that is not finite");
      if (t.facts.columns * t.facts.rows < 30) FAIL("bit flipped in byte " << at << ": fewer posts");
    } catch (const InputError& error) {
      if (says(error.what(), {"died of signal"})) FAIL("byte " << at << ": " << error.what());
    }
  }
  CHECK(taken > mutants / 10);
  CHECK(taken < mutants);
}

TEST_CASE("t19, t20: a plane with heights in feet and one with its southern row first", "[import]") {
  if (!import_program_there()) return;
  const std::string folder = std::string(RIMSTANCE_SOURCE_DIR) + "/tests/terrain/nasty/";
  // Both hold z = 10 + 0.1 x + 0.05 y over [0, 10] x [0, 8], posts 2 m apart.
  for (const char* file : {"t19_heights_in_feet.tif", "t20_south_up.tif"}) {
    const LoadedTerrain t = load_terrain(folder + file, kMetres);
    CHECK(std::abs(map_height(t.terrain, 3, 5) - (10 + 0.1 * 3 + 0.05 * 5)) < 1e-5);
    const SlopeAspect fall = map_slope(t.terrain, 3, 5);
    CHECK(std::abs(fall.slope - kSlope) < 1e-5);
    // Clockwise from north: 180 + atan(0.1 / 0.05) degrees.
    const double azimuth = 90 - degrees(fall.downslope);
    CHECK(std::abs(azimuth - (180 + degrees(std::atan(2.0)))) < 1e-3);
  }
  CHECK(says(refused(folder + "t19_heights_in_feet.tif", {}), {"terrain.unit", "positions"}));
}
