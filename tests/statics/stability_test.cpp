// The three depths of question, over whole envelopes and all cases.
#include "rimstance/statics/stability.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using Outcome = Stability::Outcome;

/// A prepared scenario on given contacts.
struct Placed {
  Prepared prepared;
  Levelling levelling;
  std::vector<Contact> contacts;
};

Placed placed(const Scenario& s, const Pose& X_WC, const std::vector<double>& stroke) {
  Placed out;
  out.prepared = prepare(std::make_shared<const Scenario>(s));
  out.levelling.outcome = Levelling::Outcome::level;
  out.levelling.X_WC = X_WC;
  out.levelling.stroke = stroke;
  out.contacts = stands::feet(s.machine, stroke, X_WC);
  return out;
}
Placed dunlin(const Scenario& s = rigs::dunlin()) {
  return placed(s, {}, std::vector<double>(s.machine.outriggers.size(), 0.3));
}
Stability asked(const Placed& p, Question question, double gap = kDefaultGap) {
  return assess(p.prepared, p.levelling, p.contacts, question, {}, gap);
}

Interval drawn_part(Draw& draw, const Interval& whole) {
  const double a = draw.in(whole.lo, whole.hi), b = draw.in(whole.lo, whole.hi);
  if (draw.in(0, 1) < 0.6) return {a, a};
  return {std::min(a, b), std::max(a, b)};
}

Placed drawn_world(Draw& draw) {
  Scenario s = drawn::scenario(draw);
  s.payload.mass = draw.in(0, 250);
  s.payload.reach = kUnset;
  if (draw.in(0, 1) < 0.3) s.criteria.set_error = draw.in(0, 0.01), s.criteria.work_tilt = draw.in(0, 0.01);
  Operation& o = s.operation;
  const double slew = draw.in(-3, 3), longest = boom_shape(s.machine.boom)->greatest_extension();
  o.slew = {slew, slew + draw.in(0, 3)};
  o.luff = drawn_part(draw, {0, 1.3});
  o.extension = drawn_part(draw, {0, longest});
  o.reach = {-kInfinity, kInfinity};
  if (draw.in(0, 1) < 0.3)
    o.luff.lo = 0,
    o.reach.hi = s.machine.boom.foot.x() + 0.05 +
                 boom_shape(s.machine.boom)->length(o.extension.lo + 0.5 * o.extension.width());
  o.line = drawn_part(draw, {0, 40});
  o.travel = drawn_part(draw, {0, 1.4});
  s.transit.reset();
  auto& all = s.criteria.load_cases;
  std::rotate(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(draw.in(0, 4)), all.end());
  all.resize(draw.in(0, 1) < 0.2 ? 2 : 1);
  if (draw.in(0, 1) < 0.8)
    for (LoadCase& c : all) c.mass_margin = false;  // searched many times faster
  std::vector<double> stroke;
  for (std::size_t i = 0; i < 4; ++i) stroke.push_back(draw.in(0, 0.6));
  return placed(s, drawn::pose(draw, 0.1), stroke);
}

}  // namespace

TEST_CASE("verdict, point and extremes are one code: the same signs, and worst is the point it names") {
  int stands = 0, falls = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{441, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Placed p = drawn_world(draw);
    const Stability verdict = asked(p, Question::verdict), extremes = asked(p, Question::extremes, 0.05);
    REQUIRE(verdict.cases.size() == extremes.cases.size());
    (extremes.outcome == Outcome::stands ? stands : falls)++;
    CHECK((verdict.outcome == Outcome::stands) == (extremes.outcome == Outcome::stands));
    CHECK((verdict.outcome == Outcome::tips) == (extremes.outcome == Outcome::tips));
    for (std::size_t c = 0; c < verdict.cases.size(); ++c) {
      CHECK(verdict.cases[c].ok == extremes.cases[c].ok);
      if (!verdict.cases[c].ok) CHECK(verdict.cases[c].decides.value < verdict.cases[c].required);
    }
    const Worst& worst = extremes.worst;
    const Worst there = point(p.prepared, p.levelling, extremes.edges, worst.at.state);
    const int units = p.prepared.scenario->machine.container->units;
    CHECK(there.measures.moment <= worst.measures.moment);
    // With all units in the container nothing hangs, and the cases that carry a payload are out of place.
    if (worst.at.state.units_left < units) CHECK(there.measures.moment >= worst.measures.moment - worst.gap);
    for (int k = 0; k < 10; ++k) {
      const Domain& d = p.prepared.domains[0];
      CraneState state{draw.in(d.slew.lo, d.slew.hi),           draw.in(d.luff.lo, d.luff.hi),
                       draw.in(d.extension.lo, d.extension.hi), draw.in(d.travel.lo, d.travel.hi),
                       draw.in(d.line.lo, d.line.hi),           static_cast<int>(draw.in(0, units))};
      if (!holds_state(p.prepared.loads, d, state)) continue;
      CHECK(point(p.prepared, p.levelling, extremes.edges, state).measures.moment >=
            worst.measures.moment - worst.gap);
    }
    // No measure changes sign before the moment does.
    if (std::abs(worst.measures.moment) > worst.gap) {
      const bool held = worst.measures.moment > 0;
      CHECK((extremes.least.at(MarginKind::clearance).value > 0) == held);
      CHECK((extremes.least.at(MarginKind::tip_angle).value > 0) == held);
      const Least& ratio = extremes.least.at(MarginKind::moment_ratio);
      if (std::isfinite(ratio.value)) CHECK((ratio.value > 1) == held);
    }
  }
  CHECK(stands > cases() / 20);
  CHECK(falls > cases() / 20);
}

