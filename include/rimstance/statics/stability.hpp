#pragma once
#include <map>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "rimstance/base/control.hpp"
#include "rimstance/stance/contacts.hpp"
#include "rimstance/stance/reactions.hpp"
#include "rimstance/statics/prepare.hpp"

namespace rimstance {

/// How much is asked: the sign of every case's margin; or every measure's certified least.
enum class Question { verdict, extremes };

/// Where on the envelope a value stands.
struct At {
  CraneState state;
  bool transit = false;
  int load_case = -1;  ///< of Prepared::load_cases
  int edge = -1;       ///< of Stability::edges
};

/// A state of least restoring moment, with every measure at that state and edge; a force-angle over
/// Stability::force_angle_reference.
struct Worst {
  At at;
  Measures measures;
  double gap = kUnset;  ///< of the moment [N m]
};

/// The least of one measure; NaN with a reason where it does not exist.
struct Least {
  double value = kUnset, gap = kUnset;
  At at;
  std::string reason;
};

/// Of a stalled hoist that pulls at something that does not move: the setting of its overload cut-out.
struct CutOut {
  double stall = kUnset;    ///< the case's pull [N]; NaN: no case of stall
  bool held = false;        ///< the case holds with that pull
  double setting = kUnset;  ///< the greatest pull with which it holds, where its own is not held [N]
  std::string reason;       ///< why there is no setting
};

struct CaseResult {
  Worst worst;                                 ///< verdict: not set
  MarginKind decides_by = MarginKind::moment;  ///< of several required margins, the one with least in hand
  double required = 0;
  Least decides;
  bool ok = false;
  CutOut cut_out;  ///< verdict: not set
};

/// Vertical force on a foot over all cases with their factors and the whole envelope [N]; a lifted foot
/// counts 0. Bodies that add to it count with their growth allowance, the others basic; reversed for the
/// least.
struct FootLoad {
  double greatest = kUnset, least = kUnset;
  double gap = kUnset;           ///< how far beyond either the true one may lie; unset where sampled [N]
  At greatest_at{}, least_at{};  ///< no edge
};

/// Is the machine held down everywhere in its envelope, on these contacts?
///   stands      every case holds its margin
///   short       held down, but some case keeps less than its margin
///   tips        the restoring moment is negative somewhere
///   no_support  fewer than three supported contacts, or all on one line, or a foot without ground: no
///               moments
struct [[nodiscard]] Stability {
  enum class Outcome { stands, short_of_margin, tips, no_support };
  Outcome outcome = Outcome::no_support;
  std::string reason;             ///< of no_support
  std::vector<Edge> edges;        ///< counter-clockwise
  double scale = kUnset;          ///< greatest distance from the polygon's centroid to an edge [m]
  std::vector<CaseResult> cases;  ///< as Prepared::load_cases
  Worst worst;                    ///< of all cases
  Worst at_job;                   ///< of all states with the payload's reach; see at_job_reason
  std::string at_job_reason;      ///< not empty: no such state
  std::map<MarginKind, Least>
      least;  ///< clearance, moment_ratio, tip_angle, energy, force_angle over all cases
  /// A force-angle is given and required as a share of this one: the least over the edges at the reference
  /// state, nothing factored, masses basic [N m rad] (Papadopoulos & Rey normalise by a nominal state). Every
  /// edge is measured by the same number. Not above 0: that state is not held, and no force-angle exists.
  double force_angle_reference = kUnset;
  std::vector<FootLoad> feet;  ///< per contact
  bool lifts_off = false;      ///< some foot carries nothing somewhere
  std::set<MarginKind> wide;   ///< measures with a certified gap over ten times what was asked
  std::int64_t evaluations = 0;
};

/// Of a curved measure (ratio, tip angle, energy, force-angle): how far its certified least may lie above the
/// true one, as a share of the measure at the reference state.
inline constexpr double kDefaultGap = 1e-3;

/// `gap`: see kDefaultGap. The moment, clearance and share are certified to 1e-6 of weight times size always.
/// Stops between two searches with Interrupted when asked to.
Stability assess(const Prepared&, const Levelling&, std::span<const Contact>, Question, const Control&,
                 double gap = kDefaultGap);

/// Stability::force_angle_reference of loads (their payload counts) at a reference state.
double force_angle_reference(const MachineLoads&, const CraneState& reference, std::span<const TippingAxis>);
/// No less than that under any payload from the loads' to `payload_to` [kg]; 0 where one of them is not held.
double force_angle_reference_up_to(MachineLoads, double payload_to, const CraneState& reference,
                                   std::span<const TippingAxis>);

/// The worst edge and case at one state, every measure there, a force-angle in N m rad. Contacts must bound a
/// polygon.
Worst point(const Prepared&, const Levelling&, std::span<const Edge>, const CraneState&,
            bool transit = false);

/// Gravity in C for a pose [m/s2].
inline Vec3 gravity_C(const Scenario& scenario, const Pose& X_WC) {
  return X_WC.R.transpose() * Vec3(0, 0, -scenario.gravity);
}

}  // namespace rimstance
