#pragma once
#include <cmath>
#include <map>
#include <string>

#include "rimstance/model/scenario.hpp"

namespace rimstance {

/// What hangs at the tip in a load case. Net payload Q, head plus paid-out line H, P = Q + H.
/// mechanics: forward a P, percentage s of the tipping load a = 1/s, unloaded Q = 0, head-down only the
/// hanging line, released: upward pull k Q with H still hanging, hoisting: phi times all that hangs, snag: a
/// downward pull of the stalled hoist in place of P (the line hangs straight down).
struct Hung {
  double fixed = 0;     ///< weight at the tip that does not depend on the line, factored [kg]
  double per_line = 0;  ///< weight per metre of line paid out, factored [kg/m]
  /// Pull at the tip over gravity [kg], upward where positive: a load, not a weight.
  double pull = 0;
  double boom_factor = 0;  ///< b: share of F hung at the tip in addition, in moments only
};

/// `payload_hangs`: false where the domain carries none (transit with `payload: none`). A case of stall or of
/// `hoisting: physics` must be resolved.
Hung hung(const LoadCase&, const Hoist&, double payload_mass, bool payload_hangs);

/// Does a payload hang in this case (so that the container holds at most units - 1)?
bool payload_hangs(const LoadCase&, bool payload_in_domain);

/// The case with what follows from its scenario: the stall's pull over gravity; the hoisting factor of the
/// operation's stiffest and lightest pick-up. One factor serves the whole case: where more line is out than
/// at that pick-up the load swings less, so it is never too low.
LoadCase resolved(LoadCase, const Scenario&);

/// phi of a resolved case with a net payload [kg]; 1 where it does not lift off.
double hoisting_factor(const LoadCase&, const Hoist&, double payload_mass);
inline bool hoists(const LoadCase& c) { return c.hoisting_computed || std::isfinite(c.hoisting); }

/// Why a case cannot be computed; empty: it can. Swing needs the dynamics of slewing, which are not; a stall
/// needs the hoist's pull.
std::string not_evaluated(const LoadCase&, const Hoist&);
inline bool evaluated(const LoadCase& c, const Hoist& hoist) { return not_evaluated(c, hoist).empty(); }

/// Required margins of a case; moment >= 0 where it names none.
std::map<MarginKind, double> required_margin(const LoadCase&);

}  // namespace rimstance
