#include "rimstance/model/load.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <random>

#include "../../src/model/yaml_tree.hpp"
#include "model/scenario_text.hpp"
#include "rigs.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/model/fields.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using Catch::Contains;
namespace fs = std::filesystem;

namespace {

bool same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

/// Paths whose numbers differ between the two by more than `slack` of their size.
std::vector<std::string> differences(const Scenario& a, const Scenario& b, double slack) {
  std::vector<std::string> out;
  const std::vector<std::string> all = paths(a, "**");
  if (all != paths(b, "**")) out.emplace_back("paths");
  for (const std::string& path : all) {
    const double x = get(a, path), y = get(b, path);
    if (!same(x, y) && !(std::abs(x - y) <= slack * std::max(std::abs(x), std::abs(y)))) out.push_back(path);
  }
  return out;
}

/// A folder of its own for one test.
struct Folder {
  fs::path path;
  explicit Folder(const char* name)
      : path(fs::temp_directory_path() / (std::string("rimstance_load_") + name)) {
    fs::remove_all(path);
    make_directory(path.string());
  }
  ~Folder() { fs::remove_all(path); }
  std::string write(const std::string& name, std::string_view text) const {
    const fs::path file = path / name;
    make_directory(file.parent_path().string());
    write_whole(file.string(), text);
    return file.string();
  }
};

std::string said(const std::string& file, std::vector<Override> set = {}) {
  try {
    (void)load_scenario(file, set);
    return {};
  } catch (const InputError& error) {
    return error.what();
  }
}

/// The machine of dunlin() as a file of its own, indentation taken back.
std::string machine_text() {
  const std::string& all = dunlin();
  const std::size_t from = all.find("machine:\n") + 9, to = all.find("spot:");
  std::string out, line;
  for (const char c : all.substr(from, to - from)) {
    line += c;
    if (c != '\n') continue;
    out += line.substr(2);
    line.clear();
  }
  return out;
}
std::string without_machine(const std::string& instead) {
  const std::string& all = dunlin();
  const std::size_t from = all.find("machine:\n"), to = all.find("spot:");
  return all.substr(0, from) + instead + all.substr(to);
}

/// The tree as flow YAML, the keys of every map in another order.
std::string shuffled(const YamlNode& node, std::mt19937& random) {
  std::string out;
  if (node.kind == YamlNode::Kind::scalar) {
    return node.quoted ? "\"" + node.text + "\"" : node.text;
  }
  if (node.kind == YamlNode::Kind::list) {
    for (const YamlNode& item : node.items) out += (out.empty() ? "" : ", ") + shuffled(item, random);
    return "[" + out + "]";
  }
  std::vector<YamlEntry> entries = node.entries;
  std::shuffle(entries.begin(), entries.end(), random);
  for (const YamlEntry& e : entries)
    out += (out.empty() ? "" : ", ") + e.key + ": " + shuffled(e.value, random);
  return "{" + out + "}";
}

}  // namespace

TEST_CASE("load: the scenario's text and the machine built from plain values are the same") {
  const Document document = load(dunlin());
  const Scenario &read = *document.scenario, built = rigs::dunlin();
  Scenario completed = built;  // what only the text has
  completed.soil = find_soil("lunar-disturbed")->soil;
  completed.machine.outriggers = built.machine.outriggers;
  CHECK(differences(read, completed, 4e-16).empty());
  CHECK(read.machine.name == built.machine.name);
  CHECK(read.machine.chassis.bodies[0].subsystem == built.machine.chassis.bodies[0].subsystem);
  CHECK(read.machine.guide->direction == built.machine.guide->direction);
  REQUIRE(read.criteria.load_cases.size() == built.criteria.load_cases.size());
  CHECK(read.criteria.load_cases[2].release == 1);
  CHECK_FALSE(read.criteria.load_cases[1].payload);
  CHECK(read.criteria.load_cases[3].head_down);
  CHECK_FALSE(read.transit->payload);
  CHECK(read.criteria.foot_limits);
  CHECK(document.assumed.empty());
  CHECK(document.cautions.empty());
}

