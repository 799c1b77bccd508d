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

struct TerrainOptions {
  std::optional<UpAxis> up;        ///< required for meshes; `inspect` assumes z and says so
  std::optional<double> unit;      ///< metres per file unit; required for meshes and ASCII grids
  double hole_below = -kInfinity;  ///< posts below this (map z, m) are holes; triangles that reach below go
  double weld = 0;                 ///< vertices within this distance are one [m]; 0: equal positions only
  std::uint64_t greatest_vertices = 200'000'000;  ///< refuse larger files before allocating
  bool edges = true;  ///< count a mesh's edges (spacing, defects), which nothing that stands on it needs
};

/// What a file turned out to hold. Coordinates are map coordinates [m].
struct TerrainFacts {
  std::string file, kind;                ///< kind: "mesh" or "grid"
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
  std::uint64_t degenerate = 0;          ///< facets without area, also those that welding collapsed
  std::uint64_t duplicate = 0;           ///< facets over the same three vertices as another
  std::uint64_t boundary_edges = 0;      ///< edges of one facet
  std::uint64_t non_manifold_edges = 0;  ///< edges of three or more facets
  std::uint64_t inconsistent_edges = 0;  ///< edges of two facets that are wound against each other
  std::uint64_t vertical = 0;            ///< facets that no plan view shows
  std::uint64_t overhanging = 0;         ///< facets that face down where the surface faces up
  std::vector<std::string> notes;        ///< sentences a user must have read
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
/// over 60 degrees, degrees as cell size. Never returns part of a file.
LoadedTerrain load_terrain(const std::string& file, const TerrainOptions&);

/// The same from memory, for tests and fuzzing; `name` stands for the file and its extension.
LoadedTerrain load_terrain_bytes(std::string_view bytes, const std::string& name, const TerrainOptions&);

}  // namespace rimstance
