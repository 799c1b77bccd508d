#include "cases.hpp"

#include <charconv>
#include <cstdlib>
#include <string>
#include <string_view>

namespace rimstance {
namespace {

int from_environment(const char* name, int otherwise) {
  const char* text = std::getenv(name);
  if (text == nullptr) return otherwise;
  const std::string_view digits(text);
  int value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  return error == std::errc{} && end == digits.data() + digits.size() && value > 0 ? value : otherwise;
}

// rapidcheck reads RC_PARAMS at its first property, which is after this. Left alone if already set.
const bool rapidcheck_told = [] {
  const std::string params = "max_success=" + std::to_string(cases()) +
                             " seed=" + std::to_string(from_environment("RIMSTANCE_SEED", 1));
  return setenv("RC_PARAMS", params.c_str(), 0) == 0;
}();

}  // namespace

int cases() { return from_environment("RIMSTANCE_CASES", 200); }

}  // namespace rimstance
