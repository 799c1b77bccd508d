// What limits a payload, each kind against the slow way, and laws that a capacity keeps.
#include <algorithm>
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/statics/foot_force.hpp"
#include "rimstance/statics/strength.hpp"
#include "rimstance/study/capacity.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

using studies::ready;
using studies::Ready;

constexpr double kPlausible = 5000;  ///< [kg]: more is carried only where the tip is nearly over an edge

LoadCase named(const char* name, double factor = 1.25) {
  LoadCase c;
  c.name = name;
  c.load_factor = factor;
  return c;
}

Capacity at_reaches(const Ready& r, std::vector<double> reaches, double step = radians(20)) {
  CapacityAsked asked;
  asked.reaches = std::move(reaches);
  asked.slew_step = step;
  return capacity(r.prepared, r.levelling, r.contacts, asked, {});
}

/// A crane that is all boom and base on a rectangle of feet: everything but the load at one place.
Scenario plain_crane(double boom_mass) {
  Scenario s = studies::plain(rigs::plain_crane(), named("load", 1));
  Boom& b = s.machine.boom;
  b.luff_range = {0, radians(75)};
  b.sections.resize(2);
  b.sections[0].length = 2.5;
  b.sections[0].mass = std::max(boom_mass, 1e-9);
  b.sections[1].length = 8;
  b.sections[1].stroke = 8;
  b.sections[1].mass = 1e-9;
  s.operation.extension = {0, 8};
  return s;
}

TEST_CASE("the tipping load over radius, its boom's centre half way out") {
  // m_t = (M (d - x_M) - m_b (R / 2 - d)) / (R - d): the balance point of SAE J765.
  for (const double radius : {3.0, 4.0, 5.0, 6.0, 8.0, 10.0}) {
    Scenario s = plain_crane(150);
    Boom& b = s.machine.boom;
    b.sections.resize(1);
    b.sections[0].length = radius;
    s.operation.extension = {0, 0};
    const double expected = (2000 * 2.3 - 150 * (radius / 2 - 2)) / (radius - 2);
    const Capacity c = at_reaches(ready(s), {radius});
    CHECK(c.cells.at(0).capacity == Approx(expected).epsilon(1e-11));
  }
}

TEST_CASE(
    "without boom mass capacity times the load's arm over the edge is one number, and falls with reach") {
  const Ready r = ready(plain_crane(0));
  const Capacity c = at_reaches(r, {2.5, 3, 4, 6, 8, 10.5});
  double before = kInfinity;
  for (const CapacityCell& cell : c.cells) {
    CHECK(cell.capacity * (cell.reach - 2) == Approx(2000 * 2.3).epsilon(1e-11));
    CHECK(cell.capacity < before);
    before = cell.capacity;
  }
}

TEST_CASE("between two structural rows of equal moment the next row holds, or exactly the moment") {
  Scenario s = plain_crane(0);
  for (Body& b : s.machine.chassis.bodies) b.mass = 1e5;  // the boom breaks first
  StructuralLimit limit;
  limit.rows = {{3, 400}, {8, 150}};
  const double g = s.gravity;
  for (const auto between : {StructuralLimit::Between::next, StructuralLimit::Between::moment}) {
    limit.between = between;
    s.machine.boom.limit = limit;
    const Capacity c = at_reaches(ready(s), {2.5, 3, 4, 8, 9});
    const double inside = between == StructuralLimit::Between::next ? 150 : 3 * 400 / 4.0;
    const double expected[] = {400 / g, 400 / g, inside / g, 150 / g, 0};
    for (std::size_t k = 0; k < 5; ++k) {
      CHECK(c.cells.at(k).capacity == Approx(expected[k]).epsilon(1e-12));
      CHECK(c.cells.at(k).governing.limit == Limit::structural);
    }
  }
}

/// The operation of a scenario cut down to one cell, with a payload.
Ready in_cell(Scenario s, const Ready& like, const CapacityCell& cell, double payload) {
  s.payload.mass = payload;
  s.operation.slew = cell.slew;
  s.operation.reach = {cell.reach, cell.reach};
  Ready r;
  r.prepared = prepare(std::make_shared<Scenario>(s));
  r.levelling = like.levelling;
  r.contacts = like.contacts;
  return r;
}