TEST_CASE("load: the order of keys changes nothing") {
  const Scenario expected = *load(dunlin()).scenario;
  IssueList issues;
  const YamlNode tree = parse_yaml(dunlin(), "dunlin.yaml", issues);
  REQUIRE(issues.issues.empty());
  std::mt19937 random(7);
  for (int i = 0; i < 200; ++i) {
    const Document other = load(shuffled(tree, random));
    REQUIRE(differences(expected, *other.scenario, 0).empty());
    REQUIRE(other.scenario->derived == expected.derived);
  }
}

TEST_CASE("load: every key of the other boom kinds, load cases and criteria is read") {
  std::string text = dunlin_with(R"(    kind: telescopic
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    order: together
    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
                                 R"(    kind: scissor
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    retracted: 1.5 m
    mass: { value: 30 kg, margin: 20 % }
    cells: 12
    bar: 0.5 m
)");
  text = edited(text, "  preset: study-default\n  set_error: 0 deg\n", R"(  allowed_tilt: 0.5 deg
  set_error: 0.1 deg
  work_tilt: 0.2 deg
  settle: proof-slew
  levelled_in: { luff: 30 deg, extension: 1 m, counterweight: 0.2 m }
  stroke_left: 20 mm
  wheel_clearance: 20 mm
  belly_clearance: 30 mm
  foot_limits: true
  bearing: 2
  slip: 1.5
  slope: 1.5
  rim: 1.5 m
  load_cases:
    - { name: forward, source: house rule, load_factor: 1.25, boom_factor: 0.1, margin: { moment: 0 N m, clearance: 5 cm } }
    - { name: share, tipping_load: 85 % }
    - { name: lost, release: 0.5, margin: { load_side_share: 15 %, moment_ratio: 1.2, tip_angle: 3 deg, energy: 10 J, force_angle: 0.2 } }
    - { name: snag, stall: 125 %, mass_margin: none }
    - { name: lift, hoisting: physics, swing: settled, luff: steepest, counterweight: end }
    - { name: lift-again, hoisting: 1.2, swing: start-stop }
    - { name: floor, payload: none, head: down }
)");
  const Document document = load(text);
  const Scenario& s = *document.scenario;
  CHECK(s.machine.boom.kind == Boom::Kind::scissor);
  CHECK(s.machine.boom.mass == 30);
  CHECK(s.machine.boom.margin == 0.2);
  CHECK(s.machine.boom.cells == 12);
  const Criteria& c = s.criteria;
  CHECK(c.preset.empty());
  CHECK(c.work_tilt == Approx(radians(0.2)));
  CHECK(c.settle_proof_slew);
  CHECK(c.levelled_luff == Approx(radians(30)));
  CHECK(c.levelled_extension == 1);
  CHECK(c.levelled_travel == 0.2);
  CHECK(c.stroke_left == 0.02);
  CHECK(c.belly_clearance == 0.03);
  CHECK(c.rim == 1.5);
  CHECK(c.load_cases[0].source == "house rule");
  CHECK(c.load_cases[0].margin.at(MarginKind::clearance) == 0.05);
  CHECK(c.load_cases[1].tipping_load == 0.85);
  CHECK(c.load_cases[1].margin.empty());
  CHECK(c.load_cases[2].margin.at(MarginKind::energy) == 10);
  CHECK(c.load_cases[2].margin.at(MarginKind::tip_angle) == Approx(radians(3)));
  CHECK(c.load_cases[3].stall == 1.25);
  CHECK_FALSE(c.load_cases[3].mass_margin);
  CHECK(c.load_cases[4].hoisting_computed);
  CHECK((c.load_cases[4].swing && c.load_cases[4].swing_settled && c.load_cases[4].luff_steepest &&
         c.load_cases[4].counterweight_end));
  CHECK(c.load_cases[5].hoisting == 1.2);
  CHECK((c.load_cases[5].swing && !c.load_cases[5].swing_settled));
  CHECK((c.load_cases[6].head_down && !c.load_cases[6].payload));
}

TEST_CASE("load: a rigid chain has its own keys") {
  const std::string text = dunlin_with(R"(    kind: telescopic
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    order: together
    sections: [{ length: 3.2 m, mass: 18 kg }, { length: 3.0 m, stroke: 2.7 m, mass: 12 kg }]
)",
                                       R"(    kind: rigid-chain
    foot: "[0.2, 0, 0.35] m"
    luff_range: "[0, 75] deg"
    retracted: 3.2 m
    chain_mass: 5 kg/m
    chain_length: 6.5 m
    magazine: "[-0.2, 0, 0.2] m"
    margin: 10 %
)");
  const Scenario s = *load(text).scenario;
  CHECK(s.machine.boom.kind == Boom::Kind::rigid_chain);
  CHECK(s.machine.boom.magazine == Vec3(-0.2, 0, 0.2));
  CHECK(s.machine.boom.chain_mass == 5);
}

