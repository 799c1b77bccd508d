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

/// A reach, or one luff and extension, and a range of slew.
struct CapacityCell {
  double reach = kUnset;                     ///< [m], platform plane
  double luff = kUnset, extension = kUnset;  ///< what was asked by setting; by reach: not set
  Interval slew;                             ///< [rad]
  bool has_state = false;                    ///< false: the operation, cuts included, has no such state
  double capacity = kUnset;  ///< least over the states of the cell [kg]; +inf: nothing limits it
  double gap = kUnset;       ///< the payload that tips lies at most this far above [kg]
  Governing governing;       ///< of the least
  /// Each limit that some state of the cell meets without payload, once; at the ends of curves of one reach,
  /// and wherever else the search has looked.
  std::vector<Governing> met_without_load;
  double best = kUnset;  ///< greatest over the luffs of that reach, each with its worst slew [kg]
  /// No luff carries more than best + this [kg]. Unset where that is not known: heights play a part (tilted
  /// edges, gravity that leans), a leg governs, or a margin that no linear form tells.
  double best_gap = kUnset;
  double best_luff = kUnset, best_extension = kUnset;
};

/// Where capacity is asked for: at reaches, or at luffs times extensions.
struct CapacityAsked {
  std::vector<double> reaches;            ///< [m], rising
  std::vector<double> luffs, extensions;  ///< [rad], [m], rising; looked at where `reaches` is empty
  double slew_step = radians(10);         ///< width of the slew cells, which tile the operation's slew
};

/// `count` (>= 2) stations over an interval, ends included; one where it is a point.
std::vector<double> stations(const Interval&, int count);
/// The same over the operation's reach, cuts observed.
std::vector<double> reach_stations(const Prepared&, int count);

struct [[nodiscard]] Capacity {
  std::vector<Edge> edges;          ///< as in Stability; empty: nothing stands
  std::string reason;               ///< why nothing stands
  bool by_setting = false;          ///< cells of luff and extension, not of reach
  std::vector<CapacityCell> cells;  ///< reach by reach, or luff by luff and in it by extension; slew rising
  std::int64_t evaluations = 0;     ///< sums about an edge whose least over slew was taken
};

/// On the contacts of a levelled pose.
///   travel, line, units   concave: their ends; of a schedule, the travels it has at that reach and slew
///   luffs of one reach    concave along them where heights play no part; else the curve is cut until nothing
///                         in between is lower, or the gap says by how much it may be
///   gravity that leans    (set_error, work_tilt) the worst way over each edge: what that costs beyond
///   leaning
///                         straight out is bounded over the operation and taken off (least capacity, never
///                         more)
///   legs                  exact on four feet, lifted ones included; on more, sampled every five degrees of
///   slew
///                         once a foot lifts
///   energy, force-angle, tip angle under a pull   certified minima over all states of a reach; an energy may
///                         be broken by some payloads and kept again by greater ones, and a force-angle's
///                         reference changes with the payload: of both every payload up to the capacity is
///                         proven, stretch by stretch
///   best                  sections of the curve between two limits that take over from one another
Capacity capacity(const Prepared&, const Levelling&, std::span<const Contact>, const CapacityAsked&,
                  const Control&);

}  // namespace rimstance