/// What does not hold there: cases first, then boom, line and legs.
std::vector<Limit> broken(const Ready& r) {
  std::vector<Limit> out;
  const Stability s = assess(r.prepared, r.levelling, r.contacts, Question::extremes, {});
  for (const CaseResult& result : s.cases)
    if (!result.ok) out.push_back(Limit::tipping);
  for (const Strength& one : strengths(r.prepared))
    if (!(one.asked <= one.allowed))
      out.push_back(one.of == Strength::Of::boom_load   ? Limit::structural
                    : one.of == Strength::Of::boom_root ? Limit::boom_root
                                                        : Limit::hoist);
  const auto& outriggers = r.prepared.scenario->machine.outriggers;
  for (std::size_t f = 0; f < s.feet.size(); ++f)
    if (r.prepared.scenario->criteria.foot_limits && s.feet[f].greatest > outriggers[f].leg_limit)
      out.push_back(Limit::leg);
  return out;
}

/// The same machine made weak in one way.
Scenario weak_in(Limit limit, Draw& draw) {
  Scenario s = rigs::dunlin();
  s.criteria.load_cases = {named("forward", draw.in(1, 1.4))};
  s.transit.reset();
  s.operation.slew = {radians(-40), radians(40)};
  s.machine.boom.limit.reset();
  s.machine.hoist.line_pull = limit == Limit::hoist ? draw.in(40, 90) : 1e6;
  s.criteria.foot_limits = limit == Limit::leg;
  if (limit == Limit::leg)
    for (Outrigger& o : s.machine.outriggers) o.leg_limit = draw.in(500, 700);
  if (limit == Limit::structural) {
    s.machine.boom.limit.emplace();
    s.machine.boom.limit->rows = {{2, draw.in(100, 160)}, {6, draw.in(40, 80)}};
  }
  if (limit == Limit::boom_root) {
    s.machine.boom.limit.emplace();
    s.machine.boom.limit->root_moment = draw.in(250, 400);
  }
  if (limit == Limit::tipping)
    for (Outrigger& o : s.machine.outriggers) o.arm = draw.in(0.5, 0.8);
  return s;
}

TEST_CASE("just below a capacity nothing is broken, just above the limit that governs is, whichever it is") {
  for (const Limit limit : {Limit::tipping, Limit::leg, Limit::structural, Limit::boom_root, Limit::hoist}) {
    int governed = 0;
    for (int i = 0; i < 12; ++i) {
      Draw draw{51, static_cast<std::uint64_t>(i)};
      INFO(draw.text() << ", " << name_of(limit));
      const Scenario s = weak_in(limit, draw);
      const Ready r = ready(s);
      const Capacity c = at_reaches(r, {draw.in(2, 5.6)});
      const CapacityCell& cell =
          c.cells[static_cast<std::size_t>(draw.in(0, static_cast<double>(c.cells.size())))];
      if (cell.governing.limit != limit || cell.governing.without_load) continue;
      ++governed;
      CAPTURE(cell.reach, cell.capacity, cell.slew.lo);
      // Legs are sampled by the verdict where a foot lifts: it may miss a little.
      const double above = limit == Limit::leg ? 5e-3 : 1e-6;
      CHECK(broken(in_cell(s, r, cell, cell.capacity * (1 - 1e-6))).empty());
      const auto found = broken(in_cell(s, r, cell, cell.capacity * (1 + above)));
      REQUIRE(!found.empty());
      CHECK(std::find(found.begin(), found.end(), limit) != found.end());
    }
    CHECK(governed >= 3);
  }
}

