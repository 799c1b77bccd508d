#pragma once
#include <cstdint>
#include <string>
#include <string_view>

namespace rimstance {

/// "1 point", "0 points", "7 points": a count with what it counts, in messages and tables. `many` is the
/// word, or the rest of the sentence, for every count but one; by default `one` with an s.
inline std::string counted(std::uint64_t n, std::string_view one, std::string_view many = {}) {
  std::string out = std::to_string(n) + ' ';
  out += n == 1 || many.empty() ? one : many;
  if (n != 1 && many.empty()) out += 's';
  return out;
}

/// The sentences of others without their last full stop, so that ours can go on.
inline std::string without_stop(std::string text) {
  while (!text.empty() && (text.back() == '.' || text.back() == ' ' || text.back() == '\n')) text.pop_back();
  return text;
}

}  // namespace rimstance
