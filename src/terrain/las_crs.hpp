#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// What the description of a coordinate system says, in either of the two languages that LAS files carry.
struct CrsFacts {
  enum class Kind { unknown, projected, geographic, geocentric };
  Kind kind = Kind::unknown;
  double plan_unit = kUnset, height_unit = kUnset;  ///< metres; NaN: not said
  bool depths = false;                              ///< the vertical axis points down
  std::string name;                                 ///< in words; empty: none
  std::vector<std::string> notes;
};

/// GeoTIFF keys (GeoTIFF 1.0, section 2.4): the directory, a list of 16-bit numbers, and the doubles it may
/// refer to, both little-endian as in a LAS file. Throws InputError if the directory contradicts itself.
CrsFacts crs_from_geo_keys(std::string_view directory, std::string_view doubles, const std::string& file);

/// OGC well-known text, version 1 (OGC 01-009) or 2 (ISO 19162): kind, names and units of length, no more.
/// Throws InputError if it is not well-formed.
CrsFacts crs_from_wkt(std::string_view text, const std::string& file);

}  // namespace rimstance
