#pragma once
#include <array>
#include <span>
#include <vector>

#include "rimstance/loads/hoisting.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/statics/slew.hpp"
#include "rimstance/study/capacity.hpp"

namespace rimstance {

/// How far a wave that counts `factor` times where negative may fall below itself: at most 0.
double falls_by(const Wave&, double factor, const Sector&);

/// Sum of waves, of which some count more where they are negative.
struct Folded {
  Wave smooth;
  std::vector<Kinked> kinked;
  /// `factor` where negative: in the smooth sum if the wave keeps one sign on the sector.
  void add(const Wave&, double factor, const Sector&);
  Folded& operator+=(const Folded&);
  /// A wave nowhere above the sum on the sector; the sum itself where nothing is kinked.
  Wave lower(const Sector&) const;
};

/// A wave nowhere above any of some sums on the sector.
Wave lowest_of(std::span<const Folded>, const Sector&);

/// The largest payload up to `most` [kg] with which base + Q per_kg is nowhere negative on the sector, and
/// with every smaller one; `slew`: where it is zero then. 0 with `without_load` if already the base alone
/// falls below.
struct Held {
  double payload = 0;
  double slew = kUnset;
  bool without_load = false;
};
Held held(const Folded& base, const Wave& per_kg, const Sector&, double most);

/// One inequality: over all parts, the sum of (row . r + constant) m stays at or above -delta.
struct Rule {
  /// Which end of its growth allowance a mass takes.
  enum class Masses {
    adverse,       ///< what lowers the sum
    least_moment,  ///< what gives the least restoring moment
    by_body        ///< adverse, and a body whose share is negative counts `ratio` times
  };
  Limit limit = Limit::tipping;
  int load_case = -1, edge = -1, foot = -1;
  Vec3 row = Vec3::Zero();
  double constant = 0, delta = 0;
  Vec3 moment_row = Vec3::Zero();  ///< of its restoring moment, likewise
  double moment_constant = 0;
  Masses masses = Masses::adverse;
  double ratio = 1;
  MarginKind kind = MarginKind::moment;  ///< of tipping rules: what has to be at least `required`
  double required = 0;
  double boom_factor = 0;
  double payload = 0;  ///< at the tip, per kilogram of net payload; negative: a release's pull
  double hanging = 0, per_line = 0;
  double rate = 0, lightest = 0;  ///< of a hoisting factor of physics, see Lift; 0: all that hangs is linear
  bool growth = true;             ///< growth allowances count
  Domain domain;                  ///< narrowed to the case
  std::pair<int, int> units;
  bool level() const { return std::abs(row.z()) <= 1e-15 * row.norm(); }  ///< heights play no part
};

/// Does the rule's case allow the luff of a tip? It may be narrowed to the steepest.
bool allows_luff(const Rule&, double ahead, const CurveEnd&);

/// A body on the counterweight's guide, as waves of a rule's sum at basic mass: at travel 0 and per metre;
/// `factor` times where negative.
struct Runner {
  Wave at_start, per_metre;
  double factor;
};

/// A rule over a machine: waves of its parts.
class Lever {
 public:
  Lever(const MachineLoads&, const Rule&);
  struct Corner {
    double travel, line;
    int units;
  };
  const Rule& rule() const { return rule_; }
  /// Ends of travel, line and units: the sum is concave in each.
  const std::vector<Corner>& corners() const { return corners_; }
  /// Everything but boom and hung load, with what stands on the guide or without it.
  Folded lumps(const Corner&, const Sector&, bool guide = true) const;
  /// What stands on the guide; with a margin of tip angle at whichever end of its allowance lowers the sum.
  std::vector<Runner> runners() const;
  /// Boom with the length of one end and the tip at the height of the other. By body it is one body that
  /// counts once or `ratio` times where negative, which is the lesser of counting it once and `ratio` times
  /// throughout: `counts` is that number. Without it, and by body, sections that change side are bounded.
  Folded boom(double ahead, const CurveEnd& length, const CurveEnd& height, const Sector&,
              double counts = kUnset) const;
  /// The same in two steps, of which the first holds for every sector: the boom's parts at basic mass.
  struct BoomWave {
    Wave form, moment;
    double margin;
  };
  std::vector<BoomWave> boom_waves(double ahead, const CurveEnd& length, const CurveEnd& height) const;
  Folded boom(std::span<const BoomWave>, const Sector&, double counts = kUnset) const;
  /// How far the sum may lie below the lower of its ends on a piece of curve, whatever the masses: second
  /// order in the piece's height.
  double sag(double ahead, const CurveEnd&, const CurveEnd&) const;
  /// Of a unit mass at the tip.
  Wave tip(double ahead, const CurveEnd&) const;
  /// At the tip without payload, before any hoisting factor that follows it.
  double hanging(const Corner& c) const { return rule_.hanging + rule_.per_line * c.line; }
  /// Least and greatest mass at the tip under any payload up to `most`, with so much hanging without one;
  /// the other way round of a pull.
  Interval at_tip(double hanging, double most) const;
  /// The largest payload, as held(): `base` of lumps and boom, `tip` of a unit mass at the tip.
  Held held(Folded base, const Wave& tip, const Corner&, const Sector&, double most) const;

 private:
  Wave place(const Vec3& row, double constant, const Vec3& p, bool on_platform) const;
  double most(const Vec3& p) const;  ///< of |row . r + constant| over all slews, p on the platform
  void add_mass(const Wave& form, const Wave& moment, double margin, const Sector&, Folded&) const;
  double grown(double margin) const { return rule_.growth ? 1 + margin : 1; }

  const MachineLoads& loads_;
  const Rule& rule_;
  std::vector<Corner> corners_;
};

/// Rules of the load cases whose margins are linear in the weights, over a domain (the operation if null).
std::vector<Rule> tipping_rules(const Prepared&, const Pose& X_WC, std::span<const Edge>,
                                const Domain* = nullptr);
/// Is a required margin among them?
bool linear(const LoadCase&, MarginKind, double margin);
/// The largest payload under which no more than a mass [kg] hangs at the tip with all line out, unfactored
/// but for hoisting, in any case; and with every smaller one. Negative: more hangs without payload already.
double payload_under(const Prepared&, double mass);
/// Rules of the feet: the greatest force on each stays within its leg's limit / no foot lifts.
std::vector<Rule> leg_rules(const Prepared&, const Pose& X_WC, std::span<const Contact>,
                            const Domain* = nullptr);
std::vector<Rule> lift_rules(const Prepared&, const Pose& X_WC, std::span<const Contact>,
                             const Domain* = nullptr);
/// Rules that are enough for a leg, whichever feet lift: the force on a foot times its distance from an edge
/// of the support polygon is at most the moment about that edge of all that presses, gravity leaning inwards.
/// One list a foot and case, of which one rule has to hold.
std::vector<std::vector<Rule>> leg_bounds(const Prepared&, const Pose& X_WC, std::span<const Contact>);

}  // namespace rimstance
