#pragma once
// Terrain files made in memory, in every spelling that the readers must understand.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>
#include <string>
#include <vector>

#include "rimstance/base/frames.hpp"
#include "rimstance/base/random.hpp"
#include "rimstance/terrain/ground.hpp"

namespace made {

using rimstance::TriangleMesh;
using rimstance::Vec3;

/// (n + 1)^2 posts `spacing` apart over a formula, two triangles a square along the south-west to
/// north-east diagonal.
template <class Formula>
TriangleMesh sheet(int n, double spacing, Formula&& z) {
  TriangleMesh mesh;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i)
      mesh.vertices.emplace_back(i * spacing, j * spacing, z(i * spacing, j * spacing));
  const auto at = [n](int i, int j) { return static_cast<std::uint32_t>(j * (n + 1) + i); };
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      mesh.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
      mesh.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
    }
  return mesh;
}

/// Appends a value as the PLY type `type`, in the given byte order.
inline void put(std::string& out, const std::string& type, double value, bool big_endian) {
  const auto append = [&](auto number) {
    std::array<char, sizeof number> raw;
    std::memcpy(raw.data(), &number, sizeof number);
    if (big_endian != (std::endian::native == std::endian::big)) std::reverse(raw.begin(), raw.end());
    out.append(raw.data(), raw.size());
  };
  if (type == "char" || type == "int8") append(static_cast<std::int8_t>(value));
  if (type == "uchar" || type == "uint8") append(static_cast<std::uint8_t>(value));
  if (type == "short" || type == "int16") append(static_cast<std::int16_t>(value));
  if (type == "ushort" || type == "uint16") append(static_cast<std::uint16_t>(value));
  if (type == "int" || type == "int32") append(static_cast<std::int32_t>(value));
  if (type == "uint" || type == "uint32") append(static_cast<std::uint32_t>(value));
  if (type == "float" || type == "float32") append(static_cast<float>(value));
  if (type == "double" || type == "float64") append(value);
}

/// One property of a PLY vertex: x, y, z or a name that means nothing; `list` of two values.
struct PlyProperty {
  std::string type, name;
  bool list = false;
};

struct PlyStyle {
  std::string format = "ascii";  ///< or binary_little_endian, binary_big_endian
  std::string line_end = "\n";
  std::vector<PlyProperty> vertex = {{"double", "x"}, {"double", "y"}, {"double", "z"}};
  std::string count_type = "uchar", index_type = "int";
  bool face_extras = false;  ///< scalars and a list around the corners
  bool faces_first = false;
  bool other_elements = false;  ///< one of scalars, one with a list, between and after
};

class PlyWriter {
 public:
  PlyWriter(const TriangleMesh& mesh, const PlyStyle& style) : mesh_(mesh), style_(style) {}

  std::string write() {
    line("ply");
    line("format " + style_.format + " 1.0");
    line("comment made for a test");
    if (style_.faces_first) face_header();
    vertex_header();
    if (style_.other_elements) {
      line("element camera 2");
      line("property float view_x");
      line("property list ushort short trace");
    }
    if (!style_.faces_first) face_header();
    line("end_header");
    if (style_.faces_first) faces();
    vertices();
    if (style_.other_elements) cameras();
    if (!style_.faces_first) faces();
    return std::move(out_);
  }

