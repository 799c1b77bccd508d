#pragma once
#include <array>
#include <span>
#include <vector>

#include "rimstance/stance/contacts.hpp"
#include "rimstance/stance/reactions.hpp"
#include "rimstance/statics/prepare.hpp"

namespace rimstance {

/// A foot's force as a linear form in the weights, while every foot carries; gravity leans the way that is
/// worst for it.
struct FootShare {
  LinearForm most, least;  ///< of a unit mass in C [m/s2]
  Vec2 towards;            ///< horizontal direction (W) in which a lean presses on this foot
};

/// Forces on four feet that balance each other, up to a factor: sum(w_i (1, x_i, y_i)) = 0 over the feet's
/// places from any one of them [m]. Each is the area that the other three span.
std::array<double, 4> self_stress(const std::array<Vec3, 4>& points);

/// Vertical forces on the feet of a levelled pose, on the outriggers' springs. Gravity leans by set_error and
/// work_tilt; bodies that add to a foot's force count with their growth allowance, the others basic, or the
/// other way round for its least.
class FootForces {
 public:
  FootForces(const Prepared&, const Pose& X_WC, std::span<const Contact>);
  std::size_t count() const { return points_.size(); }
  const FootShare& share(std::size_t foot) const { return shares_[foot]; }
  /// Force on a foot, while every foot carries, of a unit mass in C where gravity leans to press on `pressed`
  /// [m/s2], or away from it (side -1); all_carry(i, i) is share(i).most, or share(i).least.
  LinearForm all_carry(std::size_t foot, std::size_t pressed, int side = 1) const;
  /// Elastic equilibrium, lift-off included, at a slew angle: greatest (side 1) or least (-1) force on a foot
  /// [N]; NaN where the machine tips.
  double at(std::span<const Part>, double slew, std::size_t foot, int side) const;

 private:
  Pose X_;
  Vec3 origin_;
  double gravity_;
  double lean_;  ///< of gravity, not measured [rad]
  std::vector<Support> supports_;
  std::vector<Vec3> points_;  ///< contacts from origin_, W
  std::vector<FootShare> shares_;
  std::vector<Vec3> per_load_;  ///< force on a foot per (weight, weight x, weight y), times gravity
};

}  // namespace rimstance
