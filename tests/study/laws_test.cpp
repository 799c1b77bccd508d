// Laws that charts and verdicts keep: the margin at a chart's value, falling with reach, and stricter
// questions.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"
#include "rimstance/study/counterweight.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

using studies::ready;
using studies::Ready;

LoadCase forward(Draw& draw) {
  LoadCase c;
  c.name = "forward";
  c.load_factor = draw.in(1, 1.4);
  c.boom_factor = draw.in(0, 1) < 0.5 ? 0 : 0.1;
  c.mass_margin = draw.in(0, 1) < 0.5;
  return c;
}

std::vector<double> strokes(Draw& draw, const Scenario& s) {
  std::vector<double> out;
  for (std::size_t i = 0; i < s.machine.outriggers.size(); ++i) out.push_back(draw.in(0, 0.6));
  return out;
}

Scenario drawn_crane(Draw& draw) {
  Scenario s = studies::plain(drawn::scenario(draw), forward(draw));
  s.operation.luff = {draw.in(-0.2, 0.3), draw.in(0.5, 1.2)};
  s.operation.extension = {0, boom_shape(s.machine.boom)->greatest_extension()};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.slew = draw.in(0, 1) < 0.5 ? Interval{radians(-30), radians(30)} : Interval{-kPi, kPi};
  s.operation.travel = {0.2, 1.0};
  s.operation.line = {0, 20};
  return s;
}

Capacity chart(const Ready& r, std::vector<double> reaches) {
  CapacityAsked asked;
  asked.reaches = std::move(reaches);
  asked.slew_step = radians(40);
  return capacity(r.prepared, r.levelling, r.contacts, asked, {});
}

