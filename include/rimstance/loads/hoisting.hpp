#pragma once
#include <span>

#include "rimstance/loads/boom.hpp"

namespace rimstance {

// Lifting a load off the ground. The line takes up the load at the hoist's speed v against a spring k, which
// first stretches to the load's weight; the load then swings about that stretch with the amplitude
// v sqrt(m / k), so the greatest force is
//   phi m g,   phi = 1 + (v / g) sqrt(k / m).
// In newtons the second term does not depend on gravity; phi - 1 is the greater the weaker gravity is.
// phi is never taken too low: what is not known of the spring counts as rigid, and what is known as the
// stiffest it can be. A standard's phi_2 may be stated instead.

/// phi of a mass [kg] on a spring [N/m]; 1 where nothing hangs.
double hoisting_factor(double speed, double gravity, double stiffness, double mass);

/// EA / l [N/m]; +inf without line or without its EA.
double line_stiffness(const Hoist&, double line);

/// Of the outriggers under a load anywhere on a rigid chassis, at most [N/m]. With S = sum(k_i u_i u_i'),
/// u_i = (1, x_i, y_i), a load at u gives way by u' S^-1 u = 1 / k; by Cauchy and Schwarz that is at least
/// (u' e)^2 / (e' S e) with e = (1, 0, 0), so k <= sum(k_i).
double outrigger_stiffness(const Machine&);

/// Of the boom's tip against a vertical load [N/m], a cantilever of sections that bend by Euler and Bernoulli
/// and share the moment where they overlap; +inf unless every section has its E I.
double boom_stiffness(const Boom&, const BoomShape&, double luff, double extension);

/// Springs one behind the other; +inf of none.
double in_series(std::span<const double> stiffnesses);

/// A load being picked up: the spring under it, and how much line is out.
struct PickUp {
  double stiffness = kUnset;  ///< [N/m]
  double line = kUnset;       ///< [m]
};
/// Of the operation's pick-ups the one with the greatest phi: least line, shortest and steepest boom; and the
/// one with the least: most line, longest and flattest boom. Cuts are not looked at.
PickUp stiffest_pick_up(const Scenario&);
PickUp softest_pick_up(const Scenario&);

/// Does the boom's bending take part?
bool bends(const Boom&);

/// What hangs at the tip under a hoisting factor of physics, as a function of the net payload Q:
///   m(Q) = phi(Q) (Q + here),   phi = 1 + rate / sqrt(Q + lightest),   here >= lightest.
/// Convex in s = sqrt(Q + lightest): s^2 + rate s where no more line is out than at the pick-up, else it may
/// fall with Q at first.
struct Lift {
  double rate, lightest, here;
  double mass(double payload) const;
  /// Of all payloads the one with the least mass; nothing lighter is asked about where nothing else hangs.
  double turn() const;
  /// The payload beyond turn(), or before it, with a mass that is at least that of turn().
  double rising_to(double mass) const;
  double falling_to(double mass) const;
};

}  // namespace rimstance
