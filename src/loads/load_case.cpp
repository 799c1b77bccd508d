#include "rimstance/loads/load_case.hpp"

#include <cmath>

namespace rimstance {

bool payload_hangs(const LoadCase& load_case, bool payload_in_domain) {
  return load_case.payload && payload_in_domain;
}

Hung hung(const LoadCase& load_case, const Hoist& hoist, double payload_mass, bool payload_in_domain) {
  const double a = std::isfinite(load_case.tipping_load) ? 1 / load_case.tipping_load : load_case.load_factor;
  const double head = load_case.head_down ? 0 : hoist.head_mass;
  const double payload = payload_hangs(load_case, payload_in_domain) ? payload_mass : 0;
  Hung out;
  out.per_line = a * hoist.line_mass;
  out.boom_factor = std::isfinite(load_case.tipping_load) ? 0 : load_case.boom_factor;
  if (std::isfinite(load_case.release)) {
    out.fixed = a * head;
    out.pull = load_case.release * payload;
  } else {
    out.fixed = a * (head + payload);
  }
  return out;
}

bool evaluated(const LoadCase& load_case) {
  return !std::isfinite(load_case.stall) && !std::isfinite(load_case.hoisting) &&
         !load_case.hoisting_computed && !load_case.swing;
}

std::map<MarginKind, double> required_margin(const LoadCase& load_case) {
  if (load_case.margin.empty()) return {{MarginKind::moment, 0.0}};
  return load_case.margin;
}

}  // namespace rimstance
