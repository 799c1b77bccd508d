#pragma once
#include "rimstance/model/presets.hpp"
#include "rimstance/model/scenario.hpp"

// Machines for tests, built from plain values: no file, no loader. All numbers are invented.
namespace rimstance::rigs {

inline Body body(const char* name, double mass, Vec3 at, double margin = 0, const char* subsystem = "") {
  return {name, mass, at, margin, subsystem};
}

/// An outrigger in the pivot's quadrant; zero and sense as the loader sets them.
inline Outrigger outrigger(const char* name, Vec3 pivot, double splay = radians(40)) {
  Outrigger o;
  o.name = name;
  o.pivot = pivot;
  o.arm = 1.6;
  o.splay = splay;
  o.splay_range = {0, radians(110)};
  o.zero = pivot.x() > 0 ? 0.0 : kPi;
  o.sense = pivot.x() * pivot.y() > 0 ? 1 : -1;
  o.drop = 0.25;
  o.stroke = {0, 0.6};
  o.pad_radius = 0.15;
  o.pad_tilt = radians(20);
  o.pad_friction = 0.4;
  o.stiffness = 55e3;
  o.leg_limit = 3000;
  o.mass = 9;
  o.subsystem = "outriggers";
  return o;
}

inline Chassis dunlin_chassis() {
  Chassis c;
  for (const Vec2& at : {Vec2(0.9, 0.75), Vec2(0.9, -0.75), Vec2(-0.9, 0.75), Vec2(-0.9, -0.75)}) {
    Wheel w;
    w.at = Vec3(at.x(), at.y(), 0.25);
    w.radius = 0.25;
    w.width = 0.2;
    w.clearance = 0.02;
    c.wheels.push_back(w);
  }
  Belly belly;
  belly.outline = {{-0.8, -0.4}, {0.8, -0.4}, {0.8, 0.4}, {-0.8, 0.4}};
  belly.height = 0.35;
  belly.clearance = 0.05;
  c.belly = belly;
  c.bodies = {body("frame", 210, {0, 0, 0.55}, 0.10, "structure"), body("avionics", 25, {0.1, 0, 0.6}, 0.05)};
  return c;
}

inline Boom dunlin_boom() {
  Boom b;
  b.kind = Boom::Kind::telescopic;
  b.foot = Vec3(0.2, 0, 0.35);
  b.luff_range = {0, radians(75)};
  BoomSection base, inner;
  base.length = 3.2;
  base.mass = 18;
  inner.length = 3.0;
  inner.stroke = 2.7;
  inner.mass = 12;
  b.sections = {base, inner};
  StructuralLimit limit;
  limit.rows = {{2, 260}, {8, 65}};
  b.limit = limit;
  return b;
}

inline Machine dunlin_machine() {
  Machine m;
  m.name = "Dunlin";
  m.chassis = dunlin_chassis();
  m.outriggers = {outrigger("front-left", {0.7, 0.45, 0.5}), outrigger("front-right", {0.7, -0.45, 0.5}),
                  outrigger("rear-left", {-0.7, 0.45, 0.5}), outrigger("rear-right", {-0.7, -0.45, 0.5})};
  m.platform.axis = Vec3(0, 0, 0.8);
  m.platform.bodies = {body("turntable", 40, {0, 0, 0.1}, 0.10, "structure")};
  Container crates;
  crates.empty = 8;
  crates.units = 6;
  crates.at = Vec3(-0.5, 0, 0.45);
  crates.unit_mass = 14;
  crates.unit_radius = 0.3;
  m.container = crates;
  m.boom = dunlin_boom();
  Guide guide;
  guide.start = Vec3(-0.4, 0, 0.3);
  guide.direction = Vec3(-1, 0, 0);
  guide.travel = {0, 1.4};
  guide.bodies = {body("cabinets", 120, Vec3::Zero(), 0.10, "power")};
  m.guide = guide;
  m.hoist.line_pull = 100;
  m.hoist.line_mass = 0.05;
  m.hoist.line_length = 60;
  m.hoist.line_EA = 80e3;
  m.hoist.drum = Vec3(-0.1, 0, 0.4);
  m.hoist.head_mass = 6;
  m.hoist.head_radius = 0.35;
  return m;
}

inline Operation dunlin_operation() {
  Operation o;
  o.slew = {radians(-30), radians(30)};
  o.luff = {radians(20), radians(65)};
  o.extension = {0, 2.7};
  o.reach = {1.8, 5.7};
  o.line = {0, 40};
  o.travel = {1.1, 1.1};
  return o;
}

/// The invented carrier on the Moon: four outriggers, platform, container, telescopic boom, guide with
/// cabinets, hoist; criteria study-default.
inline Scenario dunlin() {
  Scenario s;
  s.title = "Dunlin";
  s.gravity = 1.62;
  s.machine = dunlin_machine();
  s.spot.at = Vec2(0, 0);
  s.spot.yaw = 0;
  s.payload.mass = 14;
  s.payload.reach = 5.5;
  s.operation = dunlin_operation();
  Operation transit = dunlin_operation();
  transit.slew = {-kPi, radians(30)};
  transit.luff = {radians(65), radians(65)};
  transit.extension = {0, 0};
  transit.reach = {-kInfinity, kInfinity};
  transit.line = {0, 0};
  transit.travel = {0, 1.1};
  transit.payload = false;
  s.transit = transit;
  s.criteria = find_criteria("study-default")->criteria;
  return s;
}

/// The textbook's crane: tipping lines 2 m ahead of the slew axis and behind, `side` to either side, 2000 kg
/// at -0.30 m, a boom of 150 kg with its centre at 3 m and its tip at 6 m; nothing else weighs. One state.
inline Scenario plain_crane(double side = 1) {
  Scenario s = dunlin();
  s.transit.reset();
  Machine& m = s.machine;
  m.chassis.bodies = {body("all", 2000, {-0.30, 0, 0.5})};
  m.platform.axis = Vec3::Zero();
  m.platform.bodies.clear();
  m.container.reset();
  m.guide.reset();
  m.hoist = Hoist{};
  m.hoist.drum = Vec3::Zero();
  for (Outrigger& o : m.outriggers) {
    o.mass = 0;
    o.pivot = Vec3(o.pivot.x() > 0 ? 1 : -1, o.pivot.y() > 0 ? side : -side, 0.5);
    o.arm = 1;
    o.splay = 0;
  }
  m.boom.limit.reset();
  m.boom.foot = Vec3::Zero();
  m.boom.sections.resize(1);
  m.boom.sections[0].length = 6;
  m.boom.sections[0].mass = 150;
  m.boom.sections[0].centre_at = 0.5;
  s.operation = Operation{};
  s.operation.slew = s.operation.luff = s.operation.extension = {0, 0};
  s.operation.travel = s.operation.line = {0, 0};
  return s;
}

}  // namespace rimstance::rigs
