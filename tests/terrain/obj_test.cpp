#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

const std::string kSquare = "v 0 0 1\nv 2 0 1\nv 2 2 2\nv 0 2 2\n";

LoadedTerrain loaded(const std::string& text) { return load_terrain_bytes(text, "a.obj", kMetresZ); }

}  // namespace

TEST_CASE("OBJ: every form of a corner names the same vertex") {
  for (const char* const face :
       {"f 1 2 3 4", "f 1/7 2/7 3/7 4/7", "f 1//7 2//7 3//7 4//7", "f 1/7/8 2/7/8 3/7/8 4/7/8",
        "f -4 -3 -2 -1", "f -4/1/-1 2 -2//1 4/", "f 1 2 \\\n3 4", "f\t1  2 3\t4 # a square"}) {
    INFO(face);
    const LoadedTerrain t = loaded(kSquare + face + "\n");
    CHECK(t.facts.triangles == 2);
    CHECK(map_height(t.terrain, 1, 1) == Approx(1.5).epsilon(1e-12));
  }
}

TEST_CASE("OBJ: line ends, a byte order mark and statements without shape change nothing") {
  const TriangleMesh mesh = made::sheet(3, 1, [](double x, double y) { return 0.1 * x * y; });
  for (const char* const end : {"\n", "\r\n", "\r"})
    for (const char* const mark : {"", "\xEF\xBB\xBF"}) {
      const std::string extras = fmt::format(
          "{1}mtllib a.mtl{0}o ground{0}# hello{0}vn 0 0 1{0}vt 0 0{0}g a b{0}s off{0}{0}usemtl m\\n{0}", end,
          mark);
      const LoadedTerrain t = loaded(extras + made::obj(mesh, end));
      CHECK(t.facts.vertices == 16);
      CHECK(t.facts.triangles == 18);
      CHECK(map_height(t.terrain, 2, 3) == Approx(0.6).epsilon(1e-12));
    }
}

TEST_CASE("OBJ: a vertex may carry a weight of 1 and a colour") {
  const std::string faces = "f 1 2 3\n";
  CHECK(refusal("v 0 0 0 1\nv 1 0 0 0.5 0.5 0.5\nv 0 1 0 1 .5 .5 .5\n" + faces, "a.obj").empty());
  CHECK(says(refusal("v 0 0 0\nv 1 0 0 0.5\nv 0 1 0\n" + faces, "a.obj"), {"a.obj:2:", "weight"}));
  CHECK(says(refusal("v 0 0 0\nv 1 0 0 1 1\nv 0 1 0\n" + faces, "a.obj"), {"a.obj:2:", "3 coordinates"}));
  CHECK(
      says(refusal("v 0 0 0\nv 1 0 0 1 1 1 1 1\nv 0 1 0\n" + faces, "a.obj"), {"a.obj:2:", "3 coordinates"}));
}

TEST_CASE("OBJ: a positive index may run ahead of the vertices, a negative one may not") {
  CHECK(refusal("f 1 2 3\n" + kSquare, "a.obj").empty());
  CHECK(says(refusal("f 1 2 5\n" + kSquare, "a.obj"), {"a.obj:1:", "vertex 5", "the file has 4"}));
  CHECK(says(refusal("v 0 0 0\nf -1 -2 -3\n" + kSquare, "a.obj"), {"a.obj:2:", "-2", "only 1"}));
}

TEST_CASE("OBJ: what is no corner, vertex or statement is refused with line and token") {
  CHECK(says(refusal(kSquare + "f 0 1 2\n", "a.obj"), {"a.obj:5:3", "vertex 0"}));
  CHECK(says(refusal(kSquare + "f 1 2\n", "a.obj"), {"a.obj:5:", "2 corners"}));
  CHECK(says(refusal(kSquare + "f 1 2 x\n", "a.obj"), {"a.obj:5:7", "\"x\""}));
  CHECK(says(refusal(kSquare + "f 1 2 3/4/5/6\n", "a.obj"), {"a.obj:5:", "3/4/5/6"}));
  CHECK(says(refusal(kSquare + "f 1 2 3.5\n", "a.obj"), {"a.obj:5:", "3.5"}));
  CHECK(says(refusal(kSquare + "f 1 2 99999999999999999999\n", "a.obj"), {"a.obj:5:"}));
  CHECK(says(refusal(kSquare + "f 1 2 -9223372036854775808\n", "a.obj"), {"a.obj:5:"}));
  CHECK(says(refusal("v 0 0\nf 1 1 1\n", "a.obj"), {"a.obj:1:", "z of a vertex"}));
  CHECK(says(refusal("v 0 0 0x10\nf 1 1 1\n", "a.obj"), {"a.obj:1:7", "\"0x10\""}));
  CHECK(says(refusal("v 0 0 1e999\nf 1 1 1\n", "a.obj"), {"a.obj:1:", "1e999"}));
  CHECK(says(refusal(kSquare + "surf 0 1 0 1 1 2 3\n", "a.obj"), {"a.obj:5:", "free-form"}));
  CHECK(says(refusal(kSquare + "w 1\x01\n", "a.obj"), {"a.obj:5:", "\"w\""}));
  CHECK(says(refusal(kSquare, "a.obj"), {"4 vertices but no face"}));
}

TEST_CASE("OBJ: lines and points are not ground, and the user is told") {
  const LoadedTerrain t = loaded(kSquare + "f 1 2 3\nl 1 2\np 1\n");
  CHECK(t.facts.triangles == 1);
  const bool told = std::any_of(t.facts.notes.begin(), t.facts.notes.end(), [](const std::string& n) {
    return n.find("2 line and point") != std::string::npos;
  });
  CHECK(told);
}
