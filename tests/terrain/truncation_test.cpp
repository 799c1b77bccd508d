// Files that were cut: no format that counts its content may give less than that, and where a format has no
// counts the user is told that the end may be missing.
#include <algorithm>

#include "cases.hpp"
#include "made_files.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

struct Whole {
  std::string name, bytes;
};

TriangleMesh small_sheet() {
  return made::sheet(2, 1, [](double x, double y) { return 5 + 0.25 * x - 0.125 * x * y; });
}

/// Each format in each of its spellings that count their content.
std::vector<Whole> counted_files() {
  const TriangleMesh mesh = small_sheet();
  made::PlyStyle little, big, crlf, reordered;
  little.format = "binary_little_endian";
  big.format = "binary_big_endian";
  big.face_extras = big.other_elements = true;
  crlf.line_end = "\r\n";
  reordered.faces_first = true;
  reordered.format = "binary_little_endian";
  return {{"a.ply", made::ply(mesh, {})},        {"b.ply", made::ply(mesh, little)},
          {"c.ply", made::ply(mesh, big)},       {"d.ply", made::ply(mesh, crlf)},
          {"e.ply", made::ply(mesh, reordered)}, {"a.off", made::off(mesh)},
          {"a.stl", made::stl_text(mesh)},       {"b.stl", made::stl_binary(mesh)},
          {"a.asc", made::asc(mesh, 2, 1)}};
}

bool told_of_open_end(const std::vector<std::string>& notes) {
  return std::any_of(notes.begin(), notes.end(), [](const std::string& note) {
    return note.find("no end-of-line") != std::string::npos;
  });
}

/// What was lost is blank, or the name after the last word of an STL text, or the last value of a text may be
/// cut and the user is told.
bool may_be_accepted(std::string_view whole, std::size_t size, const TerrainFacts& facts) {
  const std::string_view lost = whole.substr(size), kept = whole.substr(0, size);
  if (lost.find_first_not_of(" \t\r\n") == std::string_view::npos) return true;
  if (facts.format == "STL (ascii)" && kept.find("endsolid") != std::string_view::npos) return true;
  const bool in_last_line =
      lost.substr(0, lost.find_last_not_of(" \r\n")).find('\n') == std::string_view::npos;
  return in_last_line && told_of_open_end(facts.notes);
}

void check_cut(const Whole& file, std::size_t size, std::uint64_t triangles) {
  try {
    const LoadedTerrain t =
        load_terrain_bytes(std::string_view(file.bytes).substr(0, size), file.name, kMetresZ);
    if (t.facts.triangles < triangles)
      FAIL(file.name << " cut at byte " << size << " gives " << t.facts.triangles << " of " << triangles);
    if (!may_be_accepted(file.bytes, size, t.facts))
      FAIL(file.name << " cut at byte " << size << " is accepted");
  } catch (const InputError& error) {
    if (error.issues.empty() || error.issues[0].what.empty() || error.issues[0].way_out.empty())
      FAIL(file.name << " cut at byte " << size << " is refused without a reason or a way out");
  }
}

}  // namespace

TEST_CASE("A file that counts its content is never accepted with less, wherever it is cut") {
  for (const Whole& file : counted_files()) {
    INFO(file.name);
    const std::uint64_t triangles = facts_of(file.bytes, file.name).triangles;
    REQUIRE(triangles == 8);
    for (std::size_t size = 0; size < file.bytes.size(); ++size) check_cut(file, size, triangles);
  }
}

TEST_CASE("The demo's ground is never accepted with less, wherever it is cut") {
  for (const char* const name : {"kettle.ply", "kettle_dem.asc"}) {
    const Whole file{name, file_bytes(std::string(RIMSTANCE_SOURCE_DIR) + "/terrain/" + name)};
    const std::uint64_t triangles = facts_of(file.bytes, file.name).triangles;
    REQUIRE(triangles > 10'000);
    const std::size_t cuts = 5 * static_cast<std::size_t>(cases());
    for (std::size_t k = 0; k < cuts; ++k)
      check_cut(file, random_bits(5, 3, k) % file.bytes.size(), triangles);
    for (std::size_t last = 1; last <= 40; ++last) check_cut(file, file.bytes.size() - last, triangles);
  }
}
