#pragma once
#include <string>

#include "rimstance/base/frames.hpp"

class GDALGroup;

namespace rimstance {

/// What the coordinate variables of a raster in a netCDF file say about its posts.
struct NetcdfPlan {
  std::string unit;  ///< of both axes, as it is written; empty: not said
  bool degrees = false;
  Vec2 first = Vec2::Constant(kUnset);  ///< the south-west post, in that unit
  Vec2 step = Vec2::Constant(kUnset);   ///< between posts, above 0
  std::string axes;                     ///< a sentence on the two variables
};

/// Reads the coordinate variables of `variable`. Throws InputError naming `path` where they do not make an
/// even grid with its rows along the easting: none for a dimension, none marked as easting or northing (CF
/// conventions 1.8, chapters 4 and 5: standard_name, axis or units; or the usual names), unevenly spaced, in
/// two units. Without this a grid with a missing row, or of degrees, would be read as posts that are metres
/// apart.
NetcdfPlan netcdf_plan(const GDALGroup& root, const std::string& variable, const std::string& path);

}  // namespace rimstance