TEST_CASE("load: keys beside a preset replace the preset's, load cases as a whole") {
  const Document document = load(dunlin_with(
      "  set_error: 0 deg\n",
      "  set_error: 0 deg\n  allowed_tilt: 1 deg\n  load_cases: [{ name: only, load_factor: 2 }]\n"));
  const Criteria& c = document.scenario->criteria;
  CHECK(c.allowed_tilt == Approx(radians(1)));
  CHECK(c.stroke_left == 0.02);  // still the preset's
  REQUIRE(c.load_cases.size() == 1);
  CHECK(c.load_cases[0].name == "only");
  CHECK(document.origins.at("criteria.stroke_left").written == "preset study-default");
  CHECK(document.origins.at("criteria.allowed_tilt").written == "1 deg");
  const Scenario soil =
      *load(dunlin_with("soil: { preset: lunar-disturbed }",
                        "soil: { preset: lunar-disturbed, friction_angle: 30 deg, thickness: 2 m }"))
           .scenario;
  CHECK(soil.soil->friction_angle == Approx(radians(30)));
  CHECK(soil.soil->cohesion == 170);
  CHECK(soil.soil->thickness == 2);
}

TEST_CASE("load: a value knows where it was written, its deviation, margin and source") {
  const Document document = load(dunlin());
  const Origin& mass = document.origins.at("machine.chassis.bodies.avionics.mass");
  CHECK(mass.written == "25 kg");
  CHECK(mass.from == "mass list 3");
  CHECK(mass.sd == 0.5);
  CHECK(mass.margin == 0.05);
  CHECK(document.scenario->machine.chassis.bodies[1].margin == 0.05);
  const std::string before = dunlin().substr(0, dunlin().find("25 kg"));
  CHECK(mass.place.file == "dunlin.yaml");
  CHECK(mass.place.line == 1 + std::count(before.begin(), before.end(), '\n'));
  CHECK(mass.place.column == static_cast<int>(before.size() - before.rfind('\n')));
  CHECK(document.origins.at("machine.outriggers.front-left.zero").written == "follows from other values");
}

TEST_CASE("load: sd and margin beside mass are shorthand, and giving one twice is an error") {
  const Document document = load(dunlin_with("mass: 210 kg,", "mass: 210 kg, sd: 4 kg,"));
  CHECK(document.origins.at("machine.chassis.bodies.frame.mass").sd == 4);
  CHECK(document.origins.at("machine.chassis.bodies.frame.mass").margin == 0.10);
  const char* const kAvionics = "sd: 0.5 kg, margin: 5 %, from: mass list 3 }";
  CHECK_THAT(complaints(dunlin_with(kAvionics, "sd: 0.5 kg }, sd: 1 kg")),
             Contains("avionics.sd: the standard deviation of \"mass\" is given twice"));
  CHECK_THAT(complaints(dunlin_with(kAvionics, "margin: 5 % }, margin: 6 %")),
             Contains("avionics.mass: the margin is given twice"));
  CHECK_THAT(complaints(dunlin_with("mass: 210 kg,", "mass: 210 kg, sd: 4 m,")),
             Contains("\"4 m\" is a length; a mass is expected"));
  CHECK_THAT(complaints(dunlin_with("mass: 210 kg,", "mass: { value: 210 kg, std: 4 kg },")),
             Contains("unknown key \"std\" in a value map; did you mean \"sd\"?"));
  CHECK_THAT(complaints(dunlin_with("mass: 210 kg,", "mass: { sd: 4 kg },")),
             Contains("a value map needs `value`"));
  CHECK_THAT(complaints(dunlin_with("margin: 10 % }\n      - { name: avionics",
                                    "margin: 10 }\n      - { name: avionics")),
             Contains("frame.margin: \"10\" is out of range; allowed: from 0 % to 100 %"));
}

