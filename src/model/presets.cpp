#include "rimstance/model/presets.hpp"

#include <algorithm>

namespace rimstance {

namespace {

constexpr const char* kForwardSource =
    "by analogy with ISO 4305 (static, on outriggers): 1.25 P + 0.1 F on the machine's balance; F is the "
    "boom's first moment about its foot pin over its length; coefficients from memory";
constexpr const char* kBackwardSource =
    "by analogy with ASME B30.5 5-1.1.2 and SAE J1289: at least 15 % of the weight on the load side; from "
    "memory. Equal to a centre of mass within 0.70 of the way to the rear line";
constexpr const char* kReleaseSource =
    "full elastic rebound of the boom when the load is lost (k = 1), held to the backward share; from memory";
constexpr const char* kSnagSource =
    "the hoist pulling against a load that cannot move; 1.25 of the rated line pull as its stall, common "
    "practice, from memory";

LoadCase forward(double load_factor, double boom_factor, std::string source) {
  LoadCase c;
  c.name = "forward";
  c.source = std::move(source);
  c.load_factor = load_factor;
  c.boom_factor = boom_factor;
  c.margin[MarginKind::moment] = 0;
  return c;
}

LoadCase backward(std::string name, const char* source) {
  LoadCase c;
  c.name = std::move(name);
  c.source = source;
  c.margin[MarginKind::load_side_share] = 0.15;
  return c;
}

Criteria study_default() {
  Criteria c;
  c.preset = "study-default";
  c.allowed_tilt = radians(0.5);
  c.stroke_left = 0.020;
  c.wheel_clearance = 0.020;
  c.foot_limits = true;
  c.bearing = 2.0;
  c.slip = 1.5;
  c.slope = 1.5;
  LoadCase unloaded = backward("unloaded", kBackwardSource);
  unloaded.payload = false;
  LoadCase released = backward("released", kReleaseSource);
  released.release = 1.0;
  LoadCase head_down = backward("head-down", kBackwardSource);
  head_down.payload = false;
  head_down.head_down = true;
  LoadCase snag;
  snag.name = "snag";
  snag.source = kSnagSource;
  snag.stall = 1.25;
  snag.margin[MarginKind::moment] = 0;
  c.load_cases = {forward(1.25, 0.1, kForwardSource), unloaded, released, head_down, snag};
  return c;
}

Criteria by_tipping_load(const std::string& preset, double share, const std::string& source) {
  Criteria c;
  c.preset = preset;
  c.allowed_tilt = radians(0.5);
  LoadCase load;
  load.name = "by-tipping-load";
  load.source = source;
  load.tipping_load = share;
  load.margin[MarginKind::moment] = 0;
  c.load_cases = {load};
  return c;
}

Criteria load_125() {
  Criteria c;
  c.preset = "load-125";
  c.allowed_tilt = radians(0.5);
  c.load_cases = {forward(1.25, 0.1, kForwardSource)};
  return c;
}

Soil soil(const char* preset, double density, double cohesion, double friction_deg, double k_c, double k_phi,
          double n) {
  Soil s;
  s.preset = preset;
  s.density = density;
  s.cohesion = cohesion;
  s.friction_angle = radians(friction_deg);
  s.k_c = k_c;
  s.k_phi = k_phi;
  s.n = n;
  return s;
}

template <class Preset>
const Preset* find(const std::vector<Preset>& presets, std::string_view name) {
  const auto it =
      std::find_if(presets.begin(), presets.end(), [&](const Preset& p) { return p.name == name; });
  return it == presets.end() ? nullptr : &*it;
}

}  // namespace

const std::vector<CriteriaPreset>& criteria_presets() {
  static const std::string k85 =
      "85 % of the tipping load on outriggers: rating practice of mobile cranes (SAE J765 balance point with "
      "the percentages of ASME B30.5; a public training manual repeats them), by analogy; the percentage "
      "table "
      "itself from memory";
  static const std::string k75 =
      "75 % of the tipping load: rating practice for crawlers and for work on tyres (a public training "
      "manual "
      "and load charts repeat it), by analogy; the percentage table itself from memory";
  static const std::vector<CriteriaPreset> presets{
      {"study-default",
       "1.25 P + 0.1 F forward and a 15 % load-side share backward, each with its source in its load case; "
       "tilt 0.5 deg, 20 mm of stroke and 20 mm under the wheels, slip and slope 1.5: common practice; "
       "bearing "
       "factor 2.0: foundation practice is 2 to 3, from memory",
       study_default()},
      {"tipping-85", k85, by_tipping_load("tipping-85", 0.85, k85)},
      {"tipping-75", k75, by_tipping_load("tipping-75", 0.75, k75)},
      {"load-125", kForwardSource, load_125()}};
  return presets;
}

const std::vector<SoilPreset>& soil_presets() {
  static const char* kModuli =
      "; pressure-sinkage k_c 1.4 kN/m2, k_phi 820 kN/m3, n 1 as quoted from the Lunar Sourcebook (Heiken, "
      "Vaniman & French 1991, ch. 9) in later mobility studies, read second-hand";
  static const std::vector<SoilPreset> presets{
      {"lunar-disturbed",
       std::string("trafficability set: cohesion 0.17 kPa, friction 35 deg, density 1500 kg/m3") + kModuli,
       soil("lunar-disturbed", 1500, 170, 35, 1400, 820e3, 1)},
      {"lunar-in-situ-15cm",
       std::string("mean of the upper 15 cm in place: 1.50 g/cm3, 0.52 kPa, 42 deg") + kModuli,
       soil("lunar-in-situ-15cm", 1500, 520, 42, 1400, 820e3, 1)},
      {"lunar-in-situ-30cm",
       std::string("mean of the upper 30 cm in place: 1.58 g/cm3, 0.90 kPa, 46 deg") + kModuli,
       soil("lunar-in-situ-30cm", 1580, 900, 46, 1400, 820e3, 1)}};
  return presets;
}

const std::vector<GravityPreset>& gravity_presets() {
  static const std::vector<GravityPreset> presets{
      {"moon", "mean surface value, from memory (1.62; 1.624 in some tables)", 1.62},
      {"mars", "mean surface value, from memory", 3.71},
      {"earth", "standard acceleration of free fall, 3rd CGPM 1901", 9.80665}};
  return presets;
}

const CriteriaPreset* find_criteria(std::string_view name) { return find(criteria_presets(), name); }
const SoilPreset* find_soil(std::string_view name) { return find(soil_presets(), name); }
const GravityPreset* find_gravity(std::string_view name) { return find(gravity_presets(), name); }

}  // namespace rimstance
