#pragma once
#include <vector>

#include "rimstance/statics/prepare.hpp"

namespace rimstance {

/// What boom and hoist are asked for, and what they allow.
struct Strength {
  enum class Of { boom_load, boom_root, line_pull };
  Of of = Of::boom_load;
  double asked = kUnset, allowed = kUnset;  ///< [N]; boom_root [N m]
  CraneState at;                            ///< where the two are closest
  double reach = kUnset;                    ///< there [m]
};

/// Forces of all that hangs, payload included, unfactored but for the hoisting factor where a case has one:
/// weights in the platform's own plane, at the state of the operation that is worst for each. What has no limit
/// is not listed. Strength does not shrink with gravity: the limits are forces.
std::vector<Strength> strengths(const Prepared&);

}  // namespace rimstance
