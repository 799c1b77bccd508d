#include "../../src/terrain/decimal.hpp"

#include <fmt/format.h>

#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "rimstance/base/random.hpp"

using namespace rimstance;

namespace {

/// Does read_decimal() do what std::from_chars does: the same bits, the same stop, the same error?
bool as_from_chars(const std::string& text) {
  double ours = 7, theirs = 7;
  const auto a = read_decimal(text.data(), text.data() + text.size(), ours);
  const auto b = std::from_chars(text.data(), text.data() + text.size(), theirs);
  return a.ptr == b.ptr && a.ec == b.ec &&
         (std::bit_cast<std::uint64_t>(ours) == std::bit_cast<std::uint64_t>(theirs) ||
          (std::isnan(ours) && std::isnan(theirs)));
}

std::string drawn_digits(std::uint64_t draw, std::uint64_t most) {
  const auto count = static_cast<std::uint64_t>(random_uniform(1, draw, 0) * static_cast<double>(most + 1));
  std::string digits;
  for (std::uint64_t k = 1; k <= count; ++k)
    digits += static_cast<char>('0' + static_cast<int>(10 * random_uniform(1, draw, k)));
  return digits;
}

/// Decimals of every shape: long and short, with and without sign, point, exponent and something behind.
std::string drawn_decimal(std::uint64_t draw) {
  const double shape = random_uniform(2, draw, 0);
  std::string text = random_uniform(2, draw, 1) < 0.4 ? "-" : "";
  text += drawn_digits(3 * draw, shape < 0.2 ? 25 : 8);
  if (random_uniform(2, draw, 2) < 0.7) text += "." + drawn_digits(3 * draw + 1, shape > 0.8 ? 25 : 8);
  if (random_uniform(2, draw, 3) < 0.1)
    text += (random_uniform(2, draw, 4) < 0.5 ? "e" : "E-") + drawn_digits(3 * draw + 2, 3);
  constexpr const char* kBehind[] = {"", " ", "\n", ".", "x", "-1", "+"};
  return text + kBehind[static_cast<int>(7 * random_uniform(2, draw, 5))];
}

}  // namespace

TEST_CASE("decimals: a million of all shapes are read to the bit as the standard library reads them") {
  std::size_t wrong = 0;
  for (std::uint64_t draw = 0; draw < 1'000'000; ++draw) {
    const std::string text = drawn_decimal(draw);
    if (as_from_chars(text) || ++wrong > 5) continue;
    INFO(text);
    CHECK(as_from_chars(text));
  }
  CHECK(wrong == 0);
}

TEST_CASE("decimals: the ends of the exact range are read as the standard library reads them") {
  // 2^53 and its neighbours; 19 and 20 digits; negative zero; nothing, half a number, no number.
  for (const char* const text : {"9007199254740991",
                                 "9007199254740992",
                                 "9007199254740993",
                                 "900719925474.0992",
                                 "-9007199254740.993",
                                 "9223372036854775807",
                                 "18446744073709551616",
                                 "0.9007199254740993",
                                 "1.0000000000000000000",
                                 "0.0000000000000000001",
                                 "0.00000000000000000001",
                                 "123456789012345678901234567890",
                                 "-0",
                                 "-0.0",
                                 "0",
                                 "",
                                 "-",
                                 ".",
                                 "-.",
                                 ".5",
                                 "5.",
                                 "-.5e3",
                                 "1e",
                                 "1e+",
                                 "1e5",
                                 "1E-5",
                                 "1e400",
                                 "1e-400",
                                 "inf",
                                 "-inf",
                                 "nan",
                                 "-nan",
                                 "infinity",
                                 "+1",
                                 "--1",
                                 " 1",
                                 "0x10",
                                 "1_0",
                                 "1,5",
                                 "1.5.5",
                                 "00012.50",
                                 "4.35",
                                 "0.1"}) {
    INFO(text);
    CHECK(as_from_chars(text));
  }
}

TEST_CASE("decimals: up to eight digits are read at once, from whatever stands behind them") {
  for (std::uint64_t draw = 0; draw < 100'000; ++draw) {
    const std::string digits = drawn_digits(draw, 8);
    std::string text = digits;
    for (std::uint64_t k = 0; text.size() < 8; ++k) {
      const auto byte = static_cast<char>(static_cast<unsigned char>(256 * random_uniform(4, draw, k)));
      text += k == 0 && byte >= '0' && byte <= '9' ? '/' : byte;
    }
    std::uint32_t ours = 0, theirs = 0;
    const int count = read_few_digits(text.data(), ours);
    (void)std::from_chars(digits.data(), digits.data() + digits.size(), theirs);
    INFO(digits);
    REQUIRE(count == static_cast<int>(digits.size()));
    REQUIRE((count == 0 || ours == theirs));
  }
}
