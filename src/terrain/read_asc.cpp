#include <fmt/format.h>

#include <array>
#include <optional>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

constexpr const char* kKeys =
    "ncols, nrows, xllcorner or xllcenter, yllcorner or yllcenter, cellsize or dx and dy, nodata_value";

/// The header: one key and value per line, in any order and case.
struct Header {
  std::optional<double> columns, rows, x_corner, x_centre, y_corner, y_centre, cell, dx, dy, nodata;
};

std::optional<double>* field(Header& header, std::string_view key) {
  const std::array<std::pair<std::string_view, std::optional<double>*>, 10> fields{
      {{"ncols", &header.columns},
       {"nrows", &header.rows},
       {"xllcorner", &header.x_corner},
       {"xllcenter", &header.x_centre},
       {"yllcorner", &header.y_corner},
       {"yllcenter", &header.y_centre},
       {"cellsize", &header.cell},
       {"dx", &header.dx},
       {"dy", &header.dy},
       {"nodata_value", &header.nodata}}};
  for (const auto& [name, value] : fields)
    if (name == key) return value;
  return nullptr;
}

bool starts_a_value(std::string_view token) {
  const std::string word = lower_case(token);
  return token.find_first_of("0123456789") == 0 || token.find_first_of("+-.") == 0 ||
         word.starts_with("nan") || word == "inf" || word == "infinity";
}

class AscReader {
 public:
  AscReader(std::string_view bytes, const std::string& file, std::uint64_t greatest)
      : text_(bytes, file), file_(file), greatest_(greatest) {}

  GridFile read() {
    grid_.format = "ESRI ASCII grid";
    read_header();
    set_posts();
    read_rows();
    note_open_end(text_.ends_with_line_end(), grid_.notes);
    return std::move(grid_);
  }

 private:
  void read_header() {
    for (bool any = text_.more(); any; any = text_.next_filled_line()) {
      if (starts_a_value(text_.peek())) break;
      const char* const start = text_.at();
      const std::string_view word = text_.token();
      const std::string key = lower_case(word);
      std::optional<double>* const value = field(header_, key);
      if (!value)
        text_.fail(start, fmt::format("{} is not a key of an ESRI ASCII grid ({})", quoted(word), kKeys),
                   "correct the header");
      if (*value) text_.fail(start, fmt::format("{} is given a second time", key), "remove one of them");
      *value = header_value(key);
      text_.expect_line_end(key.c_str());
    }
  }

  /// nodata may be NaN, every other value is finite.
  double header_value(const std::string& key) {
    if (key == "nodata_value" && text_.more_on_line() && lower_case(text_.peek()).ends_with("nan")) {
      text_.token();
      return kUnset;
    }
    return text_.number(key.c_str());
  }

  [[noreturn]] void fail_header(std::string what, std::string way_out) const {
    throw InputError(Place{file_, 0, 0, {}}, std::move(what), std::move(way_out));
  }

  std::uint32_t count(const std::optional<double>& value, const char* key) const {
    if (!value)
      fail_header(fmt::format("the header lacks {}", key), "add it; the keys are " + std::string(kKeys));
    if (!(*value >= 2 && *value <= 4e9 && *value == std::floor(*value)))
      fail_header(fmt::format("{} is {}, a whole number from 2 on is expected", key, *value),
                  "correct the header");
    return static_cast<std::uint32_t>(*value);
  }

  /// Plan coordinate of the first post: "corner" is the corner of its cell, half a cell before it.
  double first(const std::optional<double>& corner, const std::optional<double>& centre, double cell,
               char axis) const {
    if (corner.has_value() == centre.has_value())
      fail_header(fmt::format("the header has {0} of {1}llcorner and {1}llcenter, exactly one is needed",
                              corner ? "both" : "neither", axis),
                  corner ? "remove one of them" : "add the one that applies");
    return corner ? *corner + 0.5 * cell : *centre;
  }

  double spacing(const std::optional<double>& own, const char* name) const {
    if (own.has_value() == header_.cell.has_value())
      fail_header(fmt::format("the header has {} of cellsize and {}, exactly one is needed",
                              own ? "both" : "neither", name),
                  own ? "remove one of them" : "add cellsize, or dx and dy");
    const double size = own ? *own : *header_.cell;
    if (!(size > 0))
      fail_header(fmt::format("{} is {}, it must be greater than 0", own ? name : "cellsize", size),
                  "correct the header");
    return size;
  }

