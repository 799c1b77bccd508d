#include <catch2/catch.hpp>

#include "model/scenario_text.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using Catch::Contains;

// What must agree between the values of a scenario. Each case is dunlin() with one defect; the message
// names the place, the value found, what is allowed and a way out.

namespace {
std::string with_changes(std::vector<Override> set) { return complaints(dunlin(), std::move(set)); }
}  // namespace

TEST_CASE("checks: a machine needs three outriggers, and three are enough") {
  const std::string& all = dunlin();
  const std::size_t second = all.find("    - { name: front-right"),
                    third = all.find("    - { name: rear-left"),
                    fourth = all.find("    - { name: rear-right"), platform = all.find("  platform:");
  const std::string three = all.substr(0, fourth) + all.substr(platform);
  CHECK(complaints(three) == "");
  CHECK_THAT(complaints(all.substr(0, third) + all.substr(platform)),
             Contains("machine.outriggers: 2 items, at least 3 needed; add 1 more"));
  CHECK_THAT(complaints(all.substr(0, second) + all.substr(platform)),
             Contains("1 item, at least 3 needed; add 2 more"));
}

TEST_CASE("checks: feet within a millimetre of each other in plan are one foot") {
  CHECK_THAT(with_changes({{"machine.outriggers.front-right.pivot", "[0.7, 0.4505, 0.5] m"}}),
             Contains("machine.outriggers.front-right: its foot coincides with that of \"front-left\" "
                      "(within 1 mm in plan)"));
  CHECK(with_changes({{"machine.outriggers.front-right.pivot", "[0.7, 0.4515, 0.5] m"}}) == "");
}

TEST_CASE("checks: a pivot on an axis of the chassis needs its side stated") {
  CHECK_THAT(
      with_changes({{"machine.outriggers.front-left.pivot", "[0.7, 0, 0.5] m"}}),
      Contains("front-left.pivot: the pivot lies on an axis of the chassis") && Contains("state `zero`"));
  CHECK_THAT(with_changes({{"machine.outriggers.front-left.pivot", "[0, 0.45, 0.5] m"}}),
             Contains("lies on an axis"));
  const std::vector<Override> stated{{"machine.outriggers.front-left.pivot", "[0.7, 0, 0.5] m"},
                                     {"machine.outriggers.front-left.zero", "0 deg"},
                                     {"machine.outriggers.front-left.sense", "-1"}};
  CHECK(with_changes({{"machine.outriggers.front-left.pivot", "[0.7, 0, 0.5] m"},
                      {"machine.outriggers.front-left.zero", "10 deg"},
                      {"machine.outriggers.front-left.sense", "+1"}}) == "");
  CHECK(load(dunlin(), stated).scenario->machine.outriggers[0].sense == -1);
  CHECK_THAT(with_changes({{"machine.outriggers.front-left.sense", "0.5"}}), Contains("neither +1 nor -1"));
}

TEST_CASE("checks: zero and sense follow the pivot's quadrant, so one splay opens all alike") {
  const auto o = load(dunlin()).scenario->machine.outriggers;
  CHECK((o[0].zero == 0 && o[0].sense == 1));
  CHECK((o[1].zero == 0 && o[1].sense == -1));
  CHECK((o[2].zero == kPi && o[2].sense == -1));
  CHECK((o[3].zero == kPi && o[3].sense == 1));
}

TEST_CASE("checks: inverted ranges and splays outside theirs") {
  CHECK_THAT(
      with_changes({{"machine.outriggers.rear-left.stroke", "[0.6, 0] m"}}),
      Contains(
          "rear-left.stroke: \"[0.6, 0] m\": the first end must lie at or below the second; swap the ends"));
  CHECK_THAT(with_changes({{"machine.boom.luff_range", "[75, 0] deg"}}), Contains("at or below the second"));
  CHECK_THAT(with_changes({{"machine.outriggers.rear-left.splay", "120 deg"}}),
             Contains("rear-left.splay: 120 deg is outside splay_range, 0 deg to 110 deg"));
  CHECK_THAT(with_changes({{"machine.outriggers.rear-left.pad_tilt", "120 deg"}}),
             Contains("\"120 deg\" is out of range; allowed: from 0 deg to 90 deg"));
}

