#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

double formula(double x, double y) { return 3 + 0.125 * x - 0.0625 * y + 0.03125 * x * y; }
TriangleMesh ground() { return made::sheet(4, 0.5, formula); }  // all values exact in float

/// The ground of a file is the ground of the mesh it was made from.
void check_same(const std::string& bytes) {
  const LoadedTerrain t = load_terrain_bytes(bytes, "made.ply", kMetresZ);
  CHECK(t.facts.vertices == 25);
  CHECK(t.facts.triangles == 32);
  CHECK(t.facts.boundary_edges == 16);
  for (int i = 0; i <= 4; ++i)
    for (int j = 0; j <= 4; ++j)
      CHECK(std::abs(map_height(t.terrain, 0.5 * i, 0.5 * j) - formula(0.5 * i, 0.5 * j)) < 1e-12);
}

}  // namespace

TEST_CASE("PLY: format, byte order, scalar types and line ends say the same ground") {
  for (const char* const format : {"ascii", "binary_little_endian", "binary_big_endian"})
    for (const char* const coordinate : {"float", "double", "float32", "float64"})
      for (const char* const count : {"uchar", "char", "ushort", "short", "uint", "int", "uint8"})
        for (const char* const index : {"uchar", "char", "ushort", "short", "uint", "int", "int32"}) {
          made::PlyStyle style;
          style.format = format;
          style.vertex = {{coordinate, "x"}, {coordinate, "y"}, {coordinate, "z"}};
          style.count_type = count;
          style.index_type = index;
          INFO(format << ' ' << coordinate << ' ' << count << ' ' << index);
          const LoadedTerrain t = load_terrain_bytes(made::ply(ground(), style), "made.ply", kMetresZ);
          CHECK(t.facts.triangles == 32);
          CHECK(t.facts.boundary_edges == 16);
          CHECK(std::abs(map_height(t.terrain, 1.5, 0.5) - formula(1.5, 0.5)) < 1e-12);
        }
}

TEST_CASE("PLY: the order of properties and unknown properties and elements change nothing") {
  const std::vector<std::vector<made::PlyProperty>> orders = {
      {{"double", "z"}, {"double", "y"}, {"double", "x"}},
      {{"float", "nx"},
       {"double", "y"},
       {"uchar", "red"},
       {"float", "z"},
       {"short", "label"},
       {"double", "x"}},
      {{"float", "x"},
       {"uchar", "history", true},
       {"double", "z"},
       {"float", "y"},
       {"double", "weights", true}}};
  for (const char* const format : {"ascii", "binary_little_endian", "binary_big_endian"})
    for (const auto& order : orders)
      for (int bits = 0; bits < 8; ++bits) {
        made::PlyStyle style;
        style.format = format;
        style.vertex = order;
        style.face_extras = bits & 1;
        style.faces_first = bits & 2;
        style.other_elements = bits & 4;
        INFO(format << ' ' << order[0].name << ' ' << bits);
        check_same(made::ply(ground(), style));
      }
}

TEST_CASE("PLY: the header may have CRLF or CR line ends, also before binary data") {
  for (const char* const format : {"ascii", "binary_little_endian", "binary_big_endian"})
    for (const char* const end : {"\n", "\r\n", "\r"}) {
      made::PlyStyle style;
      style.format = format;
      style.line_end = end;
      check_same(made::ply(ground(), style));
    }
}

TEST_CASE("PLY: integer coordinates are read by their type") {
  for (const char* const type : {"short", "int", "uchar", "uint", "char", "ushort"}) {
    made::PlyStyle style;
    style.format = "binary_big_endian";
    style.vertex = {{type, "x"}, {type, "y"}, {type, "z"}};
    const TriangleMesh mesh = made::sheet(2, 10, [](double x, double y) { return 1 + (x + y) / 10; });
    const LoadedTerrain t = load_terrain_bytes(made::ply(mesh, style), "made.ply", kMetresZ);
    CHECK(map_height(t.terrain, 10, 20) == Approx(4).epsilon(1e-12));
  }
}