/// First payload at which a foot's elastic force, lifted feet included, reaches its limit at one state.
double first_overload(const Ready& r, const FootForces& forces, const CraneState& at, std::size_t foot) {
  const double limit = r.prepared.scenario->machine.outriggers[foot].leg_limit;
  const auto over = [&](double payload) {
    MachineLoads loads = r.prepared.loads;
    loads.payload = payload;
    const auto all = parts(loads, at, r.prepared.load_cases[0], true, false);
    return forces.at(all, at.slew, foot, 1) > limit;
  };
  // Marching in small steps: a force may rise and fall again as others lift.
  constexpr double kStep = 10, kEnd = 400;
  if (over(0)) return 0;
  for (double payload = kStep; payload <= kEnd; payload += kStep) {
    if (!over(payload)) continue;
    double lo = payload - kStep, hi = payload;
    for (int k = 0; k < 50; ++k) (over(lo + (hi - lo) / 2) ? hi : lo) = lo + (hi - lo) / 2;
    return hi;
  }
  return kInfinity;
}

TEST_CASE(
    "on four feet the payload that first overloads a leg is that of a dense sweep, lifted feet or not") {
  int lifted = 0, governed = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{52, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    LoadCase c = named("load", draw.in(1, 1.3));
    c.margin = {{MarginKind::moment, -1e7}};  // the legs alone
    s = studies::plain(s, c);
    s.criteria.foot_limits = true;
    s.criteria.set_error = draw.in(0, 1) < 0.5 ? 0 : draw.in(0, 0.02);
    for (Outrigger& o : s.machine.outriggers) {
      o.leg_limit = draw.in(350, 1000);
      o.stiffness = draw.in(20e3, 90e3);
    }
    const double luff = draw.in(0, 1),
                 extension = draw.in(0, boom_shape(s.machine.boom)->greatest_extension());
    const double slew = draw.in(-kPi, kPi);
    s.operation.luff = {luff, luff};
    s.operation.extension = {extension, extension};
    s.operation.reach = {-kInfinity, kInfinity};
    s.operation.slew = {slew, slew + draw.in(0.05, 0.4)};
    s.operation.travel = {1, 1};
    s.operation.line = {0, 0};
    s.machine.container.reset();
    const Ready r = ready(s, drawn::pose(draw, 0.05), {0.2, 0.25, 0.3, 0.2});
    CapacityAsked asked;
    asked.luffs = {luff};
    asked.extensions = {extension};
    asked.slew_step = 7;
    const Capacity found = capacity(r.prepared, r.levelling, r.contacts, asked, {});
    const CapacityCell& cell = found.cells.at(0);
    const FootForces forces(r.prepared, r.levelling.X_WC, r.contacts);
    double swept = kInfinity;
    for (int k = 0; k <= 40; ++k)
      for (std::size_t f = 0; f < 4; ++f) {
        const CraneState at{cell.slew.lo + cell.slew.width() * k / 40, luff, extension, 1, 0, 0};
        swept = std::min(swept, first_overload(r, forces, at, f));
      }
    CAPTURE(cell.capacity, swept, name_of(cell.governing.limit), cell.governing.foot);
    const auto force = [&](double payload, std::size_t foot) {
      MachineLoads loads = r.prepared.loads;
      loads.payload = payload;
      const auto all = parts(loads, cell.governing.at, r.prepared.load_cases[0], true, false);
      return forces.at(all, cell.governing.at.slew, foot, 1);
    };
    // The march sees nothing before the machine tips: a leg is named where that begins, or where its force is
    // at the limit for less than a step.
    if (!std::isfinite(swept)) {
      if (cell.governing.limit != Limit::leg || cell.capacity > 399) continue;
      const auto foot = static_cast<std::size_t>(cell.governing.foot);
      const double there = force(cell.capacity, foot);
      CHECK((std::isnan(there) || there == Approx(s.machine.outriggers[foot].leg_limit).epsilon(1e-6)));
      continue;
    }
    CHECK(cell.capacity <= swept * (1 + 1e-6) + 1e-6);
    CHECK(cell.capacity >= swept * (1 - 1e-2) - 0.1);  // between two samples of slew it may be a little less
    if (cell.governing.limit != Limit::leg || swept == 0) continue;
    ++governed;
    const auto foot = static_cast<std::size_t>(cell.governing.foot);
    CHECK(force(cell.capacity, foot) == Approx(s.machine.outriggers[foot].leg_limit).epsilon(1e-6));
    for (std::size_t f = 0; f < 4; ++f) lifted += force(cell.capacity, f) <= 0 ? 1 : 0;
  }
  CHECK(governed >= cases() / 20);
  CHECK(lifted >= cases() / 80);
}

