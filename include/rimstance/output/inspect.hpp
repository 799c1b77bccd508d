#pragma once
#include <optional>
#include <string>
#include <vector>

#include "rimstance/output/value.hpp"
#include "rimstance/terrain/holes.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// Radius of the pad that spacing and height steps are compared with where none is stated [m].
inline constexpr double kAssumedPad = 0.15;

/// A terrain file looked at before anything stands on it.
struct Inspection {
  LoadedTerrain loaded;
  TerrainOptions used;  ///< as stated, or assumed: the facts say which
  HoleSurvey holes;
  double pad = kAssumedPad;  ///< radius [m], > 0
  bool pad_assumed = true;
  /// Of a raster that is shown thinned: the ground round each place asked about, every post of it.
  std::vector<Terrain> closer;
};

/// Reads the file; an up axis or unit that is not stated is taken as z and m, and named in the facts
/// (the up axis for meshes only). Throws InputError like load_terrain().
Inspection inspect(const std::string& file, const TerrainOptions& stated, std::optional<double> pad = {});

/// Where the raster is thinned, reads it again round each place.
void look_closer(Inspection&, const std::vector<Vec2>& asked);

/// The facts by keys: file, kind, format, extent, map offset, reference body, spacing and height steps
/// against a pad, slopes, holes, defects, what was assumed or taken from the file, notes, the lines for a
/// scenario. Where places are asked about (map coordinates), also
///   at: [{xy_m, height_m, layers_m, slope_deg, aspect_azimuth_deg, reason}]
/// with the highest layer's slope and downslope azimuth (clockwise from grid north; null on level ground);
/// height null with its reason over a hole, a void or off the map.
Value describe(const Inspection&, const std::vector<Vec2>& asked);

/// The same for reading, from that description: where, spacing against a pad, heights and slopes, holes and
/// defects, assumed; then the lines for a scenario.
std::string inspection_text(const Value& described);

}  // namespace rimstance
