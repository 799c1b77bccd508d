// What gravity that leans the worst way costs a rule, at most: the tip's box, and the guide's mass at any
// share.
#include "../src/study/leaning.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

/// A tip ahead of the foot pin between two heights, of any signs.
struct Between {
  double ahead;
  CurveEnd a, b;
};
Between drawn_between(Draw& draw) {
  const double ahead = draw.in(0, 1) < 0.1 ? 0 : draw.in(0.1, 6);
  const auto end = [&] {
    const double height = draw.in(-3, 5);
    return CurveEnd{std::hypot(ahead, height), height};
  };
  const CurveEnd a = end(), b = end();
  return {ahead, a, b};
}

}  // namespace

TEST_CASE("the box of a tip holds every state between its ends, and no shorter or longer boom than theirs") {
  int passes = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{901, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const auto [ahead, a, b] = drawn_between(draw);
    const TipBox box = tip_box(ahead, a, b);
    constexpr int kSteps = 500;
    Interval length{kInfinity, -kInfinity}, height{kInfinity, -kInfinity};
    for (int k = 0; k <= kSteps; ++k) {
      const double z = a.height + (b.height - a.height) * k / kSteps, l = std::hypot(ahead, z);
      length = {std::min(length.lo, l), std::max(length.hi, l)};
      height = {std::min(height.lo, z), std::max(height.hi, z)};
    }
    passes += a.height * b.height < 0;
    CHECK(box.ahead.lo == ahead);
    CHECK(box.ahead.hi == ahead);
    CHECK(box.length.lo <= length.lo + 1e-12);
    CHECK(box.length.hi >= length.hi - 1e-12);
    CHECK(box.height.lo <= height.lo + 1e-12);
    CHECK(box.height.hi >= height.hi - 1e-12);
    // Of the grid's points one lies within half a step of the level, and a length grows no faster than
    // height.
    const double step = std::abs(b.height - a.height) / kSteps;
    CHECK(box.length.lo >= length.lo - step / 2 - 1e-12);
    CHECK(box.length.hi <= length.hi + 1e-12);
    CHECK(box.height.lo >= height.lo - 1e-12);
    CHECK(box.height.hi <= height.hi + 1e-12);
  }
  CHECK(passes >= cases() / 5);
}

namespace {

/// A drawn machine on a tilted chassis, one case that asks for a moment, its boom set, gravity leaning.
struct Leaned {
  studies::Ready r;
  std::vector<Edge> edges;
  CraneState at;
  double lean;
};
Leaned drawn_leaned(Draw& draw) {
  LoadCase c;
  c.mass_margin = false;
  if (draw.in(0, 1) < 0.5) c.load_factor = 1.25;
  c.margin = {{MarginKind::moment, 0}};
  Scenario s = studies::plain(drawn::scenario(draw), c);
  s.criteria.set_error = radians(draw.in(0.5, 3));
  s.operation.slew = {-kPi, kPi};
  s.operation.luff = {-0.3, 1.2};
  s.operation.extension = {0, boom_shape(s.machine.boom)->greatest_extension()};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.line = {0, 20};
  s.operation.travel = s.machine.guide->travel;
  std::vector<double> stroke;
  for (std::size_t i = 0; i < s.machine.outriggers.size(); ++i) stroke.push_back(draw.in(0, 0.6));
  Leaned out{studies::ready(s, drawn::pose(draw, 0.2), stroke), {}, {}, s.criteria.set_error};
  out.edges = support_polygon(out.r.contacts, out.r.levelling.X_WC);
  out.at = drawn::state(draw, out.r.prepared.loads);
  out.at.luff = draw.in(-0.3, 1.2);
  out.at.line = draw.in(0, 20);
  out.at.travel = draw.in(s.operation.travel.lo, s.operation.travel.hi);
  return out;
}

/// Sums of m g across and above an axis, what stands on the guide at a share of its mass.
Vec2 sums(const Leaned& l, const TippingAxis& axis, double share) {
  const Prepared& p = l.r.prepared;
  CraneState farther = l.at;
  farther.travel += 1;
  const auto all = parts(p.loads, l.at, p.load_cases[0], true, true),
             moved = parts(p.loads, farther, p.load_cases[0], true, true);
  Vec2 out = Vec2::Zero();
  for (std::size_t k = 0; k < all.size(); ++k) {
    const Vec3 at = all[k].at(l.at.slew), arm = at - axis.c;
    const bool on_guide = (moved[k].at(l.at.slew) - at).norm() > 0.5;
    out += (on_guide ? share : 1) * all[k].mass * axis.g * Vec2(arm.dot(axis.n), arm.dot(axis.v));
  }
  return out;
}

}  // namespace

TEST_CASE("whatever the guide carries, a rule that holds with what leaning costs holds leaning any way") {
  int near_share_one = 0, met = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{902, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Leaned l = drawn_leaned(draw);
    const Scenario& s = *l.r.prepared.scenario;
    const Edge& edge = l.edges[static_cast<std::size_t>(draw.in(0, static_cast<double>(l.edges.size())))];
    const Vec3 g_C = gravity_C(s, l.r.levelling.X_WC);
    const TippingAxis axis = tipping_axis(edge, g_C, l.lean);
    const double share = draw.in(0, 1) < 0.4 ? draw.in(0, 1) : std::exp(draw.in(0, std::log(1e3)));
    const Vec2 sum = sums(l, axis, share);
    Rule rule = tipping_rules(l.r.prepared, l.r.levelling.X_WC, l.edges).front();
    const double length = l.r.prepared.loads.boom->length(l.at.extension);
    const CurveEnd end{length, length * std::sin(l.at.luff)};
    const double ahead = length * std::cos(l.at.luff);
    // The margin with which the state just holds: what is left of its moment when the cost is off.
    double cost = 0;
    for (int step = 0; step < 60; ++step) {
      rule.required = axis.cos_psi * sum.x() - cost;
      const Leaning leaning(l.r.prepared, rule, edge, g_C, l.lean);
      cost = leaning.cost_under(tip_box(ahead, end, end), s.payload.mass).at(share);
    }
    if (!(rule.required >= 0)) continue;
    ++met;
    near_share_one += std::abs(share - 1) < 0.5;
    CAPTURE(share, cost, sum.x(), sum.y());
    const double size = 1e-9 * (1 + std::abs(sum.x()) + std::abs(sum.y()));
    CHECK(axis.cos_psi * sum.x() - axis.worst_way(sum.x(), sum.y()) >= rule.required - size);
  }
  CHECK(met >= cases() / 10);
  CHECK(near_share_one > 0);
}

TEST_CASE("what leaning costs does not fall faster to either side of the guide's own mass than its bound") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{903, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Leaned l = drawn_leaned(draw);
    Rule rule = tipping_rules(l.r.prepared, l.r.levelling.X_WC, l.edges).front();
    rule.required = draw.in(0, 500);
    const Leaning leaning(l.r.prepared, rule, l.edges.front(),
                          gravity_C(*l.r.prepared.scenario, l.r.levelling.X_WC), l.lean);
    const Leaning::OverShares cost = leaning.cost_under(l.r.prepared.scenario->payload.mass);
    CHECK(cost.above >= cost.below - 1e-12 * std::abs(cost.below));  // convex
    CHECK(cost.alone <= cost.at_one * (1 + 1e-12));
    CHECK(cost.at(0) >= 0);
  }
}

}  // namespace rimstance
