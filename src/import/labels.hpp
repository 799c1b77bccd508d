#pragma once
#include <cstdint>
#include <string>
#include <vector>

namespace rimstance {

// Looked at before a library opens a raster: what describes the file, and where that points.

/// What is opened for a path, and which files of its folder may be looked at besides.
struct RasterSource {
  std::string file;                    ///< the path itself, or the label beside it that describes it
  std::vector<std::string> beside;     ///< names in the folder of `file` that belong to it, its own included
  std::string unit;                    ///< of the heights, where a keyword label names one (UNIT = METER)
  std::vector<std::string> from_file;  ///< sentences for the user
};

/// Finds the label (PDS3, PDS4, ISIS3, ENVI) or world file of a raster. Throws InputError for paths that are
/// no file of this machine, and for labels that point outside their folder.
RasterSource raster_source(const std::string& path);

/// Refuses a classic netCDF file (CDF-1, -2, -5) that is shorter than its header says: the library would read
/// zeros. Other files pass. Format: "NetCDF Classic Format Specification", Unidata.
void check_netcdf_length(const std::string& path);

/// Refuses raw data without a description, with the text of one that would do.
[[noreturn]] void fail_undescribed(const std::string& path);

}  // namespace rimstance
