#pragma once
#include <span>
#include <string>
#include <vector>

#include "rimstance/statics/stability.hpp"

namespace rimstance {

// Capacity: the largest net payload that holds together with every smaller one, on every edge, in every load
// case, at every travel, line and count of units left of the operation, and within what boom, hoist and legs
// may carry. A value that has to stay positive is M = M_0 - Q a, M_0 without payload and a per kilogram of
// it, both first harmonics of slew: the payload at which its least over a slew cell is zero is found by
// Newton's steps from above, which never overshoot, because that least is concave in Q.

/// What limits a payload.
enum class Limit {
  none,                  ///< nothing asked for does
  tipping,               ///< the margin of a load case over an edge
  tipping_without_load,  ///< the same, not even held without payload: capacity 0
  leg,                   ///< greatest force on a foot
  structural,            ///< what the boom may carry at that reach
  boom_root,             ///< moment at the boom's root
  hoist                  ///< pull of the line
};
const char* name_of(Limit);

/// What limits, and where in the operation it does.
struct Governing {
  Limit limit = Limit::none;
  int load_case = -1, edge = -1, foot = -1;  ///< of Prepared::load_cases, Capacity::edges, contacts
  CraneState at;
  bool without_load = false;  ///< met already at no payload
};

/// A reach and a range of slew.
struct CapacityCell {
  double reach = kUnset;     ///< [m], platform plane
  Interval slew;             ///< [rad]
  bool has_state = false;    ///< false: no luff and extension of the operation has this reach
  double capacity = kUnset;  ///< least over the states of the cell [kg]; +inf: nothing limits it
  double gap = kUnset;       ///< the payload that tips lies at most this far above [kg]
  Governing governing;       ///< of the least
  double best = kUnset;      ///< greatest over the luffs of that reach, each with its worst slew [kg]
  double best_luff = kUnset, best_extension = kUnset;
};

/// Where capacity is asked for.
struct CapacityAsked {
  std::vector<double> reaches;     ///< [m], rising
  double slew_step = radians(10);  ///< width of the slew cells, which tile the operation's slew
};

/// `count` stations over the operation's reach, ends included.
std::vector<double> reach_stations(const Prepared&, int count);

struct [[nodiscard]] Capacity {
  std::vector<Edge> edges;          ///< as in Stability; empty: nothing stands
  std::string reason;               ///< why nothing stands
  std::vector<CapacityCell> cells;  ///< reach by reach, slew rising
  std::int64_t evaluations = 0;
};

/// On the contacts of a levelled pose. A margin of energy or force-angle, and a tip angle under a release, is
/// found by bisection of certified minima; once a foot lifts, its force is sampled every five degrees of slew
/// as in foot loads. Gravity that leans (set_error, work_tilt) leans straight out over each edge; over an
/// inclined edge that is not quite the worst way, and the payload may be greater in the second order.
Capacity capacity(const Prepared&, const Levelling&, std::span<const Contact>, const CapacityAsked&,
                  const Control&);

}  // namespace rimstance
