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
/// falls with the luff, so its greatest is at a corner of the operation; along a reach that is cut F is
/// monotone, so there it is at an end of a curve.
Strength boom_root(const Prepared& prepared, const Domain& operation, double hanging) {
  const MachineLoads& loads = prepared.loads;
  Strength out{Strength::Of::boom_root, -kInfinity, loads.machine.boom.limit->root_moment, {}, kUnset};
  std::vector<CraneState> states = corner_states(loads, {}, operation);
  const Interval all = reaches(loads, operation);
  for (const double r : {all.lo, all.hi})
    for (const CurvePiece& piece : curve_at_reach(loads, operation, r))
      for (const CurveEnd& end : piece.end) {
        const BoomSetting set = setting_of(loads, piece.ahead, end);
        states.push_back(
            {operation.slew.lo, set.luff, set.extension, operation.travel.lo, operation.line.hi, 0});
      }
  for (CraneState state : states) {
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

/// All that hangs with all line out, times the hoisting factor where a case has one [kg].
double greatest_hanging(const Prepared& prepared, const Domain& operation) {
  const Hoist& hoist = prepared.loads.machine.hoist;
  const double rest = hoist.head_mass + hoist.line_mass * operation.line.hi;
  double out = prepared.loads.payload + rest;
  for (const LoadCase& c : prepared.load_cases) {
    const double payload = payload_hangs(c, operation.payload) ? prepared.loads.payload : 0;
    if (hoists(c)) out = std::max(out, hoisting_factor(c, hoist, prepared.loads.payload) * (payload + rest));
  }
  return out;
}

}  // namespace

std::vector<Strength> strengths(const Prepared& prepared) {
  const Machine& machine = prepared.loads.machine;
  const Domain& operation = prepared.operation;
  const double hanging = prepared.scenario->gravity * greatest_hanging(prepared, operation);
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
