#include "rasters.hpp"

#include <cpl_conv.h>
#include <cpl_error.h>
#include <cpl_string.h>
#include <fmt/format.h>
#include <gdal_frmts.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>
#include <ogr_srs_api.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <limits>
#include <optional>

#include "labels.hpp"
#include "netcdf.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

[[noreturn]] void fail(const std::string& path, std::string what, std::string way_out) {
  throw InputError(Place{path, 0, 0, {}}, std::move(what), std::move(way_out));
}

/// What the library said: its first failure and its first few warnings.
class Listener {
 public:
  Listener() { CPLPushErrorHandlerEx(hear, this); }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;
  ~Listener() { CPLPopErrorHandler(); }
  const std::string& failure() const { return failure_; }
  const std::vector<std::string>& warnings() const { return warnings_; }

 private:
  static void CPL_STDCALL hear(CPLErr kind, CPLErrorNum, const char* text) {
    auto* const self = static_cast<Listener*>(CPLGetErrorHandlerUserData());
    if (kind >= CE_Failure && self->failure_.empty()) self->failure_ = text;
    constexpr std::size_t kHeard = 3;
    if (kind == CE_Warning && self->warnings_.size() < kHeard) self->warnings_.emplace_back(text);
  }
  std::string failure_;
  std::vector<std::string> warnings_;
};

void set_up_library() {
  GDALRegister_GTiff();
  GDALRegister_PDS();
  GDALRegister_PDS4();
  GDALRegister_ISIS3();
  GDALRegister_ENVI();
  GDALRegister_netCDF();
  GDALRegister_PNG();
  OSRSetPROJEnableNetwork(0);
  // No side files of other programs, no network, a small cache, and the registration as the file states it.
  CPLSetConfigOption("GDAL_PAM_ENABLED", "NO");
  CPLSetConfigOption("CPL_VSIL_CURL_ALLOWED_EXTENSIONS", "{none}");
  CPLSetConfigOption("GDAL_CACHEMAX", "64");
  CPLSetConfigOption("GTIFF_POINT_GEO_IGNORE", "FALSE");
  CPLSetConfigOption("GTIFF_REPORT_COMPD_CS", "YES");
}

// ---------------------------------------------------------------- opening

std::string listed(const std::vector<std::string>& names) {
  constexpr std::size_t kNamed = 8;
  const bool all = names.size() <= kNamed;
  const auto end = names.begin() + static_cast<std::ptrdiff_t>(all ? names.size() : kNamed);
  return fmt::format("{}{}", fmt::join(names.begin(), end, ", "), all ? "" : ", ...");
}

/// A file that holds several rasters is nobody's ground until one is chosen.
void refuse_several(GDALDataset& set, const std::string& path) {
  const CPLStringList entries(set.GetMetadata("SUBDATASETS"), FALSE);
  std::vector<std::string> names;
  std::string first;
  for (int k = 1;; ++k) {
    const char* const name = entries.FetchNameValue(fmt::format("SUBDATASET_{}_NAME", k).c_str());
    const char* const text = entries.FetchNameValue(fmt::format("SUBDATASET_{}_DESC", k).c_str());
    if (name == nullptr) break;
    if (first.empty()) first = name;
    names.emplace_back(text != nullptr ? text : name);
  }
  if (names.size() < 2) return;
  fail(path, fmt::format("holds {} rasters: {}", names.size(), listed(names)),
       fmt::format("take the one with the heights out, for instance gdal_translate '{}' heights.tif", first));
}

bool is_mask(GDALRasterBand& band) { return band.GetColorInterpretation() == GCI_AlphaBand; }

/// What tells a band from its neighbours: its type, and what the file says of it.
std::string band_text(GDALRasterBand& band) {
  std::string out = GDALGetDataTypeName(band.GetRasterDataType());
  if (const std::string name = band.GetDescription(); !name.empty()) out += fmt::format(", \"{}\"", name);
  if (const GDALColorInterp colour = band.GetColorInterpretation(); colour != GCI_Undefined)
    out += fmt::format(", {}", GDALGetColorInterpretationName(colour));
  if (const std::string unit = band.GetUnitType(); !unit.empty()) out += ", in " + unit;
  return out;
}

