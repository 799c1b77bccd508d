#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <future>
#include <utility>

#include "grid_checks.hpp"
#include "grids.hpp"
#include "kinds.hpp"
#include "placing.hpp"
#include "plausible.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/terrain/ground.hpp"

namespace rimstance {

namespace {

/// US survey feet differ from feet by 2 parts in a million.
bool same_unit(double a, double b) { return std::abs(a - b) <= 5e-7 * b; }

std::string unit_name(double unit) { return unit == 1 ? "m" : shortest(unit) + " m"; }

Issue missing_part(const std::string& name, const char* part, double span) {
  return {Place{name, 0, 0, "terrain.unit"},
          std::isfinite(span)
              ? fmt::format("the file does not say the unit of its {}; they span {:.6g} of it", part, span)
              : fmt::format("the file does not say the unit of its {}", part),
          fmt::format("state terrain.unit, for instance m or ft; it is then the unit of the {} alone", part)};
}

}  // namespace

GridUnits grid_units(double plan_unit, double height_unit, const Vec3& span, const std::string& name,
                     const TerrainOptions& options) {
  const bool plan = plan_unit > 0, height = height_unit > 0;
  GridUnits units{plan_unit, height_unit, {}};
  if (plan && height) {
    const bool stated = options.unit && !options.unit_assumed;
    if (stated && !(same_unit(*options.unit, plan_unit) && same_unit(*options.unit, height_unit)))
      throw InputError(Place{name, 0, 0, "terrain.unit"},
                       fmt::format("is {}, but the file itself gives positions in {} and heights in {}",
                                   unit_name(*options.unit), unit_name(plan_unit), unit_name(height_unit)),
                       "leave terrain.unit out, or correct the file");
    return units;
  }
  if (!options.unit) {
    if (!plan && !height) throw InputError({missing_unit(name, span)});
    throw InputError({plan ? missing_part(name, "heights", span.z())
                           : missing_part(name, "positions", span.head<2>().maxCoeff())});
  }
  if (!plan) units.plan = *options.unit;
  if (!height) units.height = *options.unit;
  if (options.unit_assumed)
    units.assumed = unit_name(*options.unit) + (plan ? " (heights)" : height ? " (positions)" : "");
  return units;
}

void to_metres(GridFile& grid, const GridUnits& units) {
  grid.first *= units.plan;
  grid.last *= units.plan;
  grid.spacing *= units.plan;
  for (double& z : grid.heights) z *= units.height;
}

std::uint64_t cut_holes(GridFile& grid, double hole_below) {
  std::uint64_t holes = 0;
  for (double& z : grid.heights) {
    if (!(z >= hole_below)) z = kUnset;
    holes += std::isnan(z);
  }
  return holes;
}

Bounds grid_bounds(const GridFile& grid) {
  Bounds bounds;
  double low = kInfinity, high = -kInfinity;
  for (const double z : grid.heights)
    if (std::isfinite(z)) low = std::min(low, z), high = std::max(high, z);
  const Vec2 last =
      grid.last.allFinite()
          ? grid.last
          : Vec2(grid.first + grid.spacing.cwiseProduct(Vec2(grid.columns - 1.0, grid.rows - 1.0)));
  bounds.lo << grid.first, low;
  bounds.hi << last, high;
  return bounds;
}

void check_grid_place(const Bounds& bounds, const std::string& name) {
  if (bounds.lo.cwiseAbs().cwiseMax(bounds.hi.cwiseAbs()).maxCoeff() <= kGreatestPlan) return;
  throw InputError(Place{name, 0, 0, {}}, "the posts lie more than 1e9 m from the origin",
                   "check the header and terrain.unit");
}

namespace {

/// Facets of a grid have one plan area each, so this is a count. A grid cannot lie on its side: walls of a
/// deep pit are all that may outweigh its floor, while wrong units make all of it steep.
bool half_of_plan_is_flat(const GridFile& grid) {
  const double most = std::tan(kSteepestMedian) * std::tan(kSteepestMedian);
  const std::size_t row = grid.columns;
  std::uint64_t all = 0, flat = 0;
  const auto facet = [&](double along_x, double along_y) {  // rises over a post; NaN beside a hole
    const double tan2 = Vec2(along_x, along_y).cwiseQuotient(grid.spacing).squaredNorm();
    all += std::isfinite(tan2);
    flat += tan2 <= most;
  };
  for (std::size_t j = 0; j + 1 < grid.rows; ++j)
    for (std::size_t i = j * row; i + 1 < (j + 1) * row; ++i) {
      const double sw = grid.heights[i], se = grid.heights[i + 1], nw = grid.heights[i + row],
                   ne = grid.heights[i + row + 1];
      facet(se - sw, ne - se);
      facet(ne - nw, nw - sw);
    }
  return 2 * flat > all;
}

}  // namespace

void check_grid_slope(const GridFile& grid, TerrainFacts& facts, const std::string& name) {
  if (!(facts.slope_p50 > kSteepestMedian)) return;
  if (half_of_plan_is_flat(grid)) {
    note_walls(facts);
    return;
  }
  throw InputError(
      Place{name, 0, 0, "terrain.unit"},
      fmt::format("half of the surface is steeper than {:.2f} deg, ground is not (at most 60 deg)",
                  degrees(facts.slope_p50)),
      "check terrain.unit and the cell size: posts and heights must be in one unit, not degrees");
}

Terrain grid_at_origin(GridFile file, const Vec3& origin) {
  HeightGrid grid;
  grid.first = file.first - origin.head<2>();
  grid.last =
      grid_bounds(file).hi.head<2>() - origin.head<2>();  // where the facts have it, to the last digit
  grid.spacing = file.spacing;
  grid.columns = file.columns;
  grid.rows = file.rows;
  grid.heights = std::move(file.heights);
  for (double& z : grid.heights) z -= origin.z();
  Terrain terrain;
  terrain.map_offset = origin;
  terrain.frame = "map coordinates of the file: east = x, north = y, up = height [m]";
  terrain.ground = grid_ground(std::move(grid));
  return terrain;
}

LoadedTerrain grid_terrain(GridFile file, const std::string& name, const TerrainOptions& options) {
  if (!(file.plan_unit > 0)) check_degrees(file, name);
  const Bounds raw = grid_bounds(file);
  const GridUnits units = grid_units(file.plan_unit, file.height_unit, raw.hi - raw.lo, name, options);
  LoadedTerrain out;
  TerrainFacts& facts = out.facts;
  facts.kind = "grid";
  facts.format = std::move(file.format);
  facts.notes = std::move(file.notes);
  facts.assumed_unit = units.assumed;
  to_metres(file, units);
  facts.holes = cut_holes(file, options.hole_below);
  check_known(file, name);
  // Large grids: areas and slopes beside the checks. Both only read, and fill in different facts.
  const auto when = file.heights.size() > 50'000 ? std::launch::async : std::launch::deferred;
  auto surface = std::async(when, [&file, &facts] { grid_facts(file, facts); });
  check_cells(file, units.height, name);
  const Bounds bounds = grid_bounds(file);
  check_grid_place(bounds, name);
  check_span((bounds.hi - bounds.lo).head<2>().minCoeff(), name);
  facts.columns = file.columns;
  facts.rows = file.rows;
  facts.lowest_corner = bounds.lo;
  facts.highest_corner = bounds.hi;
  facts.cell = file.spacing;
  facts.spacing = file.spacing.maxCoeff();
  facts.vertices = file.heights.size() - facts.holes;
  surface.get();
  check_grid_slope(file, facts, name);
  out.terrain = grid_at_origin(std::move(file), local_origin(bounds));
  return out;
}

}  // namespace rimstance
