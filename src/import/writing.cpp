#include <cpl_error.h>
#include <cpl_string.h>
#include <gdal_frmts.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <string>
#include <vector>

#include "rasters.hpp"
#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

void CPL_STDCALL keep_first(CPLErr kind, CPLErrorNum, const char* text) {
  auto* const first = static_cast<std::string*>(CPLGetErrorHandlerUserData());
  if (kind >= CE_Failure && first->empty()) *first = text;
}

struct Handler {
  explicit Handler(std::string& failure) { CPLPushErrorHandlerEx(keep_first, &failure); }
  Handler(const Handler&) = delete;
  Handler& operator=(const Handler&) = delete;
  ~Handler() { CPLPopErrorHandler(); }
};

OGRSpatialReference local_metres() {
  OGRSpatialReference srs;
  srs.SetLocalCS("Map coordinates of the terrain");
  srs.SetLinearUnits("metre", 1);
  return srs;
}

/// False where the library refused anything; `failure` has its words.
bool filled(GDALDataset& set, const RasterToWrite& raster) {
  const OGRSpatialReference srs = local_metres();
  const double north = raster.first.y() + (static_cast<double>(raster.rows) - 0.5) * raster.spacing.y();
  double gt[6] = {
      raster.first.x() - 0.5 * raster.spacing.x(), raster.spacing.x(), 0, north, 0, -raster.spacing.y()};
  GDALRasterBand& band = *set.GetRasterBand(1);
  bool good = set.SetSpatialRef(&srs) == CE_None && set.SetGeoTransform(gt) == CE_None &&
              band.SetNoDataValue(kUnset) == CE_None && band.SetUnitType("m") == CE_None;
  const int columns = static_cast<int>(raster.columns), rows = static_cast<int>(raster.rows);
  std::vector<float> line(raster.columns);
  for (int row = 0; good && row < rows; ++row) {  // from the north
    const double* const z =
        raster.heights.data() + raster.columns * (raster.rows - 1 - static_cast<std::size_t>(row));
    for (std::size_t i = 0; i < line.size(); ++i) line[i] = static_cast<float>(z[i]);
    good = band.RasterIO(GF_Write, 0, row, columns, 1, line.data(), columns, 1, GDT_Float32, 0, 0, nullptr) ==
           CE_None;
  }
  set.FlushCache();
  return good;
}

}  // namespace

void write_raster_file(const ImportRequest& request, const RasterToWrite& raster) {
  const std::size_t posts = raster.heights.size();
  constexpr std::uint64_t kMostSide = 1 << 30;
  expects(raster.columns > 0 && raster.rows > 0 && raster.columns <= kMostSide && raster.rows <= kMostSide &&
              posts / raster.columns == raster.rows && posts % raster.columns == 0,
          "write_raster_file: one height per post");
  expects(raster.spacing.x() > 0 && raster.spacing.y() > 0 && raster.first.allFinite(),
          "write_raster_file: spacing > 0, a finite place");
  std::string failure;
  const Handler handler(failure);
  GDALRegister_GTiff();
  CPLSetConfigOption("GDAL_PAM_ENABLED", "NO");
  CPLSetConfigOption("GDAL_CACHEMAX", "64");
  CPLStringList options;
  for (const char* option : {"TILED=YES", "COMPRESS=DEFLATE", "PREDICTOR=3", "BIGTIFF=IF_SAFER"})
    options.AddString(option);
  GDALDatasetUniquePtr set(GetGDALDriverManager()->GetDriverByName("GTiff")->Create(
      request.path.c_str(), static_cast<int>(raster.columns), static_cast<int>(raster.rows), 1, GDT_Float32,
      options.List()));
  const bool good = set && filled(*set, raster);
  set.reset();  // what is left is written here, and can fail here
  if (!good || !failure.empty()) throw MachineError(failure.empty() ? "no reason is given" : failure);
}

}  // namespace rimstance