GDALRasterBand& only_band(GDALDataset& set, const std::string& path) {
  const int bands = set.GetRasterCount();
  if (bands == 0) fail(path, "holds no raster", "give the file with the heights");
  if (bands == 1 || (bands == 2 && is_mask(*set.GetRasterBand(2)))) return *set.GetRasterBand(1);
  std::vector<std::string> names;
  for (int b = 1; b <= std::min(bands, 16); ++b)
    names.push_back(fmt::format("{} ({})", b, band_text(*set.GetRasterBand(b))));
  fail(path,
       fmt::format("has {} bands of {} x {} posts, heights are one: {}", bands, set.GetRasterXSize(),
                   set.GetRasterYSize(), listed(names)),
       "take out the one with the heights, for instance band 1: gdal_translate -b 1 IN heights.tif");
}

void check_band(GDALRasterBand& band, const std::string& path) {
  if (GDALDataTypeIsComplex(band.GetRasterDataType()))
    fail(path,
         fmt::format("holds complex numbers ({}), no heights", GDALGetDataTypeName(band.GetRasterDataType())),
         "give a raster of heights");
  if (band.GetColorTable() != nullptr || band.GetColorInterpretation() == GCI_PaletteIndex)
    fail(path, "is a picture with a colour table, no heights", "give the raster with the heights themselves");
}

/// Whatever a driver found by itself: only files beside the one that was asked for.
void check_files(GDALDataset& set, const RasterSource& source, const std::string& path,
                 std::vector<std::string>& others) {
  namespace fs = std::filesystem;
  const CPLStringList files(set.GetFileList(), TRUE);
  const fs::path folder = fs::path(source.file).parent_path(), asked = fs::path(path).filename();
  bool among = files.Count() == 0;
  for (int k = 0; k < files.Count(); ++k) {
    const fs::path file(files[k]);
    if (file.parent_path() != folder)
      fail(path, fmt::format("makes use of \"{}\", outside its folder", file.string()),
           "put the data beside the label and name it without a folder");
    among = among || file.filename() == asked;
    if (file.filename() != asked) others.push_back(file.string());
  }
  if (!among)
    fail(
        path,
        fmt::format("is not the data that {} beside it describes", fs::path(source.file).filename().string()),
        "give the label that belongs to it, or remove the one that does not");
}

GDALDatasetUniquePtr opened(const RasterSource& source, const std::string& path, const Listener& said) {
  const char* const drivers[] = {"GTiff", "PDS", "PDS4", "ISIS3", "ENVI", "netCDF", "PNG", nullptr};
  // netCDF: which dimension is which is looked at in netcdf_plan().
  const char* const options[] = {"IGNORE_XY_AXIS_NAME_CHECKS=YES", nullptr};
  CPLStringList beside;
  for (const std::string& name : source.beside) beside.AddString(name.c_str());
  GDALDatasetUniquePtr set(
      GDALDataset::Open(source.file.c_str(), GDAL_OF_RASTER | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
                        drivers, is_netcdf(source.file) ? options : nullptr, beside.List()));
  if (set) return set;
  const std::string& why = said.failure();
  if (why.empty() || why.find("not recognized as") != std::string::npos) fail_undescribed(path);
  fail(path, fmt::format("cannot be opened: {}", without_stop(why)),
       "get the file again whole, or export it again");
}

// ---------------------------------------------------------------- where and in what units

/// Rows and columns of the file on the plan.
struct Layout {
  bool south_up = false;  ///< the first row is the southern one
};

