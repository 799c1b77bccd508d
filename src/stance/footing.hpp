#pragma once
#include <string>

#include "rimstance/model/scenario.hpp"
#include "rimstance/terrain/terrain.hpp"
#include "underside.hpp"

namespace rimstance {

/// A pad at rest on the undisturbed ground at a place in plan.
struct Footing {
  Patch patch;
  bool supported = false;
  double rest = kUnset;                  ///< height of the pad's centre, W [m]
  Vec3 normal = Vec3::Constant(kUnset);  ///< of the pad
  bool at_tilt_limit = false;            ///< the ground is steeper than the ball joint allows
};

Footing footing(const Terrain&, const Outrigger&, const Vec2& at_W, double under_W, underside::Scratch&);

/// Why a foot there is not supported, for people; empty if it is.
std::string unsupported_reason(const Terrain&, const Footing&, const Vec2& at_W, double under_W);

}  // namespace rimstance
