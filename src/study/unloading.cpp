#include "rimstance/study/unloading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rimstance/statics/curves.hpp"
#include "rimstance/statics/strength.hpp"

namespace rimstance {
namespace {

constexpr double kSlack = 1e-9;  ///< of slews and reaches [rad, m]

/// `slew` with whole turns added so that the range holds it; NaN: none does.
double within(const Interval& range, double slew) {
  const double first = slew + 2 * kPi * std::ceil((range.lo - kSlack - slew) / (2 * kPi));
  return first <= range.hi + kSlack ? std::clamp(first, range.lo, range.hi) : kUnset;
}

/// Heights of the container's centre above C's origin.
double height_of(const Machine& machine) {
  const Container& c = *machine.container;
  return c.at.z() + (c.mount == Mount::platform ? machine.platform.axis.z() : 0);
}

/// A domain's states over the container.
Domain over(Domain domain, const Machine& machine, const Unloading& at, double slew) {
  if (std::isfinite(slew)) domain.slew = {slew, slew};
  domain.reach = {std::max(domain.reach.lo, at.reach), std::min(domain.reach.hi, at.reach)};
  const double least = height_of(machine), line = machine.hoist.line_length;
  domain.tip_height.lo = std::max(domain.tip_height.lo, least);
  domain.tip_height.hi = std::min(domain.tip_height.hi, std::isfinite(line) ? least + line : kInfinity);
  return domain;
}

/// What the machine can do, were it not for the operation.
Domain of_machine(const Prepared& prepared) {
  const Machine& machine = prepared.loads.machine;
  Domain out = prepared.operation;
  out.luff = machine.boom.luff_range;
  out.extension = {0, prepared.loads.boom->greatest_extension()};
  out.reach = out.tip_height = {-kInfinity, kInfinity};
  return out;
}

/// Reach and slew of the container, and why there is none.
Unloading place_of(const Machine& machine) {
  const Container& c = *machine.container;
  const bool turns = c.mount == Mount::platform;
  const Vec2 from_axis = turns ? Vec2(c.at.head<2>()) : Vec2((c.at - machine.platform.axis).head<2>());
  Unloading out;
  out.reach = from_axis.norm();
  const double beside = machine.boom.foot.y(), ahead = ahead_of_foot(machine.boom, out.reach);
  if (turns) {
    if (std::abs(from_axis.y() - beside) > kBesideBoom)
      out.reason = "it turns with the platform, beside the plane of the boom";
    else if (from_axis.x() < std::max(0.0, machine.boom.foot.x()))
      out.reason = "it turns with the platform, behind the boom";
    return out;
  }
  if (!(ahead >= 0)) {
    out.reason = "it is nearer to the slew axis than the boom's foot";
    return out;
  }
  const double tip = std::atan2(beside, machine.boom.foot.x() + ahead);
  out.slew = wrapped(std::atan2(from_axis.y(), from_axis.x()) - tip);
  return out;
}

/// The lowest tip of some states over the container.
bool lowest(const MachineLoads& loads, const Domain& states, Unloading& out) {
  double height = kInfinity;
  for (const CurvePiece& piece : curve_at_reach(loads, states, out.reach))
    for (const CurveEnd& end : piece.end) {
      if (!(end.height < height)) continue;
      height = end.height;
      const BoomSetting set = setting_of(loads, piece.ahead, end);
      out.luff = set.luff;
      out.extension = std::max(0.0, set.extension);
    }
  if (!std::isfinite(height)) return false;
  const Machine& machine = loads.machine;
  out.height = machine.platform.axis.z() + machine.boom.foot.z() + height - height_of(machine);
  return true;
}

/// Highest tip over the container, above its centre: the line that may be out.
double longest_line(const MachineLoads& loads, const Domain& states, double reach) {
  double height = -kInfinity;
  for (const CurvePiece& piece : curve_at_reach(loads, states, reach))
    for (const CurveEnd& end : piece.end) height = std::max(height, end.height);
  const Machine& machine = loads.machine;
  return machine.platform.axis.z() + machine.boom.foot.z() + height - height_of(machine);
}

void look(const Prepared& prepared, const Domain& states, const Levelling& levelling,
          std::span<const Contact> contacts, const Control& control, Unloading& out) {
  Prepared there = prepared;
  there.operation = states;
  there.domains = {states};
  Stability s = assess(there, levelling, contacts, Question::extremes, control);
  if (s.outcome == Stability::Outcome::no_support) return;
  for (std::size_t i = 0; i < s.cases.size(); ++i)
    if (!s.cases[i].ok) out.fails.push_back("load_case:" + there.load_cases[i].name);
  const std::vector<Outrigger>& legs = there.scenario->machine.outriggers;
  for (std::size_t i = 0; i < s.feet.size(); ++i)
    if (there.scenario->criteria.foot_limits && s.feet[i].greatest > legs[i].leg_limit) {
      out.fails.push_back("leg_limit");
      break;
    }
  for (const Strength& strength : strengths(there))
    if (strength.asked > strength.allowed)
      out.fails.push_back(strength.of == Strength::Of::line_pull ? "hoist" : "structural");
  out.stability = std::move(s);
}

}  // namespace

std::optional<Unloading> unloading(const Prepared& prepared, const Levelling& levelling,
                                   std::span<const Contact> contacts, const Control& control) {
  const Machine& machine = prepared.loads.machine;
  if (!machine.container || machine.container->units == 0) return {};
  Unloading out = place_of(machine);
  if (!out.reason.empty()) return out;
  const bool turned = std::isfinite(out.slew);
  const Domain& operation = prepared.operation;
  const double in_operation = turned ? within(operation.slew, out.slew) : operation.slew.lo;
  if (std::isfinite(in_operation) &&
      lowest(prepared.loads, over(operation, machine, out, turned ? in_operation : kUnset), out)) {
    out.in_operation = out.reachable = true;
    if (turned) out.slew = in_operation;
    return out;
  }
  const double in_range = turned ? within(machine.platform.slew_range, out.slew) : kUnset;
  if (turned && !std::isfinite(in_range)) {
    out.reason = fmt::format("the platform does not turn to {:.1f} deg", degrees(out.slew));
    return out;
  }
  Domain states = over(of_machine(prepared), machine, out, in_range);
  out.reachable = lowest(prepared.loads, states, out);
  if (!out.reachable) {
    out.reason =
        fmt::format("no luff and extension of the boom brings the tip over it, at reach {:.2f} m", out.reach);
    return out;
  }
  if (turned) out.slew = in_range;
  states.line = {0, longest_line(prepared.loads, states, out.reach)};
  look(prepared, states, levelling, contacts, control, out);
  return out;
}

}  // namespace rimstance
