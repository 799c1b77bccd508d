#include "rimstance/statics/prepare.hpp"

#include <cmath>

namespace rimstance {
namespace {

std::vector<std::string> unevaluated(const Scenario& scenario) {
  const Criteria& c = scenario.criteria;
  std::vector<std::string> out;
  for (const LoadCase& load_case : c.load_cases)
    if (!evaluated(load_case)) out.push_back("load_case:" + load_case.name);
  if (std::isfinite(c.bearing)) out.push_back("bearing");
  if (std::isfinite(c.slip)) out.push_back("slip");
  if (std::isfinite(c.slope)) out.push_back("slope");
  if (std::isfinite(c.rim)) out.push_back("rim");
  if (c.settle_proof_slew) out.push_back("settle");
  return out;
}

/// Does the boom have any state inside luff, extension and the cuts?
bool has_state(const MachineLoads& loads, const Domain& domain) {
  TippingAxis axis;
  axis.c = Vec3::Zero();
  axis.n = Vec3::UnitX();
  axis.v = Vec3::UnitZ();
  axis.cos_psi = axis.g = axis.width = 1;
  return std::isfinite(least_over(loads, {}, domain, axis, MarginKind::moment, {1e-3, kInfinity}).value);
}

double nearest_slew(const Interval& slew) {
  double best = slew.lo;
  for (int turn = -2; turn <= 2; ++turn) {
    const double zero = 2 * kPi * turn;
    if (slew.contains(zero)) return zero;
  }
  const double at_lo = std::abs(wrapped(slew.lo)), at_hi = std::abs(wrapped(slew.hi));
  if (at_hi < at_lo - 1e-12) best = slew.hi;  // a tie, within rounding, takes the smaller number
  return best;
}

}  // namespace

CraneState reference_state(const MachineLoads& loads, const Domain& operation) {
  CraneState s;
  s.slew = nearest_slew(operation.slew);
  s.luff = operation.luff.lo;
  s.extension = operation.extension.lo;
  s.travel = operation.travel.lo;
  s.line = operation.line.lo;
  s.units_left = loads.machine.container ? std::max(loads.machine.container->units - 1, 0) : 0;
  return s;
}

Prepared prepare(std::shared_ptr<const Scenario> scenario, std::span<const double> splay) {
  Prepared out;
  out.splay.assign(splay.begin(), splay.end());
  if (splay.empty())
    for (const Outrigger& o : scenario->machine.outriggers) out.splay.push_back(o.splay);
  if (scenario->operation.scheduled || (scenario->transit && scenario->transit->scheduled))
    throw InputError(Place{"", 0, 0, "operation.counterweight"}, "a travel schedule has not been computed",
                     "state a travel or an interval of travels, as in \"[0.9, 1.1] m\"");
  out.loads = machine_loads(*scenario, out.splay);
  out.domains = domains(*scenario);
  for (const Domain& domain : out.domains)
    if (!has_state(out.loads, domain))
      throw InputError(Place{"", 0, 0, domain.transit ? "operation.transit" : "operation"},
                       "no luff and extension of the boom lies inside the cuts on reach and tip height",
                       "widen reach, tip_height, luff or extension");
  for (const LoadCase& load_case : scenario->criteria.load_cases) {
    const auto margins = required_margin(load_case);
    if (evaluated(load_case) && !margins.contains(MarginKind::force_angle))
      out.load_cases.push_back(load_case);
  }
  out.not_evaluated = unevaluated(*scenario);
  for (const LoadCase& load_case : scenario->criteria.load_cases)
    if (evaluated(load_case) && required_margin(load_case).contains(MarginKind::force_angle))
      out.not_evaluated.push_back("load_case:" + load_case.name);
  out.reference = reference_state(out.loads, out.domains[0]);
  out.reference_masses = mass_state(out.loads, out.reference, true);
  out.scenario = std::move(scenario);
  return out;
}

}  // namespace rimstance
