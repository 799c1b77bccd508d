// What hangs in a load case.
#include "rimstance/loads/load_case.hpp"

#include <catch2/catch.hpp>

#include "rigs.hpp"

namespace rimstance {
namespace {

Hoist hoist() {
  Hoist h;
  h.head_mass = 6;
  h.line_mass = 0.05;
  h.line_length = 60;
  return h;
}

}  // namespace

TEST_CASE("1.25 P + 0.1 F multiplies payload, head and line alike") {
  // ISO 4305, static on outriggers; coefficients from memory. "Load" includes the hook block (ASME B30.5).
  LoadCase c;
  c.load_factor = 1.25;
  c.boom_factor = 0.1;
  const Hung h = hung(c, hoist(), 14, true);
  CHECK(h.fixed == Approx(1.25 * (14 + 6)).epsilon(1e-15));
  CHECK(h.per_line == Approx(1.25 * 0.05).epsilon(1e-15));
  CHECK(h.boom_factor == 0.1);
  CHECK(h.pull == 0);
}

TEST_CASE("85 % of the tipping load is the load factor 1/0.85, with no share of the boom") {
  // Rated at 85 % of the balance load (mobile cranes on outriggers; public training manual after SAE J765).
  LoadCase percent, factor;
  percent.tipping_load = 0.85;
  percent.boom_factor = 0.1;
  factor.load_factor = 1 / 0.85;
  const Hung p = hung(percent, hoist(), 14, true), f = hung(factor, hoist(), 14, true);
  CHECK(p.fixed == f.fixed);
  CHECK(p.per_line == f.per_line);
  CHECK(p.boom_factor == 0);
}

TEST_CASE(
    "unloaded keeps head and line; head down leaves only the hanging line; in transit nothing is carried") {
  LoadCase unloaded;
  unloaded.payload = false;
  CHECK(hung(unloaded, hoist(), 14, true).fixed == 6);
  LoadCase head_down = unloaded;
  head_down.head_down = true;
  CHECK(hung(head_down, hoist(), 14, true).fixed == 0);
  CHECK(hung(head_down, hoist(), 14, true).per_line == 0.05);
  CHECK(hung(LoadCase{}, hoist(), 14, false).fixed == 6);
  CHECK(payload_hangs(LoadCase{}, true));
  CHECK(!payload_hangs(LoadCase{}, false));
  CHECK(!payload_hangs(unloaded, true));
}

TEST_CASE("a release pulls up with k times the payload while head and line still hang") {
  LoadCase c;
  c.release = 0.6;
  const Hung h = hung(c, hoist(), 14, true);
  CHECK(h.pull == Approx(0.6 * 14).epsilon(1e-15));
  CHECK(h.fixed == 6);
  CHECK(h.per_line == 0.05);
  CHECK(hung(c, hoist(), 14, false).pull == 0);
}

TEST_CASE("a case that states no margin asks that the machine be held down at all") {
  const auto margin = required_margin(LoadCase{});
  REQUIRE(margin.size() == 1);
  CHECK(margin.at(MarginKind::moment) == 0);
  LoadCase c;
  c.margin[MarginKind::load_side_share] = 0.15;
  CHECK(required_margin(c) == c.margin);
}

TEST_CASE("a case that cannot be computed says why: swing, and a stall of a hoist whose pull is not known") {
  LoadCase snag, physics, stated, swing, release;
  snag.stall = 1.25;
  stated.hoisting = 1.1;
  physics.hoisting_computed = true;
  swing.swing = true;
  release.release = 1;
  Hoist pulls;
  pulls.line_pull = 100;
  for (const LoadCase& c : {LoadCase{}, snag, stated, physics, release}) CHECK(evaluated(c, pulls));
  CHECK_THAT(not_evaluated(swing, pulls), Catch::Contains("swing"));
  CHECK_THAT(not_evaluated(snag, Hoist{}), Catch::Contains("hoist.line_pull"));
  for (const LoadCase& c : {LoadCase{}, stated, physics, release}) CHECK(evaluated(c, Hoist{}));
}

TEST_CASE("a stalled hoist pulls down with its share of the line pull, in place of all that hangs") {
  Scenario s = rigs::dunlin();
  s.machine.hoist.line_pull = 140;
  LoadCase c;
  c.stall = 1.25;
  c.boom_factor = 0.1;
  const Hung h = hung(resolved(c, s), s.machine.hoist, 14, true);
  CHECK(h.pull == Approx(-1.25 * 140 / 1.62).epsilon(1e-15));
  CHECK(h.fixed == 0);
  CHECK(h.per_line == 0);
  CHECK(h.boom_factor == 0.1);
  // A force: the same newtons on Earth are fewer kilograms, and the payload does not matter.
  s.gravity = 9.80665;
  CHECK(hung(resolved(c, s), s.machine.hoist, 500, false).pull == Approx(-1.25 * 140 / 9.80665));
}

TEST_CASE("a hoisting factor multiplies payload, head and line, and any factor of the case") {
  LoadCase c;
  c.hoisting = 1.3;
  c.load_factor = 1.25;
  const Hung h = hung(c, hoist(), 14, true);
  CHECK(h.fixed == Approx(1.25 * 1.3 * (14 + 6)).epsilon(1e-15));
  CHECK(h.per_line == Approx(1.25 * 1.3 * 0.05).epsilon(1e-15));
}

TEST_CASE("the shipped percentages and coefficients are those of their sources") {
  // 85 % on outriggers and 75 % on crawlers (training manual quoting the percentages of ASME B30.5; the
  // table itself from memory); 1.25 P + 0.1 F (ISO 4305, from memory); 15 % load-side share (ASME B30.5
  // 5-1.1.2 / SAE J1289, from memory).
  CHECK(find_criteria("tipping-85")->criteria.load_cases.at(0).tipping_load == 0.85);
  CHECK(find_criteria("tipping-75")->criteria.load_cases.at(0).tipping_load == 0.75);
  const Criteria study = find_criteria("study-default")->criteria;
  for (const LoadCase& c : study.load_cases)
    if (c.name == "forward") {
      CHECK(c.load_factor == 1.25);
      CHECK(c.boom_factor == 0.1);
      CHECK(c.margin.at(MarginKind::moment) == 0);
    } else if (!std::isfinite(c.stall)) {
      CHECK(c.margin.at(MarginKind::load_side_share) == 0.15);
    }
}

}  // namespace rimstance
