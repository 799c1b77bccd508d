#include "labels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string_view>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kLongestLabel = 4 << 20;
constexpr std::string_view kHdf5 = "\x89HDF";

[[noreturn]] void fail(const std::string& path, std::string what, std::string way_out) {
  throw InputError(Place{path, 0, 0, {}}, std::move(what), std::move(way_out));
}

/// At most `most` bytes from the start of a file; empty if there are none to read.
std::string start_of(const fs::path& path, std::size_t most) {
  std::ifstream in(path, std::ios::binary);
  std::string bytes(most, '\0');
  in.read(bytes.data(), static_cast<std::streamsize>(most));
  bytes.resize(static_cast<std::size_t>(std::max<std::streamsize>(in.gcount(), 0)));
  return bytes;
}

bool is_file(const fs::path& path) {
  std::error_code error;
  return fs::is_regular_file(path, error);
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), [](char c) { return lower(c); });
  return out;
}

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r\n\"'(){}";
  const std::size_t first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

// ---------------------------------------------------------------- where a label points

enum class Label { none, keywords, xml, envi };

Label label_kind(std::string_view start) {
  const std::size_t first = start.find_first_not_of(" \t\r\n\xef\xbb\xbf");
  if (first == std::string_view::npos) return Label::none;
  const std::string head = lower(start.substr(first, 4096));
  if (head.starts_with("<?xml") || head.starts_with("<product_")) return Label::xml;
  if (head.starts_with("envi")) return Label::envi;
  for (const char* magic : {"pds_version_id", "ccsd3zf", "odl_version_id", "object = isiscube"})
    if (head.find(magic) < 1024) return Label::keywords;
  return Label::none;
}

/// The text of a label that stands before its data in one file: up to the line END.
std::string_view keyword_text(std::string_view bytes) {
  for (std::size_t at = 0; at < bytes.size();) {
    const std::size_t end = std::min(bytes.find('\n', at), bytes.size());
    if (trimmed(bytes.substr(at, end - at)) == "END") return bytes.substr(0, end);
    at = end + 1;
  }
  return bytes.substr(0, bytes.find('\0'));
}

/// Values of a keyword label that name files: pointers (^IMAGE = "NAME", ^IMAGE = ("NAME", 3)) and FILE_NAME.
std::vector<std::string> keyword_pointers(std::string_view text) {
  std::vector<std::string> names;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    const std::string_view line = text.substr(at, end - at);
    at = end + 1;
    const std::size_t equals = line.find('=');
    if (equals == std::string_view::npos) continue;
    const std::string_view key = trimmed(line.substr(0, equals));
    if (!key.starts_with('^') && lower(key) != "file_name") continue;
    const std::string_view value = trimmed(line.substr(equals + 1));
    names.emplace_back(trimmed(value.substr(0, value.find(','))));
  }
  return names;
}

/// UNIT of the OBJECT = IMAGE, which the library does not pass on.
std::string image_unit(std::string_view text) {
  bool in_image = false;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    const std::string_view line = text.substr(at, end - at);
    at = end + 1;
    const std::size_t equals = std::min(line.find('='), line.size());
    const std::string key = lower(trimmed(line.substr(0, equals)));
    const std::string_view value = trimmed(line.substr(std::min(equals + 1, line.size())));
    if (key == "object") in_image = lower(value) == "image";
    if (key == "end_object") in_image = false;
    if (in_image && key == "unit") return std::string(value);
  }
  return {};
}

std::vector<std::string> xml_pointers(std::string_view text) {
  constexpr std::string_view kOpen = "file_name>", kClose = "</";
  std::vector<std::string> names;
  for (std::size_t at = text.find(kOpen); at != std::string_view::npos; at = text.find(kOpen, at)) {
    at += kOpen.size();
    names.emplace_back(trimmed(text.substr(at, text.find(kClose, at) - at)));
    at = std::min(text.find('>', at), text.size());
  }
  return names;
}

/// Throws unless all that a label points to is a file beside it; returns the unit of its heights, if it has
/// one.
std::string checked_label(const std::string& path, Label kind) {
  const std::string bytes = start_of(path, kLongestLabel);
  const std::string_view text = kind == Label::keywords ? keyword_text(bytes) : std::string_view(bytes);
  if (lower(text).find("/vsi") != std::string::npos)
    fail(path, "is a label that names a virtual file (/vsi...), which is not opened",
         "put the data beside the label, as a file, and name that");
  const std::vector<std::string> names = kind == Label::xml        ? xml_pointers(text)
                                         : kind == Label::keywords ? keyword_pointers(text)
                                                                   : std::vector<std::string>();
  for (const std::string& name : names)
    if (name.find_first_of("/\\:") != std::string::npos)
      fail(path, fmt::format("is a label that points to \"{}\", outside its folder", name),
           "put the data beside the label and name it without a folder");
  return kind == Label::keywords ? image_unit(text) : std::string();
}

