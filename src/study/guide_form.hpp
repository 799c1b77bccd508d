#pragma once
#include <span>
#include <vector>

#include "leaning.hpp"
#include "rules.hpp"

namespace rimstance {

// The guide's bodies in a rule. With their masses scaled by a share s and at travel c, y = s c, each adds
// s at_start + y per_metre to the rule's sum, `factor` times where that is negative: concave in (s, y), and
// so is its least over a range of slew. A tangent of it is a half-plane that holds every (s, y) that keeps
// the rule.

/// A rule at one place of the tip, line and count of units.
struct Demand {
  Folded rest;  ///< all that does not stand on the guide
  const std::vector<Runner>* runners;
  int rule;
  Lever::Corner corner;
  double ahead;
  CurveEnd end;
  bool bound = false;          ///< of a piece of curve, and of none of its states
  Leaning::OverShares less{};  ///< off the sum: convex in the share
};

/// The least of a demand over slew, with its slopes.
struct Tangent {
  double value, slew, per_share, per_moment;
};
Tangent tangent(const Demand&, double share, double moment, const Sector&);
/// With so much more off the sum.
bool falls_below_zero(const Demand&, double share, double moment, const Sector&, double less = 0);

/// Travels at share 1, closed in from outside by Newton's steps.
struct TravelWindow {
  static constexpr double kFar = 1e3;  ///< [m]: beyond it nothing limits
  Interval travel{-kFar, kFar};
  bool empty = false;
  int lower = -1, upper = -1;  ///< demands that set the ends
  double lower_slew = kUnset, upper_slew = kUnset;
  void keep(const Demand&, int number, const Sector&);
  /// With ends at infinity where nothing limits; unset if empty.
  Interval ends() const;

 private:
  void raise(const Demand&, int number, const Sector&);
  void lower_to(const Demand&, int number, const Sector&);
  void close(bool asks_for_more, int number, double slew);
};

/// A convex polygon of (s, y) around all that keep some demands: s from 0 to kMost, travels within the guide.
class ShareRegion {
 public:
  static constexpr double kMost = Leaning::kMostShare;  ///< more is as good as any
  explicit ShareRegion(const Interval& guide);
  bool empty() const { return corners_.empty(); }
  Vec2 lightest() const;
  Vec2 heaviest() const;
  /// Cuts until the lightest and heaviest corners keep every demand; false if none is left.
  bool settle(std::span<const Demand>, const Sector&, double slack);

 private:
  bool settle_corner(bool heavy, std::span<const Demand>, const Sector&, double slack);
  void cut(const Tangent&, const Vec2& at);
  std::vector<Vec2> corners_;
};

}  // namespace rimstance
