#pragma once
#include <array>
#include <vector>

#include "rimstance/statics/foot_force.hpp"
#include "rules.hpp"

namespace rimstance {

/// Forces on four feet, exactly, whichever foot lifts. Forces that balance a load differ by multiples of the
/// stance's self-stress w (sum w_i g_i = 0, g_i = (1, x_i, y_i)); the springs take the multiple of least
/// energy, held back where a force would pull:
///   N_f = E_f + w_f min(max(0, t_lo), t_hi),   t_lo = max over w_i > 0 of -E_i / w_i,
///                                              t_hi = min over w_i < 0 of -E_i / w_i,
/// E the forces if feet could pull as well. So N_f is a minimum of maxima of sums linear in the weights, of
/// which each is a first harmonic of the slew angle and linear in the payload.
class FourFeet {
 public:
  FourFeet(const Prepared&, const Pose& X_WC, std::span<const Contact>, const std::vector<Sector>&);

  /// The first payload, from none to `most` [kg], that brings a leg to its limit, over a sector at one tip.
  struct First {
    double payload;
    Governing governing;
  };
  /// One for every foot and load case that has such a payload.
  void overloads(double ahead, const CurveEnd&, std::size_t sector, double most, std::vector<First>&) const;

 private:
  using Waves = std::array<Wave, 4>;  ///< of E_0 to E_3
  /// Slew on which every mass keeps to one end of its growth allowance, and the sums there.
  struct Stretch {
    Sector slew;
    Waves sum;
  };
  struct Foot {
    std::array<LinearForm, 4> all_carry;   ///< E_i where gravity leans to press on this foot
    std::vector<std::size_t> same, other;  ///< feet that bound t from below, from above, seen from this one
  };
  /// A rule of rules.hpp for a foot, with its lumps by corner and sector.
  struct Ready {
    Rule rule;
    std::vector<Lever::Corner> corners;
    std::vector<std::vector<std::vector<Stretch>>> lumps;
  };

  struct Sums;
  struct Crossing {
    double payload, slew;
  };

  Waves waves(const Foot&, const Vec3& p, bool on_platform) const;
  void add(const Waves& unit, double mass, double margin, std::size_t foot, std::vector<Stretch>&) const;
  void add_boom(const Rule&, double ahead, const CurveEnd&, std::vector<Stretch>&) const;
  Sums sums(const Rule&, const Stretch&, const Waves& tip, double start, double per_y, double most) const;
  void first_on(const Rule&, const Stretch&, const Waves& tip, double hanging, double most, Crossing&) const;
  std::vector<Stretch> lumps(const Rule&, const Lever::Corner&, const Sector&) const;

  const Prepared& prepared_;
  std::array<double, 4> self_stress_;
  std::array<Foot, 4> feet_;
  std::vector<Ready> ready_;
};

}  // namespace rimstance
