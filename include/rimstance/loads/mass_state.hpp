#pragma once
#include "rimstance/loads/parts.hpp"

namespace rimstance {

/// Basic masses of everything, without margins and load factors.
struct [[nodiscard]] MassState {
  double mass = 0;                                 ///< [kg]
  double hanging = 0;                              ///< of it, what hangs at the tip [kg]
  Vec3 tipping_centre_C = Vec3::Constant(kUnset);  ///< centre of mass with all that hangs at the tip [m]
};

/// Centre of mass in W with the load where it hangs, `line` below the tip [m].
inline Vec3 centre_of_mass_W(const MassState& state, const Pose& X_WC, double line) {
  return X_WC * state.tipping_centre_C - state.hanging / state.mass * Vec3(0, 0, line);
}

/// With payload, head and line hanging where `payload_hangs`; head and line always.
MassState mass_state(const MachineLoads&, const CraneState&, bool payload_hangs);

}  // namespace rimstance