  void set_posts() {
    grid_.columns = count(header_.columns, "ncols");
    grid_.rows = count(header_.rows, "nrows");
    grid_.spacing = {spacing(header_.dx, "dx"), spacing(header_.dy, "dy")};
    grid_.first = {first(header_.x_corner, header_.x_centre, grid_.spacing.x(), 'x'),
                   first(header_.y_corner, header_.y_centre, grid_.spacing.y(), 'y')};
    const std::uint64_t posts = std::uint64_t{grid_.columns} * grid_.rows;  // both below 2^32
    if (posts > text_.left() / 2 + 1)  // a value takes a digit and a separator
      fail_header(fmt::format("the header announces {} x {} = {}, only {} it", grid_.columns, grid_.rows,
                              counted(posts, "value"), counted(text_.left(), "byte follows", "bytes follow")),
                  "the counts or the file are wrong; get the file again whole");
    check_greatest(posts, greatest_, file_);
    grid_.heights.resize(posts);
  }

  /// Rows come from north to south. A row may run over several lines and a line may hold several whole
  /// rows, but no row ends inside a line that began with another: there a value was lost or added.
  void read_rows() {
    const std::uint64_t total = grid_.heights.size();
    std::uint64_t read = 0;
    const char* row_start = text_.at();
    bool row_per_line = true;
    const char* const data = text_.at();
    for (bool any = text_.more(); any; any = text_.next_filled_line()) {
      const std::uint64_t before = read % grid_.columns;
      if (before == 0) row_start = text_.at();
      const std::uint64_t on_line = read_line(read, total);
      const bool whole = before == 0 && on_line % grid_.columns == 0;
      if (!whole && before + on_line > grid_.columns)
        fail_row(row_start, before == 0 ? on_line : before, read);
      row_per_line = row_per_line && on_line == grid_.columns;
    }
    if (read < total) fail_row(row_start, (read - 1) % grid_.columns + 1, read);
    if (row_per_line) grid_.first_line = text_.line_of(data);
  }

  /// The values of one line, to their rows; returns how many there were.
  std::uint64_t read_line(std::uint64_t& read, std::uint64_t total) {
    const std::uint64_t before = read;
    std::uint64_t column = read % grid_.columns, row = read / grid_.columns;
    double* out = nullptr;
    for (; text_.more_on_line(); ++read) {
      if (read == total)
        text_.fail(fmt::format("{} stands after the last of {} x {} = {}", quoted(text_.peek()),
                               grid_.columns, grid_.rows, counted(total, "value")),
                   "the counts in the header do not match the content; correct them");
      if (!out || column == grid_.columns) {
        if (column == grid_.columns) column = 0, ++row;
        out = grid_.heights.data() + (grid_.rows - 1 - row) * grid_.columns;
      }
      out[column++] = value();
    }
    return read - before;
  }

  /// NaN for a hole: the token NaN, or the declared value, also after both were rounded to float.
  double value() {
    const char first = *text_.at();
    if (first == 'n' || first == 'N') {
      const std::string_view token = text_.peek();
      if (lower_case(token) == "nan") {
        text_.token();
        return kUnset;
      }
    }
    const double z = text_.number("a height");
    if (header_.nodata && (z == *header_.nodata || rounded(z) == rounded(*header_.nodata))) return kUnset;
    return z;
  }
  /// Beyond the range of float: clamped, so that the conversion is defined.
  static float rounded(double z) {
    constexpr double kMost = static_cast<double>(std::numeric_limits<float>::max());
    return static_cast<float>(std::clamp(z, -kMost, kMost));
  }

  [[noreturn]] void fail_row(const char* row_start, std::uint64_t found, std::uint64_t read) const {
    text_.fail(row_start,
               fmt::format("the row that starts here has {} of {} values ({} of {} in the file so far)",
                           found, grid_.columns, read, grid_.heights.size()),
               "a value is missing or one too many; correct the row, or get the file again whole");
  }

  TextCursor text_;
  const std::string& file_;
  std::uint64_t greatest_;
  Header header_;
  GridFile grid_;
};

}  // namespace

bool looks_like_asc(std::string_view bytes) {
  const std::string none;
  TextCursor text(bytes.substr(0, 4096), none);
  if (!text.more()) return false;
  Header header;
  return field(header, lower_case(text.peek())) != nullptr;
}

GridFile read_asc(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices) {
  return AscReader(bytes, file, greatest_vertices).read();
}

}  // namespace rimstance
