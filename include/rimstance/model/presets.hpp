#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/model/scenario.hpp"

namespace rimstance {

// What a scenario may call by name instead of writing it out. Presets are data: each says where its
// numbers come from, and keys written beside `preset` replace the preset's own (load_cases whole).
// Terrestrial criteria are used by analogy; a preset never claims that a standard is met.

struct CriteriaPreset {
  std::string name;
  std::string source;  ///< standard or practice; "from memory" where the text was not re-read
  Criteria criteria;
};
const std::vector<CriteriaPreset>& criteria_presets();

struct SoilPreset {
  std::string name;
  std::string source;
  Soil soil;
};
const std::vector<SoilPreset>& soil_presets();

struct GravityPreset {
  std::string name;
  std::string source;
  double value;  ///< at the surface [m/s2]
};
const std::vector<GravityPreset>& gravity_presets();

/// The preset of that name, or null.
const CriteriaPreset* find_criteria(std::string_view name);
const SoilPreset* find_soil(std::string_view name);
const GravityPreset* find_gravity(std::string_view name);

}  // namespace rimstance
