#pragma once
#include <optional>

#include "rules.hpp"

namespace rimstance {

/// Where the tip is: so far ahead of the foot pin, somewhere in a range of heights above it, the boom
/// somewhere in a range of lengths [m].
struct TipBox {
  Interval ahead, height, length;
};
/// Between two ends of a piece of curve: shortest where the boom lies flat, if it does between them.
TipBox tip_box(double ahead, const CurveEnd&, const CurveEnd&);

/// What gravity leaning the worst way over an inclined edge may take from a rule more than leaning straight
/// out, which is what the rule's waves hold [N m]. Nothing on a level edge, nor where gravity does not lean.
///   cost(D, H) = sin(phi) (sqrt(h^2 + t^2) - h),  t = d sin(psi),
/// d, h the weights' first moments across and above the edge in the field that does not lean, in which a pull
/// counts as a negative weight. It is at most sin(phi) t^2 / (2 h) where h > 0, and sin(phi) (t - 2 h)
/// where h <= 0; both grow slower with d than the moment does, so a rule that holds with what they are at its
/// own margin holds in every state. A rule of a margin that is defined by leaning straight out (ratio, tip
/// angle) has no cost.
class Leaning {
 public:
  Leaning(const Prepared&, const Rule&, const Edge&, const Vec3& gravity_C, double lean);
  bool costs() const { return costs_; }

  /// Over the whole operation: `cost` covers payloads up to `up_to`; fixed + m per_kg covers any mass m at
  /// the tip, less closely.
  struct Coarse {
    double up_to = kInfinity, cost = 0;
    double fixed = 0, per_kg = 0;
  };
  const Coarse& coarse() const { return coarse_; }
  /// With the tip in a box, payloads up to that one, every travel, line and count of units.
  double cost(const TipBox&, double payload) const;
  /// The same under that payload alone, with all that stands on the guide at a share s of its mass: at most
  /// at_one + (s - 1) below, or `above` where s > 1, and `alone` where s is 1. Convex but for that.
  struct OverShares {
    double alone = 0, at_one = 0, below = 0, above = 0;
    double at(double share) const {
      return share == 1 ? alone : at_one + (share - 1) * (share < 1 ? below : above);
    }
    OverShares& operator+=(double more) {
      alone += more;
      at_one += more;
      return *this;
    }
  };
  OverShares cost_under(const TipBox&, double payload) const;
  /// Anywhere in the operation.
  OverShares cost_under(double payload) const { return cost_under(all_, payload); }
  static constexpr double kMostShare = 1e4;

 private:
  /// Ranges of the weights' first moments about the edge, and of the weight, for any masses between basic and
  /// grown.
  struct Moments {
    Interval across{0, 0}, height{0, 0};  ///< in the leaning field, along n and v
    Interval above{0, 0};                 ///< along v of the field that does not lean
    Interval weight{0, 0};
    Moments& operator+=(const Moments&);
  };
  friend Moments operator*(const Interval& mass, const Moments&);
  Moments without_guide(const TipBox&, const Interval& load) const;
  Moments lumps(bool guide) const;
  Moments boom(const TipBox&) const;
  Moments tip(const TipBox&) const;
  Moments weighed(const Interval& mass, const Vec3& p_lo, const Vec3& p_hi, bool on_platform) const;
  Interval hanging() const;
  double greatest_load(double payload) const;
  double cost_anywhere(const Moments&) const;
  double straight(const Moments&, double across) const;
  double cost_at(const Moments&, double across) const;
  bool still_gains() const;
  double asked_at(const Moments&) const;
  double cost_of(const Moments&) const;
  double curved_cost_of(const Moments&) const;

  const MachineLoads& loads_;
  const Rule& rule_;
  TippingAxis axis_;
  Vec3 level_v_;  ///< up along the edge's plane in the field that does not lean
  bool costs_ = false;
  Moments guide_, lumps_;  ///< of what stands on the guide; of all else but boom and what hangs
  TipBox all_;             ///< of the operation
  Coarse coarse_;
};

}  // namespace rimstance