// ---------------------------------------------------------------- what belongs to a file

fs::path with_extension(const fs::path& path, const char* extension) {
  return fs::path(path).replace_extension(extension);
}

std::optional<fs::path> first_existing(const std::vector<fs::path>& candidates) {
  for (const fs::path& candidate : candidates)
    if (is_file(candidate)) return candidate;
  return std::nullopt;
}

std::optional<fs::path> envi_header(const fs::path& data) {
  const std::string whole = data.string();
  return first_existing(
      {whole + ".hdr", whole + ".HDR", with_extension(data, ".hdr"), with_extension(data, ".HDR")});
}

std::optional<fs::path> envi_data(const fs::path& header) {
  std::vector<fs::path> candidates{fs::path(header).replace_extension()};
  for (const char* extension :
       {".img", ".dat", ".raw", ".bsq", ".bil", ".bip", ".bin", ".flt", ".IMG", ".DAT"})
    candidates.push_back(with_extension(header, extension));
  return first_existing(candidates);
}

std::optional<fs::path> planetary_label(const fs::path& data) {
  for (const char* extension : {".lbl", ".LBL", ".xml", ".XML"}) {
    const fs::path label = with_extension(data, extension);
    if (label == data || !is_file(label)) continue;
    const Label kind = label_kind(start_of(label, 8192));
    if (kind == Label::keywords || kind == Label::xml) return label;
  }
  return std::nullopt;
}

std::vector<std::string> world_files(const fs::path& path) {
  std::vector<fs::path> candidates{with_extension(path, ".wld"), with_extension(path, ".tfw"),
                                   with_extension(path, ".tifw"), with_extension(path, ".pgw")};
  std::vector<std::string> names;
  for (const fs::path& candidate : candidates)
    if (is_file(candidate)) names.push_back(candidate.filename().string());
  return names;
}

/// Kinds that describe themselves.
bool has_magic(std::string_view start) {
  using namespace std::string_view_literals;
  for (const std::string_view magic :
       {"II*\0"sv, "MM\0*"sv, "II+\0"sv, "MM\0+"sv, "\x89PNG"sv, "CDF"sv, kHdf5})
    if (start.starts_with(magic)) return true;
  return false;
}

RasterSource described_by_header(const fs::path& data, const fs::path& header) {
  checked_label(header.string(), Label::envi);
  return {data.string(),
          {data.filename().string(), header.filename().string()},
          {},
          {fmt::format("the data are described by {} beside them", header.filename().string())}};
}

}  // namespace

RasterSource raster_source(const std::string& path) {
  if (lower(path).starts_with("/vsi") || path.find("://") != std::string::npos)
    fail(path, "is no file of this machine", "fetch it first, then name the file");
  const fs::path file(path);
  const std::string start = start_of(file, 8192);
  RasterSource source{path, {file.filename().string()}, {}, {}};
  if (has_magic(start)) {
    for (std::string& name : world_files(file)) source.beside.push_back(std::move(name));
    return source;
  }
  const Label kind = label_kind(start);
  if (kind == Label::envi) {
    const auto data = envi_data(file);
    if (!data)
      fail(path, "is an ENVI header without its data beside it",
           "put the data file of the same name beside it");
    return described_by_header(*data, file);
  }
  if (kind != Label::none) {
    source.unit = checked_label(path, kind);
    return source;
  }
  if (const auto label = planetary_label(file)) {
    return {label->string(),
            {label->filename().string(), file.filename().string()},
            checked_label(label->string(), label_kind(start_of(*label, 8192))),
            {fmt::format("the data are described by the label {} beside them", label->filename().string())}};
  }
  if (const auto header = envi_header(file)) return described_by_header(file, *header);
  return source;
}

// ---------------------------------------------------------------- raw data

