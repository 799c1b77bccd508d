#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rimstance/statics/schedule.hpp"
#include "rimstance/statics/stability.hpp"

namespace rimstance {

// Where the counterweight may stand. At a fixed slew and fixed masses a restoring moment is linear in the
// travel c and in the share s by which the guide's bodies are scaled, so in (s, y = s c); its least over
// slew, luff, line, units and growth allowances is concave there. Hence the travels that hold at a reach are
// one interval, the window, and the masses with which some travel of the guide holds are one interval too.
// Both are closed in from outside, by the tangents of that least at trial points, so no travel or mass that
// holds is cut off; what is reported has been checked from inside as well, over the whole curve of the reach.
//
// Rules are those of the load cases whose margins are linear in the weights, and the legs' limits while every
// foot carries. A case's own setting of the counterweight is replaced by c. With a margin of tip angle the
// guide's bodies count at whichever end of their allowance lowers the form: on the safe side. So is gravity
// that leans the worst way over an inclined edge, which costs a little more than leaning straight out:
// bounded at each reach, so that the ends lie inside, and `gap` tells where the state that sets one does
// break its rule.

/// What ends a window: a rule, and where in the operation it does.
struct TravelLimit {
  int load_case = -1, edge = -1, foot = -1;  ///< of Prepared::load_cases, Counterweight::edges, contacts
  CraneState at;
};

/// A reach and a range of slew. Empty intervals have unset ends; an end that nothing limits is infinite.
struct TravelState {
  double reach = kUnset;     ///< [m], platform plane
  Interval slew;             ///< [rad]
  bool has_state = false;    ///< false: no luff and extension of the operation has this reach
  Interval free;             ///< travels that hold, were the guide long enough [m]
  Interval window;           ///< of those, the guide's own [m]
  TravelLimit lower, upper;  ///< of `free`; where no travel holds, the two that leave nothing between them
  double gap = kUnset;       ///< an end may lie at most this much farther out [m]
  Interval mass;             ///< of all bodies on the guide, with which some travel of it holds [kg]
  double missing = kUnset;   ///< travel the guide lacks [m]; unset: none would do
  double luff = kUnset, extension = kUnset;  ///< where the lower end is set, else of the curve's beginning
  bool lifts =
      false;  ///< a foot lifts within the window: then its force is not linear, and `stand` judges it
  bool holds() const { return window.lo <= window.hi; }
};

struct CounterweightAsked {
  std::vector<double> reaches;     ///< [m], rising; the schedule is built on them
  double slew_step = radians(10);  ///< width of the slew ranges of a guide on the chassis
};

/// Outcome of a schedule. It holds if every window and every state of it, also between the stations, does.
struct TravelPlan {
  Schedule schedule;
  bool holds = false;
  double reserve = kUnset;         ///< kept from the ends of the free windows where these are wide enough [m]
  std::vector<std::string> notes;  ///< what is missing, or was not kept
};

struct [[nodiscard]] Counterweight {
  std::vector<Edge> edges;          ///< as in Stability; empty: nothing stands
  std::string reason;               ///< why nothing stands
  double bodies = kUnset;           ///< basic mass of all bodies on the guide [kg]
  Interval guide;                   ///< travel it has [m]
  std::vector<TravelState> states;  ///< slew range by slew range, reach rising
  bool has_transit = false;
  TravelState transit;  ///< over the transit's whole luff and extension; reach, mass not set
  TravelPlan plan;  ///< where nothing stands: the cabinets stay at the guide's start, and it does not hold
  std::int64_t evaluations = 0;
};

/// On the contacts of a levelled pose; `prepared` with the counterweight free on its guide. A platform's
/// guide turns with the boom: one range of slew; a chassis' has one for each slew step.
///
/// The schedule of a range: over the stretch between two reaches the travel stays, inside both windows less
/// the reserve; of all such ways out the cabinets' whole movement is least, then the number of their moves,
/// then each travel is the middle of what is left to it. Neighbouring ranges that can share their rows do.
/// Between the stations its states are searched like those of `stand`; stations are added where they fail.
Counterweight counterweight(const Prepared&, const Levelling&, std::span<const Contact>,
                            const CounterweightAsked&, const Control&);

}  // namespace rimstance