TEST_CASE("load: a margin on what is no body's mass changes nothing and says so") {
  const Document document = load(dunlin_with(
      "arm: 1.6 m, splay: 40 deg, splay_range: \"[0, 110] deg\",\n        drop: 0.25 m, stroke: \"[0, 0.6] "
      "m\", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,\n        stiffness: 55 kN/m, leg_limit: "
      "3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }\n    - { name: front-right",
      "arm: { value: 1.6 m, margin: 3 % }, splay: 40 deg, splay_range: \"[0, 110] deg\",\n        drop: 0.25 "
      "m, stroke: \"[0, 0.6] m\", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4,\n        "
      "stiffness: 55 kN/m, leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers }\n    - { "
      "name: front-right"));
  REQUIRE(document.cautions.size() == 1);
  CHECK_THAT(to_string(document.cautions[0]),
             Contains("machine.outriggers.front-left.arm: this margin is kept"));
}

TEST_CASE("load: a limit may be a mass where its gravity is said") {
  const Scenario s = *load(dunlin_with("leg_limit: 3 kN, mass: 9 kg, centre_at: 0.5, subsystem: outriggers "
                                       "}\n    - { name: front-right",
                                       "leg_limit: { mass: 60 kg, at_gravity: moon }, mass: 9 kg, centre_at: "
                                       "0.5, subsystem: outriggers }\n    - { name: front-right"))
                          .scenario;
  CHECK(s.machine.outriggers[0].leg_limit == 60 * 1.62);
  CHECK(load(dunlin_with("line_pull: 100 N", "line_pull: { mass: 10 kg, at_gravity: 9.81 m/s2 }"))
            .scenario->machine.hoist.line_pull == Approx(98.1));
  CHECK_THAT(
      complaints(dunlin_with("line_pull: 100 N", "line_pull: 60 kg")),
      Contains(
          "\"60 kg\" is a mass; a force is expected; write the force, or { mass: 60 kg, at_gravity: moon }"));
  CHECK_THAT(complaints(dunlin_with("line_pull: 100 N", "line_pull: { mass: 60 kg }")),
             Contains("needs `at_gravity`"));
}

TEST_CASE("load: what was not given and matters stands under assumed, equal ones once") {
  std::string text = dunlin();
  for (std::size_t at; (at = text.find("stiffness: 55 kN/m, ")) != std::string::npos;) text.erase(at, 20);
  text = edited(text,
                "  transit: { slew: \"[-180, 30] deg\", luff: 65 deg, extension: 0 m, payload: none, "
                "counterweight: \"[0, 1.1] m\" }\n",
                "");
  text = edited(text, "  set_error: 0 deg\n", "");
  const Document document = load(text);
  CHECK(document.scenario->machine.outriggers[3].stiffness == 50e3);
  REQUIRE(document.assumed.size() == 2);
  CHECK_THAT(document.assumed[0], Contains("machine.outriggers.*.stiffness: 50 kN/m"));
  CHECK_THAT(document.assumed[1], Contains("operation.transit: not given"));
  REQUIRE(document.cautions.size() == 1);
  CHECK_THAT(to_string(document.cautions[0]), Contains("the error of levelling is not given"));
  CHECK(document.origins.at("machine.outriggers.rear-left.stiffness").written == "default: 50 kN/m");
}

TEST_CASE("load: an operation that is not written is everything the machine can do") {
  const std::string& all = dunlin();
  const std::string text = all.substr(0, all.find("operation:")) + all.substr(all.find("criteria:"));
  const Document document = load(text);
  const Scenario& s = *document.scenario;
  CHECK(s.operation.slew_all);
  CHECK(s.operation.slew.lo == s.machine.platform.slew_range.lo);
  CHECK(s.operation.luff.hi == s.machine.boom.luff_range.hi);
  CHECK(s.operation.extension.hi == 2.7);
  CHECK(s.operation.travel.hi == 0);
  CHECK(s.operation.line.hi == 0);
  CHECK(document.assumed.size() == 5);
}

TEST_CASE("load: transit keys not given are the operation's, without cuts and with the line in") {
  const Scenario s = *load(dunlin_with("  transit: { slew: \"[-180, 30] deg\", luff: 65 deg, extension: 0 m, "
                                       "payload: none, counterweight: \"[0, 1.1] m\" }\n",
                                       "  transit: { extension: 0 m }\n"))
                          .scenario;
  const Operation& t = *s.transit;
  CHECK(t.slew.lo == s.operation.slew.lo);
  CHECK(t.luff.hi == s.operation.luff.hi);
  CHECK(t.travel.lo == 1.1);
  CHECK((t.extension.lo == 0 && t.extension.hi == 0));
  CHECK((t.line.lo == 0 && t.line.hi == 0));
  CHECK(std::isinf(t.reach.hi));
  CHECK(t.payload);
}