TEST_CASE("checks: the operation stays inside the machine's ranges") {
  CHECK_THAT(
      with_changes({{"operation.luff", "[20, 80] deg"}}),
      Contains("operation.luff: 20 deg to 80 deg is outside the machine's luff range, 0 deg to 75 deg"));
  CHECK_THAT(with_changes({{"operation.extension", "[0, 2.8] m"}}),
             Contains("outside the machine's extension, 0 m to 2.7 m"));
  CHECK_THAT(with_changes({{"operation.counterweight", "1.5 m"}}),
             Contains("1.5 m is outside the machine's travel of the counterweight, 0 m to 1.4 m"));
  CHECK_THAT(with_changes({{"operation.transit.counterweight", "[-0.1, 1] m"}}),
             Contains("operation.transit.counterweight: -0.1 m to 1 m is outside"));
  CHECK_THAT(with_changes({{"operation.line", "[0, 61] m"}}),
             Contains("61 m paid out, but the line is 60 m long"));
  CHECK_THAT(with_changes({{"criteria.levelled_in.luff", "80 deg"}}),
             Contains("criteria.levelled_in.luff: 80 deg is outside"));
}

TEST_CASE("checks: slew sectors are compared modulo a turn on a platform that turns full circle only") {
  for (const char* sector : {"[170, 190] deg", "[-190, -170] deg", "[350, 370] deg", "[-180, 180] deg",
                             "[0, 360] deg", "180 deg"}) {
    CAPTURE(sector);
    CHECK(with_changes({{"operation.slew", sector}}) == "");
  }
  CHECK_THAT(with_changes({{"operation.slew", "[30, -30] deg"}}),
             Contains("operation.slew: \"[30, -30] deg\": the first end must lie below the second"));
  CHECK_THAT(with_changes({{"operation.slew", "[30, 30] deg"}}), Contains("must lie below the second"));
  CHECK_THAT(with_changes({{"operation.slew", "[-200, 161] deg"}}),
             Contains("-200 deg to 161 deg is more than a full circle"));
  const Override half{"machine.platform.slew_range", "[-170, 170] deg"},
      work{"operation.transit.slew", "0 deg"};
  CHECK(with_changes({half, work, {"operation.slew", "[-170, 170] deg"}}) == "");
  CHECK_THAT(with_changes({half, work, {"operation.slew", "[165, 175] deg"}}),
             Contains("165 deg to 175 deg is outside the machine's slew range, -170 deg to 170 deg"));
  CHECK(with_changes({half, work, {"operation.slew", "all"}}) == "");
}

TEST_CASE("checks: names in a list are unique") {
  CHECK_THAT(with_changes({{"machine.outriggers.rear-left.name", "front-left"}}),
             Contains("the name \"front-left\" is taken by the item in line"));
  CHECK_THAT(with_changes({{"machine.chassis.bodies.avionics.name", "frame"}}),
             Contains("the name \"frame\" is taken"));
}

TEST_CASE("checks: the boom's kind decides which keys it has") {
  CHECK_THAT(with_changes({{"machine.boom.kind", "scissor"}}),
             Contains("machine.boom.sections: a scissor boom has no \"sections\"") &&
                 Contains("a scissor boom needs \"cells\""));
  CHECK_THAT(with_changes({{"machine.boom.bar", "1 m"}}),
             Contains("machine.boom.bar: a telescopic boom has no \"bar\""));
  CHECK_THAT(with_changes({{"machine.boom.kind", "teleskopic"}}),
             Contains("\"teleskopic\" is not allowed here; did you mean \"telescopic\"?"));
  CHECK_THAT(complaints(dunlin_with("stroke: 2.7 m", "stroke: 3.1 m")),
             Contains("the stroke of 3.1 m exceeds the section's length of 3 m"));
  CHECK_THAT(complaints(dunlin_with("{ length: 3.2 m,", "{ length: 3.2 m, stroke: 1 m,")),
             Contains("the section at the foot does not run out"));
  CHECK_THAT(
      complaints(dunlin_with("{ reach: 8 m,", "{ reach: 2 m,")),
      Contains("structural_limit.rows.1.reach: 2 m does not lie beyond the row before, 2 m: rows must be in "
               "order of growing reach"));
}

