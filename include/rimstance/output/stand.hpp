#pragma once
#include <optional>
#include <string>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "rimstance/output/value.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/study/unloading.hpp"
#include "rimstance/study/remedies.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// What every result says first: program, command, scenario with its hash and overrides.
Members result_head(const std::string& command, const Document&);

/// Rows of a travel schedule; `first`: what moves first from a row to the next, "boom" or "cabinets".
Values schedule_rows(const Schedule&);

/// What studies have to say beside a standing.
struct Beside {
  std::vector<Remedy> remedies;  ///< where it is not ok
  std::optional<Unloading> unloading;
};

/// A standing described by keys: pose, levelling, feet, support polygon, masses, worst state, state at the
/// job, leasts, load cases, what was not evaluated and what was assumed. Map coordinates, degrees.
Value describe(const Standing&, const Prepared&, const Document&, const LoadedTerrain&, const Beside& = {});

/// The same for reading, worst things first, from that description.
std::string standing_text(const Value& described);

}  // namespace rimstance