 private:
  void line(const std::string& text) { out_ += text + style_.line_end; }
  bool text() const { return style_.format == "ascii"; }
  void value(const std::string& type, double v) {
    if (!text()) return put(out_, type, v, style_.format == "binary_big_endian");
    if (!out_.ends_with(style_.line_end)) out_ += ' ';
    out_ += fmt::format("{}", type == "float" ? static_cast<double>(static_cast<float>(v)) : v);
  }
  void end_record() {
    if (text()) out_ += style_.line_end;
  }
  void vertex_header() {
    line(fmt::format("element vertex {}", mesh_.vertices.size()));
    for (const PlyProperty& p : style_.vertex)
      line(p.list ? fmt::format("property list uchar {} {}", p.type, p.name)
                  : fmt::format("property {} {}", p.type, p.name));
  }
  void face_header() {
    line(fmt::format("element face {}", mesh_.triangles.size()));
    if (style_.face_extras) line("property uchar flags");
    line("property list " + style_.count_type + " " + style_.index_type + " vertex_indices");
    if (style_.face_extras) line("property list uint8 float texcoord");
  }
  void vertices() {
    for (std::size_t i = 0; i < mesh_.vertices.size(); ++i) {
      for (const PlyProperty& p : style_.vertex) {
        if (p.list) value("uchar", 2);
        const bool place = p.name == "x" || p.name == "y" || p.name == "z";
        value(p.type, place ? mesh_.vertices[i][p.name[0] - 'x'] : 7);
        if (p.list) value(p.type, 9);
      }
      end_record();
    }
  }
  void cameras() {
    for (int i = 0; i < 2; ++i) {
      value("float", 0.5);
      value("ushort", i);  // a list of i values
      for (int k = 0; k < i; ++k) value("short", -3);
      end_record();
    }
  }
  void faces() {
    for (const auto& t : mesh_.triangles) {
      if (style_.face_extras) value("uchar", 1);
      value(style_.count_type, 3);
      for (const std::uint32_t v : t) value(style_.index_type, v);
      if (style_.face_extras) {
        value("uchar", 2);
        value("float", 0.25);
        value("float", 0.75);
      }
      end_record();
    }
  }

  const TriangleMesh& mesh_;
  const PlyStyle& style_;
  std::string out_;
};

inline std::string ply(const TriangleMesh& mesh, const PlyStyle& style) {
  return PlyWriter(mesh, style).write();
}

inline std::string obj(const TriangleMesh& mesh, const std::string& line_end = "\n") {
  std::string out;
  for (const Vec3& p : mesh.vertices) out += fmt::format("v {} {} {}{}", p.x(), p.y(), p.z(), line_end);
  for (const auto& t : mesh.triangles)
    out += fmt::format("f {} {} {}{}", t[0] + 1, t[1] + 1, t[2] + 1, line_end);
  return out;
}

inline std::string off(const TriangleMesh& mesh) {
  std::string out =
      fmt::format("OFF\n# made for a test\n{} {} 0\n", mesh.vertices.size(), mesh.triangles.size());
  for (const Vec3& p : mesh.vertices) out += fmt::format("{} {} {}\n", p.x(), p.y(), p.z());
  for (const auto& t : mesh.triangles) out += fmt::format("3 {} {} {}\n", t[0], t[1], t[2]);
  return out;
}

inline std::string stl_text(const TriangleMesh& mesh) {
  std::string out = "solid made\n";
  for (const auto& t : mesh.triangles) {
    out += "facet normal 0 0 1\n outer loop\n";
    for (const std::uint32_t v : t) {
      const Vec3& p = mesh.vertices[v];
      out += fmt::format("  vertex {} {} {}\n", p.x(), p.y(), p.z());
    }
    out += " endloop\nendfacet\n";
  }
  return out + "endsolid made\n";
}

inline std::string stl_binary(const TriangleMesh& mesh) {
  std::string out(80, ' ');
  put(out, "uint", static_cast<double>(mesh.triangles.size()), false);
  for (const auto& t : mesh.triangles) {
    for (int k = 0; k < 3; ++k) put(out, "float", 0, false);
    for (const std::uint32_t v : t)
      for (int axis = 0; axis < 3; ++axis) put(out, "float", mesh.vertices[v][axis], false);
    put(out, "ushort", 0, false);
  }
  return out;
}

/// The posts of a sheet of n x n squares as a grid file.
inline std::string asc(const TriangleMesh& sheet_mesh, int n, double spacing) {
  std::string out =
      fmt::format("ncols {0}\nnrows {0}\nxllcenter 0\nyllcenter 0\ncellsize {1}\n", n + 1, spacing);
  for (int j = n; j >= 0; --j)
    for (int i = 0; i <= n; ++i)
      out += fmt::format("{}{}", sheet_mesh.vertices[static_cast<std::size_t>(j * (n + 1) + i)].z(),
                         i == n ? "\n" : " ");
  return out;
}

}  // namespace made
