// What a user reads when a scenario is refused: where, what was found, what is allowed, what to do. Each row
// is one way to be wrong; the whole text is expected, so that no message loses its place, its value or its
// way out, and none brings others along.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "model/scenario_text.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/model/fields.hpp"
#include "rimstance/model/starter.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using namespace std::string_literals;
namespace fs = std::filesystem;

namespace {

struct Refused {
  std::string text;
  std::vector<Override> set;
  std::string said;
};

std::string repeated(const std::string& piece, int times) {
  std::string out;
  for (int i = 0; i < times; ++i) out += piece;
  return out;
}

std::vector<Refused> refused() {
  return {
      // the text
      {""s, {}, "dunlin.yaml: the file is empty; `rimstance new DIR` writes a starter"},
      {"# nothing\n"s, {}, "dunlin.yaml: the file is empty; `rimstance new DIR` writes a starter"},
      {"~\n"s, {}, "dunlin.yaml: the file holds no scenario; `rimstance new DIR` writes a starter"},
      {"\xff\xfer\0i\0"s, {}, "dunlin.yaml: the file is UTF-16 text; save it as UTF-8"},
      {"title: caf\xe9\n"s,
       {},
       "dunlin.yaml:1:11: the bytes here are not UTF-8 text; save the file as UTF-8 text"},
      {"title: a\x01b\n"s, {}, "dunlin.yaml:1:9: control character 0x1b; save the file as UTF-8 text"},
      {"title: a\0b\n"s,
       {},
       "dunlin.yaml:1:9: control character 0x00; the file may be UTF-16 or binary: save it as UTF-8"},
      {std::string((1 << 20) + 1, ' '),
       {},
       "dunlin.yaml: 1048577 bytes; a scenario file has at most 1048576; terrain and tables belong into "
       "files of their own"},
      {std::string(70, '['),
       {},
       "dunlin.yaml:1:33: nested deeper than 64 levels; check the brackets and the indentation"},
      {"list: [" + repeated("0, ", 100001) + "0]",
       {},
       "dunlin.yaml:1:299999: more than 100000 values in one file; a scenario describes one machine; point "
       "clouds and grids belong into terrain files"},
      {"title: a\n---\ntitle: b\n"s,
       {},
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented\n"
       "dunlin.yaml:3:1: a second document starts here; a scenario file holds one document"},
      {"title: &a b\n"s,
       {},
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented\n"
       "dunlin.yaml:1:8: anchors and aliases (& and *) are not allowed; write the value out, or put what is "
       "shared into a file and `include` it"},
      {"title: *a\n"s,
       {},
       "dunlin.yaml:1:8: not valid YAML: the referenced anchor is not defined; check quotes, brackets and "
       "indentation there and before"},
      {"title: !!str b\n"s,
       {},
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented\n"
       "dunlin.yaml:1:8: tag \"tag:yaml.org,2002:str\" is not allowed; leave the tag out"},
      {"? [a]\n: b\n"s,
       {},
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented\n"
       "dunlin.yaml:1:3: a key must be plain text; write `key: value`"},
      {"<<: 1\n"s,
       {},
       "dunlin.yaml:1:1: merge keys (<<) are not allowed; put what is shared into a file and `include` it\n"
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented"},
      {"title: a\ntitle: b\n"s,
       {},
       "dunlin.yaml:1:1: key \"rimstance\" is missing; add it: Format of this file; allowed: 1\n"
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:1:1: key \"terrain\" is missing; add it: The ground; write its `key: value` pairs under "
       "it, indented\n"
       "dunlin.yaml:1:1: key \"machine\" is missing; add it: Carrier, crane and what it carries; write its "
       "`key: value` pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"spot\" is missing; add it: Where the machine stands; write its `key: value` "
       "pairs under it, indented\n"
       "dunlin.yaml:1:1: key \"criteria\" is missing; add it: What safe means; write its `key: value` pairs "
       "under it, indented\n"
       "dunlin.yaml:2:1: key \"title\" is given twice in one map, in lines 1 and 2; keep one of them"},
      {"soil:\n\tpreset: lunar-disturbed\n"s,
       {},
       "dunlin.yaml:2:8: not valid YAML: illegal map value; indent with blanks, not with tabs"},
      {"spot: { at: [1, 2] m, yaw: 0 deg }\n"s,
       {},
       "dunlin.yaml:1:20: not valid YAML: end of map flow not found; a list with a unit behind it stands in "
       "quotes: \"[1, 2] m\""},
      {"v 1 2 3\n"s, {}, "dunlin.yaml:1:1: \"v 1 2 3\" does not fit; `key: value` pairs are expected"},
      {"ply\nformat ascii 1.0\n"s,
       {},
       "dunlin.yaml: is a terrain file, not a scenario; look at it with `rimstance inspect`, and name it in "
       "a scenario under terrain: file"},
      {"- 1\n- 2\n"s, {}, "dunlin.yaml:1:1: \"[1, 2]\" does not fit; `key: value` pairs are expected"},
      {"rimstance\n"s, {}, "dunlin.yaml:1:1: \"rimstance\" does not fit; `key: value` pairs are expected"},
      // keys
      {dunlin_with(R"(title: Dunlin)", R"(titel: Dunlin)"),
       {},
       "dunlin.yaml:2:1: unknown key \"titel\"; did you mean \"title\"?"},
      {dunlin_with(R"(  outriggers:)", R"(  outriger:)"),
       {},
       "dunlin.yaml:7:3: machine: key \"outriggers\" is missing; add it: Legs, at least three; write its "
       "items under it, every one with a dash\n"
       "dunlin.yaml:19:3: machine: unknown key \"outriger\"; did you mean \"outriggers\"?"},
      {dunlin_with(R"(gravity: moon)", R"(quite_else: moon)"),
       {},
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth\n"
       "dunlin.yaml:3:1: unknown key \"quite_else\"; allowed: rimstance, title, gravity, terrain, soil, "
       "machine, spot, payload, operation, criteria"},
      {dunlin_with(R"(gravity: moon
)",
                   R"()"),
       {},
       "dunlin.yaml:1:1: key \"gravity\" is missing; add it: At the surface; write it like \"1.62 m/s2\", or "
       "moon, mars, earth"},
      {dunlin_with(R"(spot: { at: "[0, 0] m", yaw: 0 deg })", R"(spot: 7)"),
       {},
       "dunlin.yaml:53:7: spot: \"7\" does not fit; `key: value` pairs are expected"},
      {dunlin_with(R"(spot: { at: "[0, 0] m", yaw: 0 deg })", R"(spot:)"),
       {},
       "dunlin.yaml:54:1: spot: nothing is written here; write its `key: value` pairs under it, indented"},
      {dunlin_with(R"(title: Dunlin beside a hole)", R"(title:)"),
       {},
       "dunlin.yaml:3:1: title: nothing is written here; write text"},
      {dunlin_with(R"(bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }])",
                   R"(bodies: cabinets)"),
       {},
       "dunlin.yaml:50:13: machine.guide.bodies: \"cabinets\" does not fit; a list is expected, every item "
       "with a dash or in [ ]"},
      {dunlin_with(R"(bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }])",
                   R"(bodies: [])"),
       {},
       "dunlin.yaml:50:13: machine.guide.bodies: 0 items, at least 1 needed; add 1 more"},
      {dunlin_with(R"(preset: study-default)", R"(preset: study-defualt)"),
       {},
       "dunlin.yaml:64:11: criteria.preset: there is no preset \"study-defualt\"; did you mean "
       "\"study-default\"?"},
      {dunlin_with(R"(name: rear-left)", R"(name: front-left)"),
       {},
       "dunlin.yaml:26:15: machine.outriggers.front-left.name: the name \"front-left\" is taken by the item "
       "in line 20; names in a list are unique"},
      {dunlin_with(R"(name: rear-left)", R"(name: "")"),
       {},
       "dunlin.yaml:26:15: machine.outriggers.2.name: the text is empty; write a name"},
      {dunlin_with(R"(set_error: 0 deg
)",
                   R"(set_error: 0 deg
  load_cases: []
)"),
       {},
       "dunlin.yaml:66:15: criteria.load_cases: 0 items, at least 1 needed; add 1 more"},
      {dunlin_with(R"(name: Dunlin
)",
                   R"(name: [a]
)"),
       {},
       "dunlin.yaml:7:9: machine.name: \"[a]\" does not fit; text is expected"},
      // quantities
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 14)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14\" has no unit; a mass is expected; write it like \"12.4 kg\""},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 14 m)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14 m\" is a length; a mass is expected; write it like \"12.4 "
       "kg\""},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 14 Kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14 Kg\": unit \"Kg\" is not known; a mass is expected; did you "
       "mean \"kg\"? units of mass: kg, g, t, lb"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 14 stone)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14 stone\": unit \"stone\" is not known; a mass is expected; "
       "units of mass: kg, g, t, lb"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: "14,5 kg")"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14,5 kg\" has a comma inside the number; the decimal sign is a "
       "point: write \"14.5 kg\""},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 14,5 kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"14\" has no unit; a mass is expected; write it like \"12.4 kg\"\n"
       "dunlin.yaml:54:21: payload: unknown key \"5 kg\"; a comma separates keys, the decimal sign is a "
       "point"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: "1,400,000.5 kg")"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"1,400,000.5 kg\" has a comma inside the number; the decimal sign "
       "is a point, and thousands have no sign"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 014 kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"014 kg\": a leading zero is ambiguous (octal or decimal); write "
       "the number without leading zeros"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: .nan)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \".nan\" is not a finite number; write it like \"12.4 kg\""},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: much)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"much\" is not a number; a mass is expected; write it like \"12.4 "
       "kg\""},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 1e999 kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"1e999 kg\" is outside the range of numbers; check the exponent"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 1e9 kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"1e9 kg\" is beyond any machine or ground (at most 1e+06 kg); "
       "check the exponent and the unit"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: 1e308 t)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"1e308 t\" is outside the range of numbers; check the exponent"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: -14 kg)"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"-14 kg\" is out of range; allowed: over 0 kg"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: [1 kg])"),
       {},
       "dunlin.yaml:54:18: payload.mass: \"[1 kg]\" does not fit; write it like \"12.4 kg\""},
      {dunlin_with(R"(yaw: 0 deg)", R"(yaw: 3.05)"),
       {},
       "dunlin.yaml:53:30: spot.yaw: \"3.05\" has no unit; an angle is expected; write it like \"35 deg\" "
       "or, in radians, like \"0.61 rad\""},
      {dunlin_with(R"(yaw: 0 deg)", R"(yaw: 400 deg)"),
       {},
       "dunlin.yaml:53:30: spot.yaw: \"400 deg\" is out of range; allowed: from -360 deg to 360 deg"},
      {dunlin_with(R"(yaw: 0 deg)", R"(yaw: 40 rad)"),
       {},
       "dunlin.yaml:53:30: spot.yaw: \"40 rad\" is out of range; allowed: from -360 deg to 360 deg; did you "
       "mean \"40 deg\"?"},
      {dunlin_with(R"(luff: "[20, 65] deg")", R"(luff: "[20, 65] rad")"),
       {},
       "dunlin.yaml:57:9: operation.luff: \"[20, 65] rad\" is out of range; allowed: from -90 deg to 90 deg; "
       "did you mean \"[20, 65] deg\"?"},
      {dunlin_with(R"(unit: m })", R"(unit: feet })"),
       {},
       "dunlin.yaml:4:43: terrain.unit: \"feet\": unit \"feet\" is not known; a length is expected; did you "
       "mean \"ft\"? write the unit alone, one of m, cm, mm, um, km, ft, in"},
      {dunlin_with(R"(unit: m })", R"(unit: 1 m })"),
       {},
       "dunlin.yaml:4:43: terrain.unit: \"1 m\" is not a unit; write the unit alone, one of m, cm, mm, um, "
       "km, ft, in"},
      {dunlin_with(R"(unit: m })", R"(unit: kg })"),
       {},
       "dunlin.yaml:4:43: terrain.unit: \"kg\" is a mass; a length is expected; write the unit alone, one of "
       "m, cm, mm, um, km, ft, in"},
      {dunlin_with(R"(up: z)", R"(up: Z)"),
       {},
       "dunlin.yaml:4:34: terrain.up: \"Z\" is not allowed here; allowed: x, y, z"},
      {dunlin_with(R"(up: z, )", R"()"),
       {},
       "dunlin.yaml:4:18: terrain.file: a mesh file does not say which axis points up; add `up: z` (or x, y) "
       "to terrain"},
      {dunlin_with(R"(, unit: m })", R"( })"),
       {},
       "dunlin.yaml:4:18: terrain.file: the file does not say the unit of its coordinates; add `unit: m` to "
       "terrain"},
      {dunlin_with(R"(kettle.ply, up: z)", R"(kettle.asc, up: y)"),
       {},
       "dunlin.yaml:4:34: terrain.up: the heights of a grid always point up; remove `up`; it is for meshes"},
      {dunlin_with(R"(file: kettle.ply)", R"(file: [a])"),
       {},
       "dunlin.yaml:4:18: terrain.file: \"[a]\" does not fit; the name of a file is expected"},
      {dunlin_with(R"(units: 6)", R"(units: 6.5)"),
       {},
       "dunlin.yaml:37:53: machine.container.units: \"6.5\" is not a whole decimal number; write it like "
       "\"6\""},
      {dunlin_with(R"(units: 6)", R"(units: 06)"),
       {},
       "dunlin.yaml:37:53: machine.container.units: \"06\": a leading zero is ambiguous (octal or decimal); "
       "write the number without leading zeros"},
      {dunlin_with(R"(units: 6)", R"(units: [6])"),
       {},
       "dunlin.yaml:37:53: machine.container.units: \"[6]\" does not fit; a whole number is expected"},
      {dunlin_with(R"(units: 6)", R"(units: 99999999999)"),
       {},
       "dunlin.yaml:37:53: machine.container.units: \"99999999999\" is too large; check the digits"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  foot_limits: yes)"),
       {},
       "dunlin.yaml:66:16: criteria.foot_limits: \"yes\" is neither true nor false; write true or false, in "
       "small letters and without quotes"},
      {dunlin_with(R"(suspension: rigid)", R"(suspension: rigd)"),
       {},
       "dunlin.yaml:9:17: machine.chassis.suspension: \"rigd\" is not allowed here; did you mean \"rigid\"?"},
      {dunlin_with(R"(suspension: rigid)", R"(suspension: [rigid])"),
       {},
       "dunlin.yaml:9:17: machine.chassis.suspension: \"[rigid]\" does not fit; allowed: rigid, averaging"},
      {dunlin_with(R"(load: 260 N)", R"(load: 26 kg)"),
       {},
       "dunlin.yaml:44:52: machine.boom.structural_limit.rows.0.load: \"26 kg\" is a mass; a force is "
       "expected; write the force, or { mass: 26 kg, at_gravity: moon }"},
      {dunlin_with(R"(load: 260 N)", R"(load: { mass: 26 kg })"),
       {},
       "dunlin.yaml:44:52: machine.boom.structural_limit.rows.0.load: a force given as a mass needs "
       "`at_gravity`; write { mass: 60 kg, at_gravity: moon }, or the force in newtons"},
      {dunlin_with(R"(load: 260 N)", R"(load: { mass: 26 kg, gravity: moon })"),
       {},
       "dunlin.yaml:44:52: machine.boom.structural_limit.rows.0.load: unknown key \"gravity\" in a force "
       "given as a mass; allowed: mass, at_gravity, from"},
      {dunlin_with(R"(load: 260 N)", R"(load: { mass: 26 m, at_gravity: moon })"),
       {},
       "dunlin.yaml:44:60: machine.boom.structural_limit.rows.0.load: \"26 m\" is a length; a mass is "
       "expected; write it like \"12.4 kg\""},
      {dunlin_with(R"(load: 260 N)", R"(load: { mass: 26 kg, at_gravity: pluto })"),
       {},
       "dunlin.yaml:44:79: machine.boom.structural_limit.rows.0.load: \"pluto\" is not a gravity; allowed: "
       "moon, mars, earth or a value like \"1.62 m/s2\""},
      // lists and intervals
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: "[0,5, 0] m")"),
       {},
       "dunlin.yaml:53:13: spot.at: 3 numbers where 2 are expected; write it like \"[1, 2] m\"; a comma "
       "separates numbers, the decimal sign is a point"},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: "[0, 0]")"),
       {},
       "dunlin.yaml:53:13: spot.at: \"0\" has no unit; a length is expected; write it like \"2.4 m\""},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: [0, 1])"),
       {},
       "dunlin.yaml:53:14: spot.at: \"0\" has no unit; a length is expected; write it like \"2.4 m\" or, for "
       "the whole list, \"[1, 2] m\"\n"
       "dunlin.yaml:53:17: spot.at: \"1\" has no unit; a length is expected; write it like \"2.4 m\" or, for "
       "the whole list, \"[1, 2] m\""},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: [0 m, [1]])"),
       {},
       "dunlin.yaml:53:19: spot.at: \"[1]\" is not a number; write it like \"[1, 2] m\""},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: "[0 m, 0] m")"),
       {},
       "dunlin.yaml:53:13: spot.at: \"0 m\" has a unit of its own beside \"m\" behind the list; give one "
       "unit behind the list or one for each number"},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: 0 m)"),
       {},
       "dunlin.yaml:53:13: spot.at: \"0 m\" is not a list in brackets; write it like \"[1, 2] m\""},
      {dunlin_with(R"(spot: { at: "[0, 0] m")", R"(spot: { at: { x: 0 m })"),
       {},
       "dunlin.yaml:53:13: spot.at: unknown key \"x\" in a value map; allowed: value, sd, margin, from"},
      {dunlin_with(R"(axis: "[0, 0, 0.8] m")", R"(axis: "[0, 0, 8000] m")"),
       {},
       "dunlin.yaml:33:11: machine.platform.axis: \"8000 m\" is out of range; allowed: from -1000 m to 1000 "
       "m"},
      {dunlin_with(R"(direction: [-1, 0, 0])", R"(direction: [0, 0, 0])"),
       {},
       "dunlin.yaml:48:16: machine.guide.direction: all its numbers are 0, which is no direction; write it "
       "like \"[1, 2, 3]\""},
      {dunlin_with(R"(luff: "[20, 65] deg")", R"(luff: "[65, 20] deg")"),
       {},
       "dunlin.yaml:57:9: operation.luff: \"[65, 20] deg\": the first end must lie at or below the second; "
       "swap the ends"},
      {dunlin_with(R"(slew: "[-30, 30] deg")", R"(slew: "[30, 30] deg")"),
       {},
       "dunlin.yaml:56:9: operation.slew: \"[30, 30] deg\": the first end must lie below the second; a "
       "sector that passes 180 deg is written like \"[170, 190] deg\", a single angle without brackets"},
      {dunlin_with(R"(slew: "[-30, 30] deg")", R"(slew: al)"),
       {},
       "dunlin.yaml:56:9: operation.slew: \"al\" is not a number; an angle is expected; did you mean "
       "\"all\"?"},
      {dunlin_with(R"(slew: "[-30, 30] deg")", R"(slew: wide)"),
       {},
       "dunlin.yaml:56:9: operation.slew: \"wide\" is not a number; an angle is expected; write it like \"35 "
       "deg\", or all"},
      {dunlin_with(R"(luff: "[20, 65] deg")", R"(luff: "[20, 40, 65] deg")"),
       {},
       "dunlin.yaml:57:9: operation.luff: 3 numbers where two ends are expected; write it like \"[1, 2] "
       "deg\"; a comma separates numbers, the decimal sign is a point"},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: "[-0.8, -0.4] m")"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: \"-0.8\" is not a list in brackets; write it like "
       "\"[1, 2] m\""},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")", R"(outline: 1 m)"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: \"1 m\" is not a list of points; write it like "
       "\"[[0, 0], [1, 0], [1, 1]] m\""},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: "[[0, 0], [1, 1]] m")"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: 2 corners, at least 3 needed; write it like \"[[0, "
       "0], [1, 0], [1, 1]] m\""},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: "[[0, 0], [1, 0, 3], [0, 1]] m")"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: a corner has two numbers; write it like \"[[0, 0], "
       "[1, 0], [1, 1]] m\""},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: "[[0, 0], [99, 0], [0, 1]] m")"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: \"99 m\" is out of range; allowed: from -10 m to "
       "10 m"},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: { a: 1 m })"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: unknown key \"a\" in a value map; allowed: value, "
       "sd, margin, from"},
      {dunlin_with(R"(outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m")",
                   R"(outline: "[[0, 0], [1, 0], [2, 0]] m")"),
       {},
       "dunlin.yaml:15:23: machine.chassis.belly.outline: the outline encloses no area; list the corners in "
       "order around it"},
      // value maps
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { valu: 210 kg })"),
       {},
       "dunlin.yaml:17:30: machine.chassis.bodies.frame.mass: unknown key \"valu\" in a value map; did you "
       "mean \"value\"?"},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { sd: 1 kg })"),
       {},
       "dunlin.yaml:17:30: machine.chassis.bodies.frame.mass: a value map needs `value`; write it like "
       "\"12.4 kg\""},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: { value: 1 kg } })"),
       {},
       "dunlin.yaml:17:39: machine.chassis.bodies.frame.mass: \"{value: 1 kg}\" does not fit; write it like "
       "\"12.4 kg\""},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: 210 kg, from: [a] })"),
       {},
       "dunlin.yaml:17:53: machine.chassis.bodies.frame.mass.from: \"[a]\" does not fit; text that says "
       "where the value comes from"},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: 210 kg, sd: [1] })"),
       {},
       "dunlin.yaml:17:51: machine.chassis.bodies.frame.mass: \"[1]\" does not fit; a standard deviation "
       "like \"12.4 kg\" is expected"},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: 210 kg, sd: 1 m })"),
       {},
       "dunlin.yaml:17:51: machine.chassis.bodies.frame.mass: \"1 m\" is a length; a mass is expected; write "
       "it like \"12.4 kg\""},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: 210 kg, sd: -1 kg })"),
       {},
       "dunlin.yaml:17:51: machine.chassis.bodies.frame.mass: \"-1 kg\": a standard deviation is not "
       "negative; check the sign"},
      {dunlin_with(R"(mass: 210 kg)", R"(sd: 1 kg, mass: { value: 210 kg, sd: 1 kg })"),
       {},
       "dunlin.yaml:17:28: machine.chassis.bodies.frame.sd: the standard deviation of \"mass\" is given "
       "twice; keep the one beside \"mass\" or the one inside it"},
      {dunlin_with(R"(mass: 210 kg)", R"(mass: { value: 210 kg, margin: 5 % })"),
       {},
       "dunlin.yaml:17:55: machine.chassis.bodies.frame.mass: the margin is given twice, here and in line "
       "17; keep `margin` inside the value or \"margin\" beside it"},
      {dunlin_with(R"(mass: 9 kg, centre_at: 0.5, subsystem: outriggers }
    - { name: front-right)",
                   R"(mass: { value: 9 kg, margin: [1] }, centre_at: 0.5 }
    - { name: front-right)"),
       {},
       "dunlin.yaml:22:75: machine.outriggers.front-left.mass: \"[1]\" does not fit; a margin like \"10 %\" "
       "is expected"},
      {dunlin_with(R"(payload: { mass: 14 kg)", R"(payload: { mass: { value: 14 kg, margin: 5 kg })"),
       {},
       "dunlin.yaml:54:42: payload.mass: \"5 kg\" is a mass; a share is expected; write it like \"15 %\""},
      // what must agree
      {dunlin_with(R"(    - { name: front-left, pivot: "[0.7, 0.45, 0.5] m", arm: 1.6 m, splay: 40 deg)",
                   R"(    - { name: front-left, pivot: "[0.7, 0.45, 0.5] m", arm: 1.6 m, splay: 120 deg)"),
       {},
       "dunlin.yaml:20:75: machine.outriggers.front-left.splay: 120 deg is outside splay_range, 0 deg to 110 "
       "deg; change the splay or its range"},
      {dunlin_with(R"(front-left, pivot: "[0.7, 0.45, 0.5] m")", R"(front-left, pivot: "[0, 0.45, 0.5] m")"),
       {},
       "dunlin.yaml:20:34: machine.outriggers.front-left.pivot: the pivot lies on an axis of the chassis, so "
       "the side it opens to is not known; state `zero` (an angle) and `sense` (+1 or -1)"},
      {dunlin_with(R"(front-left, pivot: "[0.7, 0.45, 0.5] m")",
                   R"(front-left, sense: 0.5, zero: 0 deg, pivot: "[0.7, 0.45, 0.5] m")"),
       {},
       "dunlin.yaml:20:34: machine.outriggers.front-left.sense: \"0.5\" is neither +1 nor -1; +1 opens "
       "counter-clockwise seen from above"},
      {dunlin_with(R"(rear-left, pivot: "[-0.7, 0.45, 0.5] m")", R"(rear-left, pivot: "[0.7, 0.45, 0.5] m")"),
       {},
       "dunlin.yaml:20:5: machine.outriggers.rear-left: its foot coincides with that of \"front-left\" "
       "(within 1 mm in plan); move the pivot, or change arm or splay"},
      {dunlin_with(R"(    order: together
)",
                   R"(    order: together
    cells: 4
)"),
       {},
       "dunlin.yaml:43:12: machine.boom.cells: a telescopic boom has no \"cells\"; remove the key or change "
       "`kind`"},
      {dunlin_with(
           R"(    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
           R"()"),
       {},
       "dunlin.yaml:39:11: machine.boom.kind: a telescopic boom needs \"sections\"; add the key"},
      {dunlin_with(
           R"(    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
           R"(    sections: []
)"),
       {},
       "dunlin.yaml:43:15: machine.boom.sections: a telescopic boom needs at least one section; list them "
       "from the foot outwards"},
      {dunlin_with(R"({ length: 3.2 m, mass: 18 kg })", R"({ length: 3.2 m, stroke: 1 m, mass: 18 kg })"),
       {},
       "dunlin.yaml:43:41: machine.boom.sections.0.stroke: the section at the foot does not run out; remove "
       "its stroke"},
      {dunlin_with(R"(stroke: 2.7 m, mass: 12 kg)", R"(stroke: 3.7 m, mass: 12 kg)"),
       {},
       "dunlin.yaml:43:73: machine.boom.sections.1.stroke: the stroke of 3.7 m exceeds the section's length "
       "of 3 m; a section cannot leave the one that carries it"},
      {dunlin_with(R"(    kind: telescopic
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    order: together
    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
                   R"(    kind: scissor
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    retracted: 3 m
    mass: 30 kg
    cells: 4
    bar: 0.5 m
)"),
       {},
       "dunlin.yaml:42:16: machine.boom.retracted: the shortest length, 3 m, exceeds the longest, cells "
       "times "
       "bar: 2 m; shorten `retracted`, or give more cells or longer bars"},
      {dunlin_with(R"(    kind: telescopic
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    order: together
    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
                   R"(    kind: rigid-chain
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    retracted: 3.2 m
    chain_mass: 4 kg/m
    chain_length: 2.9 m
    magazine: "[0, 0, 0.2] m"
)"),
       {},
       "dunlin.yaml:44:19: machine.boom.chain_length: a chain of 2.9 m is shorter than the boom's shortest "
       "length, 3.2 m; lengthen the chain or shorten `retracted`"},
      {dunlin_with(R"({ reach: 8 m, load: 65 N })", R"({ reach: 1 m, load: 65 N })"),
       {},
       "dunlin.yaml:44:70: machine.boom.structural_limit.rows.1.reach: 1 m does not lie beyond the row "
       "before, "
       "2 m: rows must be in order of growing reach; sort the rows; one row for each reach"},
      {dunlin_with(R"(luff: "[20, 65] deg")", R"(luff: "[20, 85] deg")"),
       {},
       "dunlin.yaml:57:9: operation.luff: 20 deg to 85 deg is outside the machine's luff range, 0 deg to 75 "
       "deg; narrow it, or change the machine"},
      {dunlin_with(R"(  extension: "[0, 2.7] m")", R"(  extension: "[0, 3.7] m")"),
       {},
       "dunlin.yaml:58:14: operation.extension: 0 m to 3.7 m is outside the machine's extension, 0 m to 2.7 "
       "m; narrow it, or change the machine"},
      {dunlin_with(R"(slew_range: "[-180, 180] deg")", R"(slew_range: "[-20, 180] deg")"),
       {},
       "dunlin.yaml:56:9: operation.slew: -30 deg to 30 deg is outside the machine's slew range, -20 deg to "
       "180 deg; narrow it, or change the machine\n"
       "dunlin.yaml:62:20: operation.transit.slew: -180 deg to 30 deg is outside the machine's slew range, "
       "-20 deg to 180 deg; narrow it, or change the machine"},
      {dunlin_with(R"(slew: "[-30, 30] deg")", R"(slew: "[-200, 200] deg")"),
       {},
       "dunlin.yaml:56:9: operation.slew: -200 deg to 200 deg is more than a full circle; write `all` for "
       "the whole slew range"},
      {dunlin_with(R"(  counterweight: 1.1 m
)",
                   R"(  counterweight: 2.1 m
)"),
       {},
       "dunlin.yaml:61:18: operation.counterweight: 2.1 m is outside the machine's travel of the "
       "counterweight, 0 m to 1.4 m; narrow it, or change the machine"},
      {dunlin_with(R"(line: "[0, 40] m")", R"(line: "[0, 80] m")"),
       {},
       "dunlin.yaml:60:9: operation.line: 80 m paid out, but the line is 60 m long; shorten what is paid out "
       "or lengthen hoist.line_length"},
      {dunlin_with(R"(  guide:
    mount: platform
    start: "[-0.4, 0, 0.3] m"
    direction: [-1, 0, 0]
    travel: "[0, 1.4] m"
    bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }]
)",
                   R"()"),
       {},
       "dunlin.yaml:55:18: operation.counterweight: the machine has no guide for a counterweight; remove the "
       "key or describe `guide`\n"
       "dunlin.yaml:56:98: operation.transit.counterweight: the machine has no guide for a counterweight; "
       "remove the key or describe `guide`"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  levelled_in: { luff: 80 deg, extension: 4 m, counterweight: 2 m })"),
       {},
       "dunlin.yaml:66:24: criteria.levelled_in.luff: 80 deg is outside the machine's luff range, 0 deg to "
       "75 deg; narrow it, or change the machine\n"
       "dunlin.yaml:66:43: criteria.levelled_in.extension: 4 m is outside the machine's extension, 0 m to "
       "2.7 m; narrow it, or change the machine\n"
       "dunlin.yaml:66:63: criteria.levelled_in.counterweight: 2 m is outside the machine's travel of the "
       "counterweight, 0 m to 1.4 m; narrow it, or change the machine"},
      {edited(edited(dunlin_with("  container: { mount: platform, empty: 8 kg, units: 6, at: \"[-0.5, 0, "
                                 "0.45] m\", unit: { mass: 14 kg, radius: 0.3 m } }\n",
                                 ""),
                     "payload: { mass: 14 kg, reach: 5.5 m }\n", ""),
              "gravity: moon", "gravity: mars"),
       {},
       "dunlin.yaml:1:1: payload.mass: the mass of the payload is missing; add `payload: { mass: 14 kg }` or "
       "describe `container`"},
      {edited(dunlin_with(R"(start: "[-0.4, 0, 0.3] m"
    direction: [-1, 0, 0]
    travel: "[0, 1.4] m"
    bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }]
)",
                          ""),
              "  guide:\n    mount: platform\n    ", "") +
           "  levelled_in: { counterweight: 1 m }\n",
       {},
       "dunlin.yaml:55:18: operation.counterweight: the machine has no guide for a counterweight; remove the "
       "key or describe `guide`\n"
       "dunlin.yaml:56:98: operation.transit.counterweight: the machine has no guide for a counterweight; "
       "remove the key or describe `guide`\n"
       "dunlin.yaml:60:33: criteria.levelled_in.counterweight: the machine has no guide for a counterweight; "
       "remove the key or describe `guide`"},
      {dunlin_with(
           "  guide:\n    mount: platform\n    start: \"[-0.4, 0, 0.3] m\"\n    direction: [-1, 0, 0]\n    "
           "travel: \"[0, 1.4] m\"\n    bodies: [{ name: cabinets, mass: 120 kg, margin: 10 %, subsystem: "
           "power }]\n",
           ""),
       {{"operation.counterweight", "schedule"}, {"operation.transit.counterweight", "schedule"}},
       "--set operation.counterweight=schedule: operation.counterweight: the machine has no guide for a "
       "counterweight; remove the key or describe `guide`\n"
       "--set operation.transit.counterweight=schedule: operation.transit.counterweight: the machine has no "
       "guide for a counterweight; remove the key or describe `guide`"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, tipping_load: 85 %, load_factor: 1.25 }])"),
       {},
       "dunlin.yaml:66:41: criteria.load_cases.a.tipping_load: tipping_load already is a factor on the load "
       "(1 over its share) and excludes load_factor and boom_factor; keep one of the two forms"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, release: 1, payload: none }])"),
       {},
       "dunlin.yaml:66:36: criteria.load_cases.a.release: nothing can be lost where no payload hangs; remove "
       "`release`, or `payload: none` and `head: down`"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, stall: 125 %, head: down }])"),
       {},
       "dunlin.yaml:66:34: criteria.load_cases.a.stall: a stalled hoist replaces everything that hangs; keep "
       "`stall` alone"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, stall: 125 %, load_factor: 1.25 }])"),
       {},
       "dunlin.yaml:66:34: criteria.load_cases.a.stall: the stall pull replaces what hangs: no factor on the "
       "load is applied to it; remove `load_factor` or `tipping_load`, or put the factor into the share"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, hoisting: physics, release: 1 }])"),
       {},
       "dunlin.yaml:66:37: criteria.load_cases.a.hoisting: nothing is lifted off by a stalled hoist, in a "
       "release or with the head down; remove `hoisting`, or `stall`, `release` and `head: down`"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, hoisting: 0.9 }])"),
       {},
       "dunlin.yaml:66:37: criteria.load_cases.a.hoisting: \"0.9\" is out of range; allowed: at least 1"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, hoisting: computed }])"),
       {},
       "dunlin.yaml:66:37: criteria.load_cases.a.hoisting: \"computed\" is not a number; a number is "
       "expected; "
       "write it like \"1.25\", or physics"},
      {dunlin_with(R"(set_error: 0 deg)", R"(set_error: 0 deg
  load_cases: [{ name: a, margin: { force_angle: 3 J } }])"),
       {},
       "dunlin.yaml:66:50: criteria.load_cases.a.margin.force_angle: \"3 J\" is an energy; a number is "
       "expected; "
       "write it like \"1.25\""},
      {edited(dunlin_with("line_pull: 100 N, ", ""), "set_error: 0 deg",
              "load_cases: [{ name: a, stall: 125 % }]"),
       {},
       "dunlin.yaml:65:34: criteria.load_cases.a.stall: the stall pull is a share of hoist.line_pull, which "
       "is not given; add `line_pull` to hoist"},
      // --set
      {dunlin(),
       {{"spot..yaw", R"(1 deg)"}},
       "--set spot..yaw=1 deg: a path is made of keys with a point between them; write it like "
       "machine.outriggers.front-left.splay=50deg"},
      {dunlin(),
       {{"spot.yaw.more", R"(1 deg)"}},
       "--set spot.yaw.more=1 deg: spot.yaw: \"0 deg\" is a value and has nothing inside; shorten the path"},
      {dunlin(),
       {{"machine.outriggers.front-lft.splay", R"(50 deg)"}},
       "--set machine.outriggers.front-lft.splay=50 deg: machine.outriggers: no item \"front-lft\" in this "
       "list; did you mean \"front-left\"?"},
      {dunlin(),
       {{"terrain.*.a", R"(1)"}},
       "--set terrain.*.a=1: terrain.*: \"kettle.ply\" is a value and has nothing inside; shorten the path\n"
       "--set terrain.*.a=1: terrain.*: \"z\" is a value and has nothing inside; shorten the path\n"
       "--set terrain.*.a=1: terrain.*: \"m\" is a value and has nothing inside; shorten the path"},
      {dunlin(),
       {{"spot.foo.*", R"(1)"}},
       "--set spot.foo.*=1: spot.foo: `*` matches nothing here; name the key that is meant\n"
       "--set spot.foo.*=1: spot: unknown key \"foo\"; allowed: at, yaw, under"},
      {dunlin(),
       {{"soil.*", R"(1)"}},
       "--set soil.*=1: soil.preset: there is no preset \"1\"; allowed: lunar-disturbed, lunar-in-situ-15cm, "
       "lunar-in-situ-30cm"},
      {dunlin(),
       {{"machine.include", R"(x.yaml)"}},
       "--set machine.include=x.yaml: machine: unknown key \"include\"; `include` works in files only; "
       "override single values of what is included"},
      {dunlin(),
       {{"spot.at", R"([1, 2)"}},
       "--set spot.at=[1, 2: spot.at: \"[1, 2\" is not a list in brackets; write it like \"[1, 2] m\""},
      {dunlin(),
       {{"spot.yaw", R"()"}},
       "--set spot.yaw=: spot.yaw: nothing is written here; write it like \"35 deg\""},
      {dunlin(),
       {{"payload.mass", R"(14)"}},
       "--set payload.mass=14: payload.mass: \"14\" has no unit; a mass is expected; write it like \"12.4 "
       "kg\""},
      {dunlin(),
       {{"criteria.load_cases", R"([{name: a}, {name: a}])"}},
       "--set criteria.load_cases=[{name: a}, {name: a}]: criteria.load_cases.a.name: the name \"a\" is "
       "taken by an item before it; names in a list are unique"},
      {dunlin(),
       {{"terrain.up", R"({})"}},
       "--set terrain.up={}: terrain.up: a value map needs `value`; allowed: x, y, z"},
  };
}

}  // namespace

