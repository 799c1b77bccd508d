// Which states must be safe, and how the search may be asked.
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/prepare.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using drawn::Stance;

LoadCase named(const char* name) {
  for (const LoadCase& c : find_criteria("study-default")->criteria.load_cases)
    if (c.name == name) return c;
  FAIL("no such case");
  return {};
}

Domain box(Draw& draw, const Stance& s) {
  Domain d;
  d.slew = {s.state.slew, s.state.slew + draw.in(0, 4)};
  d.luff = {draw.in(0, 0.5), draw.in(0.5, 1.3)};
  d.extension = {0, s.loads.boom->greatest_extension()};
  d.travel = {0, draw.in(0, 1.4)};
  d.line = {0, draw.in(0, 40)};
  if (draw.in(0, 1) < 0.5) d.reach = {-kInfinity, s.loads.boom->length(0) + 0.7 * d.extension.hi};
  return d;
}

CraneState inside(Draw& draw, const Domain& d, int units) {
  return {draw.in(d.slew.lo, d.slew.hi),           draw.in(d.luff.lo, d.luff.hi),
          draw.in(d.extension.lo, d.extension.hi), draw.in(d.travel.lo, d.travel.hi),
          draw.in(d.line.lo, d.line.hi),           static_cast<int>(draw.in(0, units + 1))};
}

}  // namespace

TEST_CASE(
    "the unit on the hook is not in the container: 0 to 5 of six are left with a payload, 0 to 6 without") {
  const Scenario s = rigs::dunlin();
  const MachineLoads loads = machine_loads(s, stands::splay(s.machine));
  Domain carrying, empty;
  empty.payload = false;
  CHECK(units_left(loads, named("forward"), carrying) == std::pair{0, 5});
  CHECK(units_left(loads, named("released"), carrying) == std::pair{0, 5});
  CHECK(units_left(loads, named("unloaded"), carrying) == std::pair{0, 6});
  CHECK(units_left(loads, named("head-down"), carrying) == std::pair{0, 6});
  CHECK(units_left(loads, named("forward"), empty) == std::pair{0, 6});
  MachineLoads none = loads;
  none.machine.container.reset();
  CHECK(units_left(none, named("forward"), carrying) == std::pair{0, 0});
}

TEST_CASE("operation and transit are asked each with its own intervals") {
  Scenario s = rigs::dunlin();
  s.machine.platform.slew_range = {-2, 3};
  s.operation.slew_all = true;
  const auto both = domains(s);
  REQUIRE(both.size() == 2);
  CHECK(!both[0].transit);
  CHECK(both[0].slew.lo == -2);
  CHECK(both[0].slew.hi == 3);
  CHECK(both[0].reach.hi == 5.7);
  CHECK(both[0].payload);
  CHECK(both[1].transit);
  CHECK(both[1].luff.lo == both[1].luff.hi);
  CHECK(!both[1].payload);
  s.transit.reset();
  s.machine.guide.reset();
  REQUIRE(domains(s).size() == 1);
  CHECK(domains(s)[0].travel.hi == 0);  // no guide, no travel
}

TEST_CASE("a case may narrow the envelope to the steepest luff or the counterweight's end") {
  const Domain d = domains(rigs::dunlin())[1];
  Domain wide = d;
  wide.luff = {0.2, 0.9};
  wide.travel = {0.1, 1.2};
  LoadCase c;
  CHECK(narrowed(wide, c).luff.lo == 0.2);
  CHECK(narrowed(wide, c).travel.lo == 0.1);
  c.luff_steepest = c.counterweight_end = true;
  CHECK(narrowed(wide, c).luff.lo == 0.9);
  CHECK(narrowed(wide, c).travel.lo == 1.2);
  CHECK(narrowed(wide, c).luff.hi == 0.9);
}

TEST_CASE("reach and tip height cut states out of the box") {
  const Scenario s = rigs::dunlin();
  const MachineLoads loads = machine_loads(s, stands::splay(s.machine));
  Domain d = domains(s)[0];
  d.luff = {0, 1.3};
  d.reach = {3, 5};
  d.tip_height = {2, 4};
  // Foot pin 0.2 m ahead of the axis and 1.15 m over C; at 30 deg and 4 m the tip is at 3.664 and 3.15 m.
  CraneState at{0, radians(30), 0.8, 1.1, 0, 0};
  CHECK(holds_state(loads, d, at));
  d.reach = {3.67, 5};
  CHECK(!holds_state(loads, d, at));
  d.reach = {3, 3.66};
  CHECK(!holds_state(loads, d, at));
  d.reach = {3, 5};
  d.tip_height = {3.16, 4};
  CHECK(!holds_state(loads, d, at));
  d.tip_height = {2, 3.14};
  CHECK(!holds_state(loads, d, at));
}

