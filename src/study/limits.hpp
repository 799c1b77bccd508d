#pragma once
#include <array>
#include <memory>
#include <span>
#include <vector>

#include "bounded.hpp"
#include "leaning.hpp"
#include "leg_limits.hpp"
#include "rules.hpp"

namespace rimstance {

/// Everything that limits a payload, tip by tip and sector by sector.
class Limits {
 public:
  Limits(const Prepared&, const Pose& X_WC, std::span<const Contact>, std::span<const Edge>,
         const std::vector<Sector>&);

  /// What one tip may carry over a sector.
  Bounded most(const TipPlace&, std::size_t sector);

  /// Rules whose waves hold heights: between the ends of a piece their sums may be lower than at both.
  std::vector<std::size_t> suspects(const CurvePiece&) const;
  /// A payload that a rule holds all along the piece, at most `most`; negative: it may not hold without any.
  /// The sum is concave in the boom's length and in the tip's height: with one of either end nothing in
  /// between is lower. Nor is it lower than at both ends less what it sags, which on short pieces is closer.
  double held_inside(std::size_t rule, const CurvePiece&, std::size_t sector, double most);
  /// A rule at one tip; `ceiling`: more is not of interest.
  void offer(std::size_t rule, const TipPlace&, std::size_t sector, Bounded&, double ceiling = kMost);

  /// Margins that no linear form tells, over all states of a reach: lowers `least` to what they leave; how
  /// far the payload that breaks them may lie below it, at most `room` (> 0).
  double curved_at(double reach, std::size_t sector, double room, Bounded& least);
  /// Does a margin that no linear form tells play a part?
  bool curved() const { return !curved_.empty(); }
  bool level() const;  ///< heights play no part in any rule
  std::int64_t evaluations() const { return evaluations_; }

 private:
  /// A rule with what does not depend on the boom: the lumps, per corner and sector.
  struct Ready {
    Lever lever;
    Leaning lean;
    std::vector<std::vector<Folded>> lumps;
    std::vector<Wave> lowest;  ///< per sector: nowhere above the lumps of any corner
    Interval hanging;          ///< without payload, over the corners
  };
  /// What a rule has to know of a place of the tip, the same for every sector.
  struct AtTip {
    bool made = false, allowed = false;
    Wave tip;
    std::vector<Lever::BoomWave> boom;
  };
  struct Known {
    double ahead;
    CurveEnd length, height;
    std::vector<AtTip> rules;
  };
  struct Curved {
    int load_case;
    MarginKind kind;
    double margin;
  };
  /// With the boom as long as one end and the tip as high as the other.
  const AtTip& at_tip(std::size_t rule, double ahead, const CurveEnd& length, const CurveEnd& height);
  /// How often a boom counts: by body, once or `ratio` times.
  static std::span<const double> counts(const Rule&, std::array<double, 2>&);
  /// A quick proof that a rule holds at all corners for every payload up to `most`; false tells nothing.
  bool surely_holds(const Ready&, std::size_t sector, const Folded& boom, const Wave& tip, double most);
  /// `boom` and `tip` are those of a state in the box, or bound them all.
  Held hold(const Ready&, std::size_t corner, std::size_t sector, const Folded& boom, const Wave& tip,
            const TipBox&, double most);
  Held hold_straight(const Ready&, std::size_t corner, std::size_t sector, const Folded& boom,
                     const Wave& tip, double cost, double cost_per_kg, double most);
  /// With length and height of one end each, or of opposite ends; `less` off the sum [N m].
  double held_between(std::size_t rule, const CurvePiece&, bool crossed, double less, std::size_t sector,
                      double most);
  void by_strength(const TipPlace&, Bounded&) const;
  /// Margins that no linear form tells: certified minima over states and payloads.
  void by_curved(const TipPlace&, std::size_t sector, Bounded&);
  Governing governing(const Ready&, const Held&, const TipPlace&, const Lever::Corner&) const;
  struct Asked {
    const Curved& curved;
    std::size_t edge;
    const Domain& domain;
  };
  bool keeps(const Asked&, double from, double to, Governing&);
  bool refused(const Asked&, Governing&) const;
  double kept_from(const Asked&, double from, double to, Governing&);
  void first_broken(const Asked&, Bounded&);

  const Prepared& prepared_;
  Pose X_;
  std::vector<Edge> edges_;
  std::vector<TippingAxis> axes_;
  const std::vector<Sector>& sectors_;
  std::vector<Rule> rules_;
  std::vector<Ready> ready_;  ///< of rules_, which stay where they are
  std::vector<Curved> curved_;
  std::unique_ptr<LegLimits> legs_;
  std::vector<Known> known_;   ///< the places looked at last
  std::size_t last_rule_ = 0;  ///< that limited: it is likely to limit next to it too
  std::int64_t evaluations_ = 0;
};

}  // namespace rimstance
