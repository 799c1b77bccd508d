#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

/// Statements that say nothing about the shape of the ground.
constexpr std::array<std::string_view, 19> kIgnored = {
    "vt",  "vn",     "vp",  "o",        "g",        "s",     "mg",         "usemtl",    "mtllib", "usemap",
    "lod", "maplib", "end", "c_interp", "d_interp", "bevel", "shadow_obj", "trace_obj", "call"};
constexpr std::array<std::string_view, 9> kFreeForm = {"curv", "curv2", "surf", "cstype", "deg",
                                                       "bmat", "step",  "parm", "trim"};

template <std::size_t n>
bool among(const std::array<std::string_view, n>& words, std::string_view word) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

class ObjReader {
 public:
  ObjReader(std::string_view bytes, const std::string& file, std::uint64_t greatest)
      : text_(bytes, file, {.comment = '#', .continued = true}), file_(file), greatest_(greatest) {}

  MeshFile read() {
    mesh_.format = "OBJ";
    // Room for as many as such a file usually holds; memory that is not used is never touched.
    mesh_.vertices.reserve(std::min<std::uint64_t>(text_.left() / 40, greatest_));
    mesh_.triangles.reserve(text_.left() / 24);
    for (; !text_.at_end(); text_.next_line())
      if (text_.more_on_line()) statement();
    if (greatest_index_ > mesh_.vertices.size()) fail_index(greatest_index_at_, greatest_index_);
    if (mesh_.triangles.empty())
      throw InputError(
          Place{file_, 0, 0, {}},
          fmt::format("holds {} but no face", counted(mesh_.vertices.size(), "vertex", "vertices")),
          "the ground needs triangles; triangulate the points first");
    check_greatest(mesh_.vertices.size(), greatest_, file_);
    note_polygons(polygons_, mesh_.notes);
    if (others_ > 0)
      mesh_.notes.push_back(counted(others_, "line or point element is not ground and was left out",
                                    "line and point elements are not ground and were left out"));
    note_open_end(text_.ends_with_line_end(), mesh_.notes);
    return std::move(mesh_);
  }

 private:
  void statement() {
    const char* const start = text_.at();
    const std::string_view word = text_.token();
    if (word == "v") return vertex();
    if (word == "f") return face();
    if (among(kIgnored, word)) return;
    if (word == "l" || word == "p") {
      ++others_;
      return;
    }
    if (among(kFreeForm, word))
      text_.fail(start, fmt::format("{} belongs to a free-form surface, which is not read", quoted(word)),
                 "export the surface as triangles");
    text_.fail(start,
               fmt::format("{} is not a statement of an OBJ file (v, f, vt, vn, g, o, s ...)", quoted(word)),
               "correct the line, or remove it if it says nothing about the shape");
  }

  /// x y z, then nothing, a weight, a colour, or both.
  void vertex() {
    if (plain_vertex(text_.at())) return;
    const double x = text_.number("x of a vertex"), y = text_.number("y of a vertex"),
                 z = text_.number("z of a vertex");
    const char* const after = text_.at();
    double first_extra = 1;
    int extra = 0;
    for (; text_.more_on_line() && extra < 5; ++extra) {
      const double value = text_.number("a weight or colour of a vertex");
      if (extra == 0) first_extra = value;
    }
    if (extra == 2 || extra > 4)
      text_.fail(after, "a vertex has 3 coordinates, then possibly a weight and three colour values",
                 "correct the line");
    if ((extra == 1 || extra == 4) && first_extra != 1)
      text_.fail(after, "a vertex has a weight other than 1: rational surfaces are not read",
                 "export the surface as triangles");
    if (mesh_.vertices.size() >= greatest_) check_greatest(mesh_.vertices.size() + 1, greatest_, file_);
    mesh_.vertices.emplace_back(x, y, z);
  }

