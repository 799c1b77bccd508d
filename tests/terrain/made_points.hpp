#pragma once
// Point clouds made in memory: LAS files of every version and point format, and text.
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "rimstance/base/frames.hpp"
#include "rimstance/base/random.hpp"

namespace made {

using rimstance::Vec2;
using rimstance::Vec3;

inline void little(std::string& out, std::uint64_t value, std::size_t size) {
  for (std::size_t k = 0; k < size; ++k) out += static_cast<char>(value >> (8 * k) & 255);
}
inline void little(std::string& out, double value) { little(out, std::bit_cast<std::uint64_t>(value), 8); }

inline void set(std::string& bytes, std::size_t at, std::uint64_t value, std::size_t size) {
  for (std::size_t k = 0; k < size; ++k) bytes[at + k] = static_cast<char>(value >> (8 * k) & 255);
}

/// One variable length record.
struct Record {
  std::string user = "LASF_Projection";
  int id = 0;
  std::string content;
};

/// Directory of GeoTIFF keys (key, value), all of them numbers in place.
inline Record geo_keys(const std::vector<std::pair<int, int>>& keys) {
  Record out{"LASF_Projection", 34735, {}};
  for (const int head : {1, 1, 0, static_cast<int>(keys.size())})
    little(out.content, static_cast<std::uint64_t>(head), 2);
  for (const auto& [key, value] : keys)
    for (const int number : {key, 0, 1, value}) little(out.content, static_cast<std::uint64_t>(number), 2);
  return out;
}

inline Record wkt(const std::string& text) { return {"LASF_Projection", 2112, text + '\0'}; }

/// Metres for positions and heights.
inline Record metres() { return geo_keys({{1024, 1}, {3076, 9001}, {4099, 9001}}); }

struct LasPoint {
  Vec3 at;
  int kind = 2;
  bool synthetic = false, withheld = false, overlap = false;
};

struct LasStyle {
  int minor = 2, format = 0;
  std::size_t surplus = 0;  ///< bytes after what the format has in each point
  Vec3 scale = Vec3::Constant(0.125), shift = Vec3::Zero();
  std::vector<Record> records = {metres()};
  std::vector<Record> late_records = {};  ///< LAS 1.4, after the points
};

inline std::size_t las_point_size(int format) {
  constexpr std::size_t kSizes[] = {20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67};  // ASPRS LAS 1.4 R15, 2.6
  return kSizes[format];
}

class LasWriter {
 public:
  LasWriter(const std::vector<LasPoint>& points, const LasStyle& style) : points_(points), style_(style) {}

  std::string write() {
    const std::size_t size = style_.minor == 4 ? 375 : style_.minor == 3 ? 235 : 227;
    for (const Record& r : style_.records) add(records_, r, 2);
    header(size);
    out_ += records_;
    for (const LasPoint& p : points_) point(p);
    if (style_.minor == 4 && !style_.late_records.empty()) {
      set(out_, 235, out_.size(), 8);
      set(out_, 243, style_.late_records.size(), 4);
      for (const Record& r : style_.late_records) add(out_, r, 8);
    }
    return std::move(out_);
  }

 private:
  static void text(std::string& out, std::string content, std::size_t size) {
    content.resize(size, '\0');
    out += content;
  }
  static void add(std::string& out, const Record& r, std::size_t length_size) {
    little(out, 0, 2);
    text(out, r.user, 16);
    little(out, static_cast<std::uint64_t>(r.id), 2);
    little(out, r.content.size(), length_size);
    text(out, "made for a test", 32);
    out += r.content;
  }
  std::size_t record_size() const { return las_point_size(style_.format) + style_.surplus; }
  std::int64_t raw(const LasPoint& p, int axis) const {
    return std::llround((p.at[axis] - style_.shift[axis]) / style_.scale[axis]);
  }

  void header(std::size_t size) {
    out_ = "LASF";
    little(out_, 0, 2);
    little(out_, style_.minor == 4 ? 16 : 0, 2);
    text(out_, "", 16);
    little(out_, 1, 1);
    little(out_, static_cast<std::uint64_t>(style_.minor), 1);
    text(out_, "made", 32);
    text(out_, "made for a test", 32);
    little(out_, 1, 2);
    little(out_, 2024, 2);
    little(out_, size, 2);
    little(out_, size + records_.size(), 4);
    little(out_, style_.records.size(), 4);
    little(out_, static_cast<std::uint64_t>(style_.format), 1);
    little(out_, record_size(), 2);
    little(out_, style_.format < 6 ? points_.size() : 0, 4);
    text(out_, "", 20);
    for (int k = 0; k < 3; ++k) little(out_, style_.scale[k]);
    for (int k = 0; k < 3; ++k) little(out_, style_.shift[k]);
    for (int k = 0; k < 3; ++k) {
      double lo = 1e300, hi = -1e300;
      for (const LasPoint& p : points_) {
        const double x = static_cast<double>(raw(p, k)) * style_.scale[k] + style_.shift[k];
        lo = std::min(lo, x), hi = std::max(hi, x);
      }
      little(out_, hi);
      little(out_, lo);
    }
    if (style_.minor >= 3) little(out_, 0, 8);
    if (style_.minor < 4) return;
    little(out_, 0, 8);
    little(out_, 0, 4);
    little(out_, points_.size(), 8);
    text(out_, "", 120);
  }

  void point(const LasPoint& p) {
    const std::size_t start = out_.size();
    for (int k = 0; k < 3; ++k) little(out_, static_cast<std::uint64_t>(raw(p, k)), 4);
    out_.resize(start + record_size(), '\x5a');  // what else a point has means nothing here
    const auto kind = static_cast<unsigned>(p.kind);
    if (style_.format < 6) {
      out_[start + 15] = static_cast<char>(kind | (p.synthetic ? 32U : 0U) | (p.withheld ? 128U : 0U));
    } else {
      out_[start + 15] =
          static_cast<char>((p.synthetic ? 1U : 0U) | (p.withheld ? 4U : 0U) | (p.overlap ? 8U : 0U) | 0x50U);
      out_[start + 16] = static_cast<char>(kind);
    }
  }

  const std::vector<LasPoint>& points_;
  const LasStyle& style_;
  std::string out_, records_;
};

inline std::string las(const std::vector<LasPoint>& points, const LasStyle& style = {}) {
  return LasWriter(points, style).write();
}

inline std::vector<LasPoint> of_class(const std::vector<Vec3>& points, int kind) {
  std::vector<LasPoint> out;
  for (const Vec3& p : points) out.push_back({p, kind});
  return out;
}

inline std::string xyz(const std::vector<Vec3>& points, const std::string& separator = " ",
                       const std::string& line_end = "\n") {
  std::string out;
  for (const Vec3& p : points)
    out += fmt::format("{}{}{}{}{}{}", p.x(), separator, p.y(), separator, p.z(), line_end);
  return out;
}

/// Points on a lattice of eighths, shaken so that hardly four lie on a circle, over a formula.
template <class Formula>
std::vector<Vec3> shaken(int n, double spacing, const Vec2& corner, Formula&& z) {
  std::vector<Vec3> out;
  std::uint64_t index = 0;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) {
      const auto eighths = [&] { return static_cast<double>(rimstance::random_bits(5, 9, index++) % 5) / 8; };
      const double dx = spacing * eighths() / 2, dy = spacing * eighths() / 2;
      const double x = i * spacing + dx, y = j * spacing + dy;
      out.emplace_back(corner.x() + x, corner.y() + y, z(x, y));
    }
  return out;
}

}  // namespace made
