#pragma once
#include <string>

#include "rimstance/loads/mass_state.hpp"

namespace rimstance {

/// Tilts at which the machine on its wheels tips towards each side [rad]; negative: it does.
struct TipAngles {
  double forward = kUnset, backward = kUnset, left = kUnset, right = kUnset;
};

/// The machine folded up on its wheels: slew nearest to 0, luff, extension and travel at their least, line
/// in, strokes at their shortest, each arm at the splay nearest to 0, all units in the container.
struct [[nodiscard]] Stowed {
  /// Box around what is described with a size, in C's axes [m]: wheels, belly, arms, legs and pads, guide,
  /// boom and head. Bodies and container are points of it.
  double length = kUnset, width = kUnset, height = kUnset;
  double mass = kUnset;                    ///< basic [kg]
  Vec3 centre_C = Vec3::Constant(kUnset);  ///< of mass [m]
  TipAngles tips;
  std::string no_tips;  ///< why the tips are unset; empty: they are not
};

Stowed stowed(const Scenario&);

/// Static tips of a rigid chassis on level ground, about the polygon of the wheels' lowest points, each side
/// of it at the mean height of its two wheels. Towards a direction an angle gamma off an edge's outward
/// normal, at a distance d inside it and a height h above: tan(tip) = d / (h cos(gamma)), the least over the
/// edges (the static stability factor of road vehicles, T / 2h, is that of the sides). Gravity takes no part.
/// Unset where the wheels bound no polygon.
TipAngles tips_on_wheels(const Chassis&, const Vec3& centre_C);

}  // namespace rimstance