TEST_CASE("checks: a section without a stroke runs out whole, with a caution about its overlap") {
  const Document document = load(dunlin_with("stroke: 2.7 m, ", ""), {{"operation.extension", "[0, 3] m"}});
  CHECK(document.scenario->machine.boom.sections[1].stroke == 3.0);
  REQUIRE(document.cautions.size() == 1);
  CHECK_THAT(to_string(document.cautions[0]), Contains("nothing is left to overlap"));
}

TEST_CASE("checks: without a guide there is no travel") {
  const std::string& all = dunlin();
  const std::string text = all.substr(0, all.find("  guide:")) + all.substr(all.find("  hoist:"));
  CHECK_THAT(complaints(text),
             Contains("operation.counterweight: the machine has no guide for a counterweight"));
  CHECK(complaints(text, {{"operation.counterweight", "0 m"}, {"operation.transit.counterweight", "0 m"}}) ==
        "");
  CHECK_THAT(
      complaints(text, {{"operation.counterweight", "schedule"}, {"operation.transit.counterweight", "0 m"}}),
      Contains("has no guide"));
  CHECK_THAT(complaints(dunlin_with("direction: [-1, 0, 0]", "direction: [0, 0, 0]")),
             Contains("all its numbers are 0, which is no direction"));
}

TEST_CASE("checks: load cases that contradict themselves are refused") {
  const auto criteria = [](const char* load_case) {
    return complaints(
        dunlin_with("  set_error: 0 deg\n", std::string("  load_cases: [") + load_case + "]\n"));
  };
  CHECK(criteria("{ name: a, tipping_load: 85 % }") == "");
  CHECK_THAT(criteria("{ name: a, tipping_load: 85 %, load_factor: 1.25 }"),
             Contains("criteria.load_cases.a.tipping_load: tipping_load already is a factor"));
  CHECK_THAT(criteria("{ name: a, release: 1, payload: none }"),
             Contains("nothing can be lost where no payload hangs"));
  CHECK_THAT(criteria("{ name: a, stall: 125 %, head: down }"),
             Contains("a stalled hoist replaces everything that hangs"));
  CHECK_THAT(criteria("{ name: a, margin: 15 % }"),
             Contains("\"15 %\" does not fit; `key: value` pairs are expected"));
  CHECK_THAT(criteria("{ name: a, margin: { moment: 0 } }"),
             Contains("margin.moment: \"0\" has no unit; a moment is expected; write it like \"50 N m\""));
  CHECK_THAT(criteria("{ name: a, payload: some }"), Contains("\"some\" is not allowed here; allowed: none"));
  CHECK_THAT(criteria("{ name: a }, { name: a }"), Contains("the name \"a\" is taken"));
  CHECK_THAT(criteria(""), Contains("0 items, at least 1 needed"));
  CHECK_THAT(complaints(dunlin_with("line_pull: 100 N, ", ""),
                        {{"criteria.load_cases", "[{ name: s, stall: 125 % }]"}}),
             Contains("which is not given"));
}

TEST_CASE("checks: presets that do not exist name the nearest") {
  CHECK_THAT(with_changes({{"criteria.preset", "study-defaut"}}),
             Contains("there is no preset \"study-defaut\"; did you mean \"study-default\"?"));
  CHECK_THAT(with_changes({{"soil.preset", "sand"}}),
             Contains("there is no preset \"sand\"; allowed: lunar-disturbed"));
}

TEST_CASE("checks: meshes need their up axis and unit, grids their unit") {
  CHECK_THAT(with_changes({{"terrain", "{ file: a.ply }"}}),
             Contains("which axis points up; add `up: z`") && Contains("add `unit: m`"));
  CHECK_THAT(with_changes({{"terrain", "{ file: a.asc }"}}),
             Contains("add `unit: m`") && !Contains("points up"));
  CHECK(with_changes({{"terrain", "{ file: a.tif }"}}) == "");
  CHECK_THAT(with_changes({{"terrain.up", "w"}}),
             Contains("\"w\" is not allowed here; allowed: x, y, z") && !Contains("points up"));
}

