#pragma once
#include <cstdint>
#include <string>

#include "rimstance/terrain/exchange.hpp"

namespace rimstance {

// Formats that only general libraries read go through a program of their own, `rimstance-import`: the
// libraries behind it are large and die on damaged files. It gets a request and gives back arrays, both in
// memory files; its death, its time-out and its memory limit are errors of the input like any other.

struct ImportLimits {
  double seconds = 120;               ///< of processor time, and of waiting
  std::uint64_t memory = 6ULL << 30;  ///< [byte] of address space
};

/// Does the work in the other program and returns its answer. Looked for at $RIMSTANCE_IMPORT (which must
/// exist if set), beside this executable, then in ../libexec/rimstance. Throws InputError naming
/// `request.path`: not installed (with the package to install), refused, died, too slow, too large, or
/// answered with nonsense.
ImportedMesh import_mesh(const std::string& path, std::uint64_t greatest_vertices, const ImportLimits& = {});
ImportedRaster import_raster(const ImportRequest&, const ImportLimits& = {});
/// Writes a GeoTIFF whole or not at all. Throws MachineError if it cannot be written.
void write_raster(const std::string& path, const RasterToWrite&, const ImportLimits& = {});

}  // namespace rimstance
