#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstring>
#include <map>

#include "las_crs.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

std::uint32_t u16(std::string_view bytes, std::size_t at) {
  return static_cast<unsigned char>(bytes[at]) + 256U * static_cast<unsigned char>(bytes[at + 1]);
}

double f64(std::string_view bytes, std::size_t at) {
  std::uint64_t raw = 0;
  for (std::size_t k = 8; k-- > 0;) raw = raw << 8 | static_cast<unsigned char>(bytes[at + k]);
  return std::bit_cast<double>(raw);
}

// Numbers of keys and of units: GeoTIFF 1.0, section 6.
constexpr std::uint32_t kModel = 1024, kGeographic = 2048, kProjected = 3072, kPlanUnit = 3076,
                        kPlanUnitSize = 3077, kVertical = 4096, kHeightUnit = 4099, kUserDefined = 32767;

double metres_of(std::uint32_t code) {
  switch (code) {
    case 9001:
      return 1;
    case 9002:
      return 0.3048;
    case 9003:
      return 1200.0 / 3937;  // US survey foot
    case 9036:
      return 1000;
    default:
      return kUnset;
  }
}

class Keys {
 public:
  Keys(std::string_view directory, std::string_view doubles, const std::string& file)
      : doubles_(doubles), place_{file, 0, 0, {}} {
    if (directory.size() < 8 || u16(directory, 0) != 1)
      throw InputError(place_, "the directory of GeoTIFF keys has no header of version 1",
                       "write the file again");
    const std::uint32_t count = u16(directory, 6);
    if (8 + 8 * std::size_t{count} > directory.size())
      throw InputError(place_,
                       fmt::format("the directory of GeoTIFF keys announces {}, its {} bytes hold {}",
                                   counted(count, "key"), directory.size(), directory.size() / 8 - 1),
                       "write the file again");
    for (std::size_t k = 0; k < count; ++k) add(directory.substr(8 + 8 * k, 8));
  }

  /// The number of a key; 0: it is not there, or stands for "undefined".
  std::uint32_t number(std::uint32_t key) const {
    const auto it = numbers_.find(key);
    return it == numbers_.end() ? 0 : it->second;
  }
  double size(std::uint32_t key) const {
    const auto it = sizes_.find(key);
    return it == sizes_.end() ? kUnset : it->second;
  }

 private:
  void add(std::string_view entry) {
    const std::uint32_t key = u16(entry, 0), where = u16(entry, 2), value = u16(entry, 6);
    if (numbers_.contains(key) || sizes_.contains(key))
      throw InputError(place_, fmt::format("GeoTIFF key {} stands there twice", key), "write the file again");
    if (where == 0) {
      numbers_[key] = value;
    } else if (where == 34736) {
      if (8 * std::size_t{value} + 8 > doubles_.size())
        throw InputError(place_,
                         fmt::format("GeoTIFF key {} refers to double {}, the file has {}", key, value,
                                     doubles_.size() / 8),
                         "write the file again");
      sizes_[key] = f64(doubles_, 8 * std::size_t{value});
    }
  }

  std::string_view doubles_;
  Place place_;
  std::map<std::uint32_t, std::uint32_t> numbers_;
  std::map<std::uint32_t, double> sizes_;
};

double unit_of(const Keys& keys, std::uint32_t key, const char* what, std::vector<std::string>& notes) {
  const std::uint32_t code = keys.number(key);
  if (code == 0) return kUnset;
  if (code == kUserDefined && key == kPlanUnit) {
    const double size = keys.size(kPlanUnitSize);
    if (size > 0 && std::isfinite(size)) return size;
  }
  const double metres = metres_of(code);
  if (std::isnan(metres))
    notes.push_back(fmt::format("the unit of {} has the EPSG code {}, which is not known here", what, code));
  return metres;
}

std::string named(const Keys& keys, std::uint32_t key) {
  const std::uint32_t code = keys.number(key);
  return code == 0 || code == kUserDefined ? std::string() : fmt::format("EPSG {}", code);
}

}  // namespace

CrsFacts crs_from_geo_keys(std::string_view directory, std::string_view doubles, const std::string& file) {
  const Keys keys(directory, doubles, file);
  CrsFacts out;
  const std::uint32_t model = keys.number(kModel);
  if (model >= 1 && model <= 3)
    out.kind = model == 1   ? CrsFacts::Kind::projected
               : model == 2 ? CrsFacts::Kind::geographic
                            : CrsFacts::Kind::geocentric;
  out.name = named(keys, out.kind == CrsFacts::Kind::geographic ? kGeographic : kProjected);
  if (const std::string vertical = named(keys, kVertical); !vertical.empty())
    out.name += (out.name.empty() ? "heights " : " + ") + vertical;
  out.plan_unit = unit_of(keys, kPlanUnit, "positions", out.notes);
  out.height_unit = unit_of(keys, kHeightUnit, "heights", out.notes);
  return out;
}

}  // namespace rimstance
