#include "grid_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "grid_facets.hpp"
#include "plausible.hpp"
#include "quantiles.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

constexpr const char* kStateHoles =
    "declare the value as missing data in the file (NODATA_value of an ASCII grid, gdal_translate -a_nodata "
    "for "
    "others), or state terrain.hole_below";

/// `z` [m] was read as value * unit.
bool is_customary_mark(double z, double unit) {
  constexpr std::array kMarks = {-9999.0, -32768.0, -32767.0, -99999.0, 9999.0, 32767.0, 65535.0, -999.0};
  return std::any_of(kMarks.begin(), kMarks.end(), [&](double mark) { return mark * unit == z; });
}

/// "row 2, column 2 (line 7)": rows count from the north, as in the file.
std::string place_of(const GridFile& grid, std::size_t index) {
  const std::size_t row = grid.north_row + (grid.rows - 1 - index / grid.columns);
  const std::size_t column = grid.west_column + index % grid.columns;
  std::string text = fmt::format("row {}, column {}", row + 1, column + 1);
  if (grid.first_line > 0) text += fmt::format(" (line {})", static_cast<std::size_t>(grid.first_line) + row);
  return text;
}

/// The first few places, northern row first, and how many there are.
struct Places {
  std::uint64_t count = 0;
  std::string text;
  void add(const GridFile& grid, std::size_t index) {
    constexpr std::uint64_t kNamed = 5;
    if (++count <= kNamed) text += (text.empty() ? "" : "; ") + place_of(grid, index);
    if (count == kNamed + 1) text += "; ...";
  }
};

template <class Use>
void for_each_north_first(const GridFile& grid, Use&& use) {
  for (std::size_t row = grid.rows; row-- > 0;)
    for (std::size_t column = 0; column < grid.columns; ++column) use(row * grid.columns + column);
}

/// Two neighbours between which no ground is known to be; the first is the one more likely to be a mark.
struct Jump {
  double mark, ground;
};

std::optional<Jump> find_jump(const GridFile& grid, double height_unit) {
  const auto between = [height_unit](double a, double b, double spacing) -> std::optional<Jump> {
    const double step = std::abs(a - b);
    if (!(step > kGreatestStepToMark && step > kSteepestStep * spacing)) return std::nullopt;
    const bool a_mark = is_customary_mark(a, height_unit), b_mark = is_customary_mark(b, height_unit);
    const double allowed = a_mark || b_mark ? kGreatestStepToMark : kGreatestStep;
    if (!(step > allowed)) return std::nullopt;
    const bool a_is_it = a_mark != b_mark ? a_mark : a < b;
    return a_is_it ? Jump{a, b} : Jump{b, a};
  };
  const std::vector<double>& z = grid.heights;
  for (std::size_t row = 0; row < grid.rows; ++row)
    for (std::size_t column = 0; column < grid.columns; ++column) {
      const std::size_t i = row * grid.columns + column;
      if (column > 0)
        if (const auto jump = between(z[i - 1], z[i], grid.spacing.x())) return jump;
      if (row > 0)
        if (const auto jump = between(z[i - grid.columns], z[i], grid.spacing.y())) return jump;
    }
  return std::nullopt;
}

}  // namespace

void check_degrees(const GridFile& grid, const std::string& file) {
  const Vec2 span = grid.spacing.cwiseProduct(Vec2(grid.columns - 1.0, grid.rows - 1.0));
  const Vec2 last = grid.first + span;
  const bool on_globe = std::abs(grid.first.x()) <= 360 && std::abs(last.x()) <= 360 &&
                        std::abs(grid.first.y()) <= 90 && std::abs(last.y()) <= 90;
  if (!on_globe || !(grid.spacing.maxCoeff() < 0.1)) return;
  double low = kInfinity, high = -kInfinity;
  for (const double z : grid.heights)
    if (std::isfinite(z)) low = std::min(low, z), high = std::max(high, z);
  const bool far_too_steep = high - low > span.norm();
  const double seconds = grid.spacing.x() * 3600, tenths_of_mm = grid.spacing.x() * 1e4;
  const bool arc = std::abs(3 * seconds - std::round(3 * seconds)) < 1e-3 && std::round(3 * seconds) > 0 &&
                   std::abs(tenths_of_mm - std::round(tenths_of_mm)) > 1e-6;
  if (!far_too_steep && !arc) return;
  throw InputError(
      Place{file, 0, 0, {}},
      fmt::format("the cell size {} looks like degrees: the posts span {:.6g} x {:.6g} units around "
                  "({:.6g}, {:.6g}), the heights {:.6g}",
                  grid.spacing.x(), span.x(), span.y(), grid.first.x(), grid.first.y(),
                  std::max(high - low, 0.0)),
      "project the grid to metres first; longitude and latitude are not lengths");
}

