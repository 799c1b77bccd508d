#include "rimstance/model/presets.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace rimstance;
using Catch::Contains;

TEST_CASE("presets: every one says where its numbers come from, by analogy where the rule is terrestrial") {
  for (const CriteriaPreset& p : criteria_presets()) {
    CAPTURE(p.name);
    CHECK(p.criteria.preset == p.name);
    CHECK(find_criteria(p.name) == &p);
    CHECK_THAT(p.source, Contains("from memory"));
    CHECK_FALSE(p.criteria.load_cases.empty());
    for (const LoadCase& c : p.criteria.load_cases) CHECK_FALSE(c.source.empty());
  }
  for (const char* name : {"tipping-85", "tipping-75", "load-125"})
    CHECK_THAT(find_criteria(name)->criteria.load_cases[0].source, Contains("by analogy"));
  for (const SoilPreset& p : soil_presets()) CHECK_FALSE(p.source.empty());
  for (const GravityPreset& p : gravity_presets()) CHECK_FALSE(p.source.empty());
  CHECK(find_criteria("none") == nullptr);
}

TEST_CASE("presets: standard gravity is that of the 3rd CGPM (1901)") {
  CHECK(find_gravity("earth")->value == 9.80665);
}

TEST_CASE("presets: a load-side share of 15 % is a centre of mass at 0.70 of the way to the rear line") {
  // s = (1 + x / a) / 2 for two parallel lines at +-a; the crawler rule of ASME B30.5 (from memory) is 0.70.
  for (const LoadCase& c : find_criteria("study-default")->criteria.load_cases)
    if (const auto it = c.margin.find(MarginKind::load_side_share); it != c.margin.end())
      CHECK((1 - 0.70) / 2 == Approx(it->second));
}

TEST_CASE("presets: disturbed soil is weaker than soil in place") {
  const Soil &loose = find_soil("lunar-disturbed")->soil, &firm = find_soil("lunar-in-situ-30cm")->soil;
  CHECK(loose.cohesion < firm.cohesion);
  CHECK(loose.friction_angle < firm.friction_angle);
  CHECK(loose.density < firm.density);
}
