#include "grid_checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "plausible.hpp"
#include "quantiles.hpp"

namespace rimstance {

namespace {

constexpr const char* kStateHoles = "declare NODATA_value in the header, or state terrain.hole_below";

/// `z` [m] was read as value * unit.
bool is_customary_mark(double z, double unit) {
  constexpr std::array kMarks = {-9999.0, -32768.0, -32767.0, -99999.0, 9999.0, 32767.0, 65535.0, -999.0};
  return std::any_of(kMarks.begin(), kMarks.end(), [&](double mark) { return mark * unit == z; });
}

/// "row 2, column 2 (line 7)": rows count from the north, as in the file.
std::string place_of(const GridFile& grid, std::size_t index) {
  const std::size_t row = grid.rows - 1 - index / grid.columns, column = index % grid.columns;
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

std::optional<Jump> find_jump(const GridFile& grid, double unit) {
  const auto between = [unit](double a, double b, double spacing) -> std::optional<Jump> {
    const double step = std::abs(a - b);
    if (!(step > kGreatestStepToMark && step > kSteepestStep * spacing)) return std::nullopt;
    const bool a_mark = is_customary_mark(a, unit), b_mark = is_customary_mark(b, unit);
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
        if (const auto jump = between(z[i - 1], z[i], grid.spacing.x() * unit)) return jump;
      if (row > 0)
        if (const auto jump = between(z[i - grid.columns], z[i], grid.spacing.y() * unit)) return jump;
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

void check_cells(const GridFile& grid, double unit, const std::string& file) {
  const Place place{file, 0, 0, {}};
  Places beyond;
  std::uint64_t known = 0;
  for_each_north_first(grid, [&](std::size_t i) {
    known += std::isfinite(grid.heights[i]);
    if (std::abs(grid.heights[i]) > kGreatestHeight) beyond.add(grid, i);
  });
  if (known == 0)
    throw InputError(place, "every cell is without data", "check NODATA_value and terrain.hole_below");
  if (beyond.count > 0)
    throw InputError(place,
                     fmt::format("{} cells lie more than 100 km from zero and look like missing data: {}",
                                 beyond.count, beyond.text),
                     kStateHoles);
  const std::optional<Jump> jump = find_jump(grid, unit);
  if (!jump) return;
  Places marks;
  for_each_north_first(grid, [&](std::size_t i) {
    const double z = grid.heights[i];
    if (std::abs(z - jump->mark) < std::abs(z - jump->ground)) marks.add(grid, i);
  });
  throw InputError(
      place,
      fmt::format("{} cells near the value {:.6g} m lie {:.6g} m from their neighbours and look like "
                  "missing data: {}",
                  marks.count, jump->mark, std::abs(jump->mark - jump->ground), marks.text),
      kStateHoles);
}

void grid_facts(const HeightGrid& grid, TerrainFacts& facts) {
  const double dx = grid.spacing.x(), dy = grid.spacing.y(), half = 0.5 * dx * dy;
  std::uint64_t facets = 0;
  double area = 0, steepest = 0;
  const auto visit = [&](auto&& sample) {
    facets = 0, area = 0, steepest = 0;
    const auto facet = [&](double east, double north) {  // rises [m] along the two legs
      const double tangent = std::sqrt(east * east / (dx * dx) + north * north / (dy * dy));
      if (!(tangent >= 0)) return;  // a corner without data
      const double size = half * std::sqrt(1 + tangent * tangent);
      ++facets;
      area += size;
      steepest = std::max(steepest, tangent);
      sample(static_cast<float>(std::min(tangent, 1e30)), size);
    };
    for (std::size_t row = 0; row + 1 < grid.rows; ++row) {
      const double* const south = grid.heights.data() + row * grid.columns;
      const double* const north = south + grid.columns;
      for (std::size_t i = 0; i + 1 < grid.columns; ++i) {
        facet(south[i + 1] - south[i], north[i + 1] - south[i + 1]);
        facet(north[i + 1] - north[i], north[i] - south[i]);
      }
    }
  };
  const auto slopes = weighted_quantiles(std::array{0.5, 0.9, 0.99}, visit);
  facts.slope_p50 = std::atan(slopes[0]);
  facts.slope_p90 = std::atan(slopes[1]);
  facts.slope_p99 = std::atan(slopes[2]);
  facts.slope_max = facets > 0 ? std::atan(steepest) : kUnset;
  facts.triangles = facets;
  facts.surface_area = area;
  facts.plan_area = half * static_cast<double>(facets);
}

}  // namespace rimstance
