#include "package.hpp"

#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <cstdint>
#include <optional>
#include <utility>

#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

// Of a ZIP archive (PKWARE APPNOTE 6.3) only as much as leads to the first bytes of one part.

[[noreturn]] void fail(const std::string& file, std::string what) {
  throw InputError(Place{file, 0, 0, {}}, std::move(what), "get the file again whole, or export it again");
}

/// A little-endian number of `size` bytes; nothing beyond the end.
std::optional<std::size_t> number(std::string_view bytes, std::size_t at, std::size_t size) {
  if (at > bytes.size() || size > bytes.size() - at) return std::nullopt;
  std::size_t value = 0;
  for (std::size_t k = size; k > 0; --k) value = value << 8 | static_cast<unsigned char>(bytes[at + k - 1]);
  return value;
}

struct Part {
  std::size_t method = 0, packed = 0, header = 0;  ///< how and how long it is stored, and where
};

/// The entry of the only part that is a model, from the directory at the end of the archive.
Part model_part(std::string_view bytes, const std::string& file) {
  const std::size_t end = bytes.rfind("PK\x05\x06");
  const auto entries = number(bytes, end == std::string_view::npos ? bytes.size() : end + 10, 2);
  const auto start = number(bytes, end == std::string_view::npos ? bytes.size() : end + 16, 4);
  if (!entries || !start) fail(file, "is no whole 3MF file: its directory is missing");
  std::optional<Part> found;
  std::size_t at = *start;
  for (std::size_t i = 0; i < *entries; ++i) {
    const auto field = [&](std::size_t offset, std::size_t size) {
      const auto value = number(bytes, at + offset, size);
      if (!value) fail(file, "is no whole 3MF file: its directory is damaged");
      return *value;
    };
    const std::size_t name_size = field(28, 2);
    (void)field(46 + name_size, 0);
    std::string name(bytes.substr(at + 46, name_size));
    for (char& c : name)
      if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + 32);
    if (name.ends_with(".model")) {
      if (found) fail(file, "is made of several models, of which only one would be read");
      found = Part{field(10, 2), field(20, 4), field(42, 4)};
    }
    at += 46 + name_size + field(30, 2) + field(32, 2);
  }
  if (!found) fail(file, "holds no 3D model");
  return *found;
}

/// The first bytes of a part, unpacked.
std::string beginning(std::string_view bytes, const Part& part, const std::string& file) {
  const auto name = number(bytes, part.header + 26, 2), extra = number(bytes, part.header + 28, 2);
  const std::size_t start = part.header + 30 + name.value_or(0) + extra.value_or(0);
  if (!name || !extra || start > bytes.size() || part.packed > bytes.size() - start)
    fail(file, "its 3D model reaches beyond the end of the file");
  std::string packed(bytes.substr(start, part.packed));
  if (part.method == 0) return packed.substr(0, 1 << 16);
  std::string out(1 << 16, '\0');
  z_stream stream{};
  if (part.method != 8 || inflateInit2(&stream, -MAX_WBITS) != Z_OK)
    fail(file, "its 3D model is packed in a way that is not read");
  stream.next_in = reinterpret_cast<Bytef*>(packed.data());
  stream.avail_in = static_cast<uInt>(std::min<std::size_t>(packed.size(), 1 << 20));
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  const int result = inflate(&stream, Z_SYNC_FLUSH);
  out.resize(out.size() - stream.avail_out);
  inflateEnd(&stream);
  if (result != Z_OK && result != Z_STREAM_END && result != Z_BUF_ERROR)
    fail(file, "its 3D model is damaged");
  return out;
}

constexpr std::pair<std::string_view, double> kUnits[] = {{"micron", 1e-6},     {"millimeter", 1e-3},
                                                          {"centimeter", 1e-2}, {"inch", 0.0254},
                                                          {"foot", 0.3048},     {"meter", 1}};

}  // namespace

double unit_of_3mf(std::string_view bytes, const std::string& file) {
  const std::string text = beginning(bytes, model_part(bytes, file), file);
  const std::size_t open = text.find("<model"), close = text.find('>', open);
  if (open == std::string::npos || close == std::string::npos)
    fail(file, "its 3D model does not begin as one");
  const std::string_view tag = std::string_view(text).substr(open, close - open);
  const std::size_t key = tag.find(" unit=");
  if (key == std::string_view::npos || key + 7 >= tag.size()) return 1e-3;
  const std::size_t end = tag.find(tag[key + 6], key + 7);
  const std::string_view stated = tag.substr(key + 7, end == std::string_view::npos ? 0 : end - key - 7);
  for (const auto& [name, metres] : kUnits)
    if (stated == name) return metres;
  fail(file, fmt::format("has the unit \"{}\", which 3MF does not know", stated));
}

}  // namespace rimstance
