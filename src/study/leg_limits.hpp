#pragma once
#include <span>
#include <vector>

#include "rimstance/statics/foot_force.hpp"
#include "rules.hpp"

namespace rimstance {

/// What the legs allow a payload to be. While all feet carry, a foot's force is linear in the weights and the
/// answer is exact; where one lifts, elastic equilibria are solved at the ends of travel, line and units,
/// every five degrees of slew.
class LegLimits {
 public:
  LegLimits(const Prepared&, const Pose& X_WC, std::span<const Contact>);
  struct Found {
    double payload;
    Governing governing;
  };
  /// At one tip over a sector; `most` [kg]: more is not asked for.
  Found most(double ahead, const CurveEnd&, const Sector&, double most) const;

 private:
  /// Greatest of force / limit over samples; and where.
  struct Load {
    double share = 0;
    Governing at;
  };
  Found sampled(double ahead, const CurveEnd&, const Sector&, double most) const;
  double share_at(const Governing& sample, double payload) const;
  Load load(const CraneState&, const Sector&, double payload) const;
  /// Do the moments about the edges alone tell that no leg is overloaded?
  bool bounds_hold(double ahead, const CurveEnd&, const Sector&, double payload) const;
  double held_by(const Rule&, double ahead, const CurveEnd&, const Sector&, double most, Governing*) const;

  const Prepared& prepared_;
  FootForces forces_;
  std::vector<Rule> legs_, lifts_;
  std::vector<std::vector<Rule>> bounds_;
};

}  // namespace rimstance