TEST_CASE("every extreme is attained at the state, case and edge it names") {
  const Placed p = dunlin();
  const Stability s = asked(p, Question::extremes);
  for (const auto& [kind, least] : s.least) {
    CAPTURE(static_cast<int>(kind));
    REQUIRE(std::isfinite(least.value));
    const bool payload = !least.at.transit;
    const LoadCase& c = p.prepared.load_cases[static_cast<std::size_t>(least.at.load_case)];
    const TippingAxis axis =
        tipping_axis(s.edges[static_cast<std::size_t>(least.at.edge)], Vec3(0, 0, -1.62));
    const Measures m =
        measures(parts(p.prepared.loads, least.at.state, c, payload, true), axis, least.at.state.slew);
    const double unit = kind == MarginKind::force_angle ? s.force_angle_reference : 1;
    CHECK(m.of(kind) / unit == Approx(least.value).epsilon(1e-9));
    CHECK(holds_state(p.prepared.loads, p.prepared.domains[least.at.transit ? 1 : 0], least.at.state));
  }
  for (const CaseResult& c : s.cases) CHECK(s.worst.measures.moment <= c.worst.measures.moment);
}

TEST_CASE("the margin at the job is taken at the payload's reach, and is no worse than the worst") {
  const Placed p = dunlin();
  const Stability s = asked(p, Question::extremes);
  REQUIRE(s.at_job_reason.empty());
  const Machine& m = p.prepared.loads.machine;
  CHECK(reach(m.boom, *p.prepared.loads.boom, s.at_job.at.state.luff, s.at_job.at.state.extension) ==
        Approx(5.5).margin(1e-8));
  CHECK(s.at_job.measures.moment >= s.worst.measures.moment - s.worst.gap);
  Scenario far = rigs::dunlin();
  far.payload.reach = 50;
  const Stability none = asked(dunlin(far), Question::extremes);
  CHECK(!none.at_job_reason.empty());
  CHECK(std::isnan(none.at_job.measures.moment));
}

TEST_CASE("an energy does not exist where only a release is asked about, and the reason is given") {
  Scenario s = rigs::dunlin();
  std::erase_if(s.criteria.load_cases, [](const LoadCase& c) { return !std::isfinite(c.release); });
  REQUIRE(s.criteria.load_cases.size() == 1);
  s.transit.reset();  // there nothing hangs that could be lost
  const Stability found = asked(dunlin(s), Question::extremes);
  CHECK(std::isnan(found.least.at(MarginKind::energy).value));
  CHECK(!found.least.at(MarginKind::energy).reason.empty());
  CHECK(std::isfinite(found.least.at(MarginKind::tip_angle).value));
}

TEST_CASE("on a full circle the sector [170, 190] deg is the sector [-190, -170] deg") {
  Scenario a = rigs::dunlin(), b = rigs::dunlin();
  a.operation.slew = {radians(170), radians(190)};
  b.operation.slew = {radians(-190), radians(-170)};
  const Stability left = asked(dunlin(a), Question::extremes), right = asked(dunlin(b), Question::extremes);
  CHECK(left.outcome == right.outcome);
  for (std::size_t c = 0; c < left.cases.size(); ++c) {
    CHECK(left.cases[c].ok == right.cases[c].ok);
    CHECK(left.cases[c].worst.measures.moment ==
          Approx(right.cases[c].worst.measures.moment).margin(left.cases[c].worst.gap + 1e-9));
  }
  for (const auto& [kind, least] : left.least)
    CHECK(least.value == Approx(right.least.at(kind).value).margin(least.gap + 1e-9));
}

