#pragma once
#include <cstdint>
#include <string>

#include "rimstance/base/random.hpp"

namespace rimstance {

/// Random numbers of one test case: fixed by (seed, number of the case), so a failure can be repeated.
struct Draw {
  std::uint64_t seed, number, next = 0;
  double in(double lo, double hi) { return lo + (hi - lo) * random_uniform(seed, number, next++); }
  std::string text() const { return "seed " + std::to_string(seed) + ", case " + std::to_string(number); }
};

}  // namespace rimstance
