#include "rimstance/loads/parts.hpp"

namespace rimstance {
namespace {

Lump lump(const Body& body, int number, bool on_platform) {
  Lump out;
  out.name = body.name;
  out.body = number;
  out.on_platform = on_platform;
  out.at = body.at;
  out.mass = body.mass;
  out.margin = body.margin;
  out.subsystem = body.subsystem;
  return out;
}

Lump outrigger_lump(const Outrigger& o, double splay, int number) {
  const double azimuth = o.zero + o.sense * splay;
  Lump out;
  out.name = o.name;
  out.body = number;
  out.at = o.pivot + o.centre_at * o.arm * Vec3(std::cos(azimuth), std::sin(azimuth), 0);
  out.mass = o.mass;
  out.margin = o.margin;
  out.subsystem = o.subsystem;
  return out;
}

void add_container(const Container& container, MachineLoads& loads) {
  Lump shell;
  shell.name = "container";
  shell.body = loads.bodies++;
  shell.on_platform = container.mount == Mount::platform;
  shell.at = container.at;
  shell.mass = container.empty;
  shell.margin = container.margin;
  Lump units = shell;
  units.name = "units in the container";
  units.mass = 0;
  units.margin = 0;
  units.per_unit = container.unit_mass;
  loads.lumps.push_back(shell);
  if (container.units > 0) loads.lumps.push_back(units);
}

void add_guide(const Guide& guide, MachineLoads& loads) {
  for (const Body& body : guide.bodies) {
    Lump out = lump(body, loads.bodies++, guide.mount == Mount::platform);
    out.at = guide.start + body.at;
    out.per_travel = guide.direction;
    loads.lumps.push_back(out);
  }
}

void add_drum(const Hoist& hoist, MachineLoads& loads) {
  if (!(hoist.line_mass > 0)) return;
  expects(std::isfinite(hoist.line_length), "machine_loads: a line with mass has a length");
  Lump out;
  out.name = "line on the drum";
  out.body = loads.bodies++;
  out.on_platform = true;
  out.at = hoist.drum;
  out.mass = hoist.line_mass * hoist.line_length;
  out.per_line = -hoist.line_mass;
  loads.lumps.push_back(out);
}

}  // namespace

MachineLoads machine_loads(const Scenario& scenario, std::span<const double> splay) {
  const Machine& machine = scenario.machine;
  expects(splay.size() == machine.outriggers.size(), "machine_loads: one splay per outrigger");
  MachineLoads loads;
  loads.machine = machine;
  loads.payload = scenario.payload.mass;
  loads.boom = boom_shape(machine.boom);
  for (const Body& body : machine.chassis.bodies) loads.lumps.push_back(lump(body, loads.bodies++, false));
  for (std::size_t i = 0; i < splay.size(); ++i)
    loads.lumps.push_back(outrigger_lump(machine.outriggers[i], splay[i], loads.bodies++));
  for (const Body& body : machine.platform.bodies) loads.lumps.push_back(lump(body, loads.bodies++, true));
  if (machine.container) add_container(*machine.container, loads);
  if (machine.guide) add_guide(*machine.guide, loads);
  add_drum(machine.hoist, loads);
  return loads;
}

Harmonic weight(const Part& part, const Vec3& gravity_C) {
  const Vec3 force = part.mass * gravity_C;
  Harmonic w;
  w.constant = wrench(force, part.fixed);
  w.cosine.tail<3>() = part.cosine.cross(force);
  w.sine.tail<3>() = part.sine.cross(force);
  return w;
}

std::vector<Part> parts(const MachineLoads& loads, const CraneState& state, const LoadCase& load_case,
                        bool payload_in_domain, bool with_boom_factor) {
  const Machine& machine = loads.machine;
  const Hung load = hung(load_case, machine.hoist, loads.payload, payload_in_domain);
  std::vector<Part> out;
  const auto add = [&](std::string name, int body, const Vec3& p, bool on_platform, double mass,
                       double margin, bool weight = true) {
    if (mass == 0) return;
    Part part{std::move(name), body, p, Vec3::Zero(), Vec3::Zero(), mass, load_case.mass_margin ? margin : 0,
              weight};
    if (on_platform) {
      part.fixed = machine.platform.axis + Vec3(0, 0, p.z());
      part.cosine = Vec3(p.x(), p.y(), 0);
      part.sine = Vec3(-p.y(), p.x(), 0);
    }
    out.push_back(std::move(part));
  };
  for (const Lump& l : loads.lumps)
    add(l.name, l.body, l.at_travel(state.travel), l.on_platform, l.mass_at(state.line, state.units_left),
        l.margin);
  const Vec3 along(std::cos(state.luff), 0, std::sin(state.luff));
  const Vec3 tip = tip_S(machine.boom, *loads.boom, state.luff, state.extension);
  const double length = loads.boom->length(state.extension);
  for (int k = 0; k < loads.boom->parts(); ++k) {
    const BoomPart part = loads.boom->part(k, state.extension);
    // The share of F that this part gives hangs at the tip and belongs to it: one lump of both.
    const double share = with_boom_factor ? load.boom_factor * part.moment / length : 0;
    const double mass = part.mass + share;
    add("boom section " + std::to_string(k), loads.boom_body(),
        machine.boom.foot + (part.moment + share * length) / mass * along, true, mass, loads.boom->margin(k));
  }
  add("chain in the magazine", loads.boom_body(), machine.boom.magazine, true,
      loads.boom->in_magazine(state.extension), machine.boom.margin);
  add("hung load", loads.hung_body(), tip, true, load.fixed + load.per_line * state.line, 0);
  add(load.pull > 0 ? "release" : "stall", loads.hung_body(), tip, true, -load.pull, 0, false);
  return out;
}

}  // namespace rimstance
