// A pull at a high tip may bring what all loads together come to below the edge: then gravity that leans
// inwards is the worst.
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rimstance/statics/envelope.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

struct Pulled : drawn::Stance {
  Domain domain;
  TippingAxis axis;
};

Pulled pulled(Draw& draw) {
  Pulled out;
  static_cast<drawn::Stance&>(out) = drawn::stance(draw, draw.in(0, 1) < 0.5);
  out.load_case.payload = true;
  out.load_case.head_down = false;
  out.load_case.release = draw.in(0.3, 1);
  out.scenario.payload.mass = draw.in(50, 300);
  drawn::refresh(out);
  out.domain = domains(out.scenario)[0];
  const double slew = draw.in(-3, 3);
  out.domain.slew = {slew, slew + draw.in(0, 2)};
  out.domain.luff = {draw.in(0.1, 0.6), draw.in(0.7, 1.3)};
  out.domain.extension = {draw.in(0, 0.5), out.loads.boom->greatest_extension()};
  out.domain.reach = {-kInfinity, kInfinity};
  const Edge& edge =
      out.edges[static_cast<std::size_t>(draw.in(0, static_cast<double>(out.edges.size()) * 0.999))];
  out.axis = tipping_axis(edge, out.gravity_C, draw.in(0.001, 0.02));
  return out;
}

CraneState any_state(Draw& draw, const Pulled& s) {
  const auto [least, most] = units_left(s.loads, s.load_case, s.domain);
  const auto at = [&](const Interval& i) {
    return i.lo + std::clamp(draw.in(-0.5, 1.5), 0.0, 1.0) * i.width();  // ends often
  };
  return {at(s.domain.slew),   at(s.domain.luff), at(s.domain.extension),
          at(s.domain.travel), at(s.domain.line), draw.in(0, 1) < 0.5 ? least : most};
}

/// Of all that loads, pulls counted against it: weight, and its moments across and above the axis.
struct Sums {
  double weight = 0, across = 0, height = 0;
};
Sums sums(const Pulled& s, const CraneState& state) {
  Sums out;
  for (const Part& p : parts(s.loads, state, s.load_case, true, true)) {
    const double w = p.mass * s.axis.g;
    const Vec3 d = p.at(state.slew) - s.axis.c;
    out.weight += w;
    out.across += w * d.dot(s.axis.n);
    out.height += w * d.dot(s.axis.v);
  }
  return out;
}

}  // namespace

TEST_CASE("under a release the least holds for gravity that leans inwards too, and is decided closely") {
  int below = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{591, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Pulled s = pulled(draw);
    std::vector<CraneState> states;
    Sums most;
    most.weight = kInfinity;
    bool some_below = false;
    for (int k = 0; k < 200; ++k) {
      states.push_back(any_state(draw, s));
      const Sums there = sums(s, states.back());
      some_below = some_below || there.height < 0;
      most.weight = std::min(most.weight, there.weight);
      most.across = std::max(most.across, std::abs(there.across));
      most.height = std::max(most.height, std::abs(there.height));
    }
    below += some_below;
    for (const MarginKind kind : {MarginKind::moment, MarginKind::clearance, MarginKind::load_side_share}) {
      CAPTURE(static_cast<int>(kind));
      const double size = kind == MarginKind::moment ? 1000 : 1, gap = 1e-6 * size;
      const auto found = least_over(s.loads, s.load_case, s.domain, s.axis, kind, {gap, {}});
      if (!std::isfinite(found.value)) continue;
      for (const CraneState& state : states) {
        const auto all = parts(s.loads, state, s.load_case, true, true);
        CHECK(measures(all, s.axis, state.slew).of(kind) >= found.value - found.gap - 1e-9 * size);
      }
      if (!(found.value > 0)) continue;
      // What is left of the cost of leaning: sin(phi) |d sin(psi)| at most, here no closer than twice that.
      double close = 2 * s.axis.sin_rotated * std::abs(s.axis.sin_psi_level) * (most.across + most.height);
      if (kind != MarginKind::moment) close /= most.weight;
      if (kind == MarginKind::load_side_share) close /= s.axis.width;
      const double level = found.value - found.gap - close - gap;
      const auto lower = least_over(s.loads, s.load_case, s.domain, s.axis, kind, {gap, level});
      CHECK(std::isfinite(lower.gap));
      CHECK(lower.value >= level);
      const double above = found.value + gap;
      const auto higher = least_over(s.loads, s.load_case, s.domain, s.axis, kind, {gap, above});
      CHECK_FALSE((higher.value >= above && std::isfinite(higher.gap)));
      CHECK(found.gap <= close + 2 * gap);
    }
  }
  CHECK(below > cases() / 10);
}

}  // namespace rimstance
