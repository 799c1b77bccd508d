#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Which axis of a mesh file points up; (x, y, z) of the file become east, north, up:
///   z: (x, y, z)    y: (x, -z, y)    x: (y, z, x)
enum class UpAxis { x, y, z };

/// A raster of up to so many posts is held whole, or of up to TerrainOptions::greatest_vertices if that is
/// less.
inline constexpr std::uint64_t kMostPosts = std::uint64_t{1} << 24;

struct TerrainOptions {
  std::optional<UpAxis> up = {};    ///< required for meshes whose format does not fix it; `inspect` assumes z
  std::optional<double> unit = {};  ///< metres per file unit; required where the file does not say it
  bool unit_assumed = false;        ///< `unit` is a guess: what the file states goes before it
  bool up_assumed = false;          ///< the same for `up`
  /// More wall than ground was mapped and `up`, stated, is right: slopes alone cannot tell walls from ground
  /// that lies on its side.
  bool mostly_wall = false;
  double hole_below = -kInfinity;  ///< posts below this (map z, m) are holes; triangles that reach below go
  double weld = 0;                 ///< vertices within this distance are one [m]; 0: equal positions only
  /// Point clouds: facets with a longer side in plan are holes [m]. Required for them; NaN: not stated.
  double longest_edge = kUnset;
  /// Point clouds: classes that are ground (LAS: 2 is ground); empty: not stated, which a file of one class
  /// allows.
  std::vector<int> classes = {};
  bool points_assumed =
      false;  ///< what a cloud lacks of the two is guessed, and told in TerrainFacts::assumed
  /// Height images without place and unit: what they lack. Required for them.
  struct Image {
    double spacing = kUnset;  ///< between posts [m]
    double scale = kUnset;    ///< height of one count [m]
    double offset = 0;        ///< height of count 0 [m]
  };
  std::optional<Image> image = {};
  /// Of a raster with more than kMostPosts posts only those around this place are kept (map coordinates);
  std::optional<Vec2> around = {};
  bool overview = false;  ///< or every k-th post, with the facts of all: for a picture, not to stand on
  /// Refuse larger files before allocating. Fewer than kMostPosts also are the most posts of a raster that
  /// are held at once.
  std::uint64_t greatest_vertices = 200'000'000;
  bool edges = true;  ///< count a mesh's edges (spacing, defects), which nothing that stands on it needs
};

/// What a file turned out to hold. Coordinates are map coordinates [m].
struct TerrainFacts {
  std::string file, kind;                ///< kind: "mesh", "grid" or "points"
  std::string format;                    ///< "PLY (binary, big-endian)", "ESRI ASCII grid", ...
  std::string assumed_up, assumed_unit;  ///< empty if stated
  Vec3 lowest_corner = Vec3::Constant(kUnset), highest_corner = Vec3::Constant(kUnset);
  double spacing = kUnset;  ///< median edge length in plan (mesh, if edges were counted) or the greater post
                            ///< spacing (grid) [m]
  bool edges_counted = false;           ///< mesh: what speaks of edges and duplicates below is known
  Vec2 cell = Vec2::Constant(kUnset);   ///< grid: dx, dy [m]
  std::uint64_t columns = 0, rows = 0;  ///< grid only
  std::uint64_t vertices = 0;           ///< mesh: in the file; grid: posts with data
  std::uint64_t triangles = 0;          ///< facets of the ground, degenerate ones included
  std::uint64_t welded = 0;             ///< vertices that were joined with an earlier one and are gone
  std::uint64_t holes = 0;              ///< grid: cells without data
  double slope_p50 = kUnset, slope_p90 = kUnset, slope_p99 = kUnset,
         slope_max = kUnset;                         ///< by surface area [rad]
  double plan_area = kUnset, surface_area = kUnset;  ///< [m2]; plan area of upward facets
  // Meshes only. Edges are those between welded vertices; orientation is judged by its majority.
  double crowding = kUnset;              ///< triangles whose box in plan holds a place, on average
  std::uint64_t degenerate = 0;          ///< facets without area, also those that welding collapsed
  std::uint64_t duplicate = 0;           ///< facets over the same three vertices as another
  std::uint64_t boundary_edges = 0;      ///< edges of one facet
  std::uint64_t non_manifold_edges = 0;  ///< edges of three or more facets
  std::uint64_t inconsistent_edges = 0;  ///< edges of two facets that are wound against each other
  std::uint64_t vertical = 0;            ///< facets that no plan view shows
  std::uint64_t overhanging = 0;         ///< facets that face down where the surface faces up
  /// Where the first defects of a kind lie, map coordinates [m].
  struct Defect {
    enum class Kind { non_manifold, inconsistent, overhanging } kind;
    Vec3 place;
  };
  static constexpr std::size_t kPlacesPerKind = 50;
  std::vector<Defect> defect_places;
  // What the file itself says, where it does.
  std::string crs;                     ///< name of its coordinate system; empty: it has none
  double body_radius = kUnset;         ///< of its reference body [m]
  double quantum = kUnset;             ///< least step between stored heights [m]; NaN: as fine as numbers are
  std::uint64_t points = 0;            ///< point cloud: points in the file; 0 for other kinds
  double longest_edge = kUnset;        ///< point cloud: stated or assumed [m]
  std::vector<int> classes = {};       ///< point cloud: those taken; empty: all
  std::uint64_t long_facets = 0;       ///< point cloud: facets left out for a side over `longest_edge`
  std::uint64_t thinned = 1;           ///< overview of a raster: every so many-th post is kept
  std::vector<std::string> from_file;  ///< sentences: what was taken from the file instead of being stated
  std::vector<std::string>
      assumed;                     ///< sentences: what was taken for want of a statement, beside up and unit
  std::vector<std::string> notes;  ///< sentences a user must have read
};

struct LoadedTerrain {
  Terrain terrain;
  TerrainFacts facts;
};

/// Reads PLY, OBJ, STL, OFF (meshes) or an ESRI ASCII grid; the content decides where it can, the
/// extension where it must. Coordinates are parsed in double, the local origin subtracted at once: whole
/// metres near the middle, or zero where the coordinates are no larger than their span asks for, so that
/// nothing is rounded. Polygons are split into fans; heights over 100 km, or over 1 km from a neighbour
/// at more than 80 degrees, count as marks of missing data. Large meshes are checked by two threads;
/// the result does not depend on it.
/// Throws InputError: unreadable, malformed (line or byte and token), counts that do not match the
/// bytes, non-finite or implausible heights (row, column), up axis or unit not stated, median slope
/// over 60 degrees (unless a mesh is stated to be mostly wall), degrees as cell size. Never returns part of a
/// file.
LoadedTerrain load_terrain(const std::string& file, const TerrainOptions&);

/// The same from memory, for tests and fuzzing; `name` stands for the file and its extension.
LoadedTerrain load_terrain_bytes(std::string_view bytes, const std::string& name, const TerrainOptions&);

}  // namespace rimstance
