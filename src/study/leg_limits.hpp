#pragma once
#include <optional>
#include <span>
#include <vector>

#include "bounded.hpp"
#include "four_feet.hpp"
#include "rimstance/statics/foot_force.hpp"
#include "rules.hpp"

namespace rimstance {

/// What the legs allow a payload to be: exact on three and four feet. On more of them a foot's force is
/// linear in the weights while all carry; where one lifts, elastic equilibria are solved at the ends of
/// travel, line and units, every five degrees of slew.
class LegLimits {
 public:
  LegLimits(const Prepared&, const Pose& X_WC, std::span<const Contact>, const std::vector<Sector>&);
  /// At one tip over a sector.
  void bound(double ahead, const CurveEnd&, std::size_t sector, Bounded&) const;

 private:
  struct Found {
    double payload;
    Governing governing;
  };
  Found most(double ahead, const CurveEnd&, const Sector&, double most) const;
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
  const std::vector<Sector>& sectors_;
  std::optional<FourFeet> four_;
  FootForces forces_;
  std::vector<Rule> legs_, lifts_;
  std::vector<std::vector<Rule>> bounds_;
};

}  // namespace rimstance
