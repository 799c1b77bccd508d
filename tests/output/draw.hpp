#pragma once
#include <cstdint>
#include <string>
#include <string_view>

#include "rimstance/base/random.hpp"

namespace rimstance {

/// Whole numbers and bytes of one test case: fixed by (seed, number of the case), so a failure can be
/// repeated.
class Draws {
 public:
  Draws(std::uint64_t seed, int number) : seed_(seed), number_(static_cast<std::uint64_t>(number)) {}
  std::uint64_t bits() { return random_bits(seed_, number_, next_++); }
  /// From lo to hi, both included.
  int whole(int lo, int hi) {
    return lo + static_cast<int>(bits() % static_cast<std::uint64_t>(hi - lo + 1));
  }
  /// Any bytes, those that UTF-8 gives a meaning more often than by chance.
  std::string bytes(int longest) {
    constexpr std::string_view telling =
        "\xE2\x82\xAC\xF0\x9F\x8C\x91\xC3\xA9\xED\xA0\xF4\x90\"\\<&\n\x1B"
        "a";
    std::string out(static_cast<std::size_t>(whole(0, longest)), ' ');
    for (char& c : out)
      c = whole(0, 1) == 0 ? static_cast<char>(bits())
                           : telling[static_cast<std::size_t>(bits() % telling.size())];
    return out;
  }

 private:
  std::uint64_t seed_, number_, next_ = 0;
};

}  // namespace rimstance
