#pragma once
#include <array>
#include <bit>
#include <charconv>
#include <cstdint>
#include <cstring>

namespace rimstance {

/// std::from_chars for a double, the same result bit by bit, faster for the numbers that files hold: an
/// optional minus, digits, and digits behind a point. Where the digits as a whole number m fit 53 bits and k
/// of them, at most 22, stand behind the point, m and 10^k are doubles exactly, and one division rounds
/// correctly (W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990). All else -
/// exponents, long digit strings, infinities, nonsense - goes to std::from_chars.
inline std::from_chars_result read_decimal(const char* first, const char* last, double& value) {
  constexpr std::array<double, 20> kPowers = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,
                                              1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19};
  const auto is_digit = [last](const char* c) { return c != last && *c >= '0' && *c <= '9'; };
  const bool negative = first != last && *first == '-';
  const char* const start = negative ? first + 1 : first;
  const char* at = start;
  std::uint64_t digits = 0;
  for (; is_digit(at); ++at) digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
  std::size_t count = static_cast<std::size_t>(at - start), behind = 0;
  if (at != last && *at == '.') {
    const char* const point = at++;
    for (; is_digit(at); ++at) digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
    behind = static_cast<std::size_t>(at - point) - 1;
    count += behind;
  }
  const bool exponent = at != last && (*at == 'e' || *at == 'E');
  // Nineteen digits cannot overflow 64 bits.
  if (count == 0 || count > 19 || digits > std::uint64_t{1} << 53 || exponent)
    return std::from_chars(first, last, value);
  const double magnitude = static_cast<double>(digits) / kPowers[behind];
  value = negative ? -magnitude : magnitude;
  return {at, std::errc{}};
}

/// The whole number at `at`, where eight bytes can be read, up to its eighth digit; returns how many digits
/// were read. All at once: they become bytes 0 to 9, zeros are pushed in before the first, and neighbours are
/// added up to pairs and fours.
inline int read_few_digits(const char* at, std::uint32_t& number) {
  constexpr std::uint64_t kEach = 0x0101010101010101;
  std::uint64_t bytes;
  std::memcpy(&bytes, at, sizeof bytes);
  if constexpr (std::endian::native == std::endian::big) bytes = __builtin_bswap64(bytes);
  const std::uint64_t values = bytes ^ ('0' * kEach);
  const std::uint64_t others = (((values & (0x7f * kEach)) + 0x76 * kEach) | values) & (0x80 * kEach);
  const int count = others == 0 ? 8 : std::countr_zero(others) / 8;
  if (count == 0) return 0;
  std::uint64_t sum = values << (64 - 8 * count);
  sum = (sum * 10 + (sum >> 8)) & 0x00ff00ff00ff00ff;
  sum = (sum * 100 + (sum >> 16)) & 0x0000ffff0000ffff;
  number = static_cast<std::uint32_t>(sum * 10'000 + (sum >> 32));
  return count;
}

}  // namespace rimstance
