#include "placing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace rimstance {

namespace {

/// Whole metres near the middle where the coordinates are large against their span, else 0. Then every
/// x in [lo, hi] has |x - origin| <= |x| with an origin that is a multiple of the last digit of x, so
/// that x - origin is exact (Sterbenz 1974).
double local_origin(double lo, double hi) {
  const double near = std::min(std::abs(lo), std::abs(hi)), far = std::max(std::abs(lo), std::abs(hi));
  const bool one_side = (lo > 0) == (hi > 0);
  if (!one_side || !(far <= 3 * near) || !(far < 0x1p52)) return 0;
  const double middle = std::round(lo + 0.5 * (hi - lo));
  return std::abs(middle) <= 2 * near ? middle : 0;
}

}  // namespace

Vec3 local_origin(const Bounds& bounds) {
  Vec3 origin;
  for (int axis = 0; axis < 3; ++axis) origin[axis] = local_origin(bounds.lo[axis], bounds.hi[axis]);
  return origin;
}

Issue missing_unit(const std::string& name, const Vec3& span) {
  return {Place{name, 0, 0, "terrain.unit"},
          fmt::format("the unit of the file is not stated; the content spans {:.6g} x {:.6g}{} of it",
                      span.x(), span.y(), std::isfinite(span.z()) ? fmt::format(" x {:.6g}", span.z()) : ""),
          "state terrain.unit, for instance m, ft or mm"};
}

void check_span(double span, const std::string& name) {
  if (span >= 1e-6) return;
  throw InputError(Place{name, 0, 0, "terrain.unit"},
                   fmt::format("the ground spans only {:.3g} m in plan, no machine stands on that", span),
                   "check the unit and, of a grid, the cell size");
}

void note_walls(TerrainFacts& facts) {
  facts.notes.push_back(fmt::format(
      "half of the surface is steeper than {:.1f} deg, but half of its plan is not: walls of a deep pit, "
      "if the units are right",
      degrees(facts.slope_p50)));
}

}  // namespace rimstance
