// What the import program says of files that it does not read: what is wrong, and what to do. Each of them is
// a good file in which one thing was changed.
#include "import_there.hpp"
#include "made_rasters.hpp"
#include "made_scenes.hpp"
#include "reading.hpp"

using namespace reading;
using made::Folder;
using made::Posts;

namespace {

const TerrainOptions kMetres{.unit = 1.0};

/// A level plain.
Posts plain(int columns = 6, int rows = 5) {
  return {Vec2(0, 0), Vec2(2, 2), columns, rows, [](double, double) { return 7.0; }};
}

std::string refused(const Folder& folder, const std::string& name, std::string_view bytes,
                    const TerrainOptions& options = kMetres) {
  try {
    (void)load_terrain(folder.write(name, bytes), options);
  } catch (const InputError& error) {
    const std::string message = error.what();
    const std::size_t at = message.find(name + ": ");
    return at == std::string::npos ? message : message.substr(at + name.size() + 2);
  }
  return "accepted";
}

/// With other bytes from `at` on.
std::string patched(std::string bytes, std::size_t at, std::string_view other) {
  REQUIRE(at + other.size() <= bytes.size());
  return bytes.replace(at, other.size(), other);
}

std::size_t after(const std::string& bytes, std::string_view part, std::size_t from = 0) {
  const std::size_t at = bytes.find(part, from);
  REQUIRE(at != std::string::npos);
  return at + part.size();
}

}  // namespace

TEST_CASE("Binary glTF: a header, a version and a part that cannot be are named", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string glb = made::glb(made::sheet(2, 1, [](double, double) { return 0.0; }));
  CHECK(refused(folder, "a.glb", glb.substr(0, 10)) ==
        "ends in its header, after 10 bytes; get the file again whole");
  CHECK(refused(folder, "a.glb", patched(glb, 4, "\1")) ==
        "is binary glTF of version 1; version 2 is read; export it again as glTF 2");
  CHECK(refused(folder, "a.glb", patched(glb, 15, "\1")) ==
        "the part at byte 12 reaches beyond the end of the file; get the file again whole");
}

TEST_CASE("3MF: what is wrong with the archive and with the model in it is told apart", "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string again = "get the file again whole, or export it again";
  const auto said = [&](std::string_view bytes) { return refused(folder, "a.3mf", bytes); };
  const std::string one = made::zip({{"3D/a.model", "<model unit=\"meter\"></model>"}});
  const std::size_t entry = one.find("PK\1\2"), end = one.find("PK\5\6");
  REQUIRE((entry != std::string::npos && end != std::string::npos));
  CHECK(said(one.substr(0, end)) == "is no whole 3MF file: its directory is missing; " + again);
  CHECK(said(patched(one, end + 16, std::string("\xff\xff\0\0", 4))) ==
        "is no whole 3MF file: its directory is damaged; " + again);
  CHECK(said(made::zip({{"a.txt", "x"}})) == "holds no 3D model; " + again);
  CHECK(said(made::zip({{"a.model", "x"}, {"b.model", "x"}})) ==
        "is made of several models, of which only one would be read; " + again);
  CHECK(said(patched(one, entry + 20, std::string("\xff\xff\0\0", 4))) ==
        "its 3D model reaches beyond the end of the file; " + again);
  CHECK(said(patched(one, entry + 10, "\x0c")) ==
        "its 3D model is packed in a way that is not read; " + again);
  CHECK(said(patched(one, entry + 10, "\x08")) == "its 3D model is damaged; " + again);
  CHECK(said(made::zip({{"3D/a.model", "hello"}})) == "its 3D model does not begin as one; " + again);
}

TEST_CASE("netCDF: a header that ends early, or speaks of what there is not, is told from missing data",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  const std::string again = "; get the file again whole", nc = made::netcdf_file(plain(), {"z"}, "m");
  CHECK(refused(folder, "a.nc", nc.substr(0, 40)) ==
        "is a netCDF file that ends in its header, or is damaged" + again);
  // A type of values is a number from 1 to 11, here that of the first attribute.
  const std::size_t type = after(nc, std::string("units\0\0\0", 8));
  CHECK(refused(folder, "a.nc", patched(nc, type + 3, "\x63")) ==
        "is a netCDF file with an unknown type of values; it is damaged" + again);
  // x is a dimension first and then a variable over one dimension, whose number follows.
  const std::string_view x("\0\0\0\1x\0\0\0", 8);
  const std::size_t variable = after(nc, std::string(x) + std::string("\0\0\0\1", 4));
  CHECK(refused(folder, "a.nc", patched(nc, variable + 3, "\x63")) ==
        "is a netCDF file with a variable over an unknown dimension; it is damaged" + again);
}

TEST_CASE("Rasters without their data, off a straight grid or of no shape are refused with what to do",
          "[import]") {
  if (!import_program_there()) return;
  const Folder folder;
  CHECK(refused(folder, "alone.hdr", made::envi_header(plain(), 4, 0, "")) ==
        "is an ENVI header without its data beside it; put the data file of the same name beside it");
  CHECK(refused(folder, "points.tif",
                made::tiff_file(plain(),
                                {.placed = false, .tie_points = {0, 0, 0, 10, 50, 0, 6, 0, 0, 22, 51, 0,
                                                                 6, 5, 0, 21, 40, 0, 0, 5, 0, 9,  41, 0}})) ==
        "is placed by control points, not on a straight grid; make it straight with gdalwarp");
  const std::string image = "  SAMPLE_TYPE = LSB_INTEGER\r\n  SAMPLE_BITS = 16\r\n  UNIT = METER\r\n";
  folder.write("p.lbl", made::pds3_label(plain(), "\"q.img\"", image));
  folder.write("q.img", made::raw(plain(), "short", false));
  CHECK(refused(folder, "p.img", made::raw(plain(), "short", false)) ==
        "is not the data that p.lbl beside it describes; give the label that belongs to it, or remove the "
        "one that "
        "does not");
  // EPSG 4978: WGS 84, geocentric.
  CHECK(refused(folder, "centre.tif", made::tiff_file(plain(), {.keys = {{1024, 3}, {2048, 4978}}})) ==
        "has geocentric coordinates, no plan; project it with gdalwarp");
  TerrainOptions few = kMetres;
  few.greatest_vertices = 4096;
  few.overview = true;
  CHECK(refused(folder, "strip.tif", made::tiff_file(plain(3000, 3), {}), few) ==
        "has 3000 x 3 posts, which is no shape of ground; cut out the part that matters, for instance "
        "gdal_translate "
        "-srcwin");
}
