#pragma once
#include <vector>

#include "rimstance/statics/stability.hpp"

namespace rimstance {

struct FootLoads {
  std::vector<FootLoad> feet;
  bool lifts_off = false;
};

/// Greatest and least force per contact over every case and the whole envelope, gravity leaning by set_error
/// and work_tilt the way that is worst for the foot. While all contacts carry, a force is linear in the
/// weights, so its extremes are certified like a moment's. Where one of four lifts, they are certified to a
/// thousandth of the weight (see FourFootSearch). Of more feet, or where the machine tips, the elastic
/// equilibrium is solved at the corners of the envelope every five degrees of slew: between them it may be a
/// little more, and no gap is set.
FootLoads foot_loads(const Prepared&, const Levelling&, std::span<const Contact>);

}  // namespace rimstance
