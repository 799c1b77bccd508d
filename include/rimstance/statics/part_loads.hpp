#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rimstance/loads/boom_bending.hpp"
#include "rimstance/statics/stability.hpp"
#include "rimstance/statics/stowed.hpp"

namespace rimstance {

// What the designers of the parts read off: the greatest load of each part over every evaluated case, with
// its factors, and over the operation and the transit, as set. Gravity leans by set_error and work_tilt the
// way that is worst for the number; bodies that add to it count with their growth allowance, the others
// basic. b F takes no part: it is a margin of stability, not a load. Weights only: nothing moves here.
//
// What is linear in the weights is the extreme of a LinearForm over the envelope and proven like a moment's
// (`gap`): foot forces while every foot carries, the bearing's and the luff's moments. On a tilted chassis
// gravity turns against the platform with the slew; its component in a direction is then taken at the slew
// angles that make it greatest and least, which is exact to the second order in the tilt. The guide has one
// variable beside the slew and is solved at the ends of both. Nothing is sampled, but for feet that lift off
// (see FootLoad) and a guide that turns on a tilted chassis.

/// A greatest or least value [SI], how far beyond it the true one may lie, and where it stands (no edge).
struct ReadOff {
  double value = kUnset, gap = kUnset;
  At at;
};

/// A leg stands along C's z below the end of its arm, which lies in C's xy plane; its foot carries N upright
/// and its share of what leans. The arm's own weight, which relieves the arm, is left out.
struct FootPart {
  ReadOff reaction;                 ///< greatest N [N]
  double stroke = kUnset;           ///< of the leg there: it stays as it was set [m]
  double leg_axial = kUnset;        ///< [N]
  double leg_moment = kUnset;       ///< at the leg's upper end, from what leans [N m]
  double arm_moment = kUnset;       ///< at the pivot, in the upright plane of the arm [N m]
  double arm_side_moment = kUnset;  ///< at the pivot, about C's z [N m]
  double arm_shear = kUnset;        ///< across the arm [N]
  double arm_torsion = kUnset;      ///< about the arm [N m]
  /// How far this leg alone may be set wrong, either way, before something gives that holds with the strokes
  /// as solved: a foot lifts off that carries everywhere in the envelope, a leg passes its limit, or the
  /// chassis turns by more than set_error, where one is given. N_j changes by w_j w_i / sum(w^2 / k) per
  /// stroke, w the self-stress, exact while all carry.
  double stroke_tolerance = kUnset;  ///< [m]
  std::string tolerance_by;          ///< which gives first; where the tolerance is unset, why
};

/// On the ring at the foot of the slew axis, from all that turns with the platform.
struct BearingLoads {
  ReadOff overturning;     ///< length of the moment's part across the axis [N m]
  ReadOff axial;           ///< along the axis [N]
  double radial = kUnset;  ///< across the axis [N]: from tilt and lean alone
  /// Moment about the axis that a brake must hold [N m]: what is off the axis, times the greatest tilt and
  /// lean; attained where the sector lets the platform stand across the tilt, else an upper bound.
  double hold_torque = kUnset;
};

/// About the boom's foot pin, of boom and load, positive where it lowers the tip [N m].
struct LuffMoment {
  ReadOff least, greatest;
  bool backlash() const { return least.value < 0 && greatest.value > 0; }  ///< the drive's play is felt
};

/// At the state of the luff's greatest moment.
struct BoomLoads {
  At at;
  std::vector<BoomCut> cuts;       ///< at the root of each section; of other kinds at the root and quarters
  double side_moment = kUnset;     ///< at the root, across the boom's plane, from tilt and lean [N m]
  double tip_deflection = kUnset;  ///< across the boom [m]; see loads/boom_bending
  Interval period;                 ///< of the hanging load at the operation's shortest and longest line [s]
};

/// At the guide's start, from its bodies.
struct GuideLoads {
  ReadOff moment;         ///< length of the whole moment [N m]
  double force = kUnset;  ///< along the guide: to hold, or without friction to drive [N]
};

/// The line runs from the drum to the boom's foot pin, along the boom and down: what is `paid out` hangs.
struct HoistLoads {
  double pull = kUnset;  ///< greatest, of all that hangs unfactored, times a case's hoisting factor [N]
  double hoisting = 1;   ///< the greatest factor of the cases
  double line_needed = kUnset;  ///< at the longest boom and the longest line paid out [m]
  double line_left = kUnset;    ///< on the drum then [m]; unset where the line's length is not given
};

/// A number of ours beside bounds that a hand can check.
struct Plausible {
  std::string what;
  double value = kUnset, low = -kInfinity, high = kInfinity;
  std::string unit;
  bool ok() const { return value >= low && value <= high; }
};

struct [[nodiscard]] PartLoads {
  std::string reason;          ///< not empty: no pose or no support, and only `stowed` is set
  std::vector<FootPart> feet;  ///< per contact
  BearingLoads bearing;
  LuffMoment luff;
  BoomLoads boom;
  std::optional<GuideLoads> guide;
  HoistLoads hoist;
  Stowed stowed;
  std::vector<Plausible> plausibility;
};

/// `stability`: of the same contacts, every measure asked.
PartLoads part_loads(const Prepared&, const Levelling&, std::span<const Contact>, const Stability&);

/// Extensions and luffs at which a domain's luff, extension, reach and height meet in the boom's plane: what
/// grows along each of them is greatest at one of these.
std::vector<Vec2> boom_corners(const MachineLoads&, const Domain&);

}  // namespace rimstance
