#pragma once
#include <optional>
#include <span>
#include <vector>

#include "guide_form.hpp"
#include "leaning.hpp"
#include "rimstance/study/counterweight.hpp"

namespace rimstance {

/// The rules of one stance over a domain and its range of slew, and the travels and masses they leave.
class TravelWindows {
 public:
  TravelWindows(const Prepared&, const Pose& X_WC, std::span<const Contact>, std::span<const Edge>,
                const Domain&);
  /// All luffs and extensions with a reach.
  TravelState at_reach(double reach);
  /// The whole domain: its travels only.
  TravelState whole();
  const Interval& slew() const { return domain_.slew; }
  std::int64_t evaluations() const { return evaluations_; }

 private:
  /// A rule with what does not depend on the tip.
  struct Ready {
    Lever lever;
    std::vector<Runner> runners;
    std::vector<Folded> lumps;  ///< per corner, without the guide's bodies
    Wave lowest;                ///< nowhere above the lumps of any corner
    Hung hung;
    std::optional<Leaning> lean;  ///< where gravity that leans costs something
    Leaning::OverShares leans;    ///< what it costs at most, wherever the tip is
  };
  /// A piece of a curve, and the rules that something inside it may break.
  struct Span {
    double ahead;
    std::array<CurveEnd, 2> end;
    std::vector<std::size_t> rules;
    int depth = 0;
  };
  /// A rule at the end of a piece, with what bounds its demands; idle until one of those limits something.
  struct Node {
    std::size_t rule;
    double ahead;
    CurveEnd end;
    std::vector<Demand> bounds;
    bool idle = true;
  };
  /// A reach under way.
  struct Work {
    std::vector<Demand> demands;
    std::vector<Node> nodes;
    std::vector<Span> spans;
    TravelWindow window;
    ShareRegion region;
    std::size_t kept = 0;  ///< demands the window knows
    int splits = 0;
    double moved_in = 0;  ///< hair's breadths, in all [m]
  };

  std::vector<Ready> made_ready(std::vector<Rule>&) const;
  TravelState at_reach(double reach, const Interval& travels);
  bool leans() const;
  void lean_over(const Interval& travel);
  Leaning::OverShares leaning(const Ready&, const TipBox&) const;
  bool leaning_covers(const Work&);
  double leaning_gap(const TravelLimit&, double from, double outwards) const;
  void add_demands(std::size_t rule, const Ready&, double ahead, const CurveEnd&,
                   const Leaning::OverShares& less, std::vector<Demand>&) const;
  std::vector<Demand> coarse_bounds(std::size_t rule, double ahead, const CurveEnd&) const;
  bool surely_kept(const Work&, std::size_t rule, const Span&, const std::vector<Vec2>& points);
  bool wakes(Work&, Node&, const std::vector<Vec2>& points);
  void add_demands(std::size_t rule, double ahead, const CurveEnd&, std::vector<Demand>&) const;
  void add_bounds(std::size_t rule, const Span&, std::vector<Demand>&) const;
  Work start(const std::vector<CurvePiece>&) const;
  Work closed_in(const std::vector<CurvePiece>&);
  void settle_window(Work&);
  void keep_demands(Work&);
  void settle_region(Work&);
  std::vector<Vec2> window_points(const Work&) const;
  std::vector<Vec2> region_points(const Work&) const;
  bool inside_breaks(Work&, const std::vector<Vec2>& points);
  bool split(Work&, const Span&, const std::vector<Vec2>& points, std::vector<Span>& open);
  bool breaks(const Demand&, const std::vector<Vec2>& points, double less = 0);
  void describe(const Work&, TravelState&) const;
  double over_bounded(const Work&) const;
  bool lifts(const std::vector<CurvePiece>&, const Interval& window) const;
  bool raise(std::size_t rule, Work&);
  Certified<CraneState> worst(const Rule&, double travel);
  TravelLimit limit(const Work&, int demand, double slew, double travel) const;

  const Prepared& prepared_;
  Pose X_;
  std::span<const Edge> edges_;
  Domain domain_;
  Sector sector_;
  Interval guide_, about_;  ///< of the guide; that and some more to either side
  Interval leaning_over_;   ///< travels for which what leaning gravity costs is bounded
  double bodies_ = 0;       ///< [kg]
  std::vector<Rule> rules_, lift_rules_;
  std::vector<Ready> ready_, lift_ready_;  ///< of rules_ and lift_rules_, which stay where they are
  bool level_ = true;
  std::int64_t evaluations_ = 0;
};

}  // namespace rimstance
