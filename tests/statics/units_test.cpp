// Units leave the container one by one: which measures are least where all or none are left, and that the
// others are searched at every count.
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rimstance/statics/envelope.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using drawn::Stance;

/// A container that tells: many units, anywhere, and as heavy as half the machine.
Stance with_units(Draw& draw) {
  Stance s = drawn::stance(draw);
  Container& c = *s.scenario.machine.container;
  c.units = 12;
  c.unit_mass = draw.in(2, 40);
  c.at = Vec3(draw.in(-2.5, 2.5), draw.in(-2, 2), draw.in(-0.5, 3));
  drawn::refresh(s);
  return s;
}

double at_count(const Stance& s, const TippingAxis& axis, MarginKind kind, int units) {
  CraneState at = s.state;
  at.units_left = units;
  const double v = measures(parts(s.loads, at, s.load_case, true, true), axis, at.slew).of(kind);
  return std::isnan(v) ? kInfinity : v;
}

Domain only(const CraneState& s) {
  Domain d;
  d.slew = {s.slew, s.slew};
  d.luff = {s.luff, s.luff};
  d.extension = {s.extension, s.extension};
  d.travel = {s.travel, s.travel};
  d.line = {s.line, s.line};
  return d;
}

struct Leasts {
  double ends = kInfinity, all = kInfinity;
};
Leasts leasts(const Stance& s, const TippingAxis& axis, MarginKind kind) {
  const auto [fewest, most] = units_left(s.loads, s.load_case, only(s.state));
  Leasts out;
  for (int n = fewest; n <= most; ++n) out.all = std::min(out.all, at_count(s, axis, kind, n));
  out.ends = std::min(at_count(s, axis, kind, fewest), at_count(s, axis, kind, most));
  return out;
}

}  // namespace

TEST_CASE("units: a hanging unit is not in the container") {
  Stance s;
  s.scenario = rigs::dunlin();
  s.stroke = {0.2, 0.2, 0.2, 0.2};
  drawn::refresh(s);
  const int units = s.scenario.machine.container->units;
  Domain domain = only(s.state);
  LoadCase loaded, unloaded;
  unloaded.payload = false;
  CHECK(units_left(s.loads, loaded, domain) == std::pair(0, units - 1));
  CHECK(units_left(s.loads, unloaded, domain) == std::pair(0, units));
  domain.payload = false;
  CHECK(units_left(s.loads, loaded, domain) == std::pair(0, units));
}

TEST_CASE("units: moment, clearance, share, ratio and angle are least with all or with none of them left") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{2401, static_cast<std::uint64_t>(i)};
    const Stance s = with_units(draw);
    for (const Edge& edge : s.edges) {
      const TippingAxis axis = tipping_axis(edge, s.gravity_C);
      for (const MarginKind kind : {MarginKind::moment, MarginKind::clearance, MarginKind::load_side_share,
                                    MarginKind::moment_ratio, MarginKind::tip_angle}) {
        const Leasts found = leasts(s, axis, kind);
        CAPTURE(draw.text(), static_cast<int>(kind));
        CHECK((found.ends == found.all || drawn::near(found.ends, found.all, 1e-12)));
      }
    }
  }
}

TEST_CASE("units: every measure's certified least is that of every count, also where it lies between") {
  int between = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{2402, static_cast<std::uint64_t>(i)};
    const Stance s = with_units(draw);
    for (const Edge& edge : s.edges) {
      const TippingAxis axis = tipping_axis(edge, s.gravity_C);
      for (const MarginKind kind : drawn::kMeasures) {
        const Leasts least = leasts(s, axis, kind);
        const double gap = 1e-4 * drawn::size_of(kind);
        const auto found = least_over(s.loads, s.load_case, only(s.state), axis, kind, {gap, {}});
        CAPTURE(draw.text(), static_cast<int>(kind), least.ends, least.all);
        if (!std::isfinite(least.all)) {
          CHECK(!std::isfinite(found.value));
          continue;
        }
        CHECK(found.value <= least.all + gap);
        CHECK(found.value >= least.all - 1e-9 * drawn::size_of(kind) * (1 + std::abs(least.all)));
        if (least.all < least.ends - 2 * gap) ++between;
      }
    }
  }
  CHECK(between > cases() / 20);  // energy and force-angle: the ends alone would have missed these
}

}  // namespace rimstance
