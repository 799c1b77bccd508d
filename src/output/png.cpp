#include "rimstance/output/png.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <queue>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

// ---- RFC 1951: one block with dynamic Huffman codes, literals only ------------------------------

class Bits {
 public:
  void put(std::uint32_t value, int count) {  // least significant bit first
    for (int k = 0; k < count; ++k) bit(value >> k & 1);
  }
  void put_code(std::uint32_t code, int count) {  // Huffman codes: most significant bit first
    for (int k = count - 1; k >= 0; --k) bit(code >> k & 1);
  }
  std::string finish() {
    while (used_ != 0) bit(0);
    return std::move(out_);
  }

 private:
  void bit(std::uint32_t b) {
    byte_ = static_cast<std::uint8_t>(byte_ | b << used_);
    if (++used_ < 8) return;
    out_ += static_cast<char>(byte_);
    byte_ = 0;
    used_ = 0;
  }
  std::string out_;
  std::uint8_t byte_ = 0;
  int used_ = 0;
};

/// Code lengths of a Huffman code for the counts, none over `limit`: where one is, all counts are
/// halved and it is built again. Symbols that do not occur have length 0.
std::vector<int> code_lengths(std::vector<std::uint64_t> counts, int limit) {
  for (;;) {
    using Item = std::pair<std::uint64_t, int>;  // weight, node; the node breaks ties
    std::priority_queue<Item, std::vector<Item>, std::greater<>> open;
    std::vector<int> parent(counts.size(), -1);
    for (std::size_t s = 0; s < counts.size(); ++s)
      if (counts[s] > 0) open.emplace(counts[s], static_cast<int>(s));
    while (open.size() > 1) {
      const Item a = open.top();
      open.pop();
      const Item b = open.top();
      open.pop();
      const int joined = static_cast<int>(parent.size());
      parent.push_back(-1);
      parent[static_cast<std::size_t>(a.second)] = parent[static_cast<std::size_t>(b.second)] = joined;
      open.emplace(a.first + b.first, joined);
    }
    std::vector<int> lengths(counts.size(), 0);
    for (std::size_t s = 0; s < counts.size(); ++s)
      for (int node = parent[s]; node >= 0; node = parent[static_cast<std::size_t>(node)]) ++lengths[s];
    if (*std::max_element(lengths.begin(), lengths.end()) <= limit) return lengths;
    for (std::uint64_t& count : counts) count = (count + 1) / 2;
  }
}

/// Canonical codes of RFC 1951, 3.2.2.
std::vector<std::uint32_t> canonical(const std::vector<int>& lengths) {
  std::array<std::uint32_t, 16> of_length{}, next{};
  for (const int length : lengths)
    if (length > 0) ++of_length[static_cast<std::size_t>(length)];
  for (std::size_t bits = 1; bits < next.size(); ++bits)
    next[bits] = (next[bits - 1] + of_length[bits - 1]) << 1;
  std::vector<std::uint32_t> codes(lengths.size(), 0);
  for (std::size_t s = 0; s < lengths.size(); ++s)
    if (lengths[s] > 0) codes[s] = next[static_cast<std::size_t>(lengths[s])]++;
  return codes;
}

constexpr std::size_t kSymbols = 257;  // 256 literals and the end of the block

void put_header(Bits& bits, const std::vector<int>& lengths) {
  constexpr std::array<std::size_t, 19> order{16, 17, 18, 0, 8,  7, 9,  6, 10, 5,
                                              11, 4,  12, 3, 13, 2, 14, 1, 15};
  std::vector<std::uint64_t> counts(19, 0);
  for (const int length : lengths) ++counts[static_cast<std::size_t>(length)];
  ++counts[1];                  // the one distance code, never used, that the format wants
  counts[0] += counts[0] == 0;  // at least two different lengths, so that none has a code of no bits
  const std::vector<int> meta = code_lengths(counts, 7);
  const std::vector<std::uint32_t> codes = canonical(meta);
  bits.put(1, 1);  // last block
  bits.put(2, 2);  // dynamic codes
  bits.put(kSymbols - 257, 5);
  bits.put(0, 5);
  bits.put(19 - 4, 4);
  for (const std::size_t s : order) bits.put(static_cast<std::uint32_t>(meta[s]), 3);
  const auto length_of = [&](int length) {
    bits.put_code(codes[static_cast<std::size_t>(length)], meta[static_cast<std::size_t>(length)]);
  };
  for (const int length : lengths) length_of(length);
  length_of(1);
}

