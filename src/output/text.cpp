#include "rimstance/output/text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";  // U+FFFD
constexpr std::uint32_t kInvalid = 0xFFFFFFFF;

struct Decoded {
  std::uint32_t code;  // kInvalid: `bytes` of malformed input
  std::size_t bytes;   // >= 1
};

std::uint8_t byte_at(std::string_view text, std::size_t i) { return static_cast<std::uint8_t>(text[i]); }

/// Allowed second byte for a lead byte (Unicode 15, table 3-7), which is where overlong forms,
/// surrogates and values beyond U+10FFFF are told apart.
struct Lead {
  std::size_t length;
  std::uint8_t second_lo, second_hi;
};
Lead lead(std::uint8_t b) {
  if (b < 0x80) return {1, 0, 0};
  if (b >= 0xC2 && b <= 0xDF) return {2, 0x80, 0xBF};
  if (b == 0xE0) return {3, 0xA0, 0xBF};
  if (b == 0xED) return {3, 0x80, 0x9F};
  if (b >= 0xE1 && b <= 0xEF) return {3, 0x80, 0xBF};
  if (b == 0xF0) return {4, 0x90, 0xBF};
  if (b >= 0xF1 && b <= 0xF3) return {4, 0x80, 0xBF};
  if (b == 0xF4) return {4, 0x80, 0x8F};
  return {0, 0, 0};
}

Decoded decode(std::string_view text, std::size_t at) {
  const std::uint8_t first = byte_at(text, at);
  const Lead want = lead(first);
  if (want.length == 0) return {kInvalid, 1};
  if (want.length == 1) return {first, 1};
  std::uint32_t code = first & (0x7Fu >> want.length);
  for (std::size_t k = 1; k < want.length; ++k) {
    const std::uint8_t lo = k == 1 ? want.second_lo : 0x80, hi = k == 1 ? want.second_hi : 0xBF;
    if (at + k >= text.size() || byte_at(text, at + k) < lo || byte_at(text, at + k) > hi)
      return {kInvalid, k};
    code = code << 6 | (byte_at(text, at + k) & 0x3Fu);
  }
  return {code, want.length};
}

/// Copies code point by code point; `mapped` says what stands in for one, or nothing to keep it.
template <class Mapped>
std::string transcribed(std::string_view text, const Mapped& mapped) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const Decoded c = decode(text, i);
    const std::string_view instead = c.code == kInvalid ? kReplacement : mapped(c.code);
    out += instead.empty() ? text.substr(i, c.bytes) : instead;
    i += c.bytes;
  }
  return out;
}

bool is_control(std::uint32_t code) {
  return code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0x2028 || code == 0x2029 ||
         (code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);  // also writing direction
}

std::string_view xml_entity(std::uint32_t code) {
  switch (code) {
    case '&':
      return "&amp;";
    case '<':
      return "&lt;";
    case '>':
      return "&gt;";
    case '"':
      return "&quot;";
    case '\'':
      return "&#39;";
    case '\t':
    case '\n':
    case '\r':
      return {};
    default:
      return code < 0x20 || code == 0xFFFE || code == 0xFFFF ? kReplacement : std::string_view{};
  }
}

}  // namespace

std::string valid_utf8(std::string_view text) {
  return transcribed(text, [](std::uint32_t) { return std::string_view{}; });
}

std::string one_line(std::string_view text) {
  return transcribed(text,
                     [](std::uint32_t code) { return is_control(code) ? kReplacement : std::string_view{}; });
}

std::size_t width(std::string_view text) {
  std::size_t points = 0;
  for (const char c : text) points += (static_cast<std::uint8_t>(c) & 0xC0) != 0x80;
  return points;
}

std::string fixed(double value, int decimals) {
  if (std::isnan(value)) return "-";
  expects(std::isfinite(value), "fixed: value is finite");
  std::array<char, 512> text{};
  const auto end =
      std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals).ptr;
  std::string out(text.data(), end);
  const bool all_zero = out.find_first_not_of("-0.") == std::string::npos;
  return all_zero && out.front() == '-' ? out.substr(1) : out;
}

std::string rounded(double value, int digits) {
  if (std::isnan(value)) return "-";
  expects(std::isfinite(value), "rounded: value is finite");
  const double size = std::abs(value);
  if (size != 0 && (size < 1e-4 || size >= 1e7)) {
    std::array<char, 64> text{};
    const auto end = std::to_chars(text.data(), text.data() + text.size(), value,
                                   std::chars_format::scientific, digits - 1)
                         .ptr;
    return std::string(text.data(), end);
  }
  const int before = size < 1e-4 ? 1 : static_cast<int>(std::floor(std::log10(size))) + 1;
  return fixed(value, std::max(0, digits - before));
}

std::string xml_escaped(std::string_view text) { return transcribed(text, xml_entity); }

}  // namespace rimstance
