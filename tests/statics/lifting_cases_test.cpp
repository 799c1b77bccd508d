// Cases in which the hoist works: lifting off, and pulling at what does not move. And the force-angle measure
// of all cases, as a share of its reference.
#include <Eigen/Geometry>
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/stability.hpp"
#include "rimstance/statics/strength.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using Outcome = Stability::Outcome;

LoadCase case_of(const char* name) {
  LoadCase c;
  c.name = name;
  c.mass_margin = false;
  return c;
}
LoadCase snag(double stall) {
  LoadCase c = case_of("snag");
  c.stall = stall;
  return c;
}

/// The textbook's crane on the Moon: tipping line 2 m ahead of the slew axis, 2000 kg at -0.30 m, a boom of
/// 150 kg with its centre at 3 m, its tip at 6 m; one state.
Scenario textbook(const LoadCase& load_case) {
  Scenario s = rigs::plain_crane(4);
  s.machine.hoist.line_pull = 1000;
  s.criteria.load_cases = {load_case};
  return s;
}

Stability assessed(const Scenario& s, Question question = Question::extremes) {
  const Prepared p = prepare(std::make_shared<const Scenario>(s));
  Levelling l;
  l.outcome = Levelling::Outcome::level;
  const auto feet = stands::feet(s.machine, std::vector<double>(s.machine.outriggers.size(), 0.2), {});
  return assess(p, l, feet, question, {});
}

}  // namespace

TEST_CASE("a snag overturns with its pull at the tip, and what hung before does not hang any more") {
  // M / g = 2000 * 2.3 - 150 * 1 without load; the pull T takes 4 m of it.
  for (const double gravity : {1.62, 9.80665}) {
    Scenario s = textbook(snag(1.25));
    s.gravity = gravity;
    s.payload.mass = 500;
    const Stability found = assessed(s);
    CHECK(found.worst.measures.moment == Approx(4450 * gravity - 1250 * 4).epsilon(1e-12));
    // It presses on the feet like a load, but weighs nothing: no energy, an angle about the weights' centre.
    CHECK(found.worst.measures.clearance ==
          Approx((4450 * gravity - 5000) / (2150 * gravity + 1250)).epsilon(1e-12));
    CHECK(std::isnan(found.worst.measures.energy));
    CHECK(!found.least.at(MarginKind::energy).reason.empty());
    double feet = 0;
    for (const FootLoad& f : found.feet) feet += f.greatest;
    CHECK(feet == Approx(2150 * gravity + 1250).epsilon(1e-9));
  }
}

TEST_CASE("where a snag tips the machine, the cut-out's setting is the pull that balances it") {
  for (const double gravity : {1.62, 9.80665}) {
    Scenario s = textbook(snag(1.25));
    s.gravity = gravity;
    s.machine.hoist.line_pull = 1e5;
    const CaseResult c = assessed(s).cases.at(0);
    CHECK(!c.ok);
    CHECK(c.cut_out.stall == Approx(1.25e5).epsilon(1e-15));
    CHECK(!c.cut_out.held);
    CHECK(c.cut_out.setting == Approx(4450 * gravity / 4).epsilon(1e-6).margin(1.25e5 * 1e-6));
    CHECK(c.cut_out.setting <= 4450 * gravity / 4);
    // Holding a moment back leaves so much less of the pull.
    s.criteria.load_cases[0].margin[MarginKind::moment] = 1000;
    CHECK(assessed(s).cases.at(0).cut_out.setting ==
          Approx((4450 * gravity - 1000) / 4).margin(1.25e5 * 1e-6));
  }
  Scenario held = textbook(snag(1.25));
  const CutOut none = assessed(held).cases.at(0).cut_out;
  CHECK(none.held);
  CHECK(std::isnan(none.setting));
  held.machine.chassis.bodies[0].at.x() = 2.2;  // over the line already
  held.machine.boom.sections[0].mass = 1;
  const CutOut never = assessed(held).cases.at(0).cut_out;
  CHECK(!never.held);
  CHECK(std::isnan(never.setting));
  CHECK_THAT(never.reason, Catch::Contains("without any pull"));
}

TEST_CASE("the cut-out's setting holds over the whole envelope, and a little more does not") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{461, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    s.transit.reset();
    s.operation.reach = {-kInfinity, kInfinity};
    s.operation.luff = {0.1, 1.2};
    s.operation.extension = {0, boom_shape(s.machine.boom)->greatest_extension()};
    s.operation.slew = {radians(-40), radians(60)};
    s.machine.hoist.line_pull = 2000;
    LoadCase c = snag(1);
    constexpr std::pair<MarginKind, double> kMargins[] = {
        {MarginKind::moment, 20}, {MarginKind::clearance, 0.05}, {MarginKind::tip_angle, 0.05}};
    c.margin = {kMargins[static_cast<std::size_t>(draw.in(0, 3))]};
    s.criteria.load_cases = {c};
    const CutOut found = assessed(s).cases.at(0).cut_out;
    if (!std::isfinite(found.setting)) continue;
    const auto holds = [&](double pull) {
      Scenario at = s;
      at.machine.hoist.line_pull = pull;
      return assessed(at, Question::verdict).cases.at(0).ok;
    };
    CHECK(holds(found.setting * (1 - 1e-9)));
    CHECK(!holds(found.setting + 3e-6 * 2000));
  }
}

