#include <fmt/format.h>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

struct Counts {
  std::uint64_t vertices = 0, faces = 0;
};

/// The keyword says what follows the three coordinates of a vertex; those values are skipped.
void read_keyword(TextCursor& text) {
  text.more();
  const char* const start = text.at();
  const std::string_view word = text.token();
  if (word != "OFF" && word != "COFF" && word != "NOFF" && word != "STOFF" && word != "CNOFF")
    text.fail(start,
              fmt::format("{} is not a keyword of an OFF file that is read (OFF, COFF, NOFF, STOFF, CNOFF)",
                          quoted(word)),
              "export the mesh as plain OFF with three coordinates");
  if (text.more_on_line() && lower_case(text.peek()) == "binary")
    text.fail("binary OFF files are not read", "export the mesh as text, or as PLY");
}

std::uint64_t read_count(TextCursor& text, const char* name) {
  if (!text.more())
    text.fail(fmt::format("unexpected end of file: {} is missing", name), "get the file again whole");
  const char* const start = text.at();
  const std::int64_t count = text.integer(name);
  if (count < 0) text.fail(start, fmt::format("{} is {}, it cannot be negative", name, count), "correct it");
  return static_cast<std::uint64_t>(count);
}

/// The shortest vertex is "0 0 0" and an end-of-line, the shortest face "3 0 0 0" and one.
Counts read_counts(TextCursor& text) {
  text.more();
  const char* const start = text.at();
  Counts counts;
  counts.vertices = read_count(text, "the number of vertices");
  counts.faces = read_count(text, "the number of faces");
  read_count(text, "the number of edges");
  text.expect_line_end("the three counts");
  const std::uint64_t left = text.left() + 1;
  if (counts.vertices > left / 6 || counts.faces > (left - 6 * counts.vertices) / 8)
    text.fail(start,
              fmt::format("expected {} and {}, found only {} after the counts",
                          counted(counts.vertices, "vertex", "vertices"), counted(counts.faces, "face"),
                          counted(text.left(), "byte")),
              "the counts or the file are wrong; get the file again whole");
  return counts;
}

void expect_record(TextCursor& text, const char* one, const char* many, std::uint64_t number,
                   std::uint64_t of) {
  if (text.next_filled_line()) return;
  text.fail(fmt::format("unexpected end of file: expected {}, found {}", counted(of, one, many), number),
            "the file is cut; get it again whole");
}

}  // namespace

MeshFile read_off(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices) {
  TextCursor text(bytes, file, {.comment = '#'});
  read_keyword(text);
  const Counts counts = read_counts(text);
  check_greatest(counts.vertices, greatest_vertices, file);
  MeshFile mesh;
  mesh.format = "OFF";
  mesh.vertices.reserve(counts.vertices);
  mesh.triangles.reserve(counts.faces);
  for (std::uint64_t i = 0; i < counts.vertices; ++i) {
    expect_record(text, "vertex", "vertices", i, counts.vertices);
    const double x = text.number("x of a vertex"), y = text.number("y of a vertex"),
                 z = text.number("z of a vertex");
    mesh.vertices.emplace_back(x, y, z);
  }
  std::vector<std::uint32_t> corners;
  std::uint64_t polygons = 0;
  for (std::uint64_t i = 0; i < counts.faces; ++i) {
    expect_record(text, "face", "faces", i, counts.faces);
    const char* const start = text.at();
    const std::int64_t n = text.integer("the number of corners of a face");
    if (n < 3) text.fail(start, too_few_corners(n), "correct the face");
    corners.clear();
    for (std::int64_t k = 0; k < n; ++k) {
      const std::int64_t index = text.integer("a corner of a face");
      if (index < 0 || static_cast<std::uint64_t>(index) >= counts.vertices)
        text.fail(start,
                  fmt::format("a face refers to vertex {}, allowed are 0 to {}", index,
                              static_cast<std::int64_t>(counts.vertices) - 1),
                  "correct the index");
      corners.push_back(static_cast<std::uint32_t>(index));
    }
    polygons += n > 3;
    append_fan(corners, mesh.triangles);
  }
  if (text.next_filled_line())
    text.fail(
        fmt::format("{} stands after the last of {}", quoted(text.peek()), counted(counts.faces, "face")),
        "the counts at the top do not match the content; correct them");
  if (mesh.triangles.empty())
    throw InputError(Place{file, 0, 0, {}},
                     fmt::format("holds {} but no face", counted(counts.vertices, "vertex", "vertices")),
                     "the ground needs triangles; triangulate the points first");
  note_polygons(polygons, mesh.notes);
  note_open_end(text.ends_with_line_end(), mesh.notes);
  return mesh;
}

}  // namespace rimstance