TEST_CASE(
    "gravity that leans over inclined edges never leaves a payload too great, nor much less than it could") {
  int limited = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{53, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    LoadCase c = named("load", draw.in(1, 1.3));
    const MarginKind kind = draw.in(0, 1) < 0.5 ? MarginKind::moment : MarginKind::clearance;
    c.margin = {{kind, kind == MarginKind::moment ? draw.in(0, 50) : draw.in(0, 0.1)}};
    s = studies::plain(s, c);
    s.criteria.set_error = draw.in(0.002, 0.03);
    s.machine.container.reset();
    const double luff = draw.in(0, 1),
                 extension = draw.in(0, boom_shape(s.machine.boom)->greatest_extension());
    const double slew = draw.in(-kPi, kPi);
    s.operation.luff = {luff, luff};
    s.operation.extension = {extension, extension};
    s.operation.reach = {-kInfinity, kInfinity};
    s.operation.slew = {slew, slew + 0.3};
    s.operation.travel = {1, 1};
    s.operation.line = {0, 0};
    std::vector<double> stroke;
    for (int k = 0; k < 4; ++k) stroke.push_back(draw.in(0, 0.6));
    const Ready r = ready(s, Pose{}, stroke);
    CapacityAsked asked;
    asked.luffs = {luff};
    asked.extensions = {extension};
    asked.slew_step = 7;
    const CapacityCell cell = capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0);
    if (!std::isfinite(cell.capacity)) continue;
    // The measures of single states know the worst way that gravity can lean.
    const auto least_at = [&](double payload) {
      MachineLoads loads = r.prepared.loads;
      loads.payload = payload;
      double least = kInfinity;
      for (const Edge& e : support_polygon(r.contacts, r.levelling.X_WC)) {
        const TippingAxis axis = tipping_axis(e, gravity_C(s, r.levelling.X_WC), s.criteria.set_error);
        for (int k = 0; k <= 30; ++k) {
          const CraneState at{cell.slew.lo + cell.slew.width() * k / 30, luff, extension, 1, 0, 0};
          const auto all = parts(loads, at, r.prepared.load_cases[0], true, true);
          least = std::min(least, measures(all, axis, at.slew).of(kind));
        }
      }
      return least - c.margin.at(kind);
    };
    CAPTURE(cell.capacity, s.criteria.set_error, static_cast<int>(kind));
    if (cell.governing.without_load) {
      CHECK(least_at(0) < 1e-2);
      continue;
    }
    ++limited;
    CHECK(least_at(cell.capacity) >= -1e-9);
    // Where the tip is nearly over the edge, tons make little difference.
    if (cell.capacity < kPlausible) CHECK(least_at(cell.capacity * (1 + 2e-3) + 0.05) < 0);
  }
  CHECK(limited >= cases() / 20);
}

