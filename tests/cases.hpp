#pragma once
#include <charconv>
#include <cstdlib>
#include <string_view>

namespace rimstance {

/// How many random cases a property test draws: the environment's RIMSTANCE_CASES, else 200. The numbers
/// come from base/random with a seed of the test's own, so a longer run begins with the shorter one.
inline int cases() {
  const char* text = std::getenv("RIMSTANCE_CASES");
  if (text == nullptr) return 200;
  const std::string_view digits(text);
  int value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  return error == std::errc{} && end == digits.data() + digits.size() && value > 0 ? value : 200;
}

}  // namespace rimstance