TEST_CASE("scenario messages: each says where, what was found, what is allowed and what to do") {
  for (const Refused& row : refused()) {
    INFO(row.text.substr(0, 200) << (row.set.empty() ? "" : row.set[0].path + "=" + row.set[0].value));
    CHECK(complaints(row.text, row.set) == row.said);
  }
}

TEST_CASE("scenario messages: every one has a place and a way out") {
  for (const Refused& row : refused()) {
    INFO(row.said);
    try {
      (void)load(row.text, row.set);
      FAIL("accepted");
    } catch (const InputError& error) {
      for (const Issue& issue : error.issues) {
        CHECK_FALSE(issue.place.file.empty());
        CHECK_FALSE(issue.what.empty());
        CHECK_FALSE(issue.way_out.empty());
      }
    }
  }
}

namespace {

/// A folder of its own, with the files that the cases need.
struct Folder {
  fs::path path = fs::temp_directory_path() / ("rimstance_messages_" + std::to_string(getpid()));
  Folder() { fs::create_directories(path / "parts"); }
  ~Folder() { fs::remove_all(path); }
  void write(const std::string& name, const std::string& text) const {
    write_whole((path / name).string(), text);
  }
  /// What is said about `name`, with the folder's own path as "HERE".
  std::string said(const std::string& name) const {
    try {
      (void)load_scenario((path / name).string());
      return {};
    } catch (const InputError& error) {
      std::string text = error.what();
      for (std::size_t at; (at = text.find(path.string())) != std::string::npos;)
        text.replace(at, path.string().size(), "HERE");
      return text;
    }
  }
};

}  // namespace

