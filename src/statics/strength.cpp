#include "rimstance/statics/strength.hpp"

#include <algorithm>

#include "rimstance/statics/curves.hpp"

namespace rimstance {
namespace {

/// Reaches at which the allowed load may be least: the ends, the rows, and just beyond each row.
std::vector<double> critical_reaches(const StructuralLimit& limit, const Interval& all) {
  std::vector<double> out{all.lo, all.hi};
  for (const auto& row : limit.rows) {
    if (all.contains(row.reach)) out.push_back(row.reach);
    const double beyond = std::nextafter(row.reach, kInfinity);
    if (all.contains(beyond)) out.push_back(beyond);
  }
  return out;
}

CraneState state_at(const MachineLoads& loads, const Domain& operation, double reach) {
  CraneState out;
  out.slew = operation.slew.lo;
  out.travel = operation.travel.lo;
  out.line = operation.line.hi;
  if (const auto curve = curve_at_reach(loads, operation, reach); !curve.empty()) {
    const BoomSetting set = setting_of(loads, curve[0].ahead, curve[0].end[0]);
    out.luff = set.luff;
    out.extension = set.extension;
  }
  return out;
}

Strength boom_load(const Prepared& prepared, const Domain& operation, double hanging) {
  const StructuralLimit& limit = *prepared.loads.machine.boom.limit;
  Strength out{Strength::Of::boom_load, hanging, kInfinity, {}, kUnset};
  for (const double reach : critical_reaches(limit, reaches(prepared.loads, operation))) {
    const double allowed = structural_load(limit, reach);
    if (!(allowed < out.allowed)) continue;
    out.allowed = allowed;
    out.reach = reach;
  }
  out.at = state_at(prepared.loads, operation, out.reach);
  return out;
}

/// Moment about the foot pin of what hangs and of the boom's own weight. It grows with the extension and
/// falls with the luff, so its greatest is at a corner of the operation, cuts included.
Strength boom_root(const Prepared& prepared, const Domain& operation, double hanging) {
  const MachineLoads& loads = prepared.loads;
  Strength out{Strength::Of::boom_root, -kInfinity, loads.machine.boom.limit->root_moment, {}, kUnset};
  for (CraneState state : corner_states(loads, {}, operation)) {
    const double length = loads.boom->length(state.extension), ahead = length * std::cos(state.luff);
    const double own = prepared.scenario->gravity * boom_equivalent(*loads.boom, state.extension);
    const double moment = (hanging + own) * ahead;
    if (!(moment > out.asked)) continue;
    state.line = operation.line.hi;
    out.asked = moment;
    out.at = state;
    out.reach = reach(loads.machine.boom, *loads.boom, state.luff, state.extension);
  }
  return out;
}

}  // namespace

std::vector<Strength> strengths(const Prepared& prepared) {
  const Machine& machine = prepared.loads.machine;
  const Domain& operation = prepared.domains[0];
  const double mass =
      prepared.loads.payload + machine.hoist.head_mass + machine.hoist.line_mass * operation.line.hi;
  const double hanging = prepared.scenario->gravity * mass;
  std::vector<Strength> out;
  if (machine.boom.limit && !machine.boom.limit->rows.empty())
    out.push_back(boom_load(prepared, operation, hanging));
  if (machine.boom.limit && std::isfinite(machine.boom.limit->root_moment))
    out.push_back(boom_root(prepared, operation, hanging));
  if (std::isfinite(machine.hoist.line_pull)) {
    const Interval all = reaches(prepared.loads, operation);
    out.push_back({Strength::Of::line_pull, hanging, machine.hoist.line_pull,
                   state_at(prepared.loads, operation, all.lo), all.lo});
  }
  return out;
}

}  // namespace rimstance
