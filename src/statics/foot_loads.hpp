#pragma once
#include <vector>

#include "rimstance/statics/stability.hpp"

namespace rimstance {

struct FootLoads {
  std::vector<FootLoad> feet;
  bool lifts_off = false;
};

/// Greatest and least force per contact over every case and the whole envelope. While all contacts carry,
/// a force is linear in the wrench (N_i = k_i (1, x_i, y_i) S^-1 (V, M_y, -M_x), S the stiffness moments of
/// the contacts), so its extremes are certified like a moment's. Where one lifts, the elastic equilibrium is
/// solved at the linear extremes' states over the slew sector.
FootLoads foot_loads(const Prepared&, const Levelling&, std::span<const Contact>);

}  // namespace rimstance