namespace {

/// "1440 x 720 posts of 2 bytes": sizes that fill the file, twice as wide as high (a whole globe) or square.
std::vector<std::string> fitting_sizes(std::uint64_t bytes, std::uint64_t& columns, std::uint64_t& rows,
                                       int& depth) {
  std::vector<std::string> texts;
  for (const std::uint64_t aspect : {2, 1})
    for (const int size : {2, 4}) {
      const double side =
          std::sqrt(static_cast<double>(bytes) / static_cast<double>(size) / static_cast<double>(aspect));
      const auto lines = static_cast<std::uint64_t>(std::llround(side));
      if (lines < 2 || lines * lines * aspect * static_cast<std::uint64_t>(size) != bytes) continue;
      if (texts.empty()) columns = lines * aspect, rows = lines, depth = size;
      texts.push_back(fmt::format("{} x {} posts of {} bytes", lines * aspect, lines, size));
    }
  return texts;
}

}  // namespace

void fail_undescribed(const std::string& path) {
  const std::string start = start_of(path, 64);
  if (start.starts_with("EHFA_HEADER_TAG"))
    fail(path, "is an ERDAS Imagine raster, which is not read", "convert it to GeoTIFF with gdal_translate");
  if (start.starts_with(kHdf5))
    fail(path, "is an HDF5 file in which no netCDF grid is found, or it is damaged",
         "get the file again whole, or take the heights out with the program that wrote it");
  std::error_code error;
  const std::uint64_t bytes = fs::file_size(path, error);
  std::uint64_t columns = 0, rows = 0;
  int depth = 0;
  const std::vector<std::string> fits =
      error ? std::vector<std::string>() : fitting_sizes(bytes, columns, rows, depth);
  const std::string which = fits.empty() ? "" : fmt::format(", which {} would fit", fmt::join(fits, " or "));
  const std::string samples = columns > 0 ? fmt::format("{}", columns) : "COLUMNS";
  const std::string lines = rows > 0 ? fmt::format("{}", rows) : "ROWS";
  fail(
      path,
      fmt::format("is no raster that is read, or raw data without a description ({}{})",
                  counted(bytes, "byte"), which),
      fmt::format(
          "put its label (.lbl, .xml) beside it; or, if you know its columns, rows, type and byte order, a "
          "file {} with these seven lines: ENVI | samples = {} | lines = {} | bands = 1 | data type = {} | "
          "interleave = bsq | byte order = 0 (data type 2: 16-bit integers with sign, 12: without, 4: 32-bit "
          "floating point; byte order 1: the high byte comes first)",
          with_extension(fs::path(path).filename(), ".hdr").string(), samples, lines, depth == 4 ? 4 : 2));
}

// ---------------------------------------------------------------- netCDF, classic and in HDF5

namespace {

/// Header of a classic netCDF file; reads big-endian numbers and stops at the end of what there is.
class ClassicHeader {
 public:
  ClassicHeader(std::string_view bytes, const std::string& path) : left_(bytes), path_(path) {}

  /// Bytes that the file must have for all its variables.
  std::uint64_t length() {
    const std::string_view magic = take(4);
    version_ = magic[3];
    records_ = count();
    if (records_ == (wide() ? ~std::uint64_t{0} : 0xffffffffU)) records_ = 0;  // "being written": not known
    read_dimensions();
    skip_attributes();
    return variables_end();
  }

 private:
  bool wide() const { return version_ == 5; }
  std::string_view take(std::uint64_t n) {
    if (n > left_.size())
      fail(path_, "is a netCDF file that ends in its header, or is damaged", "get the file again whole");
    const std::string_view taken = left_.substr(0, n);
    left_.remove_prefix(n);
    return taken;
  }
  std::uint64_t number(std::size_t size) {
    std::uint64_t value = 0;
    for (const char c : take(size)) value = value << 8 | static_cast<unsigned char>(c);
    return value;
  }
  std::uint64_t count() { return number(wide() ? 8 : 4); }
  static std::uint64_t padded(std::uint64_t n) { return (n + 3) / 4 * 4; }
  void skip_name() { take_padded(count()); }
  void take_padded(std::uint64_t n) {
    if (n > left_.size()) take(left_.size() + 1);
    take(padded(n));
  }
  /// The number of entries of a list that begins here.
  std::uint64_t entries() {
    number(4);  // its tag
    const std::uint64_t n = count();
    if (n > left_.size()) take(left_.size() + 1);  // an entry takes more than a byte
    return n;
  }
  std::uint64_t type_size() {
    constexpr std::array<std::uint64_t, 12> kSizes{1, 1, 1, 2, 4, 4, 8, 1, 2, 4, 8, 8};
    const std::uint64_t type = number(4);
    if (type == 0 || type >= kSizes.size())
      fail(path_, "is a netCDF file with an unknown type of values; it is damaged",
           "get the file again whole");
    return kSizes[type];
  }
  void read_dimensions() {
    for (std::uint64_t n = entries(); n > 0; --n) {
      skip_name();
      dimensions_.push_back(count());
    }
  }
  void skip_attributes() {
    for (std::uint64_t n = entries(); n > 0; --n) {
      skip_name();
      const std::uint64_t size = type_size(), values = count();
      if (values > left_.size()) take(left_.size() + 1);
      take_padded(size * values);
    }
  }
  /// Product that stops growing where no file reaches.
  static constexpr std::uint64_t kFar = std::uint64_t{1} << 60;
  static std::uint64_t times(std::uint64_t a, std::uint64_t b) {
    return b != 0 && a > kFar / b ? kFar : a * b;
  }