TEST_CASE(
    "under a chart's payload the state that governs keeps its margin exactly; a millionth more breaks it") {
  int governed = 0;
  for (int i = 0; i < cases() / 2; ++i) {
    Draw draw{91, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn_crane(draw);
    const MarginKind kind = std::array{MarginKind::moment, MarginKind::clearance, MarginKind::load_side_share,
                                       MarginKind::moment_ratio}[static_cast<std::size_t>(draw.in(0, 4))];
    const double margin = kind == MarginKind::moment         ? draw.in(0, 100)
                          : kind == MarginKind::moment_ratio ? draw.in(1.05, 1.4)
                                                             : draw.in(0, 0.1);
    s.criteria.load_cases[0].margin = {{kind, margin}};
    const Ready r = ready(s, drawn::pose(draw, 0), strokes(draw, s));
    const Interval all = reaches(r.prepared.loads, r.prepared.domains[0]);
    const Capacity c = chart(r, {all.lo + all.width() * draw.in(0.1, 0.95)});
    for (const CapacityCell& cell : c.cells) {
      if (cell.governing.limit != Limit::tipping || cell.governing.without_load) continue;
      if (!(cell.capacity > 1 && cell.capacity < 5000)) continue;
      ++governed;
      const TippingAxis axis = tipping_axis(c.edges[static_cast<std::size_t>(cell.governing.edge)],
                                            gravity_C(s, r.levelling.X_WC));
      const auto at = [&](double payload) {
        MachineLoads loads = r.prepared.loads;
        loads.payload = payload;
        const auto on_it = parts(loads, cell.governing.at, r.prepared.load_cases[0], true, true);
        return measures(on_it, axis, cell.governing.at.slew).of(kind) - margin;
      };
      CAPTURE(static_cast<int>(kind), margin, cell.capacity, cell.slew.lo);
      const double per_kg = (at(cell.capacity) - at(cell.capacity * 1.001)) / (0.001 * cell.capacity);
      CHECK(std::abs(at(cell.capacity)) <= 1e-8 * cell.capacity * per_kg);
      CHECK(at(cell.capacity * (1 + 1e-6)) < 0);
      CHECK(at(cell.capacity * (1 - 1e-6)) > 0);
    }
  }
  CHECK(governed >= cases() / 4);
}

TEST_CASE("with the boom flat no machine carries more farther out, once the tip is beyond its feet") {
  int fell = 0;
  for (int i = 0; i < cases() / 2; ++i) {
    Draw draw{92, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn_crane(draw);
    s.operation.luff = {0, 0};
    const Ready r = ready(s, drawn::pose(draw, 0), strokes(draw, s));
    double feet = 0;
    for (const Contact& contact : r.contacts) feet = std::max(feet, contact.p_C.head<2>().norm());
    const Interval all = reaches(r.prepared.loads, r.prepared.domains[0]);
    const double from = std::max(all.lo, feet + s.machine.platform.axis.head<2>().norm() + 0.2);
    if (!(all.hi > from + 0.1)) continue;
    const Capacity c = chart(r, {from, from + 0.3 * (all.hi - from), from + 0.7 * (all.hi - from), all.hi});
    const std::size_t columns = c.cells.size() / 4;
    for (std::size_t k = columns; k < c.cells.size(); ++k) {
      const CapacityCell &nearer = c.cells[k - columns], &farther = c.cells[k];
      REQUIRE(nearer.slew.lo == farther.slew.lo);
      CAPTURE(nearer.reach, farther.reach, farther.slew.lo);
      CHECK(farther.capacity <= nearer.capacity * (1 + 1e-9));
      fell += farther.capacity < 0.99 * nearer.capacity;
    }
  }
  CHECK(fell >= cases());
}

TEST_CASE("the least and the greatest reach of a level boom are reaches that it has") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{95, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn_crane(draw);
    s.operation.luff = {0, 0};
    const Ready r = ready(s);
    const Interval all = reaches(r.prepared.loads, r.prepared.domains[0]);
    for (const double reach : {all.lo, all.middle(), all.hi})
      CHECK(!curve_at_reach(r.prepared.loads, r.prepared.domains[0], reach).empty());
  }
}

/// One stricter demand of several kinds.
void tighten(Draw& draw, Scenario& s, int what) {
  LoadCase& c = s.criteria.load_cases[0];
  auto& [kind, margin] = *c.margin.begin();
  if (what == 0) margin += kind == MarginKind::moment ? draw.in(1, 200) : draw.in(0.01, 0.1);
  if (what == 1) s.criteria.set_error += draw.in(0.001, 0.02);
  if (what == 2) {
    c.mass_margin = true;
    for (Body& b : s.machine.chassis.bodies) b.margin += draw.in(0, 0.2);
    for (Body& b : s.machine.platform.bodies) b.margin += draw.in(0, 0.2);
    for (Body& b : s.machine.guide->bodies) b.margin += draw.in(0, 0.2);
  }
  if (what == 3) s.criteria.load_cases.push_back(drawn::load_case(draw));
  if (what == 4) s.operation.travel = {s.operation.travel.lo - 0.2, s.operation.travel.hi + 0.2};
  if (what == 5) s.operation.line.hi += draw.in(5, 30);
}

TEST_CASE(
    "a stricter question only takes cells away: what holds under it held before, reach by reach and slew by "
    "slew") {
  int lost = 0, kept = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{93, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario loose = drawn_crane(draw);
    const MarginKind kind = draw.in(0, 1) < 0.5 ? MarginKind::moment : MarginKind::load_side_share;
    loose.criteria.load_cases[0].margin = {
        {kind, kind == MarginKind::moment ? draw.in(0, 300) : draw.in(0.1, 0.35)}};
    loose.criteria.set_error = draw.in(0, 1) < 0.5 ? 0 : 0.005;
    loose.payload.mass = draw.in(20, 150);
    Scenario strict = loose;
    const int what = static_cast<int>(draw.in(0, 6));
    tighten(draw, strict, what);
    const Pose X_WC = drawn::pose(draw, 0.1);
    const auto stroke = strokes(draw, loose);
    Ready before = ready(loose, X_WC, stroke), after = ready(strict, X_WC, stroke);
    const Interval all = reaches(before.prepared.loads, before.prepared.domains[0]);
    const auto holds = [&](Ready& r, const Interval& slew, double reach) {
      r.prepared.domains[0].slew = slew;
      r.prepared.domains[0].reach = {reach, reach};
      const Stability found = assess(r.prepared, r.levelling, r.contacts, Question::verdict, {});
      return std::all_of(found.cases.begin(), found.cases.end(),
                         [](const CaseResult& one) { return one.ok; });
    };
    for (int k = 0; k < 4; ++k) {
      const Interval slew{-kPi + k * kPi / 2, -kPi / 2 + k * kPi / 2};
      for (const double share : {0.2, 0.5, 0.9}) {
        const double reach = all.lo + share * all.width();
        CAPTURE(what, slew.lo, reach);
        const bool held = holds(before, slew, reach), holds_still = holds(after, slew, reach);
        CHECK((held || !holds_still));
        lost += held && !holds_still;
        kept += holds_still;
      }
    }
  }
  CHECK(lost >= cases() / 40);
  CHECK(kept >= cases() / 20);
}

TEST_CASE("a stricter margin only narrows the masses that some travel of the guide can do with") {
  int narrowed = 0;
  for (int i = 0; i < cases() / 5; ++i) {
    Draw draw{94, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn_crane(draw);
    s.machine.guide->mount = Mount::platform;
    s.criteria.load_cases[0].margin = {{MarginKind::load_side_share, draw.in(0.05, 0.3)}};
    s.payload.mass = draw.in(50, 150);
    const Pose X_WC = drawn::pose(draw, 0);
    const auto stroke = strokes(draw, s);
    const double share = draw.in(0.2, 0.9);
    const auto masses = [&](double stricter) {
      Scenario asked = s;
      asked.criteria.load_cases[0].margin.begin()->second += stricter;
      Ready r = ready(asked, X_WC, stroke);
      r.prepared = prepare_free(asked);
      const Interval all = reaches(r.prepared.loads, r.prepared.operation);
      return counterweight(r.prepared, r.levelling, r.contacts, {{all.lo + share * all.width()}, radians(60)},
                           {})
          .states.at(0)
          .mass;
    };
    const Interval before = masses(0), after = masses(draw.in(0.01, 0.1));
    CAPTURE(before.lo, before.hi, after.lo, after.hi);
    if (!(after.lo <= after.hi)) continue;
    CHECK(before.lo <= after.lo * (1 + 1e-9) + 1e-9);
    CHECK(before.hi >= after.hi * (1 - 1e-9));
    narrowed += before.lo < after.lo * (1 - 1e-6);
  }
  CHECK(narrowed >= cases() / 50);
}

}  // namespace
}  // namespace rimstance