void check_known(const GridFile& grid, const std::string& file) {
  const auto& z = grid.heights;
  if (std::none_of(z.begin(), z.end(), [](double height) { return std::isfinite(height); }))
    throw InputError(Place{file, 0, 0, {}}, "every cell is without data",
                     "check NODATA_value and terrain.hole_below");
}

void check_cells(const GridFile& grid, double height_unit, const std::string& file) {
  const Place place{file, 0, 0, {}};
  Places beyond;
  for_each_north_first(grid, [&](std::size_t i) {
    if (std::abs(grid.heights[i]) > kGreatestHeight) beyond.add(grid, i);
  });
  if (beyond.count > 0)
    throw InputError(place,
                     fmt::format("{} like missing data: {}",
                                 counted(beyond.count, "cell lies more than 100 km from zero and looks",
                                         "cells lie more than 100 km from zero and look"),
                                 beyond.text),
                     kStateHoles);
  const std::optional<Jump> jump = find_jump(grid, height_unit);
  if (!jump) return;
  Places marks;
  for_each_north_first(grid, [&](std::size_t i) {
    const double z = grid.heights[i];
    if (std::abs(z - jump->mark) < std::abs(z - jump->ground)) marks.add(grid, i);
  });
  throw InputError(
      place,
      fmt::format("{} near the value {:.6g} m {} {:.6g} m from {} like missing data: {}",
                  counted(marks.count, "cell"), jump->mark, marks.count == 1 ? "lies" : "lie",
                  std::abs(jump->mark - jump->ground),
                  marks.count == 1 ? "its neighbours and looks" : "their neighbours and look", marks.text),
      kStateHoles);
}

void grid_facts(const GridFile& grid, TerrainFacts& facts) {
  struct Half {
    std::uint64_t facets = 0;
    double area = 0, steepest = 0;  // squared tangent
    bool counted = false;
  };
  const double half_cell = 0.5 * grid.spacing.x() * grid.spacing.y();
  std::array<Half, 2> halves;
  const auto visit = [&](std::size_t part, auto&& sample) {
    Half sum;
    const bool counted = halves[part].counted;
    const std::size_t middle = grid.rows / 2, last = grid.rows - 1;
    for_each_grid_facet(grid, part == 0 ? 0 : middle, part == 0 ? middle : last, [&](double tangent2) {
      const auto key = static_cast<float>(std::min(tangent2, 1e38));
      if (counted) return sample(key, [=] { return half_cell * std::sqrt(1 + tangent2); });
      const double size = half_cell * std::sqrt(1 + tangent2);
      ++sum.facets;
      sum.area += size;
      sum.steepest = std::max(sum.steepest, tangent2);
      sample(key, [size] { return size; });
    });
    if (!counted) halves[part] = {sum.facets, sum.area, sum.steepest, true};
  };
  const auto beside = grid.heights.size() > 50'000 ? std::launch::async : std::launch::deferred;
  const auto slopes = weighted_quantiles(std::array{0.5, 0.9, 0.99}, 2 * grid.heights.size(), beside, visit);
  const auto slope = [](double tangent2) { return std::atan(std::sqrt(tangent2)); };
  facts.slope_p50 = slope(slopes[0]);
  facts.slope_p90 = slope(slopes[1]);
  facts.slope_p99 = slope(slopes[2]);
  facts.triangles = halves[0].facets + halves[1].facets;
  facts.slope_max = facts.triangles > 0 ? slope(std::max(halves[0].steepest, halves[1].steepest)) : kUnset;
  facts.surface_area = halves[0].area + halves[1].area;
  facts.plan_area = half_cell * static_cast<double>(facts.triangles);
}

}  // namespace rimstance