Layout place_posts(GDALDataset& set, const std::string& path, ImportedRaster& out) {
  Layout layout;
  double gt[6];
  if (set.GetGeoTransform(gt) != CE_None) {
    if (set.GetGCPCount() > 0)
      fail(path, "is placed by control points, not on a straight grid", "make it straight with gdalwarp");
    out.placed = false;
    return layout;
  }
  const double columns = static_cast<double>(out.columns), rows = static_cast<double>(out.rows);
  for (const double g : gt)
    if (!std::isfinite(g)) fail(path, "has a place that is not finite", "correct its georeference");
  const double shear =
      std::max(std::abs(gt[2]) * rows / std::abs(gt[1]), std::abs(gt[4]) * columns / std::abs(gt[5]));
  if (!(shear < 1e-6))
    fail(path, "has rows that do not run east or columns that do not run north (a rotated or sheared raster)",
         "make it straight with gdalwarp");
  if (!(gt[1] > 0))
    fail(path, "has columns that run from east to west", "turn it round with gdalwarp or gdal_translate");
  layout.south_up = gt[5] > 0;
  out.spacing = {gt[1], std::abs(gt[5])};
  out.first = {gt[0] + 0.5 * gt[1], gt[3] + (layout.south_up ? 0.5 : rows - 0.5) * gt[5]};
  const char* const meaning = set.GetMetadataItem("AREA_OR_POINT");
  const bool point = meaning != nullptr && EQUAL(meaning, "Point");
  out.from_file.push_back(
      fmt::format("the posts are {}; the south-west one lies at ({:.10g}, {:.10g}){}",
                  point ? "points that the file places themselves" : "the centres of pixels", out.first.x(),
                  out.first.y(), layout.south_up ? ", and the southern row comes first" : ""));
  return layout;
}

struct Unit {
  const char* name;
  double metres;
};