  std::uint64_t variables_end() {
    struct Variable {
      std::uint64_t begin, size;
      bool record;
    };
    std::vector<Variable> variables;
    std::uint64_t record_size = 0, records = 0;
    for (std::uint64_t n = entries(); n > 0; --n) {
      skip_name();
      Variable v{0, 1, false};
      for (std::uint64_t dims = count(); dims > 0; --dims) {
        const std::uint64_t id = count();
        if (id >= dimensions_.size())
          fail(path_, "is a netCDF file with a variable over an unknown dimension; it is damaged",
               "get the file again whole");
        if (dimensions_[id] == 0)
          v.record = true;
        else
          v.size = times(v.size, dimensions_[id]);
      }
      skip_attributes();
      v.size = times(v.size, type_size());
      count();  // its size again, which cannot be trusted beyond 4 GB
      v.begin = std::min(number(version_ == 1 ? 4 : 8), kFar);
      if (v.record) record_size = std::min(record_size + padded(v.size), kFar), ++records;
      variables.push_back(v);
    }
    std::uint64_t end = 0;
    for (const Variable& v : variables) {
      if (v.record && records_ == 0) continue;
      const std::uint64_t step = records == 1 ? v.size : record_size;  // a single one is not padded
      end = std::max(end, v.begin + v.size + (v.record ? times(records_ - 1, step) : 0));
    }
    return end;
  }

  std::string_view left_;
  const std::string& path_;
  char version_ = 1;
  std::uint64_t records_ = 0;
  std::vector<std::uint64_t> dimensions_;
};

[[noreturn]] void fail_short(const std::string& path, std::uint64_t needed, std::uint64_t bytes) {
  fail(path, fmt::format("is cut short: its header asks for {}, it has {}", counted(needed, "byte"), bytes),
       "get the file again whole");
}

void check_classic_length(const std::string& path) {
  const std::string start = start_of(path, kLongestLabel);
  std::error_code error;
  const std::uint64_t bytes = fs::file_size(path, error), needed = ClassicHeader(start, path).length();
  if (error || bytes < needed) fail_short(path, needed, bytes);
}

/// HDF5 File Format Specification 3.0, II.A: where the first block of a file says that it ends.
void check_hdf5_length(const std::string& path) {
  const std::string start = start_of(path, 96);
  const auto byte = [&](std::size_t at) {
    return at < start.size() ? static_cast<unsigned char>(start[at]) : std::uint64_t{0};
  };
  const std::uint64_t version = byte(8);
  // Behind the fixed part stand four addresses; the end is the third.
  const std::size_t width = byte(version < 2 ? 13 : 9), fixed = version == 0 ? 24 : version == 1 ? 28 : 12;
  if (version > 3 || width > 8) return;  // the library says what it makes of that
  std::uint64_t end = 0;
  for (std::size_t i = width; i-- > 0;) end = end << 8 | byte(fixed + 2 * width + i);
  std::error_code error;
  const std::uint64_t bytes = fs::file_size(path, error);
  if (error || bytes < end || start.size() < fixed + 4 * width) fail_short(path, end, bytes);
}

}  // namespace

void check_whole(const std::string& path) {
  const std::string start = start_of(path, 4);
  if (start == "CDF\1" || start == "CDF\2" || start == "CDF\5") check_classic_length(path);
  if (start == kHdf5) check_hdf5_length(path);
}

bool is_netcdf(const std::string& path) {
  const std::string start = start_of(path, 4);
  return start.starts_with("CDF") || start == kHdf5;
}

}  // namespace rimstance
