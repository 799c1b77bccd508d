#include "rimstance/output/png.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cstdint>
#include <cstdlib>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "cases.hpp"
#include "draw.hpp"

using namespace rimstance;

namespace {

std::uint32_t word(const std::string& b, std::size_t at) {
  std::uint32_t w = 0;
  for (std::size_t k = 0; k < 4; ++k) w = w << 8 | static_cast<std::uint8_t>(b.at(at + k));
  return w;
}

/// Reads a deflate block of literals by the book (RFC 1951): codes in a map, one bit at a time.
class Inflate {
 public:
  explicit Inflate(std::string bytes) : bytes_(std::move(bytes)) {}
  std::string block() {
    REQUIRE(bits(1) == 1);
    REQUIRE(bits(2) == 2);
    const std::uint32_t literals = bits(5) + 257, distances = bits(5) + 1, meta = bits(4) + 4;
    const std::array<std::size_t, 19> order{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15};
    std::vector<int> lengths(19, 0);
    for (std::uint32_t k = 0; k < meta; ++k) lengths[order[k]] = static_cast<int>(bits(3));
    const Codes codes = assign(lengths);
    std::vector<int> all;
    while (all.size() < literals + distances) {
      const int length = symbol(codes);
      REQUIRE(length < 16);  // no repeats of lengths are written
      all.push_back(length);
    }
    const Codes text = assign({all.begin(), all.begin() + static_cast<std::ptrdiff_t>(literals)});
    std::string out;
    for (int s = symbol(text); s != 256; s = symbol(text)) {
      REQUIRE(s < 256);
      out += static_cast<char>(s);
    }
    return out;
  }
  std::size_t bytes_read() const { return (at_ + 7) / 8; }

 private:
  using Codes = std::map<std::pair<int, std::uint32_t>, int>;
  std::uint32_t bits(int n) {
    std::uint32_t value = 0;
    for (int k = 0; k < n; ++k, ++at_)
      value |= (static_cast<std::uint32_t>(static_cast<std::uint8_t>(bytes_.at(at_ / 8))) >> (at_ % 8) & 1u)
               << k;
    return value;
  }
  static Codes assign(const std::vector<int>& lengths) {
    Codes codes;
    std::uint32_t code = 0;
    double kraft = 0;
    for (int length = 1; length < 16; ++length, code <<= 1)
      for (std::size_t s = 0; s < lengths.size(); ++s)
        if (lengths[s] == length) {
          codes[{length, code++}] = static_cast<int>(s);
          kraft += 1.0 / (1 << length);
        }
    CHECK(kraft == 1.0);  // complete and not over-subscribed, as decoders demand
    return codes;
  }
  int symbol(const Codes& codes) {
    std::uint32_t code = 0;
    for (int length = 1; length < 16; ++length) {
      code = code << 1 | bits(1);
      if (const auto found = codes.find({length, code}); found != codes.end()) return found->second;
    }
    FAIL("no such code");
    return -1;
  }
  std::string bytes_;
  std::size_t at_ = 0;
};

/// Undoes the five filters as ISO/IEC 15948 clause 9 states them.
std::vector<std::uint8_t> unfiltered(const std::string& rows, int width, int height) {
  std::vector<std::uint8_t> out;
  const auto pixel = [&](int c, int r) {
    return c < 0 || r < 0 ? 0 : static_cast<int>(out[static_cast<std::size_t>(r * width + c)]);
  };
  for (int r = 0; r < height; ++r) {
    const auto row = static_cast<std::size_t>(r * (width + 1));
    for (int c = 0; c < width; ++c) {
      const int a = pixel(c - 1, r), b = pixel(c, r - 1), d = c > 0 ? pixel(c - 1, r - 1) : 0;
      const int p = a + b - d;
      int guess = 0;
      if (rows.at(row) == 1) guess = a;
      if (rows.at(row) == 2) guess = b;
      if (rows.at(row) == 3) guess = (a + b) / 2;
      if (rows.at(row) == 4)
        guess = std::abs(p - a) <= std::abs(p - b) && std::abs(p - a) <= std::abs(p - d) ? a
                : std::abs(p - b) <= std::abs(p - d)                                     ? b
                                                                                         : d;
      out.push_back(static_cast<std::uint8_t>(guess + rows.at(row + 1 + static_cast<std::size_t>(c))));
    }
  }
  return out;
}

std::vector<std::uint8_t> decoded(const std::string& png, int width, int height) {
  REQUIRE(png.substr(0, 8) == "\x89PNG\r\n\x1a\n");
  std::string data, kinds;
  for (std::size_t at = 8; at < png.size();) {
    const std::uint32_t size = word(png, at);
    const std::string body = png.substr(at + 4, size + 4);
    CHECK(crc32(body) == word(png, at + 8 + size));
    kinds += body.substr(0, 4) + ' ';
    if (body.substr(0, 4) == "IHDR") {
      CHECK(word(body, 4) == static_cast<std::uint32_t>(width));
      CHECK(word(body, 8) == static_cast<std::uint32_t>(height));
      CHECK(body.substr(12) == std::string("\x08\0\0\0\0", 5));
    }
    if (body.substr(0, 4) == "IDAT") data = body.substr(4);
    at += 12 + size;
  }
  CHECK(kinds == "IHDR tRNS IDAT IEND ");
  CHECK((static_cast<std::uint8_t>(data.at(0)) * 256 + static_cast<std::uint8_t>(data.at(1))) % 31 == 0);
  Inflate inflate(data.substr(2, data.size() - 6));
  const std::string rows = inflate.block();
  CHECK(inflate.bytes_read() == data.size() - 6);
  CHECK(adler32(rows) == word(data, data.size() - 4));
  return unfiltered(rows, width, height);
}

}  // namespace

