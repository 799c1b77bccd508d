// Numbers in text: the fast ways against the standard library's.
#include <bit>
#include <charconv>
#include <cstdint>

#include "decimal.hpp"
#include "targets.hpp"

namespace {

using fuzz::require;

void check_decimal(std::string_view text) {
  const char* const last = text.data() + text.size();
  double fast = 0, slow = 0;
  const auto a = rimstance::read_decimal(text.data(), last, fast);
  const auto b = std::from_chars(text.data(), last, slow);
  require(a.ec == b.ec && a.ptr == b.ptr, "a number ends where the standard library says");
  require(std::bit_cast<std::uint64_t>(fast) == std::bit_cast<std::uint64_t>(slow),
          "a number is the same bit by bit");
}

void check_digits(std::string_view text) {
  if (text.size() < 8) return;
  std::uint32_t fast = 0, slow = 0;
  const int count = rimstance::read_few_digits(text.data(), fast);
  const auto end = std::from_chars(text.data(), text.data() + 8, slow).ptr;
  const bool starts = text[0] >= '0' && text[0] <= '9';
  require(count == (starts ? end - text.data() : 0), "digits are counted");
  require(!starts || fast == slow, "a whole number is the same");
}

}  // namespace

/// Every start of a number in the text.
void fuzz::number(std::string_view bytes) {
  for (std::size_t i = 0; i < bytes.size(); i += bytes.size() / 8 + 1) {
    check_decimal(bytes.substr(i));
    check_digits(bytes.substr(i));
  }
}
