#pragma once
#include <string>

#include "readers.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

// From what a reader found to ground in W: statements, axes, unit, local origin, checks, index, facts.

LoadedTerrain mesh_terrain(MeshFile, const std::string& name, const TerrainOptions&);
/// Points become a Delaunay triangulation in plan; facets with a side over `longest_edge` are left out.
LoadedTerrain point_terrain(PointFile, const std::string& name, const TerrainOptions&);
/// Points of a mesh file without triangles, turned so that z points up (as stated, or as they are).
PointFile points_of(MeshFile, const TerrainOptions&);
/// Read by the import program, whole, round a place, or thinned for an overview.
LoadedTerrain raster_terrain(const std::string& path, const TerrainOptions&);
LoadedTerrain grid_terrain(GridFile, const std::string& name, const TerrainOptions&);

}  // namespace rimstance