TEST_CASE(
    "scenario messages: a file that is not there is named with where it was looked for and what is near") {
  const Folder folder;
  folder.write("parts/Kettle.PLY", "");
  folder.write("parts/kettle.ply", "");
  folder.write("case.yaml", dunlin());
  CHECK(folder.said("case.yaml") ==
        "HERE/case.yaml:4:18: terrain.file: \"kettle.ply\": no such file; looked for HERE/kettle.ply; did "
        "you mean "
        "\"parts/kettle.ply\"?");
  folder.write("case.yaml", dunlin_with("kettle.ply", "parts/kettel.ply"));
  CHECK(folder.said("case.yaml") ==
        "HERE/case.yaml:4:18: terrain.file: \"parts/kettel.ply\": no such file; looked for "
        "HERE/parts/kettel.ply; did you mean \"parts/kettle.ply\"?");
  folder.write("case.yaml", dunlin_with("kettle.ply", "far/off/rim-of-another-sort.obj"));
  CHECK(folder.said("case.yaml") ==
        "HERE/case.yaml:4:18: terrain.file: \"far/off/rim-of-another-sort.obj\": no such file; looked for "
        "HERE/far/off/rim-of-another-sort.obj, but there is no such folder; paths are relative to the file "
        "that "
        "names them");
  for (const auto& [name, said] :
       {std::pair("https://example.com/kettle.ply",
                  "an address is no file of this machine: fetch it first and name the file"),
        std::pair("~/kettle.ply", "~ is understood by shells alone: write the whole path")}) {
    folder.write("case.yaml", dunlin_with("kettle.ply", name));
    CHECK(folder.said("case.yaml") ==
          "HERE/case.yaml:4:18: terrain.file: \"" + std::string(name) + "\": no such file; " + said);
  }
  folder.write("case.yaml", dunlin_with("kettle.ply", "rim-of-another-sort.obj"));
  CHECK(folder.said("case.yaml") ==
        "HERE/case.yaml:4:18: terrain.file: \"rim-of-another-sort.obj\": no such file; looked for "
        "HERE/rim-of-another-sort.obj; paths are relative to the file that names them");
}