TEST_CASE("PLY: polygons become fans from their first corner, and the user is told") {
  const std::string text =
      "ply\nformat ascii 1.0\nelement vertex 5\nproperty float x\nproperty float y\nproperty float z\n"
      "element face 1\nproperty list uchar int vertex_index\nend_header\n"
      "0 0 1\n2 0 1\n3 1 1\n2 2 1\n0 2 1\n5 0 1 2 3 4\n";
  const LoadedTerrain t = load_terrain_bytes(text, "fan.ply", kMetresZ);
  CHECK(t.facts.triangles == 3);
  CHECK(t.facts.plan_area == Approx(2 * 2 + 0.5 * 2 * 1).epsilon(1e-12));  // square and a gable on it
  REQUIRE(t.facts.notes.size() == 1);
  CHECK(says(t.facts.notes[0], {"1 polygon with", "was split"}));
}

TEST_CASE("PLY: a cloud of points is refused as such") {
  const std::string points =
      "ply\nformat ascii 1.0\nelement vertex 2\nproperty float x\nproperty float y\nproperty float "
      "z\nend_header\n"
      "0 0 0\n1 1 1\n";
  CHECK(says(refusal(points, "p.ply"), {"2 vertices but no faces", "points", "triangulate"}));
}

TEST_CASE("PLY: what a header may not say is refused with its line") {
  const std::string vertex = "element vertex 3\nproperty float x\nproperty float y\nproperty float z\n";
  const std::string face = "element face 1\nproperty list uchar int vertex_indices\nend_header\n";
  const std::string data = "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n";
  const auto whole = [&](const std::string& format, const std::string& v, const std::string& f) {
    return "ply\n" + format + v + f + data;
  };
  const std::string ascii = "format ascii 1.0\n";
  REQUIRE(refusal(whole(ascii, vertex, face), "a.ply").empty());
  CHECK(says(refusal(whole("format ebcdic 1.0\n", vertex, face), "a.ply"),
             {"a.ply:2:", "\"ebcdic\"", "ascii"}));
  CHECK(says(refusal(whole("format ascii 2.0\n", vertex, face), "a.ply"), {"a.ply:2:", "\"2.0\""}));
  CHECK(says(refusal(whole("", vertex, face), "a.ply"), {"format"}));
  CHECK(says(refusal(whole(ascii, vertex + "property quad q\n", face), "a.ply"), {"a.ply:7:", "\"quad\""}));
  CHECK(
      says(refusal(whole(ascii, vertex + "property float x\n", face), "a.ply"), {"a.ply:7:", "second time"}));
  CHECK(says(refusal(whole(ascii, "elephant 3\n" + vertex, face), "a.ply"), {"a.ply:3:", "\"elephant\""}));
  CHECK(says(refusal(whole(ascii, "property float x\n" + vertex, face), "a.ply"),
             {"a.ply:3:", "before the first"}));
  CHECK(says(refusal(whole(ascii, "element vertex 3\nproperty float x\nproperty float y\n", face), "a.ply"),
             {"no property z"}));
  CHECK(says(refusal(whole(ascii, "element vertex -3\n", face), "a.ply"), {"a.ply:3:", "-3"}));
  CHECK(says(
      refusal(whole(ascii, vertex, "element face 1\nproperty list float int vertex_indices\nend_header\n"),
              "a.ply"),
      {"a.ply:8:", "floating-point"}));
  CHECK(says(
      refusal(whole(ascii, vertex, "element face 1\nproperty list uchar float vertex_indices\nend_header\n"),
              "a.ply"),
      {"a.ply:8:", "floating-point"}));
  CHECK(says(
      refusal(whole(ascii, vertex, "element face 1\nproperty list uchar int corners\nend_header\n"), "a.ply"),
      {"vertex_indices"}));
  CHECK(
      says(refusal(whole(ascii, vertex, "element face 1\nproperty list uchar int vertex_indices\n"), "a.ply"),
           {"\"0\"", "header"}));
}