std::string deflated(std::string_view bytes) {
  std::vector<std::uint64_t> counts(kSymbols, 0);
  for (const char c : bytes) ++counts[static_cast<std::uint8_t>(c)];
  counts[256] = 1;
  const std::vector<int> lengths = code_lengths(counts, 15);
  const std::vector<std::uint32_t> codes = canonical(lengths);
  Bits bits;
  put_header(bits, lengths);
  for (const char c : bytes)
    bits.put_code(codes[static_cast<std::uint8_t>(c)], lengths[static_cast<std::uint8_t>(c)]);
  bits.put_code(codes[256], lengths[256]);
  return bits.finish();
}

// ---- PNG ----------------------------------------------------------------------------------------

std::string big_endian(std::uint32_t number) {
  std::string out;
  for (int shift = 24; shift >= 0; shift -= 8) out += static_cast<char>(number >> shift & 0xff);
  return out;
}

std::string chunk(std::string_view type, std::string_view data) {
  const std::string body = std::string(type).append(data);
  return big_endian(static_cast<std::uint32_t>(data.size())) + body + big_endian(crc32(body));
}

int paeth(int left, int up, int corner) {
  const int guess = left + up - corner;
  const int to_left = std::abs(guess - left), to_up = std::abs(guess - up),
            to_corner = std::abs(guess - corner);
  if (to_left <= to_up && to_left <= to_corner) return left;
  return to_up <= to_corner ? up : corner;
}

/// Residuals of a row under filter 0 ... 4, the filter's number first.
std::string filtered(const GreyImage& image, int row, int filter) {
  std::string out(1, static_cast<char>(filter));
  for (int c = 0; c < image.width; ++c) {
    const int left = c > 0 ? image.at(c - 1, row) : 0, up = row > 0 ? image.at(c, row - 1) : 0;
    const int corner = c > 0 && row > 0 ? image.at(c - 1, row - 1) : 0;
    const std::array<int, 5> guess{0, left, up, (left + up) / 2, paeth(left, up, corner)};
    out += static_cast<char>(
        static_cast<std::uint8_t>(image.at(c, row) - guess[static_cast<std::size_t>(filter)]));
  }
  return out;
}

int cost(const std::string& residuals) {
  int sum = 0;
  for (const char c : residuals) sum += std::abs(static_cast<int>(static_cast<signed char>(c)));
  return sum;
}

}  // namespace

std::uint32_t crc32(std::string_view bytes) {
  std::uint32_t rest = 0xFFFFFFFFu;
  for (const char c : bytes) {
    rest ^= static_cast<std::uint8_t>(c);
    for (int k = 0; k < 8; ++k) rest = rest >> 1 ^ (rest & 1 ? 0xEDB88320u : 0u);
  }
  return ~rest;
}

std::uint32_t adler32(std::string_view bytes) {
  std::uint32_t a = 1, b = 0;
  for (const char c : bytes) {
    a = (a + static_cast<std::uint8_t>(c)) % 65521;
    b = (b + a) % 65521;
  }
  return b << 16 | a;
}

std::string to_png(const GreyImage& image) {
  expects(image.width > 0 && image.height > 0, "to_png: the image has pixels");
  expects(
      image.levels.size() == static_cast<std::size_t>(image.width) * static_cast<std::size_t>(image.height),
      "to_png: width * height levels");
  std::string rows;
  for (int r = 0; r < image.height; ++r) {
    std::string best = filtered(image, r, 0);
    for (int filter = 1; filter < 5; ++filter)
      if (std::string other = filtered(image, r, filter); cost(other) < cost(best)) best = std::move(other);
    rows += best;
  }
  const std::string size = big_endian(static_cast<std::uint32_t>(image.width)) +
                           big_endian(static_cast<std::uint32_t>(image.height));
  const std::string stream = std::string("\x78\x01") + deflated(rows) + big_endian(adler32(rows));
  return std::string("\x89PNG\r\n\x1a\n") + chunk("IHDR", size + std::string("\x08\0\0\0\0", 5)) +
         chunk("tRNS", std::string(2, '\0')) + chunk("IDAT", stream) + chunk("IEND", "");
}

std::string base64(std::string_view bytes) {
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t three = 0;
    const std::size_t there = std::min<std::size_t>(3, bytes.size() - i);
    for (std::size_t k = 0; k < 3; ++k)
      three = three << 8 | (k < there ? static_cast<std::uint8_t>(bytes[i + k]) : 0u);
    for (std::size_t k = 0; k < 4; ++k) out += k <= there ? digits[three >> (18 - 6 * k) & 63] : '=';
  }
  return out;
}

}  // namespace rimstance
