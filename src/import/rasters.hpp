#pragma once
#include "rimstance/terrain/exchange.hpp"

namespace rimstance {

/// Reads the facts of a raster, and the heights of a window of it, by GDAL. Throws InputError.
ImportedRaster read_raster(const ImportRequest&);

/// Writes a GeoTIFF at `request.path`. Throws MachineError.
void write_raster_file(const ImportRequest&, const RasterToWrite&);

}  // namespace rimstance