TEST_CASE("a hoist whose pull is not known leaves the snag out, and says why") {
  Scenario s = textbook(snag(1.25));
  s.machine.hoist.line_pull = kInfinity;
  s.criteria.load_cases.push_back(case_of("plain"));
  const Prepared p = prepare(std::make_shared<const Scenario>(s));
  REQUIRE(p.load_cases.size() == 1);
  CHECK(p.load_cases[0].name == "plain");
  CHECK(std::find(p.not_evaluated.begin(), p.not_evaluated.end(), "load_case:snag") != p.not_evaluated.end());
  CHECK_THAT(p.why_not_evaluated.at("load_case:snag"), Catch::Contains("hoist.line_pull"));
}

TEST_CASE("angle and force-angle under a pull are those of the published form about the weights' centre") {
  // f_r the sum of all forces, n_r their moment about the centre; l from the centre to the axis;
  // f* = f + l^ x n / |l|, theta between f* and l, d = -l + (l . f*^) f*^ (Papadopoulos & Rey 2000; the form
  // was cross-read in a public robotics library).
  for (int i = 0; i < cases(); ++i) {
    Draw draw{462, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    drawn::Stance s = drawn::stance(draw, false);
    s.load_case = case_of("pull");
    const bool release = draw.in(0, 1) < 0.5;
    if (release)
      s.load_case.release = draw.in(0.2, 1);
    else
      s.load_case.stall = 1, s.load_case.stall_pull = draw.in(1, 200);
    const double up = release ? s.load_case.release * s.scenario.payload.mass : -s.load_case.stall_pull;
    // What hangs besides the pull: head and line under a release, nothing under a stall.
    auto masses = drawn::by_hand(s.scenario, s.state, release ? 1 : 0, false, release);
    const Vec3 tip = masses.back().at_C;
    double mass = 0;
    Vec3 centre = Vec3::Zero();
    for (const auto& [m, at] : masses) mass += m, centre += m * at;
    centre /= mass;
    const Vec3 force = (mass - up) * s.gravity_C, couple = (tip - centre).cross(-up * s.gravity_C);
    const auto found = drawn::all_measures(s);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      const Vec3 a = -s.edges[e].a_C;
      const auto across = [&](const Vec3& v) { return Vec3(v - a.dot(v) * a); };
      const Vec3 l = across(s.edges[e].p_C - centre), lu = l.normalized();
      const Vec3 f = across(force) + lu.cross(Vec3(a.dot(couple) * a)) / l.norm(), fu = f.normalized();
      const double sign = lu.cross(fu).dot(a) < 0 ? 1 : -1;
      const double theta = sign * std::acos(std::clamp(fu.dot(lu), -1.0, 1.0));
      const Vec3 d = -l + l.dot(fu) * fu;
      CHECK(found[e].tip_angle == Approx(theta).margin(1e-7));
      CHECK(found[e].force_angle == Approx(theta * d.norm() * f.norm()).epsilon(1e-6).margin(1e-4));
      CHECK(std::abs(found[e].moment) == Approx(d.norm() * f.norm()).epsilon(1e-9).margin(1e-9));
    }
  }
}

TEST_CASE("at the reference state itself, nothing factored, the least force-angle is 1") {
  Scenario s = textbook(case_of("plain"));
  s.payload.mass = 300;
  const Stability found = assessed(s);
  const Least& least = found.least.at(MarginKind::force_angle);
  CHECK(least.value == Approx(1).epsilon(1e-12));
  CHECK(found.worst.measures.force_angle == Approx(1).epsilon(1e-12));
  // By hand: M = g (4450 - 4 * 300); heights: chassis 0.5 and the rest 0, above feet at -0.45 + 0.2.
  const double depth = -stands::feet(s.machine, std::vector<double>(4, 0.2), {})[0].p_W.z();
  const double moment = 1.62 * (4450 - 1200), height = 1.62 * (2000 * (0.5 + depth) + 450 * depth);
  CHECK(found.force_angle_reference == Approx(moment * std::atan2(moment, height)).epsilon(1e-12));
}