TEST_CASE("scenario messages: a scenario that is not there is looked for near the current folder") {
  const Folder folder;
  folder.write("case.yaml", dunlin());
  CHECK_THAT(folder.said("cas.yaml"),
             Catch::StartsWith("HERE/cas.yaml: no such file; looked for HERE/cas.yaml; did you mean "
                               "\"") &&
                 Catch::EndsWith("case.yaml\"?"));
  CHECK(folder.said("none/quite-another.txt") ==
        "HERE/none/quite-another.txt: no such file; looked for HERE/none/quite-another.txt, but there is no "
        "such folder; "
        "paths are relative to the current folder");
}

TEST_CASE("scenario messages: includes that cannot be followed say why") {
  const Folder folder;
  folder.write("parts/list.yaml", "[1, 2]\n");
  folder.write("parts/loop.yaml", "include: ../case.yaml\n");
  folder.write("parts/empty.yaml", "title: a\n");
  folder.write("parts/ground.ply", "ply\n");
  const auto said = [&](const std::string& text) {
    folder.write("case.yaml", text);
    return folder.said("case.yaml");
  };
  CHECK(said("include: lst.yaml\n") ==
        "HERE/case.yaml:1:10: \"HERE/lst.yaml\": no such file; looked for HERE/lst.yaml; paths are relative "
        "to the "
        "file that names them");
  CHECK(said("include: list.yaml\n") ==
        "HERE/case.yaml:1:10: \"HERE/list.yaml\": no such file; looked for HERE/list.yaml; did you mean "
        "\"parts/list.yaml\"?");
  CHECK(said("include: parts\n") ==
        "HERE/case.yaml:1:10: \"HERE/parts\": not a regular file; name a file, not a directory or device");
  CHECK(said("include: parts/list.yaml\ntitle: a\n") ==
        "HERE/case.yaml:1:10: \"parts/list.yaml\" holds no `key: value` pairs; a list can be included only "
        "where no "
        "key stands beside `include`");
  CHECK(said("include: [a]\n") ==
        "HERE/case.yaml:1:10: `include` needs the name of a file; write `include: machine.yaml`");
  CHECK(said("include: parts/loop.yaml\n") ==
        "HERE/parts/loop.yaml:1:10: \"../case.yaml\" includes itself, directly or through others; break the "
        "circle");
  CHECK(said("include: parts/ground.ply\n") ==
        "HERE/parts/ground.ply: is a terrain file, not a scenario; look at it with `rimstance inspect`, and "
        "name it "
        "in a scenario under terrain: file");
  std::string many;
  for (int i = 0; i < 65; ++i) many += "a" + std::to_string(i) + ": { include: parts/empty.yaml }\n";
  CHECK_THAT(said(many),
             Catch::Contains("HERE/case.yaml:65:17: more than 64 includes; merge some of the files"));
}

