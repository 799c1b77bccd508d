#pragma once
// Machines, cases and states drawn at random about the rig of rigs.hpp, and sums over point masses
// taken straight from the description of the machine: a slow second way to every load.
#include <string>
#include <utility>
#include <vector>

#include "rigs.hpp"
#include "rimstance/loads/parts.hpp"
#include "stance/draw.hpp"

namespace rimstance::drawn {

inline Vec3 point(Draw& draw, double half, double height) {
  return {draw.in(-half, half), draw.in(-half, half), draw.in(0, height)};
}

inline Boom telescope(Draw& draw, Boom boom) {
  boom.kind = Boom::Kind::telescopic;
  boom.order = draw.in(0, 1) < 0.5 ? Boom::Order::together : Boom::Order::in_order;
  boom.foot = Vec3(draw.in(-0.3, 0.3), draw.in(0, 1) < 0.3 ? 0.1 : 0, 0.35);
  boom.sections.clear();
  const int sections = 1 + static_cast<int>(draw.in(0, 4));
  for (int k = 0; k < sections; ++k) {
    BoomSection s;
    s.length = draw.in(1.5, 3.5);
    s.stroke = k == 0 ? 0 : draw.in(0.3, 1) * s.length;
    s.mass = draw.in(4, 20);
    s.centre_at = draw.in(0.3, 0.7);
    s.margin = draw.in(0, 1) < 0.5 ? 0 : draw.in(0, 0.2);
    boom.sections.push_back(s);
  }
  return boom;
}

inline Boom scissor(Draw& draw, Boom boom) {
  boom.kind = Boom::Kind::scissor;
  boom.cells = 4 + static_cast<int>(draw.in(0, 8));
  boom.bar = draw.in(0.4, 0.8);
  boom.retracted = draw.in(0.1, 0.6) * boom.cells * boom.bar;
  boom.mass = draw.in(15, 50);
  boom.margin = draw.in(0, 0.2);
  return boom;
}

inline Boom rigid_chain(Draw& draw, Boom boom) {
  boom.kind = Boom::Kind::rigid_chain;
  boom.chain_length = draw.in(3, 8);
  boom.chain_mass = draw.in(3, 8);
  boom.retracted = draw.in(0.2, 1);
  boom.magazine = Vec3(draw.in(-0.5, 0.2), draw.in(-0.2, 0.2), draw.in(0, 0.4));
  boom.margin = draw.in(0, 0.2);
  return boom;
}

inline Boom boom(Draw& draw, const Boom& like) {
  const double kind = draw.in(0, 3);
  return kind < 1.5 ? telescope(draw, like) : kind < 2.25 ? scissor(draw, like) : rigid_chain(draw, like);
}

/// A machine of the rig's build: other places and masses, a boom of any kind, guide and container on
/// platform or chassis.
inline Scenario scenario(Draw& draw) {
  Scenario s = rigs::dunlin();
  Machine& m = s.machine;
  for (Body& b : m.chassis.bodies)
    b = rigs::body("frame", draw.in(50, 250), point(draw, 0.4, 0.8), draw.in(0, 0.2));
  for (Outrigger& o : m.outriggers) {
    o.pivot += point(draw, 0.15, 0.1);
    o.arm = draw.in(1.2, 2);
    o.splay = draw.in(0.4, 1.1);
    o.mass = draw.in(5, 15);
    o.centre_at = draw.in(0.3, 0.7);
    o.margin = draw.in(0, 0.2);
  }
  m.platform.axis = Vec3(draw.in(-0.3, 0.3), draw.in(-0.1, 0.1), 0.8);
  m.platform.bodies.push_back(rigs::body("mast", draw.in(5, 40), point(draw, 1, 0.6), draw.in(0, 0.2)));
  m.container->mount = draw.in(0, 1) < 0.5 ? Mount::platform : Mount::chassis;
  m.container->margin = draw.in(0, 0.1);
  m.guide->mount = draw.in(0, 1) < 0.7 ? Mount::platform : Mount::chassis;
  m.guide->bodies.push_back(rigs::body("battery", draw.in(10, 40), Vec3(-0.1, 0.05, 0.1), draw.in(0, 0.1)));
  m.guide->direction = Vec3(-1, draw.in(-0.2, 0.2), draw.in(-0.2, 0.2)).normalized();
  m.boom = boom(draw, m.boom);
  s.payload.mass = draw.in(5, 60);
  return s;
}

inline LoadCase load_case(Draw& draw, bool margins = true) {
  LoadCase c;
  switch (static_cast<int>(draw.in(0, 5))) {
    case 0:
      break;
    case 1:
      c.load_factor = 1.25;
      c.boom_factor = 0.1;
      break;
    case 2:
      c.payload = false;
      break;
    case 3:
      c.release = draw.in(0.3, 1);
      break;
    default:
      c.payload = false;
      c.head_down = true;
      break;
  }
  c.mass_margin = margins;
  return c;
}

inline CraneState state(Draw& draw, const MachineLoads& loads) {
  CraneState s;
  s.slew = draw.in(-kPi, kPi);
  s.luff = draw.in(0, 1.3);
  s.extension = draw.in(0, loads.boom->greatest_extension());
  s.travel = draw.in(loads.machine.guide->travel.lo, loads.machine.guide->travel.hi);
  s.line = draw.in(0, 40);
  s.units_left = static_cast<int>(draw.in(0, 6));
  return s;
}

inline Mat3 any_rotation(Draw& draw) {
  return rotation(draw.in(-kPi, kPi), draw.in(-1.5, 1.5), draw.in(-kPi, kPi));
}

/// A tilt of up to `most` about each horizontal axis, and any yaw.
inline Pose pose(Draw& draw, double most) {
  Pose X;
  X.R = rotation(draw.in(-kPi, kPi), draw.in(-most, most), draw.in(-most, most));
  X.p = Vec3(draw.in(-3, 3), draw.in(-3, 3), draw.in(-1, 1));
  return X;
}

/// A machine, a state and a case, in a pose.
struct World {
  Scenario scenario;
  MachineLoads loads;
  Pose X_WC;
  LoadCase load_case;
  CraneState state;
};

inline std::vector<double> splay(const Machine& machine) {
  std::vector<double> out;
  for (const Outrigger& o : machine.outriggers) out.push_back(o.splay);
  return out;
}

inline World world(Draw& draw, bool margins = true) {
  World w;
  w.scenario = scenario(draw);
  w.loads = machine_loads(w.scenario, splay(w.scenario.machine));
  w.X_WC = pose(draw, 0.15);
  w.load_case = load_case(draw, margins);
  w.state = state(draw, w.loads);
  return w;
}

// ---- by hand -------------------------------------------------------------------------------------

struct PointMass {
  double mass;  ///< factored [kg]; negative: an upward pull
  Vec3 at_C;
};

/// Outer end and centre of every section of a telescope, by walking along it.
inline std::vector<std::pair<double, double>> sections_by_hand(const Boom& boom, double extension) {
  std::vector<std::pair<double, double>> out;
  double left = extension, strokes = 0, tip = 0;
  for (std::size_t k = 1; k < boom.sections.size(); ++k) strokes += boom.sections[k].stroke;
  for (std::size_t k = 0; k < boom.sections.size(); ++k) {
    const BoomSection& s = boom.sections[k];
    double run = 0;
    if (k > 0 && boom.order == Boom::Order::together) run = extension / strokes * s.stroke;
    if (k > 0 && boom.order == Boom::Order::in_order) run = left < s.stroke ? left : s.stroke;
    left -= run;
    tip += k == 0 ? s.length : run;
    out.emplace_back(tip, tip - (1 - s.centre_at) * s.length);
  }
  return out;
}

/// Everything that weighs, at basic mass and `a` times what hangs; b F and releases stay out.
inline std::vector<PointMass> by_hand(const Scenario& s, const CraneState& at, double a, bool payload,
                                      bool head) {
  const Machine& m = s.machine;
  std::vector<PointMass> out;
  const Mat3 turn = Eigen::AngleAxisd(at.slew, Vec3::UnitZ()).toRotationMatrix();
  const auto turning = [&](const Vec3& p_S, double mass) {
    out.push_back({mass, m.platform.axis + turn * p_S});
  };
  const auto mounted = [&](Mount mount, const Vec3& p, double mass) {
    if (mount == Mount::platform)
      turning(p, mass);
    else
      out.push_back({mass, p});
  };
  for (const Body& b : m.chassis.bodies) out.push_back({b.mass, b.at});
  for (const Outrigger& o : m.outriggers) {
    const double azimuth = o.zero + o.sense * o.splay;
    out.push_back(
        {o.mass, o.pivot + Eigen::AngleAxisd(azimuth, Vec3::UnitZ()) * Vec3(o.centre_at * o.arm, 0, 0)});
  }
  for (const Body& b : m.platform.bodies) turning(b.at, b.mass);
  if (m.container)
    mounted(m.container->mount, m.container->at, m.container->empty + at.units_left * m.container->unit_mass);
  if (m.guide)
    for (const Body& b : m.guide->bodies)
      mounted(m.guide->mount, m.guide->start + b.at + at.travel * m.guide->direction, b.mass);
  if (m.hoist.line_mass > 0) turning(m.hoist.drum, m.hoist.line_mass * (m.hoist.line_length - at.line));
  const Mat3 raise = Eigen::AngleAxisd(-at.luff, Vec3::UnitY()).toRotationMatrix();
  const auto on_boom = [&](double distance) { return Vec3(m.boom.foot + raise * Vec3(distance, 0, 0)); };
  double length = m.boom.retracted + at.extension;
  if (m.boom.kind == Boom::Kind::telescopic) {
    const auto sections = sections_by_hand(m.boom, at.extension);
    for (std::size_t k = 0; k < sections.size(); ++k)
      turning(on_boom(sections[k].second), m.boom.sections[k].mass);
    length = sections.back().first;
    for (const auto& [tip, centre] : sections) length = tip > length ? tip : length;
  } else if (m.boom.kind == Boom::Kind::scissor) {
    turning(on_boom(length / 2), m.boom.mass);
  } else {
    turning(on_boom(length / 2), m.boom.chain_mass * length);
    turning(m.boom.magazine, m.boom.chain_mass * (m.boom.chain_length - length));
  }
  const double hanging =
      (payload ? s.payload.mass : 0) + (head ? m.hoist.head_mass : 0) + m.hoist.line_mass * at.line;
  turning(on_boom(length), a * hanging);
  return out;
}

inline Vec6 wrench_of(const std::vector<PointMass>& masses, const Vec3& gravity_C) {
  Vec6 w = Vec6::Zero();
  for (const PointMass& p : masses) w += wrench(p.mass * gravity_C, p.at_C);
  return w;
}

}  // namespace rimstance::drawn