TEST_CASE("a required force-angle holds below its certified least and not above it, however it is asked") {
  for (const double stall : {kUnset, 0.3}) {
    Scenario s = rigs::dunlin();
    LoadCase c = case_of("angled");
    c.stall = stall;
    c.margin = {{MarginKind::force_angle, 0.0}};
    s.criteria.load_cases = {c};
    const Stability found = assessed(s);
    const Least least = found.cases.at(0).decides;
    REQUIRE(std::isfinite(least.value));
    REQUIRE(least.value > 0);
    CHECK(found.cases[0].decides_by == MarginKind::force_angle);
    CHECK(least.gap <= 10 * kDefaultGap);
    for (const auto& [required, ok] :
         {std::pair{least.value - 2 * least.gap, true}, {least.value + 1e-6, false}}) {
      s.criteria.load_cases[0].margin[MarginKind::force_angle] = required;
      for (const Question question : {Question::verdict, Question::extremes}) {
        const Stability at = assessed(s, question);
        CHECK(at.cases.at(0).ok == ok);
        CHECK(at.outcome == (ok ? Outcome::stands : Outcome::short_of_margin));
      }
    }
  }
}

TEST_CASE("where the reference state is not held there is nothing to compare a force-angle with") {
  Scenario s = textbook(case_of("plain"));
  s.payload.mass = 3000;
  s.criteria.load_cases[0].margin = {{MarginKind::force_angle, 0.1}};
  const Stability found = assessed(s);
  CHECK(!found.cases.at(0).ok);
  CHECK(std::isnan(found.cases[0].decides.value));
  CHECK_THAT(found.cases[0].decides.reason, Catch::Contains("reference state"));
  CHECK_THAT(found.least.at(MarginKind::force_angle).reason, Catch::Contains("reference state"));
  CHECK(found.outcome == Outcome::tips);
  CHECK(assessed(s, Question::verdict).outcome == Outcome::tips);
}

TEST_CASE("lifting off is a load factor of phi: moments, feet, boom and line feel it alike") {
  for (const double gravity : {1.62, 9.80665}) {
    Scenario lifts = rigs::dunlin();
    lifts.gravity = gravity;
    lifts.transit.reset();
    lifts.machine.boom.limit->root_moment = 5000;
    LoadCase c = case_of("lift");
    c.hoisting_computed = true;
    lifts.criteria.load_cases = {c};
    const Prepared p = prepare(std::make_shared<const Scenario>(lifts));
    const double phi = p.lifting.at(0).factor;
    // Line and boom are rigid at the first metre: the outriggers' sum, under 14 kg payload and 6 kg head.
    CHECK(phi == Approx(1 + 0.05 / gravity * std::sqrt(4 * 55e3 / 20)).epsilon(1e-12));
    CHECK(p.lifting[0].factor_at_longest < phi);
    Scenario factored = lifts;
    factored.criteria.load_cases[0] = case_of("lift");
    factored.criteria.load_cases[0].load_factor = phi;
    const Stability a = assessed(lifts), b = assessed(factored);
    CHECK(a.worst.measures.moment == Approx(b.worst.measures.moment).epsilon(1e-12));
    for (const auto& [kind, least] : a.least)
      CHECK(least.value == Approx(b.least.at(kind).value).epsilon(1e-9));
    for (std::size_t f = 0; f < a.feet.size(); ++f) {
      CHECK(a.feet[f].greatest == Approx(b.feet[f].greatest).epsilon(1e-9));
      CHECK(a.feet[f].least == Approx(b.feet[f].least).margin(1e-6));
    }
    // Boom and line do not see a factor of safety on the load, but they do see the lift.
    const auto still = strengths(prepare(std::make_shared<const Scenario>(factored))), felt = strengths(p);
    REQUIRE(still.size() == 3);
    const double hangs = gravity * (14 + 6 + 0.05 * 40);
    for (std::size_t i = 0; i < still.size(); ++i) {
      if (felt[i].of == Strength::Of::boom_root) {
        CHECK(felt[i].asked > still[i].asked);
        continue;
      }
      CHECK(still[i].asked == Approx(hangs).epsilon(1e-12));
      CHECK(felt[i].asked == Approx(phi * hangs).epsilon(1e-12));
    }
  }
}

TEST_CASE("what a lift and a snag take for granted is said") {
  Scenario s = rigs::dunlin();
  LoadCase lift = case_of("lift");
  lift.hoisting_computed = true;
  s.criteria.load_cases = {lift, snag(1)};
  s.machine.hoist.line_EA = kUnset;
  std::string all;
  for (const std::string& line : prepare(std::make_shared<const Scenario>(s)).assumed) all += line + "\n";
  for (const char* word : {"swing angle", "stiffest pick-up", "hoist.line_EA", "bending_stiffness"})
    CHECK_THAT(all, Catch::Contains(word));
  s.criteria.load_cases = {case_of("plain")};
  CHECK(prepare(std::make_shared<const Scenario>(s)).assumed.empty());
}

}  // namespace rimstance
