#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

TriangleMesh ground() {
  return made::sheet(3, 0.5, [](double x, double y) { return 2 + 0.25 * x - 0.125 * y; });
}

}  // namespace

TEST_CASE("STL: text and binary say the same ground, and equal corners become one vertex") {
  for (const std::string& bytes : {made::stl_text(ground()), made::stl_binary(ground())}) {
    const LoadedTerrain t = load_terrain_bytes(bytes, "a.stl", kMetresZ);
    CHECK(t.facts.triangles == 18);
    CHECK(t.facts.vertices == 54);
    CHECK(t.facts.welded == 54 - 16);
    CHECK(t.facts.boundary_edges == 12);
    CHECK(map_height(t.terrain, 1.25, 0.5) == Approx(2 + 0.25 * 1.25 - 0.125 * 0.5).epsilon(1e-12));
  }
}

TEST_CASE("STL: keywords in capitals, free spacing and several solids are text all the same") {
  std::string text = made::stl_text(ground());
  std::string upper = text;
  for (char& c : upper)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  std::string one_blank = text;
  for (std::size_t at = text.find('\n') + 1; at < text.rfind("endsolid"); ++at)
    if (one_blank[at] == '\n') one_blank[at] = '\t';
  std::string cr = text;
  std::replace(cr.begin(), cr.end(), '\n', '\r');
  for (const std::string& spelling : {upper, one_blank, cr})
    CHECK(facts_of(spelling, "a.stl").triangles == 18);
  CHECK(facts_of(text + text, "a.stl").triangles == 36);
  CHECK(facts_of(text + text, "a.stl").duplicate == 18);
}

TEST_CASE("STL: a text that breaks the grammar is refused with line and word") {
  const std::string text = made::stl_text(ground());
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = text;
    changed.replace(changed.find(from), from.size(), to);
    return refusal(changed, "a.stl");
  };
  CHECK(says(with("endloop", "vertex 0 0 0\nendloop"), {"a.stl:7:", "\"vertex\"", "\"endloop\""}));
  CHECK(says(with("outer loop", "outer hoop"), {"a.stl:3:", "\"hoop\"", "\"loop\""}));
  CHECK(says(with("vertex 0", "vertex 0,5"), {"a.stl:4:", "comma"}));
  CHECK(says(with("vertex 0", "vertex nan"), {"a.stl:4:", "nan"}));
  CHECK(says(with("endsolid made", ""), {"unexpected end of file after 18 triangles", "endsolid"}));
  CHECK(says(refusal("solid none\nendsolid none\n", "a.stl"), {"no triangle"}));
}

TEST_CASE("STL: a file that is neither binary nor text is refused with both reasons") {
  std::string bytes = made::stl_binary(ground());
  bytes += '\0';
  CHECK(says(refusal(bytes, "a.stl"), {"18 triangles", fmt::format("{} bytes", 84 + 50 * 18),
                                       fmt::format("the file has {}", 84 + 50 * 18 + 1), "not STL text"}));
  CHECK(says(refusal("nonsense", "a.stl"), {"solid", "84"}));
}

TEST_CASE("STL: a corner that is not finite is refused with triangle and byte") {
  TriangleMesh mesh = ground();
  mesh.vertices[0].z() = kInfinity;
  CHECK(says(refusal(made::stl_binary(mesh), "a.stl"),
             {"corner 1 of triangle 1", fmt::format("byte {}", 84 + 12)}));
}

TEST_CASE("STL: no prefix is accepted with fewer triangles") {
  const TriangleMesh mesh = made::sheet(1, 1, [](double x, double) { return x / 8; });
  for (const std::string& whole : {made::stl_text(mesh), made::stl_binary(mesh)})
    for (std::size_t size = 0; size < whole.size(); ++size) {
      const auto facets = facets_accepted(std::string_view(whole).substr(0, size), "a.stl");
      if (facets && *facets != 2) FAIL("cut at " << size);
    }
}
