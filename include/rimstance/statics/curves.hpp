#pragma once
#include <array>
#include <vector>

#include "rimstance/statics/envelope.hpp"

namespace rimstance {

// All luffs and extensions with one reach, as curves of the tip: its distance ahead of the foot pin is fixed
// there, its height above the pin and the boom's length follow each other, L^2 = x^2 + z^2.

/// One end of a piece: where the tip is.
struct CurveEnd {
  double length;  ///< of the boom [m]
  double height;  ///< of the tip above the foot pin along the platform's z [m]
};

/// Between the two ends the length is monotone and no law of the boom bends.
struct CurvePiece {
  double ahead;  ///< of the tip from the foot pin along platform x [m], the same all along
  std::array<CurveEnd, 2> end;
};

/// The states of a domain (narrowed already) with a reach [m]; empty: none within 1e-9 m.
std::vector<CurvePiece> curve_at_reach(const MachineLoads&, const Domain&, double reach);

/// Least and greatest reach of a domain, cuts observed [m]; unset if it holds no state.
Interval reaches(const MachineLoads&, const Domain&);

/// Luff and extension of a tip.
struct BoomSetting {
  double luff, extension;
};
BoomSetting setting_of(const MachineLoads&, double ahead, const CurveEnd&);

}  // namespace rimstance
