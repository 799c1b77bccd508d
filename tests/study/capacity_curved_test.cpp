// Margins that no linear form tells - energy, force-angle, the angle of a released machine - against
// verdicts: they hold under every payload up to the capacity, and break just above it.
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

using studies::Ready;

/// A machine whose one case asks for one curved measure.
Ready drawn_ready(Draw& draw, MarginKind kind, double margin) {
  LoadCase c;
  c.mass_margin = draw.in(0, 1) < 0.2;
  if (kind == MarginKind::tip_angle) c.release = draw.in(0.3, 1);
  if (kind != MarginKind::tip_angle) c.load_factor = draw.in(1, 1.3);
  if (kind != MarginKind::tip_angle && draw.in(0, 1) < 0.3) c.hoisting_computed = true;
  c.margin = {{kind, margin}};
  Scenario s = studies::plain(drawn::scenario(draw), c);
  s.machine.hoist.speed = 0.05;
  const double slew = draw.in(-kPi, kPi);
  s.operation.slew = {slew, slew + draw.in(0.2, 1.5)};
  s.operation.luff = {draw.in(0, 0.6), draw.in(0.8, 1.3)};
  s.operation.extension = {0, boom_shape(s.machine.boom)->greatest_extension()};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.line = {0, 0};
  s.operation.travel = {0.6, draw.in(0.6, 1.2)};
  return studies::ready(s, drawn::pose(draw, 0.05));
}

/// The verdict over the states of one reach under a payload.
CaseResult verdict(const Ready& like, double reach, double payload) {
  Scenario s = *like.prepared.scenario;
  s.payload.mass = payload;
  s.operation.reach = {reach, reach};
  const Prepared p = prepare(std::make_shared<Scenario>(s));
  return assess(p, like.levelling, like.contacts, Question::verdict, {}).cases.at(0);
}

}  // namespace

TEST_CASE(
    "a curved margin holds under every payload up to the capacity and breaks just above, at the same edge") {
  struct Of {
    MarginKind kind;
    double margin;
  };
  for (const Of& of :
       {Of{MarginKind::energy, 60}, Of{MarginKind::force_angle, 0.3}, Of{MarginKind::tip_angle, 0.15}}) {
    int limited = 0;
    for (int i = 0; i < cases() / 10; ++i) {
      Draw draw{461, static_cast<std::uint64_t>(1000 * static_cast<int>(of.kind) + i)};
      INFO(draw.text());
      const Ready r = drawn_ready(draw, of.kind, of.margin);
      const Interval all = reaches(r.prepared.loads, r.prepared.operation);
      CapacityAsked asked;
      asked.reaches = {all.lo + all.width() * draw.in(0.1, 0.9)};
      asked.slew_step = 7;
      const CapacityCell cell = capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0);
      CAPTURE(static_cast<int>(of.kind), cell.reach, cell.capacity, cell.gap);
      if (cell.governing.without_load) {
        CHECK(!verdict(r, cell.reach, 0).ok);
        continue;
      }
      const double most = std::min(cell.capacity, 2000.0);
      for (const double share : {0.0, 0.03, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 0.97, 1 - 1e-6}) {
        CAPTURE(share);
        CHECK(verdict(r, cell.reach, share * most).ok);
      }
      if (!std::isfinite(cell.capacity)) continue;
      ++limited;
      const CaseResult above = verdict(r, cell.reach, (cell.capacity + cell.gap) * (1 + 1e-5) + 1e-5);
      CHECK(!above.ok);
      CHECK(cell.governing.edge == above.decides.at.edge);
      CHECK(cell.gap <= 1e-4 * (r.prepared.reference_masses.mass + cell.capacity));
    }
    CAPTURE(static_cast<int>(of.kind));
    CHECK(limited >= cases() / 40);
  }
}

TEST_CASE(
    "a load high up and well inside may break an energy that a greater one keeps: the first that breaks "
    "counts") {
  // About the front edge, over g: D = D0 + Q d, H = H0 + Q h, and hypot(D, H) - H = e at the roots of
  //   d^2 Q^2 + 2 (D0 d - e h) Q + D0^2 - e^2 - 2 e H0 = 0;   between them less is left, beyond them more.
  LoadCase c;
  c.mass_margin = false;
  const double e = 1000;
  Scenario s = studies::plain(rigs::plain_crane(2), c);
  Machine& m = s.machine;
  c.margin = {{MarginKind::energy, e * s.gravity}};
  s.criteria.load_cases = {c};
  m.boom.sections[0] = {};
  m.boom.sections[0].length = 5.5;
  m.boom.sections[0].mass = 1e-9;
  const double luff = std::acos(1.5 / 5.5);
  s.operation.luff = {luff, luff};
  const Ready r = studies::ready(s);
  const double below = m.outriggers[0].pivot.z() - m.outriggers[0].drop - 0.2;  // the feet, from C
  const double d0 = 2000 * 2.3, h0 = 2000 * (0.5 - below), d = 2 - 1.5, h = 5.5 * std::sin(luff) - below;
  const double half = (d0 * d - e * h) / (d * d), rest = (d0 * d0 - e * e - 2 * e * h0) / (d * d);
  const double first = -half - std::sqrt(half * half - rest), last = -half + std::sqrt(half * half - rest);
  REQUIRE(first > 1000);
  REQUIRE(last > 2 * first);
  CapacityAsked asked;
  asked.luffs = {luff};
  asked.extensions = {0};
  asked.slew_step = 7;
  const CapacityCell cell = capacity(r.prepared, r.levelling, r.contacts, asked, {}).cells.at(0);
  CHECK(cell.capacity == Approx(first).epsilon(1e-6));
  CHECK(cell.governing.limit == Limit::tipping);
}

}  // namespace rimstance
