#include "rimstance/loads/load_case.hpp"

#include <cmath>

#include "rimstance/loads/hoisting.hpp"

namespace rimstance {

bool payload_hangs(const LoadCase& load_case, bool payload_in_domain) {
  return load_case.payload && payload_in_domain;
}

double hoisting_factor(const LoadCase& load_case, const Hoist& hoist, double payload_mass) {
  if (!load_case.hoisting_computed) return std::isfinite(load_case.hoisting) ? load_case.hoisting : 1;
  expects(std::isfinite(load_case.hoisting_rate), "hoisting_factor: a resolved case");
  const double payload = load_case.payload ? payload_mass : 0;
  const double mass = payload + hoist.head_mass + hoist.line_mass * load_case.hoisting_line;
  return mass > 0 ? 1 + load_case.hoisting_rate / std::sqrt(mass) : 1;
}

Hung hung(const LoadCase& load_case, const Hoist& hoist, double payload_mass, bool payload_in_domain) {
  const bool by_share = std::isfinite(load_case.tipping_load);
  Hung out;
  out.boom_factor = by_share ? 0 : load_case.boom_factor;
  if (std::isfinite(load_case.stall)) {
    expects(load_case.stall_pull >= 0, "hung: a resolved case");
    out.pull = -load_case.stall_pull;
    return out;
  }
  const double a = (by_share ? 1 / load_case.tipping_load : load_case.load_factor) *
                   hoisting_factor(load_case, hoist, payload_mass);
  const double head = load_case.head_down ? 0 : hoist.head_mass;
  const double payload = payload_hangs(load_case, payload_in_domain) ? payload_mass : 0;
  out.per_line = a * hoist.line_mass;
  if (std::isfinite(load_case.release)) {
    out.fixed = a * head;
    out.pull = load_case.release * payload;
  } else {
    out.fixed = a * (head + payload);
  }
  return out;
}

LoadCase resolved(LoadCase load_case, const Scenario& scenario) {
  const Hoist& hoist = scenario.machine.hoist;
  if (std::isfinite(load_case.stall))
    load_case.stall_pull = load_case.stall * hoist.line_pull / scenario.gravity;
  if (load_case.hoisting_computed) {
    const PickUp stiffest = stiffest_pick_up(scenario);
    // phi of a kilogram, less 1.
    load_case.hoisting_rate = hoisting_factor(hoist.speed, scenario.gravity, stiffest.stiffness, 1) - 1;
    load_case.hoisting_line = stiffest.line;
    load_case.hoisting = hoisting_factor(load_case, hoist, scenario.payload.mass);
  }
  return load_case;
}

std::string not_evaluated(const LoadCase& load_case, const Hoist& hoist) {
  if (load_case.swing) return "the swing of the load while slewing is not computed";
  if (std::isfinite(load_case.stall) && !std::isfinite(hoist.line_pull))
    return "hoist.line_pull, of which the stall is a share, is not given";
  return {};
}

std::map<MarginKind, double> required_margin(const LoadCase& load_case) {
  if (load_case.margin.empty()) return {{MarginKind::moment, 0.0}};
  return load_case.margin;
}

}  // namespace rimstance
