#pragma once
#include <vector>

#include "rimstance/base/certified.hpp"
#include "rimstance/loads/parts.hpp"
#include "rimstance/statics/tipping.hpp"

namespace rimstance {

/// States that must be safe: a box, cut by reach and tip height, for every count of units left.
struct Domain {
  bool transit = false;
  bool payload = true;  ///< a payload hangs where the case has one
  Interval slew, luff, extension, travel, line;
  Interval reach{-kInfinity, kInfinity};       ///< platform plane [m]
  Interval tip_height{-kInfinity, kInfinity};  ///< above C's origin [m]
};

/// Operation and, where the scenario has one, transit. A slew of `all` is the machine's slew range.
std::vector<Domain> domains(const Scenario&);

/// A case's own wishes laid over a domain: luff steepest, counterweight at its end.
Domain narrowed(Domain, const LoadCase&);

/// Units that may be in the container: with a payload hanging 0 ... units - 1, without 0 ... units.
std::pair<int, int> units_left(const MachineLoads&, const LoadCase&, const Domain&);

/// The corners of a domain (narrowed already): ends of luff and extension, and where the ends of the
/// extension meet the cuts on reach; ends of travel, line and units. Slew at its lower end.
std::vector<CraneState> corner_states(const MachineLoads&, const LoadCase&, const Domain&);

/// Does the domain hold the state? Reach and height within 1e-9 m.
bool holds_state(const MachineLoads&, const Domain&, const CraneState&);

/// The least of one measure about one axis over a domain, with proof.
///
/// Slew is minimised in closed form (a first harmonic, split at the roots of parts with a growth
/// allowance); travel, line and units enter the moment linearly and the sum of least masses is concave in
/// them, so their ends suffice; luff and extension are searched by branch and bound: over a box, every
/// boom body lies between its innermost and outermost place, and for a fixed slew angle the least is at
/// one of the two. Where no cut is set and gravity is along C's z those are states of the box, so the
/// bound is attained and nothing is left to search.
/// Measures other than the moment ask at a level: "is it nowhere below v?" is the sign of a linear form
/// of the weights (for energy and force-angle: of a tangent of their level sets, which are convex towards
/// what is too high), answered the same way. Where the centre lies below the axis, or outside it, the
/// force-angle's level set bends the other way: then D atan2(D, H) is bounded by the cell's least D and
/// greatest H (least H where D < 0), and cells are split until that is close. A force-angle is in N m rad
/// here.
///
/// `not_above`: a value known from elsewhere; the search may stop once nothing below it can be here.
/// Then, and over an empty domain, and for a ratio where nothing overturns, the value is +inf.
/// An energy under a pull does not exist: +inf. Clearance and share where a release pulls more than all
/// weights press: -inf. `goal.gap` is absolute, in the measure's unit, and must be > 0; the gap reached may
/// be smaller, or larger if the search had to stop early; NaN if it gave up and nothing is proven.
/// `goal.decide_at`: only the sign of (least - it) is wanted. A value at or above it with a gap of 0 says
/// that every state is proven to lie there, within rounding, whatever `goal.gap`; a value below it was
/// attained; a gap of NaN beside a value above it says that neither could be proven.
[[nodiscard]] Certified<CraneState> least_over(const MachineLoads&, const LoadCase&, const Domain&,
                                               const TippingAxis&, MarginKind, const SearchGoal&,
                                               double not_above = kInfinity);

/// Is a measure proven to be nowhere below a level over a domain under every payload from that of the loads
/// to `payload_to` [kg]? Gives up early: fewer payloads at a time are told more easily.
[[nodiscard]] bool nowhere_below(const MachineLoads&, double payload_to, const LoadCase&, const Domain&,
                                 const TippingAxis&, MarginKind, double level);

/// A scalar that is linear in the weights: value of a unit mass at r is `per_place . r + constant`.
struct LinearForm {
  Vec3 per_place = Vec3::Zero();
  double constant = 0;
};
/// Least over a domain of sum(min(f_k, (1 + mu_k) f_k)); without b F. Foot loads use it with both signs.
[[nodiscard]] Certified<CraneState> least_over(const MachineLoads&, const LoadCase&, const Domain&,
                                               const LinearForm&, const SearchGoal&,
                                               double not_above = kInfinity);

}  // namespace rimstance
