#pragma once
#include <array>
#include <span>

#include "rimstance/statics/foot_force.hpp"

namespace rimstance {

/// Greatest and least force on one of four feet over a domain, whichever foot lifts, with proof.
///
/// Forces that balance a load differ by multiples of the stance's self-stress w (sum w_i (1, x_i, y_i) = 0).
/// With E the forces if feet could pull as well, signs of w such that w_f > 0,
///   N_f = min(max(E_f, S_i over w_i > 0), S_j over w_j < 0),   S_k = E_f - (w_f / w_k) E_k:
/// S_k is the force on f when k carries nothing. All are linear in the weights, so over a cell of states each
/// has a bound, and the bounds of their minima and maxima follow; cells are halved until the gap is reached.
/// A growth allowance counts by whether the body adds to E_f.
class FourFootSearch {
 public:
  /// `points`: the contacts, from any one of them [m]; `gap`: of a force [N].
  FourFootSearch(const FootForces&, std::span<const Vec3> points, const MachineLoads&, double gap);
  /// Least of -N_f (side 1) or of N_f (side -1). Nothing below `not_above` need be found. NaN gap: gave up.
  Certified<CraneState> extreme(const LoadCase&, const Domain&, std::size_t foot, int side,
                                double not_above) const;

 private:
  const FootForces& forces_;
  const MachineLoads& loads_;
  std::array<double, 4> self_stress_;
  double gap_;
};

}  // namespace rimstance