TEST_CASE("PLY: text records that do not fit the header are refused with their line") {
  const std::string header =
      "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
      "element face 1\nproperty list uchar int vertex_indices\nend_header\n";
  CHECK(refusal(header + "0 0 0\n\n1 0 0\n0 1 0\n3 0 1 2\n", "a.ply").empty());  // empty lines do no harm
  CHECK(says(refusal(header + "0 0 0\n1.00 0\n0 1 0\n3 0 1 2\n", "a.ply"), {"a.ply:11:", "z of a vertex"}));
  CHECK(says(refusal(header + "0 0 0\n1 0 0 9\n0 1 0\n3 0 1 2\n", "a.ply"), {"a.ply:11:", "\"9\""}));
  CHECK(
      says(refusal(header + "0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "a.ply"), {"a.ply:13:", "vertex 3", "0 to 2"}));
  CHECK(says(refusal(header + "0 0 0\n1 0 0\n0 1 0\n3 0 1 -1\n", "a.ply"), {"a.ply:13:", "vertex -1"}));
  CHECK(says(refusal(header + "0 0 0\n1 0 0\n0 1 0\n2 0 1\n      \n", "a.ply"), {"a.ply:13:", "length 2"}));
  CHECK(says(refusal(header + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 2\n", "a.ply"),
             {"a.ply:14:", "after the last"}));
  CHECK(says(refusal(header + "0 0 0\n1 0 0\n0 1 0\n3 0 1 1e0\n", "a.ply"), {"a.ply:13:", "\"1e0\""}));
  CHECK(says(refusal(header + "0 0 0\n1 0 inf\n0 1 0\n3 0 1 2\n", "a.ply"), {"a.ply:11:", "\"inf\""}));
}

TEST_CASE("PLY: binary content that does not fit the header is refused with its place") {
  made::PlyStyle style;
  style.format = "binary_little_endian";
  const std::string good = made::ply(ground(), style);
  CHECK(says(refusal(good + "x", "a.ply"), {"1 byte is left"}));
  const std::size_t faces = good.size() - 32 * 13;
  std::string bad = good;
  bad[faces + 13] = 2;
  CHECK(says(refusal(bad, "a.ply"), {"face 2 of 32", "2 corners"}));
  bad = good;
  bad[faces + 2 * 13 + 1] = 25;  // vertices are 0 to 24
  CHECK(says(refusal(bad, "a.ply"), {"face 3 of 32", "vertex 25", "0 to 24"}));
  bad[faces + 2 * 13 + 4] = '\xff';  // now negative
  CHECK(says(refusal(bad, "a.ply"), {"face 3 of 32", "vertex -"}));
  TriangleMesh mesh = ground();
  mesh.vertices[7].y() = std::nan("");
  CHECK(says(refusal(made::ply(mesh, style), "a.ply"), {"vertex 8 of 25", "y is nan"}));
}

TEST_CASE("PLY: no prefix is accepted, whatever the format and the order of the elements") {
  for (const char* const format : {"ascii", "binary_little_endian", "binary_big_endian"})
    for (int bits = 0; bits < 4; ++bits) {
      made::PlyStyle style;
      style.format = format;
      style.faces_first = bits & 1;
      style.face_extras = bits & 2;
      style.other_elements = bits & 1;
      const std::string whole = made::ply(made::sheet(2, 0.5, formula), style);
      for (std::size_t size = 0; size < whole.size(); ++size) {
        const auto facets = facets_accepted(std::string_view(whole).substr(0, size), "a.ply");
        // Text that lost part of its last number is whole by its counts.
        if (facets && !(style.format == "ascii" && *facets == 8)) FAIL(format << bits << " cut at " << size);
      }
    }
}
