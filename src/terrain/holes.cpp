#include "rimstance/terrain/holes.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

/// The middle of a half cell, as shares of the cell: south-east and north-west of the diagonal.
const std::array<Vec2, 2> kHalves{Vec2(2.0 / 3, 1.0 / 3), Vec2(1.0 / 3, 2.0 / 3)};

struct Seen {
  Vec2 origin, cell;  // map coordinates
  std::ptrdiff_t columns = 0, rows = 0;
  std::vector<std::array<double, 2>> heights;  // map; NaN where nothing is

  std::size_t index(std::ptrdiff_t c, std::ptrdiff_t r) const {
    return static_cast<std::size_t>(r * columns + c);
  }
  bool missing(std::size_t k) const { return std::isnan(heights[k][0]) || std::isnan(heights[k][1]); }
  Vec2 corner(std::size_t k) const {
    const auto i = static_cast<std::ptrdiff_t>(k);
    return origin +
           cell.cwiseProduct(Vec2(static_cast<double>(i % columns), static_cast<double>(i / columns)));
  }
};

Seen look(const Terrain& terrain, const Box2& extent, const Vec2& asked, double most) {
  const Vec2 size = extent.hi - extent.lo;
  Vec2 cell = asked;
  const double cells = size.x() / cell.x() * (size.y() / cell.y());
  if (cells > most) cell *= std::sqrt(cells / most);
  const auto count = [&](int k) { return std::clamp(std::round(size[k] / cell[k]), 1.0, most); };
  Seen s;
  s.columns = static_cast<std::ptrdiff_t>(count(0));
  s.rows = static_cast<std::ptrdiff_t>(std::min(count(1), std::max(1.0, 2 * most / count(0))));
  s.cell = {size.x() / static_cast<double>(s.columns), size.y() / static_cast<double>(s.rows)};
  s.origin = extent.lo + terrain.map_offset.head<2>();
  s.heights.resize(static_cast<std::size_t>(s.columns * s.rows));
  for (std::size_t k = 0; k < s.heights.size(); ++k)
    for (std::size_t half = 0; half < 2; ++half) {
      const Vec2 map = s.corner(k) + s.cell.cwiseProduct(kHalves[half]);
      const double z = height(terrain, map - terrain.map_offset.head<2>(), kInfinity);
      s.heights[k][half] = std::isfinite(z) ? z + terrain.map_offset.z() : kUnset;
    }
  return s;
}

/// Takes up what one cell says of its hole: missing halves as area, others as ground next to it.
void take(const Seen& s, std::size_t k, Hole& hole) {
  const Vec2 corner = s.corner(k);
  for (std::size_t half = 0; half < 2; ++half) {
    if (!std::isnan(s.heights[k][half])) {
      hole.lowest = std::fmin(hole.lowest, s.heights[k][half]);
      hole.highest = std::fmax(hole.highest, s.heights[k][half]);
      continue;
    }
    if (!(hole.area > 0)) hole.place = corner + s.cell.cwiseProduct(kHalves[half]);
    hole.area += s.cell.x() * s.cell.y() / 2;
  }
}

Hole grow(const Seen& s, std::size_t start, std::vector<bool>& taken) {
  Hole hole;
  hole.box = {s.corner(start), s.corner(start)};
  std::vector<std::size_t> front{start};
  taken[start] = true;
  while (!front.empty()) {
    const std::size_t k = front.back();
    front.pop_back();
    take(s, k, hole);
    const Vec2 corner = s.corner(k);
    hole.box.lo = hole.box.lo.cwiseMin(corner);
    hole.box.hi = hole.box.hi.cwiseMax(corner + s.cell);
    const auto c = static_cast<std::ptrdiff_t>(k) % s.columns, r = static_cast<std::ptrdiff_t>(k) / s.columns;
    for (const auto& [dc, dr] : {std::pair<int, int>{1, 0}, {-1, 0}, {0, 1}, {0, -1}}) {
      const std::ptrdiff_t nc = c + dc, nr = r + dr;
      if (nc < 0 || nr < 0 || nc >= s.columns || nr >= s.rows) {
        hole.at_border = true;
        continue;
      }
      const std::size_t next = s.index(nc, nr);
      if (!s.missing(next)) take(s, next, hole);
      if (taken[next] || !s.missing(next)) continue;
      taken[next] = true;
      front.push_back(next);
    }
  }
  return hole;
}

}  // namespace

HoleSurvey survey_holes(const Terrain& terrain, const Vec2& cell, std::size_t most, double most_cells) {
  expects(cell.x() > 0 && cell.y() > 0 && cell.allFinite(), "survey_holes: cell > 0");
  expects(most_cells >= 1 && most_cells <= kMostHoleCells, "survey_holes: 1 <= most_cells <= 2^20");
  HoleSurvey out;
  const Box2 extent = terrain.ground->extent();
  const Vec2 size = extent.hi - extent.lo;
  if (!(size.x() > 0 && size.y() > 0)) return out;
  const Seen s = look(terrain, extent, cell, most_cells);
  out.cell = s.cell;
  std::vector<bool> taken(s.heights.size(), false);
  for (std::size_t k = 0; k < taken.size(); ++k)
    if (s.missing(k) && !taken[k]) out.largest.push_back(grow(s, k, taken));
  out.count = out.largest.size();
  for (const Hole& hole : out.largest) out.area += hole.area;
  out.share = out.area / (size.x() * size.y());
  std::stable_sort(out.largest.begin(), out.largest.end(),
                   [](const Hole& a, const Hole& b) { return a.area > b.area; });
  out.largest.resize(std::min(most, out.largest.size()));
  return out;
}

}  // namespace rimstance
