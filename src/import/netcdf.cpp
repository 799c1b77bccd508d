#include "netcdf.hpp"

#include <fmt/format.h>
#include <gdal_priv.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <string_view>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

constexpr const char* kRewrite =
    "resample the grid evenly, or write it as GeoTIFF with its place: gdal_translate -a_ullr WEST NORTH EAST "
    "SOUTH";

[[noreturn]] void fail(const std::string& path, std::string what, std::string way_out) {
  throw InputError(Place{path, 0, 0, {}}, std::move(what), std::move(way_out));
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  return text;
}

/// Which way an axis runs: 'x', 'y', or 0 where nothing tells.
char way_of(const GDALDimension& dimension) {
  constexpr std::array<std::string_view, 5> kEast{"x", "lon", "long", "longitude", "easting"};
  constexpr std::array<std::string_view, 4> kNorth{"y", "lat", "latitude", "northing"};
  if (dimension.GetType() == GDAL_DIM_TYPE_HORIZONTAL_X) return 'x';
  if (dimension.GetType() == GDAL_DIM_TYPE_HORIZONTAL_Y) return 'y';
  const std::string name = lower(dimension.GetName());
  if (std::find(kEast.begin(), kEast.end(), name) != kEast.end()) return 'x';
  return std::find(kNorth.begin(), kNorth.end(), name) != kNorth.end() ? 'y' : '\0';
}

struct Axis {
  std::string name, unit;
  double least = kUnset, step = kUnset;
};

/// Places along an axis may be off by what single precision does to longitudes, not by a missing row.
Axis axis_of(const GDALDimension& dimension, const std::string& path) {
  const std::shared_ptr<GDALMDArray> variable = dimension.GetIndexingVariable();
  const auto count = static_cast<std::size_t>(dimension.GetSize());
  if (!variable || variable->GetDimensionCount() != 1 || variable->GetDataType().GetClass() != GEDTC_NUMERIC)
    fail(path,
         fmt::format("does not say where its posts are: no variable of coordinates for the dimension \"{}\"",
                     dimension.GetName()),
         kRewrite);
  std::vector<double> at(count, kUnset);
  const GUInt64 from = 0;
  if (count < 2 ||
      !variable->Read(&from, &count, nullptr, nullptr, GDALExtendedDataType::Create(GDT_Float64), at.data()))
    fail(path, fmt::format("has coordinates \"{}\" that cannot be read", variable->GetName()),
         "get the file again whole");
  const double step = (at.back() - at.front()) / static_cast<double>(count - 1);
  double least = step, most = step, off = 0;
  for (std::size_t i = 1; i < count; ++i) {
    least = std::min(least, at[i] - at[i - 1]);
    most = std::max(most, at[i] - at[i - 1]);
    off = std::max(off, std::abs(at[i] - (at.front() + step * static_cast<double>(i))));
  }
  if (!(off < 0.05 * std::abs(step)) ||
      !std::all_of(at.begin(), at.end(), [](double x) { return std::isfinite(x); }))
    fail(path,
         fmt::format("has unevenly spaced posts: along \"{}\" neighbours lie {:.6g} to {:.6g} apart",
                     variable->GetName(), std::min(std::abs(least), std::abs(most)),
                     std::max(std::abs(least), std::abs(most))),
         kRewrite);
  return {variable->GetName(), variable->GetUnit(), std::min(at.front(), at.back()), std::abs(step)};
}

/// CF conventions 1.8, 4.1 and 4.2, and the plain words.
bool degrees(const std::string& unit) { return lower(unit).starts_with("degree"); }

}  // namespace

NetcdfPlan netcdf_plan(const GDALGroup& root, const std::string& variable, const std::string& path) {
  const std::shared_ptr<GDALMDArray> array = root.ResolveMDArray(variable, "/", nullptr);
  if (!array || array->GetDimensionCount() < 2)
    fail(path, fmt::format("has heights \"{}\" that are no table of rows and columns", variable), kRewrite);
  const auto& dimensions = array->GetDimensions();
  const GDALDimension& rows = *dimensions[dimensions.size() - 2];
  const GDALDimension& columns = *dimensions.back();
  const Axis x = axis_of(columns, path), y = axis_of(rows, path);
  if (way_of(columns) != 'x' || way_of(rows) != 'y')
    fail(path,
         fmt::format(
             "has rows over \"{}\" and columns over \"{}\", which are not marked as northing and easting in "
             "this order",
             rows.GetName(), columns.GetName()),
         "mark them by standard_name (projection_y_coordinate, projection_x_coordinate) or axis (Y, X), and "
         "let "
         "the easting be the last dimension");
  const bool both_degrees = degrees(x.unit) && degrees(y.unit);
  if (!both_degrees && lower(x.unit) != lower(y.unit))
    fail(path,
         fmt::format("has eastings \"{}\" in \"{}\" and northings \"{}\" in \"{}\"", x.name, x.unit, y.name,
                     y.unit),
         "correct the units of the coordinates");
  return {x.unit, both_degrees, Vec2(x.least, y.least), Vec2(x.step, y.step),
          fmt::format("\"{}\" and \"{}\" in {} and {}", x.name, y.name, x.unit, y.unit)};
}

}  // namespace rimstance
