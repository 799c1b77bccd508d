#include <fmt/format.h>

#include <array>
#include <bit>
#include <cmath>
#include <optional>

#include "las_crs.hpp"
#include "placing.hpp"
#include "readers.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"

// ASPRS LAS specification, versions 1.2 (2008), 1.3 (2010) and 1.4 R15 (2019). All numbers are little-endian.

namespace rimstance {

namespace {

/// Unsigned number of `size` bytes.
std::uint64_t number(const char* p, std::size_t size) {
  std::uint64_t out = 0;
  for (std::size_t k = size; k-- > 0;) out = out << 8 | static_cast<unsigned char>(p[k]);
  return out;
}

struct Header {
  int minor = 0, format = 0;
  std::uint64_t encoding = 0, size = 0, offset = 0, records = 0, record_size = 0, points = 0;
  std::uint64_t waveforms = 0, late_records_at = 0, late_records = 0;
  Vec3 scale = Vec3::Zero(), shift = Vec3::Zero();
  Bounds bounds;
};

/// Bytes of a point of format 0 to 10, without what a writer may add.
constexpr std::array<std::uint64_t, 11> kPointSizes = {20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67};

constexpr const char* kAgain = "get the file again whole, or write it again";

class LasReader {
 public:
  LasReader(std::string_view bytes, const std::string& file, std::uint64_t greatest)
      : bytes_(bytes), file_(file), greatest_(greatest) {}

  PointFile read() {
    read_version();
    read_header();
    check_format();
    read_records();
    check_extent();
    check_greatest(header_.points, greatest_, file_);
    read_late_records();
    settle_crs();
    read_points();
    check_bounds();
    add_notes();
    out_.format = fmt::format("LAS 1.{}, point format {}", header_.minor, header_.format);
    return std::move(out_);
  }

 private:
  [[noreturn]] void fail(std::string what, std::string way_out = kAgain) const {
    throw InputError(Place{file_, 0, 0, {}}, std::move(what), std::move(way_out));
  }
  std::uint64_t at(std::size_t offset, std::size_t size) const {
    return number(bytes_.data() + offset, size);
  }
  double real(std::size_t offset) const { return std::bit_cast<double>(at(offset, 8)); }

  void read_version() {
    if (bytes_.size() < 227)
      fail(fmt::format("the file has {}, a LAS header has at least 227", counted(bytes_.size(), "byte")));
    const auto major = at(24, 1), minor = at(25, 1);
    if (major != 1 || minor < 2 || minor > 4)
      fail(fmt::format("is LAS version {}.{}; versions 1.2, 1.3 and 1.4 are read", major, minor),
           "convert it to LAS 1.4");
    header_.minor = static_cast<int>(minor);
    header_.size = at(94, 2);
    const std::uint64_t least = minor == 4 ? 375 : minor == 3 ? 235 : 227;
    if (header_.size < least || header_.size > bytes_.size())
      fail(fmt::format("the header says it has {}; one of LAS 1.{} has at least {}, the file {}",
                       counted(header_.size, "byte"), minor, least, bytes_.size()));
  }

  void read_header() {
    Header& h = header_;
    h.encoding = at(6, 2);
    h.offset = at(96, 4);
    h.records = at(100, 4);
    h.format = static_cast<int>(at(104, 1));
    h.record_size = at(105, 2);
    h.points = at(107, 4);
    for (int axis = 0; axis < 3; ++axis) {
      const auto k = static_cast<std::size_t>(axis);
      h.scale[axis] = real(131 + 8 * k);
      h.shift[axis] = real(155 + 8 * k);
      h.bounds.hi[axis] = real(179 + 16 * k);
      h.bounds.lo[axis] = real(187 + 16 * k);
    }
    if (h.minor >= 3) h.waveforms = at(227, 8);
    if (h.minor < 4) return;
    h.late_records_at = at(235, 8);
    h.late_records = at(243, 4);
    const std::uint64_t points = at(247, 8);
    if (h.points != 0 && h.points != points)
      fail(fmt::format("the header counts {} points in one place and {} in another", h.points, points));
    h.points = points;
  }

