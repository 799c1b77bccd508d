#include "rimstance/base/utf8.hpp"

namespace rimstance {

std::size_t utf8_length(std::string_view s) {
  const auto byte = [&](std::size_t i) { return i < s.size() ? static_cast<unsigned char>(s[i]) : 0u; };
  const unsigned first = byte(0);
  if (first < 0x80) return 1;
  const std::size_t length = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : 2;
  if (first < 0xC2 || first > 0xF4 || s.size() < length) return 0;
  for (std::size_t i = 1; i < length; ++i)
    if ((byte(i) & 0xC0) != 0x80) return 0;
  const unsigned second = byte(1);
  const bool overlong = (first == 0xE0 && second < 0xA0) || (first == 0xF0 && second < 0x90);
  const bool beyond = (first == 0xED && second > 0x9F) || (first == 0xF4 && second > 0x8F);
  return overlong || beyond ? 0 : length;
}

bool steers_terminal(std::string_view c) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(c[i]); };
  if (c.size() == 1) return byte(0) < 0x20 || byte(0) == 0x7F;
  if (c.size() == 2) return byte(0) == 0xC2 && byte(1) < 0xA0;  // U+0080 to U+009F
  if (c.size() != 3 || byte(0) != 0xE2) return false;
  const unsigned low = (byte(1) & 0x3Fu) << 6 | (byte(2) & 0x3Fu);  // U+2000 + low
  return (low >= 0x28 && low <= 0x2E) || (low >= 0x66 && low <= 0x69);
}

std::string printable(std::string_view text) {
  constexpr std::string_view kHex = "0123456789ABCDEF";
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const std::size_t valid = utf8_length(text);
    const std::string_view c = text.substr(0, valid > 0 ? valid : 1);
    text.remove_prefix(c.size());
    if (valid > 0 && !steers_terminal(c)) {
      out += c;
      continue;
    }
    for (const char raw : c) {
      const auto byte = static_cast<unsigned char>(raw);
      ((out += "\\x") += kHex[byte >> 4]) += kHex[byte & 15];
    }
  }
  return out;
}

}  // namespace rimstance
