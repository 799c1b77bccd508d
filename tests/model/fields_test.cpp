#include "rimstance/model/fields.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "model/scenario_text.hpp"
#include "rigs.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using Catch::Contains;

namespace {

std::string refusal(const std::function<void()>& use) {
  try {
    use();
    return {};
  } catch (const InputError& error) {
    return error.what();
  }
}

}  // namespace

TEST_CASE("fields: every path reads back what was put there and nothing else changes by itself") {
  const Scenario before = *load(dunlin()).scenario;
  const std::vector<std::string> all = paths(before, "**");
  REQUIRE(all.size() > 250);
  CHECK(std::set<std::string>(all.begin(), all.end()).size() == all.size());
  for (const std::string& path : all) {
    CAPTURE(path);
    const double old = get(before, path);
    // Something inside the range of every key: small angles, shares, positive lengths, whole numbers.
    const double value =
        path.ends_with("units") || path.ends_with("cells") || path.ends_with("hoisting") ? 3.0 : 0.75;
    const auto after = with(before, path, value);
    REQUIRE(get(*after, path) == value);
    REQUIRE((get(before, path) == old || std::isnan(old)));
    int others = 0;
    for (const std::string& other : all) {
      const double x = get(before, other), y = get(*after, other);
      others += !(x == y || (std::isnan(x) && std::isnan(y)));
    }
    CHECK(others <= 4);  // the value, the ends of its interval, and what follows from it
  }
}

TEST_CASE("fields: paths match key by key, * for one of them") {
  const Scenario s = rigs::dunlin();
  const std::vector<std::string> splays{
      "machine.outriggers.front-left.splay", "machine.outriggers.front-right.splay",
      "machine.outriggers.rear-left.splay", "machine.outriggers.rear-right.splay"};
  CHECK(paths(s, "machine.outriggers.*.splay") == splays);
  CHECK(paths(s, "machine.outriggers.front-left.pivot.*").size() == 3);
  CHECK(paths(s, "machine.boom.sections.*.length") ==
        std::vector<std::string>{"machine.boom.sections.0.length", "machine.boom.sections.1.length"});
  CHECK(paths(s, "spot.yaw") == std::vector<std::string>{"spot.yaw"});
  CHECK(paths(s, "spot").empty());
  CHECK(paths(s, "").empty());
  CHECK(paths(s, "*").size() == 1);  // gravity
}

TEST_CASE("fields: values are SI, and what is not given is not a number") {
  const Scenario s = rigs::dunlin();
  CHECK(get(s, "machine.outriggers.front-left.splay") == s.machine.outriggers[0].splay);
  CHECK(get(s, "machine.container.units") == 6);
  CHECK(get(s, "operation.luff.hi") == s.operation.luff.hi);
  CHECK(get(s, "operation.counterweight") == 1.1);
  CHECK(std::isnan(get(s, "operation.luff")));  // two ends
  CHECK(std::isnan(get(s, "machine.boom.sections.0.bending_stiffness")));
  CHECK(get(s, "machine.chassis.belly.outline.2.x") == 0.8);
  CHECK(get(s, "criteria.load_cases.forward.load_factor") == 1.25);
  CHECK(get(s, "criteria.load_cases.unloaded.margin.load_side_share") == 0.15);
}

TEST_CASE("fields: an interval's own path moves both ends") {
  const auto s = with(rigs::dunlin(), "operation.counterweight", 0.4);
  CHECK((s->operation.travel.lo == 0.4 && s->operation.travel.hi == 0.4));
}

TEST_CASE("fields: what follows from a value follows it, what was written stays") {
  const Scenario text = *load(dunlin_with("  transit: { slew: \"[-180, 30] deg\", luff: 65 deg, extension: 0 "
                                          "m, payload: none, counterweight: \"[0, 1.1] m\" }\n",
                                          "  transit: { luff: 65 deg }\n"))
                             .scenario;
  const auto moved = with(text, "operation.slew.hi", radians(45));
  CHECK(moved->transit->slew.hi == radians(45));
  CHECK(with(text, "operation.luff.hi", radians(50))->transit->luff.hi == text.transit->luff.hi);
  const auto own =
      with(*with(text, "operation.transit.slew.hi", radians(10)), "operation.slew.hi", radians(45));
  CHECK(own->transit->slew.hi == radians(10));
  const auto mirrored = with(*with(text, "machine.outriggers.front-left.pivot.y", -0.45),
                             "machine.outriggers.front-left.pivot.x", -0.7);
  CHECK(mirrored->machine.outriggers[0].zero == kPi);
  CHECK(mirrored->machine.outriggers[0].sense == 1);
  CHECK(with(text, "gravity", 3.71)->gravity == 3.71);
}

TEST_CASE("fields: the same change by path and by override gives the same scenario") {
  const Scenario s = *load(dunlin()).scenario;
  const auto a = with(s, "machine.boom.sections.1.stroke", 2.5);
  const auto b =
      load(dunlin(), {{"machine.boom.sections.1.stroke", "2.5 m"}, {"operation.extension", "[0, 2.5] m"}})
          .scenario;
  const auto c = with(*a, "operation.extension.hi", 2.5);
  for (const std::string& path : paths(*b, "**")) {
    CAPTURE(path);
    const double x = get(*b, path), y = get(*c, path);
    CHECK((x == y || (std::isnan(x) && std::isnan(y))));
  }
}

TEST_CASE("fields: unknown paths and values out of range are refused") {
  const Scenario s = rigs::dunlin();
  CHECK_THAT(refusal([&] { (void)get(s, "machine.outriggers.front-left.splai"); }),
             Contains("there is no number of that name") &&
                 Contains("did you mean \"machine.outriggers.front-left.splay\"?"));
  CHECK_THAT(refusal([&] { (void)with(s, "nowhere", 1); }), Contains("there is no number of that name"));
  CHECK_THAT(refusal([&] { (void)with(s, "machine.outriggers.front-left.mass", 0); }),
             Contains("0 kg is out of range; allowed: over 0 kg"));
  CHECK_THAT(refusal([&] { (void)with(s, "machine.outriggers.front-left.mass", kUnset); }),
             Contains("the value is not finite"));
  CHECK_THAT(refusal([&] { (void)with(s, "machine.container.units", 2.5); }),
             Contains("is not a whole number"));
}

TEST_CASE("fields: disagreements are found in changed scenarios too") {
  const Scenario s = rigs::dunlin();
  CHECK(disagreements(s).empty());
  CHECK(disagreements(*with(s, "operation.luff.hi", radians(80))).size() == 1);
  CHECK(disagreements(*with(s, "operation.luff.lo", radians(70))).size() == 1);
  CHECK(disagreements(*with(s, "machine.outriggers.front-left.splay", radians(111))).size() == 1);
}

TEST_CASE("fields: facts give dimension, meaning and range") {
  const FieldFacts f = facts(rigs::dunlin(), "machine.outriggers.rear-left.pad_radius");
  CHECK(f.dimension == Dimension::length);
  CHECK(f.allowed == "over 0 m to 5 m");
  CHECK(!f.doc.empty());
}

TEST_CASE("fields: names that cannot stand in a path are addressed by index") {
  Scenario s = rigs::dunlin();
  s.machine.platform.bodies[0].name = "../a.b";
  s.machine.chassis.bodies[0].name = "7";
  CHECK(paths(s, "machine.platform.bodies.*.mass") ==
        std::vector<std::string>{"machine.platform.bodies.0.mass"});
  CHECK(get(s, "machine.chassis.bodies.0.mass") == 210);
}
