#pragma once
#include <vector>

#include "rimstance/loads/boom.hpp"

namespace rimstance {

/// Mass spread evenly over a stretch of the boom's axis, distances from the foot pin [m]; lo == hi: a lump.
struct Stretch {
  double lo = 0, hi = 0;
  double mass = 0;  ///< [kg]
  double centre() const { return (lo + hi) / 2; }
};

/// Where the boom's own mass lies at an extension, one stretch per part of the shape. A telescope's section
/// spreads over its length; where `centre_at` is not the middle, over the longest part of it that has its
/// middle there. Scissor and chain spread over the length that is out (the magazine is no part of it).
std::vector<Stretch> stretches(const Boom&, const BoomShape&, double extension);

/// Outer end of each section of a telescope [m]; of the other kinds, the tip alone.
std::vector<double> section_ends(const Boom&, const BoomShape&, double extension);

/// A boom under weights, gravity resolved along it and across it in its own upright plane.
struct BoomLoad {
  std::vector<Stretch> own;
  double length = kUnset;  ///< foot pin to tip [m]
  double at_tip = 0;       ///< mass that hangs there, an upward pull against it [kg]
  double across = kUnset;  ///< gravity across the boom, positive where it lowers the tip [m/s2]
  double lengthwise = 0;   ///< gravity along the boom, positive towards the foot pin [m/s2]
};

/// What a cut across the boom carries together, all sections that it meets: free body of everything outboard.
struct BoomCut {
  double at = kUnset;      ///< from the foot pin [m]
  double moment = kUnset;  ///< bending, positive where the tip is pushed down [N m]
  double shear = kUnset;   ///< [N]
  double axial = kUnset;   ///< pressing towards the foot pin [N]
};

/// At 0 the boom's root. What a retracted section reaches behind the pin takes no part: it bends nothing
/// outboard. Laws: dM/ds = -V; beyond the tip nothing is left.
BoomCut cut(const BoomLoad&, double at);

/// How far the tip goes across the boom [m], Euler-Bernoulli cantilever clamped at the foot pin: the piece
/// between the ends of section k - 1 and k bends with the stiffness of section k alone (that of what is
/// nested in it is left out). Unset where a section's E I is not given, and for scissor and chain.
double tip_deflection(const Boom&, const BoomShape&, double extension, const BoomLoad&);

}  // namespace rimstance