TEST_CASE("checks: clouds of points need the longest edge that is ground, and nothing else has one") {
  CHECK_THAT(with_changes({{"terrain", "{ file: a.las }"}}),
             Contains("the file holds points") && Contains("add `longest_edge: 2 m`") && !Contains("unit"));
  CHECK(with_changes({{"terrain", "{ file: a.las, longest_edge: 2 m, classes: [2, 8] }"}}) == "");
  CHECK(with_changes({{"terrain", "{ file: a.LAS, longest_edge: 2 m, classes: 2 }"}}) == "");
  CHECK_THAT(with_changes({{"terrain", "{ file: a.xyz, longest_edge: 2 m }"}}), Contains("add `unit: m`"));
  CHECK(with_changes({{"terrain", "{ file: a.xyz, unit: m, longest_edge: 2 m }"}}) == "");
  CHECK(with_changes({{"terrain", "{ file: a.ply, unit: m, longest_edge: 2 m }"}}) == "");
  CHECK_THAT(with_changes({{"terrain", "{ file: a.las, longest_edge: 2 m, up: y }"}}),
             Contains("terrain.up: the third coordinate of points is their height; remove `up`"));
  CHECK_THAT(with_changes({{"terrain", "{ file: a.asc, unit: m, longest_edge: 2 m }"}}),
             Contains("terrain.longest_edge: is for points only") && Contains("remove `longest_edge`"));
  CHECK_THAT(with_changes({{"terrain", "{ file: a.obj, up: z, unit: m, classes: [2] }"}}),
             Contains("terrain.classes: is for LAS points only"));
  for (const char* file : {"a.asc, unit: m", "a.las, longest_edge: 2 m"})
    CHECK_THAT(with_changes({{"terrain", std::string("{ mostly_wall: true, file: ") + file + " }"}}),
               Contains("terrain.mostly_wall: is for meshes only; remove `mostly_wall`"));
  CHECK(with_changes({{"terrain", "{ file: a.obj, up: z, unit: m, mostly_wall: true }"}}) == "");
}

TEST_CASE("checks: classes are whole numbers from 0 to 255, in a list or alone") {
  const auto with = [](const std::string& classes) {
    return with_changes({{"terrain", "{ file: a.las, longest_edge: 2 m, classes: " + classes + " }"}});
  };
  CHECK(with("[0, 255]") == "");
  CHECK(with("\"[2, 8]\"") == "");
  CHECK_THAT(with("[]"), Contains("terrain.classes: the list is empty") && Contains("\"[2, 8]\""));
  CHECK_THAT(with("[2, 256]"), Contains("out of range; allowed: from 0 to 255"));
  CHECK_THAT(with("-1"), Contains("out of range; allowed: from 0 to 255"));
  CHECK_THAT(with("2.5"), Contains("2.5 is not a whole number"));
  CHECK_THAT(with("ground"), Contains("terrain.classes: \"ground\""));
  CHECK_THAT(with_changes({{"terrain", "{ file: a.las, longest_edge: 0 m }"}}),
             Contains("allowed: over 0 m"));
}

TEST_CASE("checks: an image of heights has a spacing and a scale, and an offset that is 0 unless stated") {
  const Override image{"terrain", "{ file: a.png, image: { spacing: 2 m, scale: 0.5 m } }"};
  CHECK(with_changes({image}) == "");
  CHECK_THAT(with_changes({{"terrain", "{ file: a.png, image: { spacing: 2 m } }"}}),
             Contains("terrain.image") && Contains("scale"));
  CHECK_THAT(with_changes({{"terrain", "{ file: a.png, image: { spacing: 0 m, scale: 1 m } }"}}),
             Contains("terrain.image.spacing") && Contains("allowed: over 0 m"));
}

