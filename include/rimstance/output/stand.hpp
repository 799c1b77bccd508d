#pragma once
#include <string>

#include "rimstance/model/scenario.hpp"
#include "rimstance/output/value.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// What every result says first: program, command, scenario with its hash and overrides.
Members result_head(const std::string& command, const Document&);

/// A standing described by keys: pose, levelling, feet, support polygon, masses, worst state, state at the
/// job, leasts, load cases, what was not evaluated and what was assumed. Map coordinates, degrees.
Value describe(const Standing&, const Prepared&, const Document&, const LoadedTerrain&);

/// The same for reading, worst things first, from that description.
std::string standing_text(const Value& described);

}  // namespace rimstance
