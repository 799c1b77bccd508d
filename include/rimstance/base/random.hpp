#pragma once
#include <cmath>
#include <cstdint>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// Counter-based random numbers: a pure function of (seed, stream, index), so the same numbers come
/// on any number of threads and in any order. Mixing: the finaliser of splitmix64 (Steele, Lea &
/// Flood, OOPSLA 2014), applied to the three words in turn.
inline std::uint64_t random_bits(std::uint64_t seed, std::uint64_t stream, std::uint64_t index) {
  const auto mix = [](std::uint64_t z) {
    z += 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  };
  return mix(mix(mix(seed) ^ stream) ^ index);
}

/// In [0, 1), 53 bits.
inline double random_uniform(std::uint64_t seed, std::uint64_t stream, std::uint64_t index) {
  return static_cast<double>(random_bits(seed, stream, index) >> 11) * 0x1.0p-53;
}

/// Standard normal (Box & Muller 1958); uses the indices 2 i and 2 i + 1.
inline double random_normal(std::uint64_t seed, std::uint64_t stream, std::uint64_t index) {
  const double u = 1.0 - random_uniform(seed, stream, 2 * index);  // in (0, 1]
  return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * kPi * random_uniform(seed, stream, 2 * index + 1));
}

}  // namespace rimstance
