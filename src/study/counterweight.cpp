#include "rimstance/study/counterweight.hpp"

#include <algorithm>
#include <cmath>

#include "travel_plan.hpp"

namespace rimstance {
namespace {

std::string why_nothing_stands(const Levelling& levelling, std::span<const Contact> contacts) {
  if (std::any_of(contacts.begin(), contacts.end(), [](const Contact& c) { return !c.supported; }))
    return "a foot has no ground under it";
  if (!std::isfinite(levelling.X_WC.p.z())) return "no pose of the machine was found";
  return "the contacts lie on one line: nothing stands";
}

/// A platform's guide turns with the boom: one range. A chassis' sees the boom go round: ranges of slew.
std::vector<Interval> slew_ranges(const Prepared& prepared, double step) {
  const Interval slew = prepared.operation.slew;
  const bool turns = prepared.loads.machine.guide->mount == Mount::platform;
  const int n = turns ? 1 : std::max(1, static_cast<int>(std::ceil(slew.width() / step - 1e-9)));
  std::vector<Interval> out;
  for (int k = 0; k < n; ++k)
    out.push_back(
        {slew.lo + slew.width() * k / n, k + 1 == n ? slew.hi : slew.lo + slew.width() * (k + 1) / n});
  return out;
}

}  // namespace

Counterweight counterweight(const Prepared& prepared, const Levelling& levelling,
                            std::span<const Contact> contacts, const CounterweightAsked& asked,
                            const Control& control) {
  expects(prepared.loads.machine.guide.has_value(), "counterweight: a machine with a guide");
  expects(!asked.reaches.empty() && asked.slew_step > 0, "counterweight: reaches and a slew step");
  Counterweight out;
  const Guide& guide = *prepared.loads.machine.guide;
  out.guide = guide.travel;
  out.bodies = 0;
  for (const Body& body : guide.bodies) out.bodies += body.mass;
  const bool supported =
      std::all_of(contacts.begin(), contacts.end(), [](const Contact& c) { return c.supported; });
  if (supported && std::isfinite(levelling.X_WC.p.z())) out.edges = support_polygon(contacts, levelling.X_WC);
  if (out.edges.empty()) {
    out.reason = why_nothing_stands(levelling, contacts);
    const double start = guide.travel.lo;
    out.plan.schedule.ranges = {
        {prepared.operation.slew, {{asked.reaches.front(), start}, {asked.reaches.back(), start}}}};
    out.plan.reserve = prepared.scenario->criteria.travel_reserve;
    return out;
  }
  std::vector<TravelColumn> columns;
  for (const Interval& slew : slew_ranges(prepared, asked.slew_step)) {
    Domain domain = prepared.operation;
    domain.slew = slew;
    columns.push_back(
        {std::make_shared<TravelWindows>(prepared, levelling.X_WC, contacts, out.edges, domain), {}});
    for (const double reach : asked.reaches) {
      if (control.stop.stop_requested()) throw Interrupted();
      columns.back().stations.push_back(columns.back().windows->at_reach(reach));
      out.states.push_back(columns.back().stations.back());
    }
  }
  for (const Domain& domain : prepared.domains) {
    if (!domain.transit) continue;
    out.has_transit = true;
    TravelWindows windows(prepared, levelling.X_WC, contacts, out.edges, domain);
    out.transit = windows.whole();
    out.evaluations += windows.evaluations();
  }
  out.plan = travel_plan(prepared, levelling, contacts, columns, control);
  for (const TravelColumn& column : columns) out.evaluations += column.windows->evaluations();
  return out;
}

}  // namespace rimstance
