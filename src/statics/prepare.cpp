#include "rimstance/statics/prepare.hpp"

#include <cmath>

#include "rimstance/loads/hoisting.hpp"

namespace rimstance {
namespace {

std::vector<std::string> unevaluated(const Scenario& scenario) {
  const Criteria& c = scenario.criteria;
  std::vector<std::string> out;
  for (const LoadCase& load_case : c.load_cases)
    if (!evaluated(load_case, scenario.machine.hoist)) out.push_back("load_case:" + load_case.name);
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

/// Hoisting factors, and what was taken for granted for them and for a snag.
void take_lifting(const Scenario& scenario, Prepared& out) {
  const Hoist& hoist = scenario.machine.hoist;
  bool snag = false, computed = false;
  for (const LoadCase& c : out.load_cases) {
    snag = snag || std::isfinite(c.stall);
    computed = computed || c.hoisting_computed;
    Lifting lifting;
    if (hoists(c)) lifting.factor = hoisting_factor(c, hoist, scenario.payload.mass);
    if (c.hoisting_computed) {
      const PickUp first = stiffest_pick_up(scenario), last = softest_pick_up(scenario);
      const double mass = (c.payload ? scenario.payload.mass : 0) + hoist.head_mass;
      lifting.stiffness = first.stiffness;
      lifting.factor_at_longest =
          hoisting_factor(hoist.speed, scenario.gravity, last.stiffness, mass + hoist.line_mass * last.line);
    }
    out.lifting.push_back(lifting);
  }
  if (snag)
    out.assumed.emplace_back("snag: the line pulls straight down (no slewing case gives a swing angle)");
  if (!computed) return;
  out.assumed.emplace_back(
      "hoisting: one factor a case, of the operation's stiffest pick-up (least line, shortest and steepest "
      "boom; "
      "never too low where more line is out); the outriggers give way as under a load amidst them");
  if (!(hoist.line_EA > 0)) out.assumed.emplace_back("hoist.line_EA: not given, the line counts as rigid");
  if (!bends(scenario.machine.boom))
    out.assumed.emplace_back("hoisting: the boom counts as rigid (not every section has bending_stiffness)");
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

/// Lays a schedule over what asks for one.
void follow(const Schedule& schedule, const Scenario& scenario, Prepared& out) {
  out.schedule = schedule;
  const Interval all = travels(schedule);
  std::vector<Domain> followed;
  for (Domain& domain : out.domains) {
    const bool scheduled = domain.transit ? scenario.transit->scheduled : scenario.operation.scheduled;
    if (scheduled) domain.travel = all;
    if (!scheduled || domain.transit) {
      followed.push_back(domain);
      continue;
    }
    out.operation = domain;
    followed = boxes(schedule, domain);
    CraneState& r = out.reference;
    const double at = reach(out.loads.machine.boom, *out.loads.boom, r.luff, r.extension);
    r.travel = travels_at(schedule, {r.slew, r.slew}, at).lo;
  }
  out.domains = std::move(followed);
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

Prepared prepare(std::shared_ptr<const Scenario> scenario, std::span<const double> splay,
                 const Schedule* schedule) {
  Prepared out;
  out.splay.assign(splay.begin(), splay.end());
  if (splay.empty())
    for (const Outrigger& o : scenario->machine.outriggers) out.splay.push_back(o.splay);
  if (!schedule && (scenario->operation.scheduled || (scenario->transit && scenario->transit->scheduled)))
    throw InputError(Place{"", 0, 0, "operation.counterweight"}, "a travel schedule has not been computed",
                     "state a travel or an interval of travels, as in \"[0.9, 1.1] m\"");
  out.loads = machine_loads(*scenario, out.splay);
  out.domains = domains(*scenario);
  for (const Domain& domain : out.domains)
    if (!has_state(out.loads, domain))
      throw InputError(Place{"", 0, 0, domain.transit ? "operation.transit" : "operation"},
                       "no luff and extension of the boom lies inside the cuts on reach and tip height",
                       "widen reach, tip_height, luff or extension");
  for (const LoadCase& load_case : scenario->criteria.load_cases)
    if (evaluated(load_case, scenario->machine.hoist))
      out.load_cases.push_back(resolved(load_case, *scenario));
  out.not_evaluated = unevaluated(*scenario);
  for (const LoadCase& load_case : scenario->criteria.load_cases)
    if (const std::string why = not_evaluated(load_case, scenario->machine.hoist); !why.empty())
      out.why_not_evaluated["load_case:" + load_case.name] = why;
  take_lifting(*scenario, out);
  out.operation = out.domains[0];
  out.reference = reference_state(out.loads, out.operation);
  if (schedule) follow(*schedule, *scenario, out);
  out.reference_masses = mass_state(out.loads, out.reference, true);
  out.scenario = std::move(scenario);
  return out;
}

Prepared prepare_free(const Scenario& scenario, std::span<const double> splay) {
  if (!scenario.machine.guide)
    throw InputError(Place{"", 0, 0, "machine"}, "the machine has no guide for a counterweight",
                     "describe `guide` with mount, start, direction, travel and bodies");
  auto open = std::make_shared<Scenario>(scenario);
  const auto free = [&](Operation& o) {
    o.scheduled = false;
    o.travel = scenario.machine.guide->travel;
  };
  free(open->operation);
  if (open->transit && open->transit->scheduled) free(*open->transit);
  return prepare(std::move(open), splay);
}

}  // namespace rimstance
