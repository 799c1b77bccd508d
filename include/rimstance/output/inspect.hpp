#pragma once
#include <string>
#include <vector>

#include "rimstance/output/value.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// A terrain file looked at before anything stands on it.
struct Inspection {
  LoadedTerrain loaded;
  TerrainOptions used;  ///< as stated, or assumed: the facts say which
};

/// Reads the file; an up axis or unit that is not stated is taken as z and m, and named in the facts
/// (the up axis for meshes only). Throws InputError like load_terrain().
Inspection inspect(const std::string& file, const TerrainOptions& stated);

/// The facts by keys: file, kind, format, extent, spacing, slopes, holes, defects, assumed, notes, the
/// lines for a scenario. Where places are asked about (map coordinates), also
///   at: [{xy_m, height_m, layers_m, slope_deg, aspect_azimuth_deg, reason}]
/// with the highest layer's slope and downslope azimuth (clockwise from grid north; null on level ground);
/// height null with its reason over a hole, a void or off the map.
Value describe(const Inspection&, const std::vector<Vec2>& asked);

/// The same for reading, from that description.
std::string inspection_text(const Value& described);

}  // namespace rimstance
