#pragma once
#include <cstdint>
#include <optional>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// How far a minimisation goes. `decide_at`: stop as soon as the sign of (minimum - decide_at) is
/// proven; else go on until the gap is reached.
struct SearchGoal {
  double gap = 0;
  std::optional<double> decide_at;
};

/// A minimum over a continuous set, with proof: the true minimum lies in [value - gap, value] and
/// `value` is attained at `at`. `evaluations` counts bounds and points computed.
template <class State>
struct [[nodiscard]] Certified {
  double value = kUnset;
  double gap = kUnset;
  State at{};
  std::int64_t evaluations = 0;
};

}  // namespace rimstance