TEST_CASE("png: the check sums are the standards'") {
  CHECK(crc32("123456789") == 0xCBF43926u);  // check value of CRC-32/ISO-HDLC, from memory
  CHECK(crc32("") == 0u);
  CHECK(adler32("") == 1u);                    // RFC 1950, section 9: the sum starts at 1
  CHECK(adler32("Wikipedia") == 0x11E60398u);  // worked example of the encyclopedia's article, from memory
}

TEST_CASE("png: base 64 gives the test vectors of RFC 4648, section 10") {
  CHECK(base64("") == "");
  CHECK(base64("f") == "Zg==");
  CHECK(base64("fo") == "Zm8=");
  CHECK(base64("foo") == "Zm9v");
  CHECK(base64("foobar") == "Zm9vYmFy");
  CHECK(base64("\xFF\xFE\xFD") == "//79");
}

TEST_CASE("png: an independent decoder gets every pixel back") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(46, number);
    const int width = draw.whole(1, 39), height = draw.whole(1, 19);
    GreyImage image{width, height, {}};
    const int kind = draw.whole(0, 2);
    for (int k = 0; k < width * height; ++k)
      image.levels.push_back(kind == 0 ? static_cast<std::uint8_t>(draw.bits())
                                       : static_cast<std::uint8_t>(kind * k));
    CHECK(decoded(to_png(image), width, height) == image.levels);
  }
}

TEST_CASE("png: one colour, and counts that ask for codes longer than the format allows, read back") {
  const GreyImage flat{30, 30, std::vector<std::uint8_t>(900, 7)};
  CHECK(decoded(to_png(flat), 30, 30) == flat.levels);
  // Fibonacci counts give the deepest Huffman tree: 22 levels where 15 are allowed. The commonest level
  // is 0 and the order is stirred, so the row is written as it is, without differences.
  std::vector<std::uint8_t> sorted;
  std::uint32_t a = 1, b = 1;
  for (int level = 21; level >= 0; --level) {
    sorted.insert(sorted.end(), a, static_cast<std::uint8_t>(level));
    a = std::exchange(b, a + b);
  }
  const std::size_t n = sorted.size(), stride = 7919;
  REQUIRE(n % stride != 0);  // a prime that does not divide n: every position is met once
  GreyImage steep{static_cast<int>(n), 1, {}};
  for (std::size_t i = 0; i < n; ++i) steep.levels.push_back(sorted[i * stride % n]);
  CHECK(decoded(to_png(steep), steep.width, 1) == steep.levels);
}
