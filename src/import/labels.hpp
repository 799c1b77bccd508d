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

/// Refuses a netCDF file, classic (CDF-1, -2, -5) or in HDF5, that is shorter than its header says: the
/// library would read zeros, or only say that it does not know the file. Other files pass. Formats: "NetCDF
/// Classic Format Specification", Unidata; "HDF5 File Format Specification" 3.0, II.A.
void check_whole(const std::string& path);

/// By its first bytes: classic, or HDF5, of which nothing else is read here.
bool is_netcdf(const std::string& path);

/// Refuses raw data without a description, with the text of one that would do.
[[noreturn]] void fail_undescribed(const std::string& path);

}  // namespace rimstance
