#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace rimstance {

/// Grey pixels, row by row from the top. Level 0 is transparent; 1 is black, 255 white.
struct GreyImage {
  int width = 0, height = 0;
  std::vector<std::uint8_t> levels;  ///< width * height
  std::uint8_t& at(int column, int row) { return levels[index(column, row)]; }
  std::uint8_t at(int column, int row) const { return levels[index(column, row)]; }

 private:
  std::size_t index(int column, int row) const {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(width) + static_cast<std::size_t>(column);
  }
};

/// PNG (ISO/IEC 15948): 8-bit greyscale, level 0 declared transparent. Rows are filtered by the one of
/// the five filters with the least sum of absolute residuals, the residuals coded with a Huffman code of
/// their own (RFC 1951, no repeats searched): about half the pixels' size for shaded relief, and the same
/// bytes everywhere, which a system's compressor does not promise. Width and height > 0.
std::string to_png(const GreyImage&);

/// Base 64 (RFC 4648) with padding, no line breaks.
std::string base64(std::string_view bytes);

/// CRC-32 (ISO 3309) and Adler-32 (RFC 1950), as PNG and its compressed stream use them.
std::uint32_t crc32(std::string_view bytes);
std::uint32_t adler32(std::string_view bytes);

}  // namespace rimstance