TEST_CASE("checks: points and outlines have their number of coordinates and enclose something") {
  CHECK_THAT(with_changes({{"spot.at", "[1, 2, 3] m"}}),
             Contains("spot.at: 3 numbers where 2 are expected; write it like \"[1, 2] m\""));
  CHECK_THAT(with_changes({{"operation.luff", "[1, 2, 3] deg"}}),
             Contains("3 numbers where two ends are expected"));
  CHECK_THAT(with_changes({{"machine.chassis.belly.outline", "[[0, 0], [1, 1], [2, 2]] m"}}),
             Contains("the outline encloses no area"));
  CHECK_THAT(with_changes({{"machine.chassis.belly.outline", "[[0, 0], [1, 1]] m"}}),
             Contains("2 corners, at least 3 needed"));
}

TEST_CASE("checks: wrong dimension and bare numbers name what is expected") {
  CHECK_THAT(with_changes({{"machine.outriggers.front-left.arm", "1.6 kg"}}),
             Contains("machine.outriggers.front-left.arm: \"1.6 kg\" is a mass; a length is expected; write "
                      "it like \"2.4 m\""));
  CHECK_THAT(with_changes({{"machine.outriggers.front-left.arm", "1.6"}}),
             Contains("\"1.6\" has no unit; a length is expected"));
}

TEST_CASE("checks: a key that is missing is named with what it is") {
  CHECK_THAT(complaints(dunlin_with("spot: { at: \"[0, 0] m\", yaw: 0 deg }", "spot: { yaw: 0 deg }")),
             Contains("spot: key \"at\" is missing; add it:") && Contains("write it like \"[1, 2] m\""));
  CHECK_THAT(complaints("rimstance: 2\n"),
             Contains("\"2\" is not allowed here; allowed: 1") && Contains("key \"gravity\" is missing"));
}

TEST_CASE("checks: a part of a machine is no larger than a machine") {
  for (const auto& [path, value] : std::vector<std::pair<std::string, std::string>>{
           {"machine.outriggers.front-left.pad_radius", "50 m"},
           {"machine.outriggers.front-left.drop", "1e7 m"},
           {"machine.outriggers.front-left.stroke", "[0, 1e7] m"},
           {"machine.outriggers.front-left.arm", "1e7 m"},
           {"machine.outriggers.front-left.pivot", "[1e7, 0.45, 0.5] m"},
           {"machine.chassis.wheels.0.radius", "100 m"},
           {"machine.chassis.wheels.0.width", "100 m"},
           {"machine.chassis.belly.outline", "[[-50, -50], [50, -50], [50, 50]] m"},
           {"machine.chassis.bodies.frame.at", "[0, 0, -1e7] m"},
           {"machine.boom.sections.0.length", "1e7 m"},
           {"machine.outriggers.front-left.stiffness", "1e-300 N/m"},
           {"gravity", "1e-300 m/s2"},
           {"gravity", "1e4 m/s2"}})
    CHECK_THAT(with_changes({{path, value}}),
               Contains(path + ": ") && Contains("is out of range; allowed: "));
}

TEST_CASE("checks: what follows from a machine that could not be read is not said again") {
  for (const auto& [path, value] : std::vector<std::pair<std::string, std::string>>{
           {"machine", "5"}, {"machine.boom", "5"}, {"machine.boom.sections", "[]"}}) {
    const std::string all = with_changes({{path, value}});
    CHECK_THAT(all, Contains(path + ": "));
    CHECK_THAT(all, !Contains("operation"));
  }
}

TEST_CASE("checks: the heights of a grid point up, whatever its file is called") {
  const std::vector<Override> grid{{"terrain.file", "rim.ASC"}, {"terrain.up", "y"}};
  CHECK_THAT(with_changes(grid), Contains("terrain.up: the heights of a grid always point up; remove `up`"));
  CHECK(with_changes({{"terrain.file", "rim.ASC"}, {"terrain.up", "z"}}) == "");
}

TEST_CASE("checks: an override cannot include a file, and says so") {
  CHECK_THAT(with_changes({{"machine.include", "other.yaml"}}), Contains("`include` works in files only"));
}
