#include <algorithm>
#include <cmath>
#include <limits>

#include "disc.hpp"

namespace rimstance::disc {
namespace {

/// Overlaps thinner than this (in disc radii) are rounding.
constexpr double kThin = 1e-12;
/// A side shorter than this (in disc radii) has rounding for a direction.
constexpr double kShort = 1e-7;
/// Sheets whose heights differ by less [m] all over their common part coincide.
constexpr double kSameHeight = 1e-10;

using Polygon = List<Corner>;

/// Keeps the part of the polygon where `value` at its corners, linear between, is >= 0.
template <class Value>
void keep(Polygon& polygon, Polygon& spare, const Value& value) {
  spare.clear();
  for (std::size_t k = 0; k < polygon.size(); ++k) {
    const Corner &a = polygon[k], &b = polygon[k + 1 == polygon.size() ? 0 : k + 1];
    const double u = value(a), v = value(b);
    if (u >= 0) spare.push_back(a);
    if ((u < 0 && v > 0) || (u > 0 && v < 0)) {
      const double t = u / (u - v);
      spare.push_back({a.p + t * (b.p - a.p), a.z + t * (b.z - a.z)});
    }
  }
  std::swap(polygon, spare);
}

/// Is there a side of `a` with all of `b` outside it? Sides too short to have a direction do not tell.
bool parted_by_side(const Polygon& a, const Polygon& b) {
  for (std::size_t k = 0; k < a.size(); ++k) {
    const Vec2 &p = a[k].p, along = a[k + 1 == a.size() ? 0 : k + 1].p - p;
    const double length = along.norm();
    if (length < kShort) continue;
    if (std::all_of(b.begin(), b.end(),
                    [&](const Corner& c) { return cross2(along, c.p - p) <= kThin * length; }))
      return true;
  }
  return false;
}

bool overlap(const Polygon& a, const Polygon& b) {
  return a.size() >= 3 && b.size() >= 3 && !parted_by_side(a, b) && !parted_by_side(b, a);
}

/// Is what is left of a cut no wider than rounding makes it? Cutting that further never ends.
bool is_thin(const Polygon& a) {
  constexpr double kRounding = 8 * std::numeric_limits<double>::epsilon();
  double twice_area = 0, longest = 0;
  for (std::size_t k = 1; k < a.size(); ++k) {
    const Vec2 from_first = a[k].p - a[0].p;
    longest = std::max({longest, from_first.norm(), (a[k].p - a[k - 1].p).norm()});
    if (k + 1 < a.size()) twice_area += cross2(from_first, a[k + 1].p - a[0].p);
  }
  return !(twice_area > (kThin + kRounding * longest) * longest);
}

/// Twice the area of the triangle from side k of the sheet to p; > 0 inside.
double inside_of(const Sheet& s, std::size_t k, const Vec2& p) {
  const Vec2& a = s.corners[k].p;
  return cross2(s.corners[k + 1 == s.count ? 0 : k + 1].p - a, p - a);
}

/// How far sheet `j` is above sheet `i`; exactly the negative of the reverse.
double above(const List<Sheet>& sheets, std::size_t j, std::size_t i, const Vec2& p) {
  return sheets[j].plane.at(p) - sheets[i].plane.at(p);
}

/// Where one sheet hides another: within its own sides and, unless the two coincide, where it is higher.
struct Cover {
  bool hides = false, coincide = false;
  Polygon outline;
};

void set_cover(const List<Sheet>& sheets, std::size_t i, std::size_t j, Cover& cover, Polygon& spare) {
  const Sheet &lower = sheets[i], &upper = sheets[j];
  const auto corners = [](const Sheet& s) {
    return s.corners.begin() + static_cast<std::ptrdiff_t>(s.count);
  };
  Polygon& common = cover.outline;
  common.assign(upper.corners.begin(), corners(upper));
  for (std::size_t k = 0; k < lower.count; ++k)
    keep(common, spare, [&](const Corner& c) { return inside_of(lower, k, c.p); });
  cover.coincide = std::all_of(common.begin(), common.end(), [&](const Corner& c) {
    return std::abs(above(sheets, j, i, c.p)) <= kSameHeight;
  });
  cover.hides = common.size() >= 3 && (!cover.coincide || j < i);
  if (!cover.hides || cover.coincide) return;
  keep(common, spare, [&](const Corner& c) { return above(sheets, j, i, c.p); });
  cover.hides = common.size() >= 3;
}

/// Takes what sheet j covers out of the convex fragments of sheet i. They are cut along the lines of the
/// sheets themselves, never along a side that an earlier cut left short.
void subtract(const List<Sheet>& sheets, std::size_t i, std::size_t j, const Cover& cover,
              List<Polygon>& fragments, List<Polygon>& result, Polygon& spare) {
  result.clear();
  for (Polygon& fragment : fragments) {
    if (!overlap(fragment, cover.outline)) {
      result.push_back(std::move(fragment));
      continue;
    }
    const auto cut = [&](const auto& value) {
      if (fragment.size() < 3) return;
      Polygon beyond(fragment, fragment.get_allocator());
      keep(beyond, spare, [&](const Corner& c) { return -value(c); });
      if (beyond.size() >= 3 && !is_thin(beyond)) result.push_back(std::move(beyond));
      keep(fragment, spare, value);
    };
    for (std::size_t k = 0; k < sheets[j].count; ++k)
      cut([&](const Corner& c) { return inside_of(sheets[j], k, c.p); });
    if (!cover.coincide) cut([&](const Corner& c) { return above(sheets, j, i, c.p); });
  }
  std::swap(fragments, result);
}

bool boxes_meet(const Sheet& a, const Sheet& b) {
  const auto range = [](const Sheet& s, Eigen::Index axis) {
    double lo = kInfinity, hi = -kInfinity;
    for (std::size_t k = 0; k < s.count; ++k)
      lo = std::min(lo, s.corners[k].p[axis]), hi = std::max(hi, s.corners[k].p[axis]);
    return std::pair(lo, hi);
  };
  for (const Eigen::Index axis : {0, 1}) {
    const auto [alo, ahi] = range(a, axis);
    const auto [blo, bhi] = range(b, axis);
    if (ahi < blo || bhi < alo) return false;
  }
  return true;
}

}  // namespace

void envelope(const List<Sheet>& sheets, List<Node>& nodes, List<Piece>& pieces) {
  auto* const memory = nodes.get_allocator().resource();
  Polygon spare(memory);
  Cover cover{false, false, Polygon(memory)};
  List<Polygon> fragments(memory), result(memory);
  for (std::size_t i = 0; i < sheets.size(); ++i) {
    const Sheet& sheet = sheets[i];
    fragments.clear();
    fragments.emplace_back(sheet.corners.begin(),
                           sheet.corners.begin() + static_cast<std::ptrdiff_t>(sheet.count));
    for (std::size_t j = 0; j < sheets.size() && !fragments.empty(); ++j) {
      if (j == i || sheets[j].hi < sheet.lo || !boxes_meet(sheet, sheets[j])) continue;
      set_cover(sheets, i, j, cover, spare);
      if (cover.hides) subtract(sheets, i, j, cover, fragments, result, spare);
    }
    for (const Polygon& f : fragments) {
      const std::size_t first = nodes.size();
      const Cut cut = clip(f.data(), f.size(), nodes);
      if (cut == Cut::nothing) continue;
      const Moments m =
          cut == Cut::whole ? whole_disc() : moments(nodes.data() + first, nodes.data() + nodes.size());
      pieces.push_back({sheet.plane, m, first, nodes.size()});
    }
  }
}

}  // namespace rimstance::disc