/// Metres per unit of that name; NaN: the name says nothing; nothing: it is no length that is known.
std::optional<double> length_of(std::string name) {
  constexpr double kFoot = 0.3048, kSurveyFoot = 1200.0 / 3937.0;  // NIST Handbook 44, appendix C
  constexpr Unit kUnits[] = {{"m", 1},
                             {"metre", 1},
                             {"meter", 1},
                             {"metres", 1},
                             {"meters", 1},
                             {"km", 1000},
                             {"kilometre", 1000},
                             {"kilometer", 1000},
                             {"kilometres", 1000},
                             {"kilometers", 1000},
                             {"dm", 0.1},
                             {"cm", 0.01},
                             {"centimeter", 0.01},
                             {"centimetre", 0.01},
                             {"centimeters", 0.01},
                             {"mm", 0.001},
                             {"millimeter", 0.001},
                             {"millimetre", 0.001},
                             {"ft", kFoot},
                             {"foot", kFoot},
                             {"feet", kFoot},
                             {"international foot", kFoot},
                             {"international feet", kFoot},
                             {"us-ft", kSurveyFoot},
                             {"ftus", kSurveyFoot},
                             {"ft-us", kSurveyFoot},
                             {"us_ft", kSurveyFoot},
                             {"foot_us", kSurveyFoot},
                             {"us survey foot", kSurveyFoot},
                             {"us survey feet", kSurveyFoot},
                             {"survey foot", kSurveyFoot},
                             {"us_survey_foot", kSurveyFoot},
                             {"u.s. survey foot", kSurveyFoot}};
  constexpr const char* kNothing[] = {"", "unknown", "none", "n/a", "null", "dimensionless", "1", "dn"};
  std::transform(name.begin(), name.end(), name.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  for (const char* nothing : kNothing)
    if (name == nothing) return kUnset;
  for (const Unit& unit : kUnits)
    if (name == unit.name) return unit.metres;
  return std::nullopt;
}

/// A length unit of a coordinate system; without a name it is the library's own guess.
double said_unit(double metres, const char* name) {
  const bool nameless = name == nullptr || EQUAL(name, "unknown") || *name == '\0';
  return nameless || !(metres > 0) || !std::isfinite(metres) ? kUnset : metres;
}

/// Planetary labels give projected positions in metres or kilometres, of which the drivers make metres
/// without giving them a name.
bool metres_by_format(GDALDataset& set) {
  const std::string driver = set.GetDriverName();
  return driver == "PDS" || driver == "ISIS3";
}

void describe_plan(GDALDataset& set, const OGRSpatialReference* srs, const std::string& path,
                   ImportedRaster& out) {
  if (srs == nullptr || srs->IsEmpty()) return;
  if (srs->IsGeocentric()) fail(path, "has geocentric coordinates, no plan", "project it with gdalwarp");
  if (const char* const name = srs->GetName()) out.crs = name;
  // ENVI headers without a datum become a local system in metres, whatever they say; its name tells degrees.
  const bool guessed = srs->IsLocal() && std::string(set.GetDriverName()) == "ENVI";
  out.geographic = srs->IsGeographic() || srs->IsDerivedGeographic() ||
                   (guessed && out.crs.find("Geographic") != std::string::npos);
  const char* name = nullptr;
  const double unit = srs->GetLinearUnits(&name);
  if (!out.geographic && !guessed) out.plan_unit = said_unit(unit, name);
  if (!(out.plan_unit > 0) && srs->IsProjected() && metres_by_format(set)) name = "metres", out.plan_unit = 1;
  OGRErr error = OGRERR_NONE;
  const double radius = srs->IsLocal() ? kUnset : srs->GetSemiMajor(&error);
  if (error == OGRERR_NONE && radius > 0 && std::isfinite(radius)) out.body_radius = radius;
  out.from_file.push_back(fmt::format(
      "the coordinate system is \"{}\"{}{}", out.crs,
      out.plan_unit > 0 ? fmt::format(", lengths in plan in {} ({:.10g} m)", name, out.plan_unit) : "",
      out.body_radius > 0 ? fmt::format(", on a body of {:.10g} m radius", out.body_radius) : ""));
}

/// A netCDF file places its posts by variables of coordinates, and their units are not in the place that its
/// driver passes on.
NetcdfPlan coordinates_of(GDALDataset& set, GDALRasterBand& band, const std::string& path) {
  const char* const drivers[] = {"netCDF", nullptr};
  const GDALDatasetUniquePtr file(GDALDataset::Open(
      set.GetDescription(), GDAL_OF_MULTIDIM_RASTER | GDAL_OF_READONLY, drivers, nullptr, nullptr));
  const char* const variable = band.GetMetadataItem("NETCDF_VARNAME");
  const auto root = file ? file->GetRootGroup() : nullptr;
  if (!root || variable == nullptr)
    fail(path, "is a netCDF file whose coordinates cannot be read",
         "convert it to GeoTIFF with gdal_translate");
  return netcdf_plan(*root, variable, path);
}

/// Joins them with what is known of the place already; what contradicts it is refused.
void add_coordinates(const NetcdfPlan& plan, const std::string& path, ImportedRaster& out) {
  const std::optional<double> unit = plan.degrees ? kUnset : length_of(plan.unit);
  if (!unit)
    fail(path, fmt::format("has positions in \"{}\", which is no length that is known", plan.unit),
         "project it to metres with gdalwarp, or correct the units of its coordinates");
  if (plan.degrees) out.geographic = true;
  if (plan.degrees && out.crs.empty()) out.crs = plan.axes;
  const double own = *unit > 0 ? *unit : out.plan_unit > 0 ? out.plan_unit : 1;
  const double known = out.plan_unit > 0 ? out.plan_unit : own;
  if (!out.placed || !((out.first * known - plan.first * own).norm() < 0.1 * own * plan.step.minCoeff()))
    fail(path,
         fmt::format(
             "places its posts in two ways: the south-west one at ({:.10g}, {:.10g}) units of {:.6g} m, by "
             "its coordinates at ({:.10g}, {:.10g}) units of {:.6g} m",
             out.first.x(), out.first.y(), known, plan.first.x(), plan.first.y(), own),
         "correct the one that is wrong, or convert it to GeoTIFF with gdal_translate -a_ullr");
  if (out.plan_unit > 0 || !(*unit > 0)) return;
  out.plan_unit = *unit;
  out.from_file.push_back(fmt::format("positions are in {} ({:.10g} m)", plan.unit, *unit));
}

/// `label`: the unit that the label names, if any.
void describe_heights(GDALRasterBand& band, const OGRSpatialReference* srs, const std::string& label,
                      const std::string& path, ImportedRaster& out) {
  std::string name = band.GetUnitType() != nullptr ? band.GetUnitType() : "";
  if (name.empty()) name = label;
  const std::optional<double> unit = length_of(name);
  if (!unit)
    fail(path,
         fmt::format("has values in \"{}\", which is no length that is known (m, km, cm, mm, ft, us-ft)",
                     name),
         "if they are heights, set the unit of the band, for instance gdal_edit.py -units m");
  out.height_unit = *unit;
  if (!(out.height_unit > 0) && srs != nullptr && srs->IsCompound()) {
    const char* vertical = nullptr;
    const double metres = srs->GetTargetLinearUnits("VERT_CS", &vertical);
    out.height_unit = said_unit(metres, vertical);
    if (out.height_unit > 0) name = vertical;
  }
  if (out.height_unit > 0)
    out.from_file.push_back(fmt::format("the heights are in {} ({:.10g} m)", name, out.height_unit));
}

/// From what is stored to a height in the file's unit.
struct Scale {
  double factor = 1, offset = 0;
};

Scale scale_of(GDALRasterBand& band, const std::string& path, ImportedRaster& out) {
  int has_factor = 0, has_offset = 0;
  Scale scale{band.GetScale(&has_factor), band.GetOffset(&has_offset)};
  if (!has_factor) scale.factor = 1;
  if (!has_offset) scale.offset = 0;
  if (!(std::abs(scale.factor) > 0) || !std::isfinite(scale.factor) || !std::isfinite(scale.offset))
    fail(path,
         fmt::format("has the scale {} and offset {} of heights, which make no ground", scale.factor,
                     scale.offset),
         "correct them in the file or its label");
  if (scale.factor != 1 || scale.offset != 0)
    out.from_file.push_back(
        fmt::format("the heights are counts x {:.10g} + {:.10g}", scale.factor, scale.offset));
  // Some planetary rasters count from the centre of the body.
  const double radius = out.body_radius / (out.height_unit > 0 ? out.height_unit : 1);
  if (std::abs(scale.offset - radius) < 0.02 * radius) {
    scale.offset -= radius;
    out.notes.push_back(fmt::format(
        "the file counts heights from the centre of the body; they are given above its radius of {:.10g} m",
        out.body_radius));
  }
  if (GDALDataTypeIsInteger(band.GetRasterDataType())) out.quantum = std::abs(scale.factor);
  return scale;
}

/// The value that marks missing data as the cells would hold it; nothing if no cell can hold it.
std::optional<double> nodata_of(GDALRasterBand& band, ImportedRaster& out) {
  const GDALDataType type = band.GetRasterDataType();
  int declared = 0;
  double value = 0;
  if (type == GDT_Int64)
    value = static_cast<double>(band.GetNoDataValueAsInt64(&declared));
  else if (type == GDT_UInt64)
    value = static_cast<double>(band.GetNoDataValueAsUInt64(&declared));
  else
    value = band.GetNoDataValue(&declared);
  out.nodata_declared = declared != 0;
  if (!declared) return std::nullopt;
  out.from_file.push_back(std::isnan(value) ? std::string("NaN marks missing data")
                                            : fmt::format("{:.10g} marks missing data", value));
  constexpr double kMost = static_cast<double>(std::numeric_limits<float>::max());
  if (type == GDT_Float32 && !std::isnan(value)) value = static_cast<float>(std::clamp(value, -kMost, kMost));
  return value;
}

// ---------------------------------------------------------------- raw data in the other byte order

template <class T>
T swapped(T value) {
  char bytes[sizeof(T)];
  std::memcpy(bytes, &value, sizeof value);
  std::reverse(bytes, bytes + sizeof value);
  std::memcpy(&value, bytes, sizeof value);
  return value;
}

/// How rough the sampled rows are: the median step between neighbours, and for floating point the share of
/// values that are no height.
struct Roughness {
  double step = 0, absurd = 0;
};

template <class T>
Roughness roughness(const std::vector<std::vector<T>>& rows, const std::optional<double>& nodata, bool swap) {
  std::vector<double> steps;
  double absurd = 0, all = 0;
  for (const std::vector<T>& row : rows)
    for (std::size_t i = 0; i < row.size(); ++i) {
      const auto value = [&](std::size_t k) { return static_cast<double>(swap ? swapped(row[k]) : row[k]); };
      const bool void_here = nodata && static_cast<double>(row[i]) == *nodata;
      const double z = value(i), size = std::abs(z);
      ++all;
      absurd += !void_here && !(size < 1e7 && (size == 0 || size > 1e-12));
      if (i > 0 && !void_here && !(nodata && static_cast<double>(row[i - 1]) == *nodata))
        steps.push_back(std::abs(z - value(i - 1)));
    }
  Roughness out;
  if (steps.empty()) return out;
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  for (double& step : steps)
    if (std::isnan(step)) step = kInfinity;
  std::nth_element(steps.begin(), middle, steps.end());
  return {*middle, absurd / all};
}

template <class T>
void check_order(GDALRasterBand& band, GDALDataType type, const std::optional<double>& nodata,
                 const std::string& path) {
  constexpr int kSampled = 64;
  const int columns = band.GetXSize(), rows = band.GetYSize(), step = std::max(1, rows / kSampled);
  std::vector<std::vector<T>> sample;
  for (int row = 0; row < rows; row += step) {
    sample.emplace_back(static_cast<std::size_t>(columns));
    if (band.RasterIO(GF_Read, 0, row, columns, 1, sample.back().data(), columns, 1, type, 0, 0, nullptr) !=
        CE_None)
      return;  // the reading itself will say why
  }
  const Roughness as_is = roughness(sample, nodata, false), other = roughness(sample, nodata, true);
  const bool rough = std::is_integral_v<T> && as_is.step > 8 * std::max(other.step, 1.0);
  const bool senseless = std::is_floating_point_v<T> && as_is.absurd > 0.1 && other.absurd < 0.01;
  if (!rough && !senseless) return;
  fail(path,
       rough ? fmt::format(
                   "looks like the other byte order: neighbours differ by {:.6g} counts in the middle, with "
                   "swapped bytes by {:.6g}",
                   as_is.step, other.step)
             : fmt::format(
                   "looks like the other byte order: {:.0f} % of its numbers are no heights, with swapped "
                   "bytes {:.0f} %",
                   100 * as_is.absurd, 100 * other.absurd),
       "correct the byte order in its header or label (ENVI: byte order = 0 or 1); if it is right, convert "
       "the file to "
       "GeoTIFF with gdal_translate");
}

/// Formats whose byte order is written by hand, apart from the data.
void check_byte_order(GDALDataset& set, GDALRasterBand& band, const std::optional<double>& nodata,
                      const std::string& path) {
  const std::string driver = set.GetDriverName();
  if (driver != "ENVI" && driver != "PDS" && driver != "PDS4" && driver != "ISIS3") return;
  const GDALDataType type = band.GetRasterDataType();
  if (type == GDT_Int16) check_order<std::int16_t>(band, type, nodata, path);
  if (type == GDT_UInt16) check_order<std::uint16_t>(band, type, nodata, path);
  if (type == GDT_Int32) check_order<std::int32_t>(band, type, nodata, path);
  if (type == GDT_Float32) check_order<float>(band, type, nodata, path);
}

/// The ENVI driver reads zeros where the data end early.
void check_envi_length(GDALDataset& set, GDALRasterBand& band, const std::string& file,
                       const std::string& path) {
  if (std::string(set.GetDriverName()) != "ENVI") return;
  const char* const text = set.GetMetadataItem("header_offset", "ENVI");
  const double offset = text != nullptr ? CPLAtof(text) : 0;
  const double needed = offset + static_cast<double>(band.GetXSize()) * band.GetYSize() *
                                     GDALGetDataTypeSizeBytes(band.GetRasterDataType()) *
                                     set.GetRasterCount();
  std::error_code error;
  const auto bytes = std::filesystem::file_size(file, error);
  if (!error && static_cast<double>(bytes) >= needed) return;
  fail(path, fmt::format("is cut short: its header asks for {:.0f} bytes, it has {}", needed, bytes),
       "get the file again whole, or correct samples, lines and data type in its header");
}

// ---------------------------------------------------------------- heights

class HeightReader {
 public:
  HeightReader(GDALRasterBand& band, const ImportRequest::Window& window, const Layout& layout,
               const Scale& scale, const std::optional<double>& nodata, const std::string& path,
               const Listener& said)
      : band_(band), layout_(layout), scale_(scale), nodata_(nodata), path_(path), said_(said) {
    x_ = static_cast<int>(window.column);
    width_ = static_cast<int>(window.columns);
    height_ = static_cast<int>(window.rows);
    y_ = layout.south_up ? band.GetYSize() - static_cast<int>(window.row + window.rows)
                         : static_cast<int>(window.row);
  }

  /// Row 0 is the southern one; NaN without data.
  std::vector<double> read(std::vector<std::string>& notes) {
    const std::size_t count = static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_);
    std::vector<double> z(count, kUnset);
    transfer(band_, z.data(), GDT_Float64, sizeof(double));
    for (double& value : z) {
      const bool missing = !std::isfinite(value) || (nodata_ && value == *nodata_);
      value = missing ? kUnset : value * scale_.factor + scale_.offset;
      if (!std::isfinite(value)) value = kUnset;
    }
    cut_masked(z);
    cut_unwritten(z, notes);
    return z;
  }

 private:
  void transfer(GDALRasterBand& band, void* out, GDALDataType type, std::size_t size) {
    const auto line = static_cast<GSpacing>(size) * width_;
    auto* first = static_cast<char*>(out);
    if (!layout_.south_up) first += line * (height_ - 1);
    const CPLErr error = band.RasterIO(GF_Read, x_, y_, width_, height_, first, width_, height_, type,
                                       static_cast<GSpacing>(size), layout_.south_up ? line : -line, nullptr);
    if (error != CE_None || !said_.failure().empty())
      fail(path_,
           fmt::format("cannot be read whole: {}",
                       said_.failure().empty() ? "no reason is given" : without_stop(said_.failure())),
           "get the file again whole");
  }

  void cut_masked(std::vector<double>& z) {
    const int flags = band_.GetMaskFlags();
    if ((flags & (GMF_PER_DATASET | GMF_ALPHA)) == 0 || (flags & GMF_NODATA) != 0) return;
    std::vector<unsigned char> mask(z.size());
    transfer(*band_.GetMaskBand(), mask.data(), GDT_Byte, 1);
    for (std::size_t i = 0; i < z.size(); ++i)
      if (mask[i] == 0) z[i] = kUnset;
  }

  /// Blocks of a sparse file that nobody wrote are read as 0 by the library.
  void cut_unwritten(std::vector<double>& z, std::vector<std::string>& notes) {
    const int all = band_.GetDataCoverageStatus(x_, y_, width_, height_, 0, nullptr);
    if ((all & GDAL_DATA_COVERAGE_STATUS_UNIMPLEMENTED) != 0 || (all & GDAL_DATA_COVERAGE_STATUS_EMPTY) == 0)
      return;
    int bx = 0, by = 0, empty = 0;
    band_.GetBlockSize(&bx, &by);
    for (int row = y_ / by; row * by < y_ + height_; ++row)
      for (int column = x_ / bx; column * bx < x_ + width_; ++column) {
        const int left = std::max(column * bx, x_), right = std::min((column + 1) * bx, x_ + width_);
        const int top = std::max(row * by, y_), bottom = std::min((row + 1) * by, y_ + height_);
        const int status = band_.GetDataCoverageStatus(left, top, right - left, bottom - top, 0, nullptr);
        if ((status & GDAL_DATA_COVERAGE_STATUS_DATA) != 0) continue;
        ++empty;
        for (int y = top; y < bottom; ++y) {
          const int up = layout_.south_up ? y - y_ : height_ - 1 - (y - y_);
          const auto start = z.begin() + static_cast<std::ptrdiff_t>(up) * width_;
          std::fill(start + (left - x_), start + (right - x_), kUnset);
        }
      }
    notes.push_back(counted(static_cast<std::uint64_t>(empty),
                            "block of the file was never written; it is a hole",
                            "blocks of the file were never written; they are holes"));
  }

  GDALRasterBand& band_;
  Layout layout_;
  Scale scale_;
  std::optional<double> nodata_;
  const std::string& path_;
  const Listener& said_;
  int x_ = 0, y_ = 0, width_ = 0, height_ = 0;
};

