#include "footing.hpp"

#include <fmt/format.h>

#include <cmath>

namespace rimstance {

Footing footing(const Terrain& terrain, const Outrigger& o, const Vec2& at_W, double under_W,
                underside::Scratch& scratch) {
  Footing f;
  f.patch = patch(terrain, at_W, o.pad_radius, under_W, scratch.facets);
  f.supported = f.patch.outcome == Patch::Outcome::full;
  if (!f.supported) return f;
  f.rest = f.patch.rest_height;
  f.normal = f.patch.normal;
  f.at_tilt_limit = slope_aspect(f.patch.normal).slope > o.pad_tilt;
  if (!f.at_tilt_limit) return f;
  const Vec2 gradient = -std::tan(o.pad_tilt) * f.patch.normal.head<2>().normalized();
  f.rest = underside::rest_with_gradient(terrain, at_W, o.pad_radius, under_W, gradient, scratch);
  f.normal = Vec3(-gradient.x(), -gradient.y(), 1).normalized();
  return f;
}

std::string unsupported_reason(const Terrain& terrain, const Footing& f, const Vec2& at_W, double under_W) {
  const Vec2 map = at_W + terrain.map_offset.head<2>();
  const std::string place = fmt::format("map ({:.3f}, {:.3f})", map.x(), map.y());
  const double share = 100 * f.patch.supported_share;
  switch (f.patch.outcome) {
    case Patch::Outcome::full:
      break;
    case Patch::Outcome::hole:
      return fmt::format("over a hole in the data at {}: {:.1f} % of the pad has ground", place, share);
    case Patch::Outcome::off_map:
      return fmt::format("off the map: the pad at {} leaves the terrain", place);
    case Patch::Outcome::no_facet:
      if (!(under_W < kInfinity))
        return fmt::format("over the void: {:.1f} % of the pad at {} has ground", share, place);
      return fmt::format(
          "over the void: no ground at or below {:.3f} m under all of the pad at {} ({:.1f} % has)",
          under_W + terrain.map_offset.z(), place, share);
  }
  return {};
}

}  // namespace rimstance
