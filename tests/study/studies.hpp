#pragma once
#include <memory>

#include "drawn.hpp"
#include "rimstance/statics/stability.hpp"
#include "stands.hpp"

// Machines on feet placed by hand, ready for a study.
namespace rimstance::studies {

struct Ready {
  Prepared prepared;
  Levelling levelling;
  std::vector<Contact> contacts;
};

/// `scenario` standing at a pose, feet at its arms with the strokes given.
inline Ready ready(const Scenario& scenario, const Pose& X_WC, const std::vector<double>& stroke) {
  Ready r;
  r.prepared = prepare(std::make_shared<Scenario>(scenario));
  r.levelling.outcome = Levelling::Outcome::level;
  r.levelling.X_WC = X_WC;
  r.contacts = stands::feet(scenario.machine, stroke, X_WC);
  return r;
}
inline Ready ready(const Scenario& scenario, const Pose& X_WC = {}) {
  return ready(scenario, X_WC, std::vector<double>(scenario.machine.outriggers.size(), 0.2));
}

/// Stripped of everything that limits but the moments of one case.
inline Scenario plain(Scenario s, const LoadCase& load_case) {
  s.machine.boom.limit.reset();
  s.machine.hoist.line_pull = kInfinity;
  s.transit.reset();
  s.criteria.load_cases = {load_case};
  s.criteria.foot_limits = false;
  s.criteria.set_error = s.criteria.work_tilt = 0;
  return s;
}

}  // namespace rimstance::studies
