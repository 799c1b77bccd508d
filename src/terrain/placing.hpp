#pragma once
#include <string>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/frames.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

// What meshes, grids and points have in common on their way from a file to a place in W.

struct Bounds {
  Vec3 lo = Vec3::Constant(kInfinity), hi = Vec3::Constant(-kInfinity);
  void add(const Vec3& p) {
    lo = lo.cwiseMin(p);
    hi = hi.cwiseMax(p);
  }
};

/// Map coordinates of W's origin: per axis, whole metres near the middle where the coordinates are large
/// against their span, else 0; subtracting it from any coordinate in `bounds` is exact.
Vec3 local_origin(const Bounds& bounds);

/// Refuses ground that spans [m] less than a micrometre: no unit of any map is that small.
void check_span(double span, const std::string& name);

/// Says of ground with more steep surface than flat why it was taken.
void note_walls(TerrainFacts&);

/// "The unit is not stated", with the span of the content in file units (z NaN: not known).
Issue missing_unit(const std::string& name, const Vec3& span);

}  // namespace rimstance
