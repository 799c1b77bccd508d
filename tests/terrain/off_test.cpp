#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

TEST_CASE("OFF: comments, empty lines and counts beside the keyword are understood") {
  const TriangleMesh mesh = made::sheet(2, 1, [](double x, double y) { return 0.25 * x + 0.5 * y; });
  std::string plain = made::off(mesh);
  std::string joined = plain;
  joined.replace(joined.find("OFF\n# made for a test\n"), 22, "# first\nOFF ");
  std::string remarks;
  for (const char c : plain) remarks += c == '\n' ? std::string(" # remark\n\n# line\n") : std::string(1, c);
  for (const std::string& bytes : {plain, joined, remarks}) {
    const LoadedTerrain t = load_terrain_bytes(bytes, "a.off", kMetresZ);
    CHECK(t.facts.format == "OFF");
    CHECK(t.facts.vertices == 9);
    CHECK(t.facts.triangles == 8);
    CHECK(map_height(t.terrain, 1.5, 0.5) == Approx(0.625).epsilon(1e-12));
  }
}

TEST_CASE("OFF: colours after a vertex or a face are skipped, polygons split") {
  const std::string text =
      "COFF\n4 1 0\n0 0 0 255 0 0 255\n1 0 0 1 1 1\n1 1 0 0 0 0\n0 1 0 0 0 0\n4 0 1 2 3 0.5 0.5 0.5\n";
  CHECK(facts_of(text, "a.off").triangles == 2);
}

TEST_CASE("OFF: counts that do not match the content are refused") {
  const std::string good = "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n";
  REQUIRE(refusal(good, "a.off").empty());
  CHECK(says(refusal("OFF\n3 2 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n                 \n", "a.off"),
             {"a.off:8:", "expected 2 faces, found 1"}));
  CHECK(says(refusal(good + "3 0 1 2\n", "a.off"), {"a.off:7:", "after the last of 1 face"}));
  CHECK(
      says(refusal("OFF\n3000000000 1 0\n0 0 0\n", "a.off"), {"a.off:2:", "3000000000 vertices", "7 bytes"}));
  CHECK(says(refusal("OFF\n3 18446744073709551615 0\n0 0 0\n", "a.off"), {"a.off:2:"}));
  CHECK(says(refusal("OFF\n-3 1 0\n0 0 0\n", "a.off"), {"a.off:2:", "negative"}));
  CHECK(says(refusal("OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "a.off"),
             {"a.off:6:", "vertex 3", "0 to 2"}));
  CHECK(says(refusal("OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n2 0 1\n   \n", "a.off"), {"a.off:6:", "2 corners"}));
  CHECK(says(refusal("OFF\n3 1 0\n0 0 0\n1 0\n0 1 0\n3 0 1 2\n", "a.off"), {"a.off:4:", "z of a vertex"}));
  CHECK(says(refusal("OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n", "a.off"), {"3 vertices but no face"}));
}

TEST_CASE("OFF: other kinds of it are refused by name") {
  CHECK(says(refusal("OFF BINARY\nxxxx", "a.off"), {"binary"}));
  CHECK(says(refusal("4OFF\n3 1 0\n", "a.off"), {"\"4OFF\"", "plain OFF"}));
}

TEST_CASE("OFF: no prefix is accepted with fewer facets") {
  const std::string whole = made::off(made::sheet(2, 1, [](double x, double) { return x / 8; }));
  for (std::size_t size = 0; size < whole.size(); ++size) {
    const auto facets = facets_accepted(std::string_view(whole).substr(0, size), "a.off");
    if (facets && *facets != 8) FAIL("cut at " << size);
  }
}