std::string format_text(GDALDataset& set, GDALRasterBand& band) {
  std::string driver = set.GetDriverName();
  if (driver == "GTiff") driver = "GeoTIFF";
  if (driver == "PDS") driver = "PDS3";
  if (driver == "ISIS3") driver = "ISIS3 cube";
  return fmt::format("{}, {}", driver, GDALGetDataTypeName(band.GetRasterDataType()));
}

/// The window that is asked for, or the whole if it is small enough, or none.
ImportRequest::Window window_of(const ImportRequest& request, const ImportedRaster& raster) {
  const ImportRequest::Window whole{0, 0, raster.columns, raster.rows};
  if (!request.window)
    return raster.columns * raster.rows <= request.most_posts ? whole : ImportRequest::Window{};
  const ImportRequest::Window& w = *request.window;
  const bool inside = w.columns > 0 && w.rows > 0 && w.columns <= raster.columns && w.rows <= raster.rows &&
                      w.column <= raster.columns - w.columns && w.row <= raster.rows - w.rows;
  constexpr std::uint64_t kMostAtOnce = std::uint64_t{1} << 26;
  if (!inside || w.columns > kMostAtOnce / w.rows)
    fail(request.path, "was to be read in a window that it does not have",
         "the file changed meanwhile; try again");
  return w;
}