TEST_CASE("scenario messages: a value that is changed later must fit as a written one must") {
  const Scenario s = *load(dunlin()).scenario;
  const auto said = [&](const char* path, double si) -> std::string {
    try {
      (void)with(s, path, si);
      return {};
    } catch (const InputError& error) {
      return error.what();
    }
  };
  CHECK(said("spot.yw", 0) ==
        "spot.yw: there is no number of that name in the scenario; did you mean \"spot.yaw\"?");
  CHECK(said("nothing.like.it.at.all", 0) ==
        "nothing.like.it.at.all: there is no number of that name in the scenario; `rimstance schema` lists "
        "the keys");
  CHECK(said("payload.mass", -1) == "payload.mass: -1 kg is out of range; allowed: over 0 kg");
  CHECK(said("payload.mass", kUnset) == "payload.mass: the value is not finite; allowed: over 0 kg");
  CHECK(said("machine.container.units", 1.5) ==
        "machine.container.units: 1.5 is not a whole number; write it like \"6\"");
  const std::vector<Issue> turned = disagreements(*with(s, "operation.luff.lo", radians(70)));
  REQUIRE(turned.size() == 1);
  CHECK(to_string(turned[0]) == "operation.luff: the first end lies above the second; swap the ends");
}

TEST_CASE("scenario messages: a starter is never written over another file") {
  const Folder folder;
  (void)write_starter((folder.path / "new").string());
  std::string text;
  try {
    (void)write_starter((folder.path / "new").string());
  } catch (const InputError& error) {
    text = error.what();
  }
  CHECK_THAT(text, Catch::StartsWith((folder.path / "new").string()) &&
                       Catch::EndsWith(": the file is there already; choose an empty folder"));
}
