#pragma once
#include <string>
#include <string_view>

#include "rimstance/base/errors.hpp"
#include "rimstance/model/load.hpp"

// A complete scenario as text, and edits of it. The machine is rigs::dunlin() written out.
namespace rimstance::texts {

inline const std::string& dunlin() {
  static const std::string text = R"(rimstance: 1
title: Dunlin beside a hole
gravity: moon
terrain: { file: kettle.ply, up: z, unit: m }
soil: { preset: lunar-disturbed }
machine:
  name: Dunlin
  chassis:
    suspension: rigid
    wheels:
      - { at: "[0.9, 0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
      - { at: "[0.9, -0.75, 0.25] m", radius: 25 cm, width: 0.2 m, clearance: 20 mm }
      - { at: "[-0.9, 0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
      - { at: [-0.9 m, -75 cm, 250 mm], radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
    belly: { outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m", height: 0.35 m, clearance: 0.05 m }
    bodies:
      - { name: frame, mass: 210 kg, at: "[0, 0, 0.55] m", subsystem: structure, margin: 10 % }
      - { name: avionics, mass: { value: 25 kg, sd: 0.5 kg, margin: 5 %, from: mass list 3 }, at: "[0.1, 0, 0.6] m" }
  outriggers:
    - { name: front-left, pivot: "[0.7, 0.45, 0.5] m", arm: 1.6 m, splay: 40 deg, splay_range: "[0, 110] deg",
        drop: 0.25 m, stroke: "[0, 0.6] m", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,
        stiffness: 55 kN/m, leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }
    - { name: front-right, pivot: "[0.7, -0.45, 0.5] m", arm: 1.6 m, splay: 40 deg, splay_range: "[0, 110] deg",
        drop: 0.25 m, stroke: "[0, 0.6] m", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,
        stiffness: 55 kN/m, leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }
    - { name: rear-left, pivot: "[-0.7, 0.45, 0.5] m", arm: 1.6 m, splay: 40 deg, splay_range: "[0, 110] deg",
        drop: 0.25 m, stroke: "[0, 0.6] m", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,
        stiffness: 55 kN/m, leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }
    - { name: rear-right, pivot: "[-0.7, -0.45, 0.5] m", arm: 1.6 m, splay: 40 deg, splay_range: "[0, 110] deg",
        drop: 0.25 m, stroke: "[0, 0.6] m", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,
        stiffness: 55 kN/m, leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }
  platform:
    axis: "[0, 0, 0.8] m"
    slew_range: "[-180, 180] deg"
    bodies:
      - { name: turntable, mass: 40 kg, at: "[0, 0, 0.1] m", margin: 10 %, subsystem: structure }
  container: { mount: platform, empty: 8 kg, units: 6, at: "[-0.5, 0, 0.45] m", unit: { mass: 14 kg, radius: 0.3 m } }
  boom:
    kind: telescopic
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    order: together
    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
    structural_limit: { rows: [{ reach: 2 m, load: 260 N }, { reach: 8 m, load: 65 N }], between: next }
  guide:
    mount: platform
    start: "[-0.4, 0, 0.3] m"
    direction: [-1, 0, 0]
    travel: "[0, 1.4] m"
    bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }]
  hoist: { line_pull: 100 N, line_mass: 0.05 kg/m, line_length: 60 m, line_EA: 80 kN, drum: "[-0.1, 0, 0.4] m",
           speed: 0.05 m/s, head: { mass: 6 kg, radius: 0.35 m } }
spot: { at: "[0, 0] m", yaw: 0 deg }
payload: { mass: 14 kg, reach: 5.5 m }
operation:
  slew: "[-30, 30] deg"
  luff: "[20, 65] deg"
  extension: "[0, 2.7] m"
  reach: "[1.8, 5.7] m"
  line: "[0, 40] m"
  counterweight: 1.1 m
  transit: { slew: "[-180, 30] deg", luff: 65 deg, extension: 0 m, payload: none, counterweight: "[0, 1.1] m" }
criteria:
  preset: study-default
  set_error: 0 deg
)";
  return text;
}

/// `text` with one piece replaced; the piece must be there exactly once.
inline std::string edited(std::string text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  expects(at != std::string::npos, "edited: the text contains `from`");
  expects(text.find(from, at + 1) == std::string::npos, "edited: the text contains `from` once");
  return text.replace(at, from.size(), to);
}
inline std::string dunlin_with(std::string_view from, std::string_view to) {
  return edited(dunlin(), from, to);
}

inline Document load(std::string_view text, std::vector<Override> set = {}) {
  return load_scenario_text(text, "dunlin.yaml", set);
}

/// What the loader has to say about `text`: one issue a line, empty if it loads.
inline std::string complaints(std::string_view text, std::vector<Override> set = {}) {
  try {
    (void)load(text, std::move(set));
    return {};
  } catch (const InputError& error) {
    return error.what();
  }
}

}  // namespace rimstance::texts
