// What is met often and is no terrain: named by its content, and refused with the way out.
#include "made_points.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

/// A 3D tile with `tables` bytes between its header and its mesh.
std::string tile(std::size_t tables, const std::string& mesh) {
  std::string out = "b3dm";
  made::little(out, 1, 4);
  made::little(out, 28 + tables + mesh.size(), 4);
  made::little(out, tables / 2, 4);
  made::little(out, 0, 4);
  made::little(out, tables - tables / 2, 4);
  made::little(out, 0, 4);
  return out + std::string(tables, ' ') + mesh;
}

}  // namespace

TEST_CASE("Files of other kinds are named by their content, whatever their name, with the way out") {
  using namespace std::string_literals;
  const struct {
    std::string bytes;
    const char *kind, *way_out;
  } files[] = {{"PK\x03\x04"s, "a ZIP archive", "unpack it"},
               {"\x1f\x8b\x08"s, "a gzip file", "unpack it"},
               {"BZh9"s, "a bzip2 file", "unpack it"},
               {"\xfd\x37zXZ\0"s, "an xz file", "unpack it"},
               {"7z\xbc\xaf\x27\x1c"s, "a 7-Zip archive", "unpack it"},
               {"\x28\xb5\x2f\xfd"s, "a Zstandard file", "unpack it"},
               {"\xff\xfe\0\x31"s, "UTF-16 text", "save it as UTF-8"},
               {"\xfe\xff\0\x31"s, "UTF-16 text", "save it as UTF-8"},
               {"\xff\xd8\xff\xe0"s, "a JPEG image", "a picture has no heights"},
               {"GIF89a"s, "a GIF image", "a picture has no heights"},
               {"BM\x1a\0\0\0"s + std::string(20, '\0'), "a BMP image", "a picture has no heights"},
               {"%PDF-1.7"s, "a PDF document", "give the data it shows"},
               {"ASTM-E57"s, "an E57 point cloud", "convert it to LAS"},
               {"\0\0\x27\x0a\0\0\0\0"s, "a shapefile", "make a grid"},
               {"PXR-USDC"s, "a USD scene", "PLY or OBJ"},
               {"#usda 1.0\n"s, "a USD scene", "PLY or OBJ"},
               {"<!DOCTYPE html>\n<html>"s, "a web page (HTML)", "get the data again"},
               {"  \r\n<HTML><body>404"s, "a web page (HTML)", "get the data again"},
               {"version https://git-lfs.github.com/spec/v1\n"s, "a pointer of Git LFS", "git lfs pull"}};
  for (const auto& file : files)
    for (const char* name : {"a.ply", "a.obj", "a.asc", "a.stl", "a.xyz", "terrain"}) {
      CAPTURE(file.kind, name);
      CHECK(says(refusal(file.bytes, name), {name, file.kind, file.way_out}));
    }
  CHECK(says(refusal("{ \"type\": \"FeatureCollection\" }", "a.json"), {"JSON", ".gltf"}));
  CHECK(says(refusal("", "a.ply"), {"is empty"}));
  CHECK(says(refusal("what?", "a.dat"), {"not known", "\"what?\"", "read are meshes", "grids", "points"}));
}

TEST_CASE("A 3D tile is refused with the byte at which its mesh begins") {
  for (const std::size_t tables : {0U, 20U, 101U}) {
    const std::string bytes = tile(tables, "glTF-and-so-on");
    const std::string from = fmt::format("tail -c +{} FILE", bytes.find("glTF") + 1);  // tail counts from 1
    CHECK(says(refusal(bytes, "a.b3dm"), {"3D tile", from}));
  }
  CHECK(says(refusal(tile(20, "no mesh"), "a.b3dm"), {"3D tile", "does not lead to a mesh"}));
  CHECK(says(refusal("b3dm", "a.b3dm"), {"3D tile", "does not lead to a mesh"}));
}