TEST_CASE("load: words of the operation") {
  CHECK(load(dunlin_with("slew: \"[-30, 30] deg\"", "slew: all")).scenario->operation.slew_all);
  const Operation single = load(dunlin_with("slew: \"[-30, 30] deg\"", "slew: 12 deg")).scenario->operation;
  CHECK((single.slew.lo == single.slew.hi && single.slew.lo == Approx(radians(12))));
  CHECK(
      load(dunlin_with("counterweight: 1.1 m\n", "counterweight: schedule\n")).scenario->operation.scheduled);
  const Operation height =
      load(dunlin_with("reach: \"[1.8, 5.7] m\"", "tip_height: \"[2, 5] m\"")).scenario->operation;
  CHECK((height.tip_height.lo == 2 && std::isinf(height.reach.hi)));
}

TEST_CASE("load: gravity is a name or a value") {
  CHECK(load(dunlin()).scenario->gravity == 1.62);
  CHECK(load(dunlin_with("gravity: moon", "gravity: mars")).scenario->gravity == 3.71);
  CHECK(load(dunlin_with("gravity: moon", "gravity: earth")).scenario->gravity == 9.80665);
  CHECK(load(dunlin_with("gravity: moon", "gravity: 0.28 m/s^2")).scenario->gravity == 0.28);
  CHECK_THAT(complaints(dunlin_with("gravity: moon", "gravity: mooon")), Contains("did you mean \"moon\"?"));
  CHECK_THAT(complaints(dunlin_with("gravity: moon", "gravity: 1.62")),
             Contains("\"1.62\" has no unit; an acceleration is expected"));
}

TEST_CASE("load: the payload is one unit of the container where it is not given") {
  const Document document = load(dunlin_with("payload: { mass: 14 kg, reach: 5.5 m }\n", ""));
  CHECK(document.scenario->payload.mass == 14);
  CHECK_THAT(document.assumed.at(0), Contains("payload.mass: not given, one unit of the container"));
}

TEST_CASE("include: a machine in a file of its own, overridden below it") {
  const Folder folder("include");
  folder.write("machines/dunlin.yaml", machine_text());
  folder.write("kettle.ply", "");
  const std::string file = folder.write(
      "runs/case.yaml",
      edited(without_machine("machine:\n  include: ../machines/dunlin.yaml\n  hoist: { line_pull: 120 N }\n  "
                             "boom: { structural_limit: { rows: [{ reach: 3 m, load: 200 N }] } }\n"),
             "kettle.ply", "../kettle.ply"));
  const Document document = load_scenario(file);
  const Scenario& s = *document.scenario;
  Scenario expected = *load(dunlin()).scenario;
  expected.machine.hoist.line_pull = 120;          // a map merges
  expected.machine.boom.limit->rows = {{3, 200}};  // a list is replaced whole
  CHECK(differences(s, expected, 0).empty());
  CHECK(s.terrain.file == (folder.path / "kettle.ply").string());
  REQUIRE(document.files.size() == 2);
  CHECK(document.files[0] == file);
  CHECK(document.origins.at("machine.chassis.bodies.frame.mass").place.file == document.files[1]);
  CHECK(document.origins.at("machine.hoist.line_pull").place.file == file);
  CHECK(document.sha256 == sha256(std::string(FileBytes(document.files[0]).text()) +
                                  std::string(FileBytes(document.files[1]).text())));
}

TEST_CASE("include: errors keep the file they are in, and missing files are reported with the rest") {
  const Folder folder("include_errors");
  folder.write("kettle.ply", "");
  folder.write("dunlin.yaml", edited(machine_text(), "units: 6", "units: 06"));
  const std::string file = folder.write(
      "case.yaml", edited(without_machine("machine: { include: dunlin.yaml, hoist: { speeed: 1 m/s } }\n"),
                          "yaw: 0 deg", "yaw: 0"));
  const std::string text = said(file);
  CHECK_THAT(text, Contains((folder.path / "dunlin.yaml").string() + ":") && Contains("leading zero"));
  CHECK_THAT(text, Contains("unknown key \"speeed\"; did you mean \"speed\"?"));
  CHECK_THAT(text, Contains("case.yaml:7:") && Contains("\"0\" has no unit"));
  const std::string missing =
      folder.write("missing.yaml",
                   edited(without_machine("machine: { include: nowhere.yaml }\n"), "yaw: 0 deg", "yaw: 0"));
  CHECK_THAT(said(missing), Contains("nowhere.yaml\": no such file") && Contains("\"0\" has no unit") &&
                                !Contains("is missing"));
}

