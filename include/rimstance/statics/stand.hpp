#pragma once
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "rimstance/stance/ways_out.hpp"
#include "rimstance/statics/part_loads.hpp"
#include "rimstance/statics/stability.hpp"

namespace rimstance {

/// A criterion that does not hold. SI.
struct Violation {
  std::string criterion;  ///< tilt, stroke_left, wheel_clearance, belly_clearance, support, pad_tilt,
                          ///< leg_limit, structural, hoist, load_case:NAME
  std::string where;      ///< which foot, wheel, edge or state, in words
  double value = kUnset, limit = kUnset;
  std::string unit;     ///< of value and limit: "m", "rad", "N m", "" for shares
  std::string measure;  ///< of a load case: "restoring moment", "load-side share", ...; else empty
};

/// The machine at a spot: how it levels, where it touches, whether it is held down.
struct [[nodiscard]] Standing {
  Spot spot;  ///< as asked (map)
  Levelling levelling;
  std::vector<Contact> contacts;
  Stability stability;
  PartLoads parts;                    ///< what designers of the parts read off; Question::extremes only
  std::vector<Violation> violations;  ///< worst first
  std::vector<WayOut> ways_out;       ///< where it cannot be levelled
  double spacing = kUnset;  ///< of the terrain's posts around the coarsest pad, sqrt(2 mean facet area) [m]
  bool diagnostic = false;  ///< a pose that could not be levelled: numbers to learn from, not to work by
  bool ok() const { return violations.empty(); }
};

/// Places, levels and assesses. The spot must lie inside the terrain's extent (else InputError at
/// `spot.at`: the file is wrong); everything the ground or the machine refuses is in the result.
/// Question::verdict leaves out ways out, foot loads and leasts.
Standing stand(const Prepared&, const Terrain&, const Spot&, Question, const Control&,
               double gap = kDefaultGap);

/// What a search over stands asks of each.
struct Verdict {
  bool holds = false;            ///< stand() would find nothing violated
  std::int64_t evaluations = 0;  ///< effort, as Stability counts it
};
/// As cheap as Question::verdict where that fails; else the forces on the feet are asked too, where legs have
/// limits, first at the states in `doubtful` (where they were greatest elsewhere). Does not hold off the
/// terrain.
Verdict verdict(const Prepared&, const Terrain&, const Spot&, const Control&,
                std::span<const At> doubtful = {});

}  // namespace rimstance