  void check_format() {
    const Header& h = header_;
    if (h.format & 0x80 || h.format & 0x40) refuse_packed();
    const int most = h.minor == 2 ? 3 : h.minor == 3 ? 5 : 10;
    if (h.format > most)
      fail(fmt::format("has point format {}; LAS 1.{} has formats 0 to {}", h.format, h.minor, most));
    const std::uint64_t least = kPointSizes[static_cast<std::size_t>(h.format)];
    if (h.record_size < least)
      fail(fmt::format("points have {} each, those of format {} have at least {}",
                       counted(h.record_size, "byte"), h.format, least));
    for (int axis = 0; axis < 3; ++axis)
      if (!(h.scale[axis] > 0) || !std::isfinite(h.scale[axis]) || !std::isfinite(h.shift[axis]))
        fail(
            fmt::format("the scale of {} is {} and its offset {}; a scale above 0 and a finite offset are "
                        "needed",
                        "xyz"[axis], shown(h.scale[axis]), shown(h.shift[axis])));
    if (h.points == 0) fail("holds no points", "give a file with points");
  }
  static std::string shown(double x) { return std::isfinite(x) ? shortest(x) : "not finite"; }
  [[noreturn]] void refuse_packed() const {
    fail("is a compressed point cloud (LAZ), which is not read", "decompress it to LAS with a general tool");
  }

  void check_extent() {
    const Header& h = header_;
    const std::uint64_t left = bytes_.size() - h.offset;
    if (h.points > left / h.record_size)
      fail(fmt::format("expected {} of {} bytes, found {}: {} left after byte {}", counted(h.points, "point"),
                       h.record_size, left / h.record_size, counted(left, "byte is", "bytes are"), h.offset));
    end_ = h.offset + h.points * h.record_size;
    const std::uint64_t more = bytes_.size() - end_;
    const bool explained = (h.waveforms != 0 && h.waveforms >= end_) || h.late_records > 0;
    if (more >= h.record_size && !explained)
      fail(fmt::format("{} left after the {} that the header counts, room for {} more",
                       counted(more, "byte is", "bytes are"), counted(h.points, "point"),
                       more / h.record_size));
    if (more > 0 && !explained)
      out_.notes.push_back(counted(more, "byte after the last point was left out",
                                   "bytes after the last point were left out"));
  }

  // ---- records of other things

  void read_records() {
    const Header& h = header_;
    if (h.offset < h.size || h.offset > bytes_.size())
      fail(fmt::format("points are said to begin at byte {}; the header has {} bytes and the file {}",
                       h.offset, h.size, bytes_.size()));
    std::uint64_t start = h.size;
    for (std::uint64_t i = 0; i < h.records; ++i) {
      const std::uint64_t left = h.offset - start;
      const std::uint64_t size = left < 54 ? 0 : at(start + 20, 2);
      if (left < 54 || size > left - 54)
        fail(
            fmt::format("the header announces {} variable length records, number {} does not fit before the "
                        "points",
                        h.records, i + 1));
      take_record(start + 2, start + 18, bytes_.substr(start + 54, size));
      start += 54 + size;
    }
  }

  void read_late_records() {
    const Header& h = header_;
    if (h.late_records == 0) return;
    if (h.late_records_at < end_ || h.late_records_at > bytes_.size())
      fail(fmt::format("extended records are said to begin at byte {}; points end at byte {}, the file at {}",
                       h.late_records_at, end_, bytes_.size()));
    std::uint64_t start = h.late_records_at;
    for (std::uint64_t i = 0; i < h.late_records; ++i) {
      const std::uint64_t left = bytes_.size() - start;
      const std::uint64_t size = left < 60 ? 0 : at(start + 20, 8);
      if (left < 60 || size > left - 60)
        fail(fmt::format("the header announces {}, number {} does not fit into the file",
                         counted(h.late_records, "extended record"), i + 1));
      take_record(start + 2, start + 18, bytes_.substr(start + 60, size));
      start += 60 + size;
    }
  }

  void take_record(std::size_t user_at, std::size_t id_at, std::string_view content) {
    std::string_view user = bytes_.substr(user_at, 16);
    user = user.substr(0, user.find('\0'));
    const std::uint64_t id = at(id_at, 2);
    if (user == "laszip encoded") refuse_packed();
    if (user != "LASF_Projection") return;
    std::optional<std::string_view>* const place = id == 34735   ? &keys_
                                                   : id == 34736 ? &doubles_
                                                   : id == 2112  ? &wkt_
                                                                 : nullptr;
    if (!place) return;
    if (*place) fail(fmt::format("has two records {} of its coordinate system", id));
    *place = content;
  }