ImportedRaster described_and_read(const RasterSource& source, const ImportRequest& request,
                                  const Listener& said) {
  const std::string& path = request.path;
  const GDALDatasetUniquePtr set = opened(source, path, said);
  ImportedRaster out;
  check_files(*set, source, path, out.files);
  refuse_several(*set, path);
  GDALRasterBand& band = only_band(*set, path);
  check_band(band, path);
  out.from_file = source.from_file;
  out.columns = static_cast<std::uint64_t>(band.GetXSize());
  out.rows = static_cast<std::uint64_t>(band.GetYSize());
  out.format = format_text(*set, band);
  const OGRSpatialReference* const srs = set->GetSpatialRef();
  std::optional<NetcdfPlan> coordinates;
  if (is_netcdf(source.file)) coordinates = coordinates_of(*set, band, path);
  const Layout layout = place_posts(*set, path, out);
  describe_plan(*set, srs, path, out);
  if (coordinates) add_coordinates(*coordinates, path, out);
  describe_heights(band, srs, source.unit, path, out);
  const Scale scale = scale_of(band, path, out);
  const std::optional<double> nodata = nodata_of(band, out);
  check_envi_length(*set, band, std::string(set->GetDescription()), path);
  if (!request.window) check_byte_order(*set, band, nodata, path);
  out.window = window_of(request, out);
  if (out.window.columns > 0)
    out.heights = HeightReader(band, out.window, layout, scale, nodata, path, said).read(out.notes);
  for (const std::string& warning : said.warnings()) out.notes.push_back("GDAL warns: " + warning);
  return out;
}

}  // namespace

ImportedRaster read_raster(const ImportRequest& request) {
  const Listener said;
  const RasterSource source = raster_source(request.path);
  check_whole(source.file);
  set_up_library();
  return described_and_read(source, request, said);
}

}  // namespace rimstance
