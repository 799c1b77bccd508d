#include <catch2/catch.hpp>
#include <cwctype>
#include <sstream>
#include <string>
#include <vector>

#include "locales.hpp"
#include "terrain/made_points.hpp"
#include "terrain/reading.hpp"

using namespace rimstance;
using namespace reading;

namespace {

struct File {
  const char* name;
  std::string bytes;
  TerrainOptions options = kMetresZ;
};

const std::vector<Vec3> kPosts = {{0.5, 0.25, 1.125}, {4.5, 0.25, 2.625}, {0.5, 4.25, 1.375}};
constexpr TerrainOptions kPoints{.unit = 1.0, .longest_edge = 10};

/// One tilted triangle (two for the grid) in every format of its own, keywords in capitals where case is
/// free.
std::vector<File> files() {
  const std::string posts = "0.5 0.25 1.125\n4.5 0.25 2.625\n0.5 4.25 1.375\n";
  return {
      {"A.PLY",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
       "element face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           posts + "3 0 1 2\n"},
      {"A.OBJ", "v 0.5 0.25 1.125\nv 4.5 0.25 2.625\nv 0.5 4.25 1.375\nf 1 2 3\n"},
      {"A.STL",
       "SOLID I\nFACET NORMAL 0 0 1\nOUTER LOOP\nVERTEX 0.5 0.25 1.125\nVERTEX 4.5 0.25 2.625\n"
       "VERTEX 0.5 4.25 1.375\nENDLOOP\nENDFACET\nENDSOLID\n"},
      {"A.OFF", "OFF\n3 1 0\n" + posts + "3 0 1 2\n"},
      {"A.ASC",
       "NCOLS 2\nNROWS 2\nXLLCENTER 0.5\nYLLCENTER 0.25\nCELLSIZE 4.0\nNODATA_VALUE -1.5\n1.375 2.875\n1.125 "
       "2.625\n"},
      {"A.XYZ", "X Y Z\n" + posts, kPoints},
      {"A.LAS", made::las(made::of_class(kPosts, 2)), kPoints}};
}

std::vector<double> heights() {
  std::vector<double> out;
  for (const File& f : files())
    out.push_back(map_height(load_terrain_bytes(f.bytes, f.name, f.options).terrain, 1.5, 1.25));
  return out;
}

}  // namespace

TEST_CASE("terrain: decimal commas and Turkish letters set in the process change no height and no message") {
  const std::string wrong = "v 1,5 0.25 1e999\n";
  const std::vector<double> plain = heights();
  const std::string said = refusal(wrong, "I.OBJ");
  for (const double height : plain)  // the plane through the three posts, which the grid's fourth lies in
    CHECK(height == Approx(1.125 + 1.5 * (1.5 - 0.5) / 4 + 0.25 * (1.25 - 0.25) / 4));
  const locales::Mixed locale;
  std::ostringstream stream;
  stream << 1234.5;
  REQUIRE(stream.str() == "1.234,5");
  if (locale.in_c())
    REQUIRE(std::towupper(L'i') != L'I');
  else
    WARN("only the locale of C++ is changed: this system cannot make one for C");
  CHECK(heights() == plain);
  CHECK(refusal(wrong, "I.OBJ") == said);
}