TEST_CASE("three feet stand, and carry by the lever rule whatever their stiffness") {
  // One state, nothing that grows: greatest = least = the barycentric share of the weight.
  Scenario s = rigs::dunlin();
  s.machine.outriggers.pop_back();
  s.machine.outriggers[2].splay = 0;  // the third foot goes straight behind
  s.machine.outriggers[0].stiffness = 20e3;
  s.transit.reset();
  Operation& o = s.operation;
  o.slew = {0.1, 0.1};
  o.luff = {0.9, 0.9};
  o.extension = {0.2, 0.2};
  o.reach = {-kInfinity, kInfinity};
  o.line = {5, 5};
  s.machine.container->units = 1;  // the one that hangs
  LoadCase c;
  c.name = "factored";
  c.load_factor = 1.25;
  c.boom_factor = 0.1;
  c.mass_margin = false;
  s.criteria.load_cases = {c};
  const Placed p = dunlin(s);
  const Stability found = asked(p, Question::extremes);
  REQUIRE(found.edges.size() == 3);
  CHECK(!found.lifts_off);
  const CraneState state{0.1, 0.9, 0.2, 1.1, 5, 0};
  double weight = 0;
  Vec2 centre = Vec2::Zero();
  for (const auto& [m, at] : drawn::by_hand(s, state, 1.25, true, true))
    weight += 1.62 * m, centre += 1.62 * m * at.head<2>();
  centre /= weight;
  const auto q = [&](std::size_t i) { return Vec2(p.contacts[i].p_W.head<2>()); };
  const double area = cross2(q(1) - q(0), q(2) - q(0));
  double sum = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    const std::size_t j = (i + 1) % 3, k = (i + 2) % 3;
    const double share = cross2(q(j) - centre, q(k) - centre) / area;
    REQUIRE(share > 0);
    CHECK(found.feet[i].greatest == Approx(share * weight).epsilon(1e-9));
    CHECK(found.feet[i].least == Approx(share * weight).epsilon(1e-9));
    sum += found.feet[i].greatest;
  }
  // b F is in the moments only: the feet carry a (Q + H) and the machine, no more.
  CHECK(sum == Approx(weight).epsilon(1e-9));
}

TEST_CASE("where a foot lifts the others carry the whole weight, b F still left out") {
  Scenario s = rigs::dunlin();
  s.payload.mass = 200;
  s.transit.reset();
  Operation& o = s.operation;
  o.slew = {0.9, 0.9}, o.luff = {0.3, 0.3}, o.extension = {1.5, 1.5}, o.line = {0, 0};
  o.reach = {-kInfinity, kInfinity};
  s.machine.container->units = 1;  // the one that hangs
  LoadCase c;
  c.load_factor = 1.25;
  c.boom_factor = 0.5;
  c.mass_margin = false;
  s.criteria.load_cases = {c};
  const Stability found = asked(dunlin(s), Question::extremes);
  REQUIRE(found.outcome == Outcome::stands);
  CHECK(found.lifts_off);
  double weight = 0, sum = 0, least = kInfinity;
  for (const auto& [m, at] : drawn::by_hand(s, {0.9, 0.3, 1.5, 1.1, 0, 0}, 1.25, true, true))
    weight += 1.62 * m;
  for (const FootLoad& f : found.feet) {
    CHECK(f.greatest == Approx(f.least).margin(1e-9));
    sum += f.greatest;
    least = std::min(least, f.least);
  }
  CHECK(least == 0);
  CHECK(sum == Approx(weight).epsilon(1e-9));
}

TEST_CASE("no state loads a foot above its greatest or below its least") {
  Scenario s = rigs::dunlin();
  const Placed p = dunlin(s);
  const Stability found = asked(p, Question::extremes);
  REQUIRE(found.feet.size() == 4);
  if (found.lifts_off) WARN("a foot lifts: its greatest is sampled, and this test is weaker");
  Draw draw{442, 0};
  std::vector<Vec3> points;
  for (const Contact& c : p.contacts) points.push_back(c.p_W);
  const double weight = p.prepared.reference_masses.mass * s.gravity;
  for (int i = 0; i < 20 * cases(); ++i) {
    const std::size_t where = draw.in(0, 1) < 0.5 ? 0 : 1;
    const Domain& d = p.prepared.domains[where];
    const CraneState state{draw.in(d.slew.lo, d.slew.hi),           draw.in(d.luff.lo, d.luff.hi),
                           draw.in(d.extension.lo, d.extension.hi), draw.in(d.travel.lo, d.travel.hi),
                           draw.in(d.line.lo, d.line.hi),           static_cast<int>(draw.in(0, 6))};
    if (!holds_state(p.prepared.loads, d, state)) continue;
    const LoadCase& c = p.prepared.load_cases[static_cast<std::size_t>(draw.in(0, 4))];
    Vec6 w = Vec6::Zero();
    for (const Part& part : parts(p.prepared.loads, state, c, d.payload, false))
      w += wrench(part.mass * Vec3(0, 0, -s.gravity), part.at(state.slew));
    const Reactions r = reactions(points, supports(s.machine), w);
    REQUIRE(r.outcome != Reactions::Outcome::tips);
    for (std::size_t k = 0; k < 4; ++k) {
      CHECK(r.normal[k] <= found.feet[k].greatest + 2e-6 * weight);
      CHECK(r.normal[k] >= found.feet[k].least - 2e-6 * weight);
    }
  }
}