TEST_CASE("include: circles and floods of files are refused") {
  const Folder folder("circle");
  folder.write("a.yaml", "include: b.yaml\n");
  folder.write("b.yaml", "machine: { include: a.yaml }\n");
  CHECK_THAT(said((folder.path / "a.yaml").string()),
             Contains("\"a.yaml\" includes itself, directly or through others"));
  for (int i = 0; i < 12; ++i) {
    const std::string next = "f" + std::to_string(i + 1) + ".yaml";
    folder.write("f" + std::to_string(i) + ".yaml", "x: { include: " + next + " }\ny: { include: " + next +
                                                        " }\nz: { include: " + next + " }\n");
  }
  folder.write("f12.yaml", "w: 1\n");
  CHECK_THAT(said((folder.path / "f0.yaml").string()), Contains("more than 64 includes"));
  folder.write("list.yaml", "- 1\n");
  folder.write("uses_list.yaml", "machine: { include: list.yaml, name: x }\n");
  CHECK_THAT(said((folder.path / "uses_list.yaml").string()),
             Contains("\"list.yaml\" holds no `key: value` pairs; a list can be included only where"));
}

TEST_CASE("load: a terrain file that is not there is an error at its key") {
  const Folder folder("terrain");
  const std::string file = folder.write("case.yaml", dunlin());
  CHECK_THAT(said(file), Contains("case.yaml:4:18: terrain.file: \"kettle.ply\": no such file"));
}

TEST_CASE("load: a file far too large is refused before it is read into memory") {
  const Folder folder("huge");
  const std::string file = folder.write("huge.yaml", "rimstance: 1\n");
  fs::resize_file(file, std::uintmax_t{4} << 30);  // sparse: it takes no room on the disk
  CHECK_THAT(said(file), Contains("4294967296 bytes; a scenario file has at most 1048576"));
}

TEST_CASE("load: a scenario that is missing, a folder or a device is wrong input") {
  for (const char* file : {"/no/such/scenario.yaml", "/tmp", "/dev/null"})
    CHECK_THROWS_AS(load_scenario(file), InputError);
}

TEST_CASE("--set: changes single values, items of lists by name or index, and all items by *") {
  const auto splay = [](const Document& d, std::size_t i) {
    return degrees(d.scenario->machine.outriggers[i].splay);
  };
  const Document one = load(dunlin(), {{"machine.outriggers.front-left.splay", "50deg"}});
  CHECK(splay(one, 0) == Approx(50));
  CHECK(splay(one, 1) == Approx(40));
  CHECK(splay(load(dunlin(), {{"machine.outriggers.3.splay", "50 deg"}}), 3) == Approx(50));
  const Document all = load(
      dunlin(), {{"machine.outriggers.*.splay", "55 deg"}, {"machine.outriggers.rear-left.splay", "60 deg"}});
  CHECK(splay(all, 0) == Approx(55));
  CHECK(splay(all, 2) == Approx(60));
  CHECK(all.overrides.size() == 2);
  CHECK(all.origins.at("machine.outriggers.front-left.splay").place.file ==
        "--set machine.outriggers.*.splay=55 deg");
}

TEST_CASE("--set: takes any form of value, and keys that were not written") {
  const Document document = load(dunlin(), {{"operation.luff", "[25, 60] deg"},
                                            {"operation.line", "[0 m, 30 m]"},
                                            {"spot.at", "[\"1 m\", \"2 m\"]"},
                                            {"title", "no"},
                                            {"criteria.allowed_tilt", "0.8 deg"},
                                            {"criteria.levelled_in.luff", "30 deg"},
                                            {"machine.hoist.head", "{ mass: 7 kg, radius: 0.3 m }"},
                                            {"machine.hoist.speed", "{ value: 0.1 m/s, from: maker }"}});
  const Scenario& s = *document.scenario;
  CHECK(degrees(s.operation.luff.lo) == Approx(25));
  CHECK(s.operation.line.hi == 30);
  CHECK(s.spot.at == Vec2(1, 2));
  CHECK(s.title == "no");
  CHECK(degrees(s.criteria.allowed_tilt) == Approx(0.8));
  CHECK(degrees(s.criteria.levelled_luff) == Approx(30));
  CHECK(s.machine.hoist.head_mass == 7);
  CHECK(document.origins.at("machine.hoist.speed").from == "maker");
}