  void settle_crs() {
    CrsFacts crs, keys;
    if (wkt_) crs = crs_from_wkt(*wkt_, file_);
    if (keys_) keys = crs_from_geo_keys(*keys_, doubles_.value_or(std::string_view()), file_);
    require_same(crs.plan_unit, keys.plan_unit, "positions");
    require_same(crs.height_unit, keys.height_unit, "heights");
    if (crs.kind == CrsFacts::Kind::unknown && crs.name.empty()) crs = keys;
    if (std::isnan(crs.plan_unit)) crs.plan_unit = keys.plan_unit;
    if (std::isnan(crs.height_unit)) crs.height_unit = keys.height_unit;
    if (crs.kind == CrsFacts::Kind::geographic || keys.kind == CrsFacts::Kind::geographic)
      fail(fmt::format("positions are degrees of longitude and latitude{}, which are no lengths",
                       crs.name.empty() ? "" : " (" + crs.name + ")"),
           "project the points to metres with a general tool");
    if (crs.kind == CrsFacts::Kind::geocentric || keys.kind == CrsFacts::Kind::geocentric)
      fail("positions are measured from the centre of a body: no axis points up",
           "project the points to a map with a general tool");
    if (crs.depths) fail("heights are depths, counted downwards", "convert them to heights");
    out_.crs = crs.name;
    out_.plan_unit = crs.plan_unit;
    out_.height_unit = crs.height_unit;
    for (std::string& note : crs.notes) out_.notes.push_back(std::move(note));
  }
  void require_same(double a, double b, const char* what) const {
    if (std::isnan(a) || std::isnan(b) || std::abs(a - b) <= 1e-9 * b) return;
    fail(fmt::format(
             "the coordinate system is stated twice: {} have the unit {} m in one and {} m in the other",
             what, shortest(a), shortest(b)),
         "remove the wrong one");
  }

  // ---- points

  void read_points() {
    const Header& h = header_;
    const bool late = h.format >= 6;
    out_.points.reserve(h.points);
    out_.classes.reserve(h.points);
    for (std::uint64_t i = 0; i < h.points; ++i) {
      const char* const p = bytes_.data() + h.offset + i * h.record_size;
      const auto flags = number(p + 15, 1);
      const std::uint64_t kind = late ? number(p + 16, 1) : flags & 31;
      const bool synthetic = late ? flags & 1 : flags & 32, withheld = late ? flags & 4 : flags & 128;
      withheld_ += withheld;
      if (withheld) continue;
      synthetic_ += synthetic;
      overlapping_ += late && (flags & 8);
      Vec3 place;
      for (int axis = 0; axis < 3; ++axis) {
        const auto raw = static_cast<std::int32_t>(number(p + 4 * axis, 4));
        place[axis] = raw * h.scale[axis] + h.shift[axis];
        if (!std::isfinite(place[axis])) fail(fmt::format("point {} is not finite", i + 1));
      }
      seen_.add(place);
      out_.points.push_back(place);
      out_.classes.push_back(static_cast<std::uint8_t>(kind));
    }
    if (out_.points.empty())
      fail(h.points == 1 ? std::string("its one point is marked as withheld")
                         : fmt::format("all {} points are marked as withheld", h.points),
           "give a file with points that hold");
  }

  void check_bounds() {
    if (withheld_ > 0) return;  // the header may or may not count them
    const Header& h = header_;
    for (int axis = 0; axis < 3; ++axis) {
      const double slack = h.scale[axis] + 1e-12 * seen_.hi.cwiseAbs().cwiseMax(seen_.lo.cwiseAbs())[axis];
      const double lo = h.bounds.lo[axis], hi = h.bounds.hi[axis];
      if (std::abs(lo - seen_.lo[axis]) <= slack && std::abs(hi - seen_.hi[axis]) <= slack) continue;
      out_.notes.push_back(
          fmt::format("the header says that {} runs from {:.10g} to {:.10g}, the points run from {:.10g} to "
                      "{:.10g}; the points were taken",
                      "xyz"[axis], lo, hi, seen_.lo[axis], seen_.hi[axis]));
    }
  }

  void add_notes() {
    const auto note = [&](std::uint64_t count, const char* what) {
      if (count > 0)
        out_.notes.push_back(counted(count, "point is marked as ", "points are marked as ") + what);
    };
    note(withheld_, "withheld and left out");
    note(synthetic_, "synthetic, not measured, and kept");
    note(overlapping_, "overlap of flight lines and kept");
  }

  std::string_view bytes_;
  const std::string& file_;
  std::uint64_t greatest_;
  Header header_;
  std::uint64_t end_ = 0, withheld_ = 0, synthetic_ = 0, overlapping_ = 0;
  Bounds seen_;
  std::optional<std::string_view> keys_, doubles_, wkt_;
  PointFile out_;
};

}  // namespace

PointFile read_las(std::string_view bytes, const std::string& file, std::uint64_t greatest_points) {
  return LasReader(bytes, file, greatest_points).read();
}

}  // namespace rimstance
