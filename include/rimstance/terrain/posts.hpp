#pragma once
#include <string>

#include "rimstance/terrain/exchange.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Heights [m, map] of the highest layer at posts `spacing` [m] apart, the first at the south-west corner of
/// the extent, the last no further than its borders; NaN over holes and voids. Throws InputError if that were
/// more than 2^26 posts. spacing > 0. About a microsecond a post.
RasterToWrite sampled(const Terrain&, double spacing);

/// Writes them as a GeoTIFF, Float32 (a height of 4 km is then rounded by 0.2 mm at most), tiled and
/// compressed, in local metres, NaN where there is no ground; whole or not at all, by the program
/// rimstance-import. Throws MachineError.
void write_posts(const std::string& path, const RasterToWrite&);

}  // namespace rimstance
