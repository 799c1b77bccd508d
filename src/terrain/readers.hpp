#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/frames.hpp"

namespace rimstance {

// One reader per file format. Each takes the whole bytes, checks every count of the file against the
// bytes that are left before it allocates, and either returns the whole content or throws InputError.
// `file` is the name for messages; `greatest_vertices` the most vertices (posts) accepted.

/// A mesh as the file has it: its own axes and unit, vertices not joined. Every coordinate is finite
/// and every index is below vertices.size(). Only a PLY file may have no triangles: it holds points.
struct MeshFile {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> triangles;
  std::optional<int> up;           ///< 0 x, 1 y, 2 z, where the format says so
  std::optional<double> unit;      ///< metres per file unit, likewise
  std::string format;              ///< "PLY (ascii)", ...
  std::vector<std::string> notes;  ///< sentences for the user
};

/// A grid as the file has it, in its own units. Row 0 is the SOUTHERN row; NaN marks a hole.
struct GridFile {
  Vec2 first = Vec2::Zero();    ///< plan position of the south-west post (centre of its cell)
  Vec2 spacing = Vec2::Ones();  ///< > 0
  /// Plan position of the north-east post; NaN: first + (count - 1) * spacing.
  Vec2 last = Vec2::Constant(kUnset);
  std::uint32_t columns = 0, rows = 0;
  std::vector<double> heights;
  int first_line = 0;           ///< line of the northern row if each row has a line of its own, else 0
  double plan_unit = kUnset;    ///< metres per unit of positions; NaN: the file does not say
  double height_unit = kUnset;  ///< the same for heights
  std::uint64_t north_row = 0, west_column = 0;  ///< of its northern and western posts, if it is a part
  std::string format;
  std::vector<std::string> notes;
};

/// Points as the file has them, in its own unit.
struct PointFile {
  std::vector<Vec3> points;
  std::vector<std::uint8_t> classes;  ///< of each point; empty: the format has none
  double plan_unit = kUnset;          ///< metres per unit of x and y; NaN: the file does not say
  double height_unit = kUnset;        ///< the same for z
  std::string crs;                    ///< of its coordinate system, in words; empty: none
  std::string format;
  std::vector<std::string> notes;
};

/// Vertex numbers have 31 bits in the mesh checks; no file may hold more.
inline constexpr std::uint64_t kMostVertices = (std::uint64_t{1} << 31) - 1;

MeshFile read_ply(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices);
MeshFile read_obj(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices);
MeshFile read_stl(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices);
MeshFile read_off(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices);
GridFile read_asc(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices);

PointFile read_las(std::string_view bytes, const std::string& file, std::uint64_t greatest_points);
PointFile read_xyz(std::string_view bytes, const std::string& file, std::uint64_t greatest_points);

/// Appends a polygon as a fan from its first corner; at least three corners.
void append_fan(const std::vector<std::uint32_t>& corners,
                std::vector<std::array<std::uint32_t, 3>>& triangles);

/// What is wrong with a face of less than three.
std::string too_few_corners(std::int64_t corners);

/// Refuses more vertices than allowed, before anything is allocated for them.
void check_greatest(std::uint64_t vertices, std::uint64_t greatest, const std::string& file);

/// The sentence about polygons that were split, if there are any.
void note_polygons(std::uint64_t polygons, std::vector<std::string>& notes);

/// The sentence about a text file whose last line has no end: its last value may be cut.
void note_open_end(bool ends_with_line_end, std::vector<std::string>& notes);

/// Does the content look like this format? Used to choose the reader.
bool looks_like_stl(std::string_view bytes);
bool looks_like_asc(std::string_view bytes);
bool looks_like_xyz(std::string_view bytes);

}  // namespace rimstance