  /// The vertex of most files: three numbers, each behind a space, and the end of the line. False, without
  /// having moved, if this one is anything else.
  bool plain_vertex(const char* at) {
    const char* const end = at + text_.left();
    Vec3 p;
    for (double& coordinate : p) {
      if (at == end || *at != ' ') return false;
      const auto [stop, error] = read_decimal(at + 1, end, coordinate);
      if (error != std::errc{} || !std::isfinite(coordinate)) return false;
      at = stop;
    }
    if (at == end || !TextCursor::is_line_end(*at) || mesh_.vertices.size() >= greatest_) return false;
    mesh_.vertices.push_back(p);
    text_.move_to(at);
    return true;
  }

  void face() {
    const char* const start = text_.at();
    if (plain_triangle(start)) return;
    corners_.clear();
    while (text_.more_on_line()) corners_.push_back(corner());
    if (corners_.size() < 3)
      text_.fail(start, too_few_corners(static_cast<std::int64_t>(corners_.size())),
                 "correct the line, or remove it");
    if (corners_.size() > 3) ++polygons_;
    append_fan(corners_, mesh_.triangles);
  }

  /// The face of most files: three corners of few digits, each behind a space, and the end of the line.
  /// False, without having moved, if this one is anything else.
  bool plain_triangle(const char* at) {
    if (text_.left() < 32) return false;
    std::array<std::uint32_t, 3> triangle{};
    for (std::uint32_t& corner : triangle) {
      if (*at != ' ') return false;
      const int digits = read_few_digits(at + 1, corner);
      if (digits == 0 || corner == 0 || corner > mesh_.vertices.size()) return false;
      --corner;
      at += 1 + digits;
    }
    if (!TextCursor::is_line_end(*at)) return false;
    mesh_.triangles.push_back(triangle);
    text_.move_to(at);
    return true;
  }

  /// "v", "v/vt", "v//vn" or "v/vt/vn"; only v matters.
  std::uint32_t corner() {
    const char* const start = text_.at();
    const char* const end = start + text_.left();
    std::int64_t index = 0;
    const auto [stop, error] = std::from_chars(start, end, index);
    const char* rest = stop;
    for (int slash = 0; slash < 2 && rest != end && *rest == '/'; ++slash) {
      std::int64_t ignored = 0;
      rest = std::from_chars(rest + 1, end, ignored).ptr;
    }
    if (error != std::errc{} || !(rest == end || TextCursor::is_space(*rest) || *rest == '\\'))
      text_.fail(start, fmt::format("{} is not a corner of a face", quoted(text_.peek())),
                 "corners are written v, v/vt, v//vn or v/vt/vn with whole numbers");
    text_.move_to(rest);
    return resolved(start, index);
  }

  /// Negative numbers count back from the last vertex read so far; positive ones may run ahead and
  /// are then judged at the end of the file.
  std::uint32_t resolved(const char* at, std::int64_t index) {
    const auto so_far = static_cast<std::int64_t>(mesh_.vertices.size());
    if (index == 0)
      text_.fail(at, "a face refers to vertex 0; vertices are numbered from 1", "correct the index");
    if (index < -so_far)
      text_.fail(
          at, fmt::format("a face refers to vertex {} counted back, only {} were read so far", index, so_far),
          "correct the index");
    if (index < 0) return static_cast<std::uint32_t>(so_far + index);
    if (index > so_far && static_cast<std::uint64_t>(index) > greatest_index_) {
      greatest_index_ = static_cast<std::uint64_t>(index);
      greatest_index_at_ = at;
      if (greatest_index_ > kMostVertices) fail_index(at, greatest_index_);
    }
    return static_cast<std::uint32_t>(index - 1);
  }

  [[noreturn]] void fail_index(const char* at, std::uint64_t index) const {
    text_.fail(at, fmt::format("a face refers to vertex {}, the file has {}", index, mesh_.vertices.size()),
               "correct the index; if the file was cut, get it again whole");
  }

  TextCursor text_;
  const std::string& file_;
  std::uint64_t greatest_;
  MeshFile mesh_;
  std::vector<std::uint32_t> corners_;
  std::uint64_t polygons_ = 0, others_ = 0, greatest_index_ = 0;
  const char* greatest_index_at_ = nullptr;
};

}  // namespace

MeshFile read_obj(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices) {
  return ObjReader(bytes, file, greatest_vertices).read();
}

}  // namespace rimstance
