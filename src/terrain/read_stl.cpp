#include <fmt/format.h>

#include <bit>
#include <cstring>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

constexpr std::size_t kHeaderSize = 84;  // 80 bytes of text, then the number of triangles
constexpr std::size_t kRecordSize = 50;  // normal, three corners, two bytes of attributes

std::uint32_t little_endian_word(const char* p) {
  std::uint32_t word;
  std::memcpy(&word, p, sizeof word);
  if constexpr (std::endian::native == std::endian::big) word = __builtin_bswap32(word);
  return word;
}

/// The number of triangles a binary file announces. 64 bits: 50 times it does not fit into 32.
std::uint64_t announced(std::string_view bytes) { return little_endian_word(bytes.data() + kHeaderSize - 4); }

bool is_binary(std::string_view bytes) {
  return bytes.size() >= kHeaderSize && bytes.size() == kHeaderSize + kRecordSize * announced(bytes);
}

/// The keyword alone decides nothing: exporters write it into the header of binary files too.
bool starts_with_solid(std::string_view bytes) {
  while (!bytes.empty() && TextCursor::is_space(bytes.front())) bytes.remove_prefix(1);
  return lower_case(bytes.substr(0, 5)) == "solid" &&
         bytes.substr(0, 512).find('\0') == std::string_view::npos;
}

void add_triangle(MeshFile& mesh) {
  const auto next = static_cast<std::uint32_t>(mesh.vertices.size());
  mesh.triangles.push_back({next - 3, next - 2, next - 1});
}

MeshFile read_binary(std::string_view bytes, const std::string& file, std::uint64_t greatest) {
  const std::uint64_t count = announced(bytes);
  check_greatest(3 * count, greatest, file);
  MeshFile mesh;
  mesh.format = "STL (binary)";
  mesh.vertices.reserve(3 * count);
  mesh.triangles.reserve(count);
  for (std::uint64_t i = 0; i < count; ++i) {
    const char* const record = bytes.data() + kHeaderSize + kRecordSize * i;
    for (int corner = 1; corner <= 3; ++corner) {
      Vec3 p;
      for (int axis = 0; axis < 3; ++axis)
        p[axis] =
            static_cast<double>(std::bit_cast<float>(little_endian_word(record + 12 * corner + 4 * axis)));
      if (!p.allFinite())
        throw InputError(
            Place{file, 0, 0, {}},
            fmt::format("corner {} of triangle {} (byte {}) is ({}, {}, {}), which is not finite", corner,
                        i + 1, kHeaderSize + kRecordSize * i + 12 * static_cast<std::size_t>(corner), p.x(),
                        p.y(), p.z()),
            "remove the triangle, or export the mesh again");
      mesh.vertices.push_back(p);
    }
    add_triangle(mesh);
  }
  return mesh;
}

class StlText {
 public:
  StlText(std::string_view bytes, const std::string& file, std::uint64_t greatest)
      : text_(bytes, file), file_(file), greatest_(greatest) {}

  MeshFile read() {
    mesh_.format = "STL (ascii)";
    while (text_.more()) {
      expect("solid");
      text_.next_line();  // the rest of the line is the name
      while (word_is("facet")) facet();
      expect("endsolid");
      text_.next_line();
    }
    return std::move(mesh_);
  }

 private:
  void facet() {
    expect("facet");
    expect("normal");
    for (int axis = 0; axis < 3; ++axis) {  // normals follow from the corners; many files have them wrong
      require("a component of the normal");
      text_.token();
    }
    expect("outer");
    expect("loop");
    for (int corner = 0; corner < 3; ++corner) {
      expect("vertex");
      const double x = coordinate("x of a corner"), y = coordinate("y of a corner"),
                   z = coordinate("z of a corner");
      mesh_.vertices.emplace_back(x, y, z);
    }
    if (mesh_.vertices.size() > greatest_) check_greatest(mesh_.vertices.size(), greatest_, file_);
    expect("endloop");
    expect("endfacet");
    add_triangle(mesh_);
  }

  double coordinate(const char* name) {
    require(name);
    return text_.number(name);
  }
  void require(const char* what) {
    if (!text_.more())
      text_.fail(fmt::format("unexpected end of file after {}: {} is missing",
                             counted(mesh_.triangles.size(), "triangle"), what),
                 "the file is cut; get it again whole");
  }
  bool word_is(std::string_view keyword) { return text_.more() && lower_case(text_.peek()) == keyword; }
  void expect(const char* keyword) {
    require(keyword);
    if (!word_is(keyword))
      text_.fail(fmt::format("{} stands where {} is expected", quoted(text_.peek()), quoted(keyword)),
                 "correct the file, or export it again");
    text_.token();
  }

  TextCursor text_;
  const std::string& file_;
  std::uint64_t greatest_;
  MeshFile mesh_;
};

}  // namespace

bool looks_like_stl(std::string_view bytes) { return is_binary(bytes) || starts_with_solid(bytes); }

MeshFile read_stl(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices) {
  MeshFile mesh;
  if (is_binary(bytes)) {
    mesh = read_binary(bytes, file, greatest_vertices);
  } else if (starts_with_solid(bytes)) {
    mesh = StlText(bytes, file, greatest_vertices).read();
  } else if (bytes.size() < kHeaderSize) {
    throw InputError(
        Place{file, 0, 0, {}},
        fmt::format("is no STL file: text would start with \"solid\", a binary file has at least {} bytes "
                    "and this one {}",
                    kHeaderSize, bytes.size()),
        "get the file again whole");
  } else {
    const std::uint64_t count = announced(bytes);
    throw InputError(
        Place{file, 0, 0, {}},
        fmt::format("the STL header announces {}, {} {} bytes; the file has {}, enough for {} (and it is "
                    "not STL text)",
                    counted(count, "triangle"), count == 1 ? "which needs" : "which need",
                    kHeaderSize + kRecordSize * count, bytes.size(),
                    counted((bytes.size() - kHeaderSize) / kRecordSize, "triangle")),
        "get the file again whole, or export it again");
  }
  if (mesh.triangles.empty())
    throw InputError(Place{file, 0, 0, {}}, "holds no triangle", "export the mesh again");
  return mesh;
}

}  // namespace rimstance