TEST_CASE("--set: a path or value that does not fit is an error that names it") {
  const auto wrong = [](const char* path, const char* value) {
    return complaints(dunlin(), {{path, value}});
  };
  CHECK_THAT(
      wrong("machine.outriggers.front-lft.splay", "50 deg"),
      Contains(
          "--set machine.outriggers.front-lft.splay=50 deg: machine.outriggers: no item \"front-lft\"") &&
          Contains("did you mean \"front-left\"?"));
  CHECK_THAT(wrong("machine.outriggers.front-left.splai", "50 deg"),
             Contains("unknown key \"splai\"; did you mean \"splay\"?"));
  CHECK_THAT(wrong("machin.hoist.speed", "1 m/s"),
             Contains("unknown key \"machin\"; did you mean \"machine\"?"));
  CHECK_THAT(wrong("spot.yaw.x", "1 deg"), Contains("\"0 deg\" is a value and has nothing inside"));
  CHECK_THAT(wrong("spot..yaw", "1 deg"), Contains("a path is made of keys with a point between them"));
  CHECK_THAT(wrong("spot.yaw", "1"),
             Contains("--set spot.yaw=1: spot.yaw: \"1\" has no unit; an angle is expected"));
  CHECK_THAT(wrong("spot.yaw", ""), Contains("nothing is written here"));
  CHECK_THAT(wrong("spot.at", "{ broken"), Contains("--set spot.at={ broken") && Contains("not valid YAML"));
}

TEST_CASE("load: a part that is left out is one sentence under assumed") {
  const std::string& all = dunlin();
  const std::string text = all.substr(0, all.find("  hoist:")) + all.substr(all.find("spot:"));
  const Document document = load(text);
  REQUIRE(document.assumed.size() == 1);
  CHECK_THAT(document.assumed[0], Contains("machine.hoist: not given"));
  CHECK(document.scenario->machine.hoist.drum == document.scenario->machine.boom.foot);
  CHECK(document.scenario->machine.hoist.line_length == 40);  // what the operation pays out
}

TEST_CASE("load: whatever is damaged in the text, it loads or is wrong input, and nothing else") {
  std::mt19937 random(11);
  const std::string alphabet = "{}[]:,-\"'#&*!|>%@?\t\n 0aZ.\xFF\x80\xC3";
  int refused = 0;
  for (int i = 0; i < 400; ++i) {
    std::string text = dunlin();
    for (int k = 0; k < 1 + i % 3; ++k) {
      const std::size_t at = random() % text.size(), length = random() % 40;
      const char c = alphabet[random() % alphabet.size()];
      if (random() % 3 == 0)
        text.erase(at, length);
      else if (random() % 2 == 0)
        text.insert(at, 1, c);
      else
        text[at] = c;
    }
    CAPTURE(i, text);
    try {
      (void)load(text);
    } catch (const InputError& error) {
      ++refused;
      CHECK(!error.issues.empty());
    }
  }
  CHECK(refused > 200);
}

TEST_CASE("include: a list may stand in a file of its own where nothing is laid over it") {
  const Folder folder("list");
  folder.write("kettle.ply", "");
  folder.write("bodies.yaml", "- { name: turntable, mass: 40 kg, at: \"[0, 0, 0.1] m\", margin: 10 % }\n");
  const std::string file =
      folder.write("case.yaml", dunlin_with("bodies:\n      - { name: turntable, mass: 40 kg, at: \"[0, 0, "
                                            "0.1] m\", margin: 10 %, subsystem: structure }",
                                            "bodies: { include: bodies.yaml }"));
  const Document document = load_scenario(file);
  CHECK(differences(*document.scenario, *load(dunlin()).scenario, 0).empty());
  CHECK(document.origins.at("machine.platform.bodies.turntable.mass").place.line == 1);
}