TEST_CASE("limits met without payload are those of a sweep without payload") {
  int met = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{54, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    s = studies::plain(s, named("first", 1));
    s.criteria.load_cases.push_back(named("second", 1.2));
    for (LoadCase& c : s.criteria.load_cases) c.margin = {{MarginKind::moment, draw.in(0, 1500)}};
    const double luff = draw.in(0, 1), slew = draw.in(-kPi, kPi);
    s.operation.luff = {luff, luff};
    s.operation.extension = {0, 0};
    s.operation.reach = {-kInfinity, kInfinity};
    s.operation.slew = {slew, slew + 0.3};
    s.operation.travel = {0.5, 1};
    s.operation.line = {0, 0};
    const Ready r = ready(s);
    CapacityAsked asked;
    asked.luffs = {luff};
    asked.extensions = {0};
    asked.slew_step = 7;
    const CapacityCell cell = capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0);
    const auto edges = support_polygon(r.contacts, r.levelling.X_WC);
    MachineLoads loads = r.prepared.loads;
    loads.payload = 0;
    std::size_t expected = 0;
    for (std::size_t k = 0; k < 2; ++k)
      for (std::size_t e = 0; e < edges.size(); ++e) {
        const TippingAxis axis = tipping_axis(edges[e], gravity_C(s, r.levelling.X_WC));
        double least = kInfinity;
        for (const double travel : {0.5, 1.0})
          for (const int units : {0, 5})
            for (int step = 0; step <= 400; ++step) {
              const CraneState at{slew + 0.3 * step / 400, luff, 0, travel, 0, units};
              least = std::min(
                  least,
                  measures(parts(loads, at, r.prepared.load_cases[k], true, true), axis, at.slew).moment);
            }
        const double margin = r.prepared.load_cases[k].margin.at(MarginKind::moment);
        if (std::abs(least - margin) < 0.1) continue;  // the sweep cannot tell
        const bool listed =
            std::any_of(cell.met_without_load.begin(), cell.met_without_load.end(), [&](const Governing& g) {
              return g.load_case == static_cast<int>(k) && g.edge == static_cast<int>(e);
            });
        CAPTURE(k, e, least, margin);
        CHECK(listed == (least < margin));
        expected += listed ? 1 : 0;
      }
    CHECK((expected == 0 || cell.capacity == 0));
    met += static_cast<int>(expected);
  }
  CHECK(met >= cases() / 20);
}

TEST_CASE("the best luff of a reach carries as much as any of a dense row of luffs, and no luff more") {
  int inside = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{55, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    s = studies::plain(s, named("forward"));
    LoadCase released = named("released", 1);
    released.release = 1;
    s.criteria.load_cases.push_back(released);
    s.operation.luff = {draw.in(-0.2, 0.3), 1.3};
    s.operation.extension = {0, boom_shape(s.machine.boom)->greatest_extension()};
    s.operation.reach = {-kInfinity, kInfinity};
    s.operation.slew = {-0.4, 0.4};
    s.operation.line = {0, 0};
    Ready r = ready(s);
    const Interval all = reaches(r.prepared.loads, r.prepared.domains[0]);
    const double reach = all.lo + all.width() * draw.in(0.1, 0.9);
    const double before = at_reaches(r, {reach}, 7).cells.at(0).capacity;
    if (!(before > 1 && before < 1e4)) continue;
    // A boom whose root is as weak as what the moments leave: steep, it is the heavier.
    const double ahead = ahead_of_foot(s.machine.boom, reach), g = s.gravity;
    s.machine.boom.limit.emplace();
    s.machine.boom.limit->root_moment =
        ahead * g *
        (before * draw.in(0.9, 1.1) + s.machine.hoist.head_mass +
         boom_equivalent(*boom_shape(s.machine.boom), 0.5 * s.operation.extension.hi));
    r = ready(s);
    const CapacityCell cell = at_reaches(r, {reach}, 7).cells.at(0);
    if (!cell.has_state || !std::isfinite(cell.best)) continue;
    CapacityAsked asked;
    asked.slew_step = 7;
    double most = -1, ends = -1;
    const auto curve = curve_at_reach(r.prepared.loads, r.prepared.domains[0], reach);
    for (const CurvePiece& piece : curve)
      for (int k = 0; k <= 24; ++k) {
        const double z = piece.end[0].height + (piece.end[1].height - piece.end[0].height) * k / 24;
        const BoomSetting set = setting_of(r.prepared.loads, piece.ahead, {std::hypot(piece.ahead, z), z});
        asked.luffs = {std::clamp(set.luff, s.operation.luff.lo, s.operation.luff.hi)};
        asked.extensions = {std::clamp(set.extension, 0.0, s.operation.extension.hi)};
        const CapacityCell one = capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0);
        if (!one.has_state) continue;
        most = std::max(most, one.capacity);
        if (k == 0 || k == 24) ends = std::max(ends, one.capacity);
      }
    CAPTURE(reach, cell.best, cell.best_gap, most, ends);
    CHECK(cell.best >= most * (1 - 1e-4) - 1e-3);
    CHECK(cell.best + cell.best_gap >= most * (1 - 1e-9) - 1e-6);
    CHECK(cell.best_gap <= 1e-3 * (cell.best + r.prepared.reference_masses.mass));
    CHECK(cell.best >= cell.capacity);
    asked.luffs = {std::clamp(cell.best_luff, s.operation.luff.lo, s.operation.luff.hi)};
    asked.extensions = {std::clamp(cell.best_extension, 0.0, s.operation.extension.hi)};
    CHECK(capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0).capacity ==
          Approx(cell.best).epsilon(1e-9).margin(1e-6));
    inside += cell.best > ends * (1 + 1e-6) + 1e-6 ? 1 : 0;
  }
  CHECK(inside >= 1);
}