TEST_CASE("an operation none of whose states the boom can reach is refused") {
  Scenario s = rigs::dunlin();
  s.operation.reach = {9, 10};
  try {
    (void)prepare(std::make_shared<const Scenario>(s));
    FAIL("accepted");
  } catch (const InputError& e) {
    REQUIRE(e.issues.size() == 1);
    CHECK(e.issues[0].place.path == "operation");
  }
}

TEST_CASE("over a single state the least is the value there, however flat or steep the boom") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{463, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Stance s = drawn::stance(draw);
    s.scenario.machine.container->units = 0;  // one state, not one for each count of units
    drawn::refresh(s);
    CraneState at = s.state;
    at.units_left = 0;
    at.luff = draw.in(0, 1) < 0.5 ? std::pow(10, draw.in(-12, 0)) : kPi / 2 - std::pow(10, draw.in(-12, 0));
    Domain d;
    d.slew = {at.slew, at.slew}, d.luff = {at.luff, at.luff}, d.extension = {at.extension, at.extension};
    d.travel = {at.travel, at.travel}, d.line = {at.line, at.line};
    // A cut that just leaves the state in.
    if (draw.in(0, 1) < 0.5)
      d.reach.hi = reach(s.scenario.machine.boom, *s.loads.boom, at.luff, at.extension);
    if (draw.in(0, 1) < 0.5)
      d.tip_height.lo = tip_height(s.scenario.machine, *s.loads.boom, at.luff, at.extension);
    const double there = drawn::all_measures(s, at)[0].moment;
    const auto found = least_over(s.loads, s.load_case, d, tipping_axis(s.edges[0], s.gravity_C),
                                  MarginKind::moment, {1e-6, {}});
    CHECK(found.value == Approx(there).margin(1e-6));
  }
}

TEST_CASE("a search that only has to decide finds the same side as one that goes to the end") {
  for (int i = 0; i < cases() / 8; ++i) {
    Draw draw{461, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Stance s = drawn::stance(draw);
    const Domain d = box(draw, s);
    const TippingAxis axis = tipping_axis(s.edges[0], s.gravity_C);
    for (const MarginKind kind : {MarginKind::moment, MarginKind::clearance, MarginKind::load_side_share}) {
      const double gap = kind == MarginKind::moment ? 1e-3 : 1e-6;
      const auto whole = least_over(s.loads, s.load_case, d, axis, kind, {gap, {}});
      for (const double away : {-0.1, 0.1}) {
        const double level = whole.value + away * std::abs(whole.value) + 10 * std::copysign(gap, away);
        const auto decided = least_over(s.loads, s.load_case, d, axis, kind, {gap, level});
        CHECK((decided.value < level) == (away > 0));
        CHECK(decided.evaluations <= whole.evaluations + 20);
      }
      // Something lower is known from elsewhere: nothing below it can be here.
      const auto elsewhere =
          least_over(s.loads, s.load_case, d, axis, kind, {gap, {}}, whole.value - 2 * gap);
      CHECK(elsewhere.value == kInfinity);
    }
  }
}

TEST_CASE("no state lies below the certified least of a form that is linear in the weights") {
  for (int i = 0; i < cases() / 2; ++i) {
    Draw draw{462, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Stance s = drawn::stance(draw);
    const Domain d = box(draw, s);
    const LinearForm form{Vec3(draw.in(-1, 1), draw.in(-1, 1), draw.in(-0.2, 0.2)), draw.in(-1, 1)};
    const auto found = least_over(s.loads, s.load_case, d, form, {1e-2, {}});
    const auto value = [&](const CraneState& at) {
      double sum = 0;
      for (const Part& p : parts(s.loads, at, s.load_case, true, false)) {
        const double f = p.mass * (form.per_place.dot(p.at(at.slew)) + form.constant);
        sum += std::min(f, (1 + p.margin) * f);
      }
      return sum;
    };
    REQUIRE(std::isfinite(found.value));
    CHECK(value(found.at) == Approx(found.value).epsilon(1e-9).margin(1e-9));
    CHECK(holds_state(s.loads, d, found.at));
    const int units = units_left(s.loads, s.load_case, d).second;
    for (int k = 0; k < 50; ++k) {
      const CraneState at = inside(draw, d, units);
      if (holds_state(s.loads, d, at)) CHECK(value(at) >= found.value - found.gap - 1e-9);
    }
  }
}

}  // namespace rimstance