TEST_CASE("feet in one row, a foot without ground, no pose: no support, a reason, and no moment at all") {
  Placed row = dunlin(), hole = dunlin(), poseless = dunlin();
  for (std::size_t i = 0; i < 4; ++i)
    row.contacts[i].p_W = Vec3(static_cast<double>(i), 2.0 * static_cast<double>(i), 0);
  hole.contacts[2].supported = false;
  hole.contacts[2].p_W.z() = kUnset;
  poseless.levelling.X_WC.p.z() = kUnset;
  for (const Placed* p : {&row, &hole, &poseless})
    for (const Question question : {Question::verdict, Question::extremes}) {
      const Stability s = asked(*p, question);
      CHECK(s.outcome == Outcome::no_support);
      CHECK(!s.reason.empty());
      CHECK(s.edges.empty());
      CHECK(s.cases.empty());
      CHECK(s.least.empty());
      CHECK(std::isnan(s.worst.measures.moment));
      CHECK(std::isnan(s.at_job.measures.moment));
    }
  CHECK(asked(hole, Question::verdict).reason.find("rear-left") != std::string::npos);
}

TEST_CASE("a stricter margin, more payload or a leaning gravity never helps") {
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{443, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = rigs::dunlin();
    s.transit.reset();
    const auto moment_of = [](const Scenario& scenario) {
      const Placed p = dunlin(scenario);
      const auto edges = support_polygon(p.contacts, {});
      return point(p.prepared, p.levelling, edges, p.prepared.reference).measures.moment;
    };
    const double before = moment_of(s);
    Scenario leaning = s;
    leaning.criteria.set_error = draw.in(0, 0.05);
    leaning.criteria.work_tilt = draw.in(0, 0.05);
    CHECK(moment_of(leaning) < before);
    Scenario strict = s;
    for (LoadCase& c : strict.criteria.load_cases)
      if (c.margin.contains(MarginKind::load_side_share))
        c.margin[MarginKind::load_side_share] = draw.in(0.15, 0.6);
    const bool ok = asked(dunlin(s), Question::verdict).outcome == Outcome::stands;
    const bool strict_ok = asked(dunlin(strict), Question::verdict).outcome == Outcome::stands;
    CHECK((ok || !strict_ok));
  }
}

TEST_CASE("set error and working tilt add: both lean out over every edge at once") {
  Scenario a = rigs::dunlin(), b = rigs::dunlin();
  a.criteria.set_error = 0.03;
  b.criteria.set_error = 0.01;
  b.criteria.work_tilt = 0.02;
  const Placed p = dunlin(a), q = dunlin(b);
  const auto edges = support_polygon(p.contacts, {});
  CHECK(point(p.prepared, p.levelling, edges, p.prepared.reference).measures.moment ==
        Approx(point(q.prepared, q.levelling, edges, q.prepared.reference).measures.moment).epsilon(1e-12));
}

TEST_CASE(
    "the reference state is the sector's angle nearest straight ahead, everything in, one unit hanging") {
  const auto slew_of = [](double lo, double hi) {
    Scenario s = rigs::dunlin();
    s.operation.slew = {radians(lo), radians(hi)};
    return degrees(prepare(std::make_shared<const Scenario>(s)).reference.slew);
  };
  CHECK(slew_of(-30, 40) == Approx(0).margin(1e-12));
  CHECK(slew_of(20, 90) == Approx(20));
  CHECK(slew_of(-90, -25) == Approx(-25));
  CHECK(slew_of(170, 190) == Approx(170));  // as far from ahead as 190: the smaller number
  CHECK(slew_of(200, 350) == Approx(350));
  const CraneState r = prepare(std::make_shared<const Scenario>(rigs::dunlin())).reference;
  CHECK(r.luff == radians(20));
  CHECK(r.extension == 0);
  CHECK(r.line == 0);
  CHECK(r.travel == 1.1);
  CHECK(r.units_left == 5);
}

TEST_CASE("an assessment that is asked to stop stops, and gives no half of a result") {
  const Placed p = dunlin();
  std::stop_source source;
  source.request_stop();
  Control control;
  control.stop = source.get_token();
  CHECK_THROWS_AS(assess(p.prepared, p.levelling, p.contacts, Question::extremes, control), Interrupted);
}

}  // namespace rimstance
