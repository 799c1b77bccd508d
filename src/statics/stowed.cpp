#include "rimstance/statics/stowed.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "rimstance/statics/support_polygon.hpp"

namespace rimstance {
namespace {

double nearest_to_zero(const Interval& i) { return std::clamp(0.0, i.lo, i.hi); }

/// A box that grows around points.
struct Hull {
  Vec3 lo = Vec3::Constant(kInfinity), hi = Vec3::Constant(-kInfinity);
  void add(const Vec3& p, const Vec3& half = Vec3::Zero()) {
    lo = lo.cwiseMin(p - half);
    hi = hi.cwiseMax(p + half);
  }
};

void add_chassis(const Chassis& chassis, Hull& hull) {
  for (const Wheel& w : chassis.wheels) hull.add(w.at, {w.radius, w.width / 2, w.radius});
  if (chassis.belly)
    for (const Vec2& p : chassis.belly->outline) hull.add({p.x(), p.y(), chassis.belly->height});
  for (const Body& b : chassis.bodies) hull.add(b.at);
}

void add_outrigger(const Outrigger& o, double splay, Hull& hull) {
  const Vec3 pad = foot(o, splay, o.stroke.lo);
  hull.add(o.pivot);
  hull.add({pad.x(), pad.y(), o.pivot.z()});
  hull.add(pad, {o.pad_radius, o.pad_radius, 0});
}

void add_crane(const Machine& machine, const MachineLoads& loads, const CraneState& at, Hull& hull) {
  const auto turning = [&](const Vec3& p_S) { return on_platform(machine.platform, p_S, at.slew); };
  for (const Body& b : machine.platform.bodies) hull.add(turning(b.at));
  const auto mounted = [&](Mount mount, const Vec3& p) { return mount == Mount::platform ? turning(p) : p; };
  if (machine.container) hull.add(mounted(machine.container->mount, machine.container->at));
  if (machine.guide) {
    const Guide& g = *machine.guide;
    for (const double travel : {g.travel.lo, g.travel.hi})
      hull.add(mounted(g.mount, g.start + travel * g.direction));
  }
  hull.add(turning(machine.boom.foot));
  const Vec3 tip = turning(tip_S(machine.boom, *loads.boom, at.luff, at.extension));
  const double head = std::isfinite(machine.hoist.head_radius) ? machine.hoist.head_radius : 0;
  hull.add(tip, Vec3::Constant(head));
}

double tip_towards(std::span<const Edge> edges, const Vec3& centre_C, const Vec2& direction) {
  double least = kUnset;
  for (const Edge& e : edges) {
    const Vec2 outward = Vec2(e.a_C.y(), -e.a_C.x()).normalized();
    const double share = outward.dot(direction);
    if (!(share > 1e-12)) continue;
    const double inside = outward.dot(e.p_C.head<2>() - centre_C.head<2>());
    const double height = centre_C.z() - (e.p_C + e.length / 2 * e.a_C).z();
    const double angle = std::atan2(inside, height * share);
    if (!(angle >= least)) least = angle;
  }
  return least;
}

}  // namespace

TipAngles tips_on_wheels(const Chassis& chassis, const Vec3& centre_C) {
  std::vector<Contact> contacts;
  for (const Wheel& w : chassis.wheels) {
    Contact c;
    c.kind = Contact::Kind::wheel;
    c.p_W = c.p_C = w.at - Vec3(0, 0, w.radius);
    c.supported = true;
    contacts.push_back(c);
  }
  const std::vector<Edge> edges = support_polygon(contacts, {});
  const auto tip = [&](double x, double y) { return tip_towards(edges, centre_C, {x, y}); };
  return {tip(1, 0), tip(-1, 0), tip(0, 1), tip(0, -1)};
}

Stowed stowed(const Scenario& scenario) {
  const Machine& machine = scenario.machine;
  std::vector<double> splay;
  for (const Outrigger& o : machine.outriggers) splay.push_back(nearest_to_zero(o.splay_range));
  const MachineLoads loads = machine_loads(scenario, splay);
  CraneState at;
  at.slew = nearest_to_zero(machine.platform.slew_range);
  at.luff = machine.boom.luff_range.lo;
  if (machine.guide) at.travel = machine.guide->travel.lo;
  if (machine.container) at.units_left = machine.container->units;
  Hull hull;
  add_chassis(machine.chassis, hull);
  for (std::size_t i = 0; i < splay.size(); ++i) add_outrigger(machine.outriggers[i], splay[i], hull);
  add_crane(machine, loads, at, hull);
  const MassState masses = mass_state(loads, at, false);
  Stowed out;
  out.length = (hull.hi - hull.lo).x();
  out.width = (hull.hi - hull.lo).y();
  out.height = (hull.hi - hull.lo).z();
  out.mass = masses.mass;
  out.centre_C = masses.tipping_centre_C;
  if (machine.chassis.wheels.empty())
    out.no_tips = "no wheels";
  else
    out.tips = tips_on_wheels(machine.chassis, out.centre_C);
  if (out.no_tips.empty() && !std::isfinite(out.tips.forward)) out.no_tips = "the wheels stand on one line";
  return out;
}

}  // namespace rimstance