TEST_CASE("by setting: every luff with every extension, ends included, and no state outside the cuts") {
  Scenario s = rigs::dunlin();
  s.transit.reset();
  const Ready r = ready(s);
  CapacityAsked asked;
  asked.luffs = stations(s.operation.luff, 5);
  asked.extensions = stations(s.operation.extension, 4);
  asked.slew_step = radians(30);
  const Capacity c = capacity(r.prepared, r.levelling, r.contacts, asked, {});
  REQUIRE(c.by_setting);
  REQUIRE(c.cells.size() == 5 * 4 * 2);
  CHECK(c.cells.front().luff == s.operation.luff.lo);
  CHECK(c.cells.front().extension == s.operation.extension.lo);
  CHECK(c.cells.back().luff == s.operation.luff.hi);
  CHECK(c.cells.back().extension == s.operation.extension.hi);
  int outside = 0;
  for (const CapacityCell& cell : c.cells) {
    const double length = 3.2 + cell.extension, reach = 0.2 + length * std::cos(cell.luff);
    CHECK(cell.reach == Approx(reach).epsilon(1e-12));
    CHECK(cell.has_state == (reach >= 1.8 - 1e-9 && reach <= 5.7 + 1e-9));
    outside += cell.has_state ? 0 : 1;
    if (!cell.has_state) continue;
    CHECK(cell.best == cell.capacity);
    const Capacity by_reach = at_reaches(r, {cell.reach}, radians(30));
    for (const CapacityCell& one : by_reach.cells)
      if (one.slew.lo == cell.slew.lo) CHECK(one.capacity <= cell.capacity * (1 + 1e-9));
  }
  CHECK(outside > 0);
}

TEST_CASE("a stricter criterion never raises a capacity") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{56, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario loose = rigs::dunlin();
    loose.transit.reset();
    loose.criteria.load_cases = {named("forward", draw.in(1, 1.3))};
    loose.criteria.foot_limits = true;
    for (Outrigger& o : loose.machine.outriggers) o.leg_limit = draw.in(500, 1500);
    const double reach = draw.in(2, 5.6);
    Scenario strict = loose;
    const int what = static_cast<int>(draw.in(0, 6));
    if (what == 0) strict.criteria.load_cases[0].load_factor += 0.1;
    if (what == 1) strict.criteria.load_cases[0].margin = {{MarginKind::clearance, 0.2}};
    if (what == 2) strict.machine.hoist.line_pull *= 0.8;
    if (what == 3)
      for (Outrigger& o : strict.machine.outriggers) o.leg_limit *= 0.9;
    if (what == 4) strict.criteria.set_error = 0.01;
    if (what == 5) strict.criteria.load_cases.push_back(named("more", 1.5));
    const Capacity before = at_reaches(ready(loose), {reach}), after = at_reaches(ready(strict), {reach});
    REQUIRE(before.cells.size() == after.cells.size());
    for (std::size_t k = 0; k < before.cells.size(); ++k) {
      CAPTURE(what, k);
      CHECK(after.cells[k].capacity <= before.cells[k].capacity * (1 + 1e-12));
    }
  }
}

}  // namespace
}  // namespace rimstance
