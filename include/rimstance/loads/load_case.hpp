#pragma once
#include "rimstance/model/scenario.hpp"

namespace rimstance {

/// What hangs at the tip in a load case. Net payload Q, head plus paid-out line H, P = Q + H.
/// mechanics: forward a P, percentage s of the tipping load a = 1/s, unloaded Q = 0, head-down only the
/// hanging line, released: upward pull k Q with H still hanging.
struct Hung {
  double fixed = 0;        ///< weight at the tip that does not depend on the line, factored [kg]
  double per_line = 0;     ///< weight per metre of line paid out, factored [kg/m]
  double pull = 0;         ///< upward pull at the tip over gravity [kg]; a load, not a weight
  double boom_factor = 0;  ///< b: share of F hung at the tip in addition, in moments only
};

/// `payload_hangs`: false where the domain carries none (transit with `payload: none`).
Hung hung(const LoadCase&, const Hoist&, double payload_mass, bool payload_hangs);

/// Does a payload hang in this case (so that the container holds at most units - 1)?
bool payload_hangs(const LoadCase&, bool payload_in_domain);

/// Can this case be computed here? Snag, hoisting and swing need dynamics that are not: they are named
/// in `not_evaluated`.
bool evaluated(const LoadCase&);

/// Required margins of a case; moment >= 0 where it names none.
std::map<MarginKind, double> required_margin(const LoadCase&);

}  // namespace rimstance
