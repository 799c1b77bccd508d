#pragma once
#include <span>
#include <string>
#include <string_view>

#include "rimstance/model/scenario.hpp"

namespace rimstance {

/// `--set path=value`; the value is YAML, units and all.
struct Override {
  std::string path, value;
};

/// Reads a scenario with its includes (relative to the file that names them), lays the overrides over
/// it, fills defaults and presets, checks units, ranges and what must agree.
/// Throws InputError with all issues of the input (at most 100), each with file:line:column.
/// Terrain itself is not read: see load_terrain().
Document load_scenario(const std::string& file, std::span<const Override> = {});

/// The same from text; `name` stands for the file in messages and for relative paths.
Document load_scenario_text(std::string_view yaml, const std::string& name, std::span<const Override> = {});

}  // namespace rimstance
