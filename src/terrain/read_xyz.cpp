#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <optional>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

constexpr std::string_view kMark = "\xEF\xBB\xBF";

bool is_space(char c) { return TextCursor::is_space(c); }

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

std::optional<double> read_number(std::string_view text) {
  if (text.size() > 1 && text[0] == '+' && text[1] != '-') text.remove_prefix(1);
  double value = 0;
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || stop != text.data() + text.size() || text.empty()) return std::nullopt;
  return value;
}

bool is_comment(std::string_view line) { return line.starts_with('#') || line.starts_with("//"); }

/// What separates columns, from a line with data; ' ' stands for any blanks.
char separator_of(std::string_view line) {
  if (line.find(';') != std::string_view::npos) return ';';
  // Numbers between blanks may have decimal commas; one that ends what stands between blanks separates.
  std::size_t words = 0;
  bool ends_word = false;
  for (std::size_t i = 0; i < line.size();) {
    while (i < line.size() && is_space(line[i])) ++i;
    const std::size_t start = i;
    while (i < line.size() && !is_space(line[i])) ++i;
    words += i > start;
    ends_word = ends_word || (i > start && line[i - 1] == ',');
  }
  const bool comma = line.find(',') != std::string_view::npos;
  return comma && (words < 3 || ends_word) ? ',' : ' ';
}

/// The columns of a line one after another.
class Columns {
 public:
  Columns(std::string_view line, char separator) : left_(trimmed(line)), separator_(separator) {}
  /// The next column; nothing after the last. A column between two separators may be empty.
  std::optional<std::string_view> next() {
    if (done_) return std::nullopt;
    std::size_t end = 0;
    if (separator_ == ' ') {
      if (left_.empty()) return std::nullopt;
      while (end < left_.size() && !is_space(left_[end])) ++end;
    } else {
      const void* const found = std::memchr(left_.data(), separator_, left_.size());
      end = found ? static_cast<std::size_t>(static_cast<const char*>(found) - left_.data()) : left_.size();
    }
    const std::string_view column = trimmed(left_.substr(0, end));
    done_ = end == left_.size();
    left_.remove_prefix(done_ ? end : end + 1);
    if (separator_ == ' ') left_ = trimmed(left_);
    return column;
  }

 private:
  std::string_view left_;
  char separator_;
  bool done_ = false;
};

std::vector<std::string_view> split(std::string_view line, char separator) {
  std::vector<std::string_view> out;
  Columns columns(line, separator);
  while (const auto column = columns.next()) out.push_back(*column);
  return out;
}

bool is_heading(const std::vector<std::string_view>& columns) {
  for (const std::string_view column : columns)
    if (read_number(column) || has_decimal_comma(column)) return false;
  return true;
}

std::string bare(std::string_view heading) {
  std::string out = lower_case(heading);
  std::erase_if(out, [](char c) { return c == '"' || c == '\''; });
  return out;
}

bool is_degrees(const std::string& heading) {
  for (const char* word : {"lon", "long", "longitude", "lat", "latitude"})
    if (heading == word) return true;
  return false;
}

/// Lines of a text file without their ends; LF, CRLF and CR end a line.
class Lines {
 public:
  explicit Lines(std::string_view bytes) : left_(bytes) {
    if (left_.starts_with(kMark)) left_.remove_prefix(kMark.size());
  }
  bool next() {
    if (left_.empty()) return false;
    const std::size_t end = left_.find_first_of("\r\n");
    line_ = left_.substr(0, end);
    number_ += number_ < std::numeric_limits<int>::max();
    if (end == std::string_view::npos) {
      left_ = {};
      return true;
    }
    left_.remove_prefix(left_.substr(end, 2) == "\r\n" ? end + 2 : end + 1);
    return true;
  }
  std::string_view line() const { return line_; }
  int number() const { return number_; }

 private:
  std::string_view left_, line_;
  int number_ = 0;
};

class XyzReader {
 public:
  XyzReader(std::string_view bytes, const std::string& file, std::uint64_t greatest)
      : bytes_(bytes), file_(file), greatest_(greatest), lines_(bytes) {}

  PointFile read() {
    while (lines_.next()) {
      const std::string_view line = trimmed(lines_.line());
      if (!line.empty() && !is_comment(line)) take(line);
    }
    if (out_.points.empty())
      throw InputError(Place{file_, 0, 0, {}}, "holds no points", "give a text with x y z on every line");
    if (announced_ && *announced_ != out_.points.size())
      throw InputError(Place{file_, 0, 0, {}},
                       fmt::format("its first line announces {}, {}", counted(*announced_, "point"),
                                   counted(out_.points.size(), "follows", "follow")),
                       "get the file again whole");
    if (columns_ > 3)
      out_.notes.push_back(
          fmt::format("each line has {} columns; the first three are x, y and z, the others "
                      "were left out",
                      columns_));
    note_open_end(bytes_.ends_with('\n') || bytes_.ends_with('\r'), out_.notes);
    out_.format = fmt::format("points as text, separated by {}", separator_ == ' '   ? "blanks"
                                                                 : separator_ == ',' ? "commas"
                                                                                     : "semicolons");
    return std::move(out_);
  }

 private:
  [[noreturn]] void fail(std::string_view where, std::string what, std::string way_out) const {
    const int column = static_cast<int>(where.data() - lines_.line().data()) + 1;
    throw InputError(Place{file_, lines_.number(), column, {}}, std::move(what), std::move(way_out));
  }

  void take(std::string_view line) {
    if (columns_ > 0) return add(line);
    separator_ = separator_of(line);
    const std::vector<std::string_view> columns = split(line, separator_);
    if (!heading_seen_ && is_heading(columns)) return take_heading(columns);
    if (columns.size() == 1 && !announced_ && !heading_seen_) {
      const auto count = read_number(columns[0]);
      if (count && *count >= 0 && *count < 1e15 && *count == std::floor(*count)) {
        announced_ = static_cast<std::uint64_t>(*count);
        return;
      }
    }
    if (columns.size() < 3)
      fail(line,
           fmt::format("has {} where x, y and z are expected: {}",
                       columns.size() == 1 ? "one column" : "two columns", quoted(line)),
           "write x y z on every line, separated by blanks, commas or semicolons");
    refuse_split_commas(line, columns);
    columns_ = columns.size();
    add(line);
  }

  /// 1,5,2,5,3,5 may be three numbers with decimal commas or six whole ones.
  void refuse_split_commas(std::string_view line, const std::vector<std::string_view>& columns) const {
    if (separator_ != ',' || columns.size() < 6 || columns.size() % 2 != 0) return;
    if (line.find('.') != std::string_view::npos) return;
    fail(line,
         fmt::format("{} may be {} whole numbers or {} with decimal commas", quoted(line), columns.size(),
                     columns.size() / 2),
         "write numbers with a decimal point, or separate them by blanks");
  }

  void take_heading(const std::vector<std::string_view>& columns) {
    heading_seen_ = true;
    std::vector<std::string> names;
    for (const std::string_view column : columns) names.push_back(bare(column));
    for (const std::string& name : names)
      if (is_degrees(name))
        fail(columns[0], fmt::format("the heading names a column {}: degrees are no lengths", quoted(name)),
             "project the points to metres with a general tool");
    for (std::size_t i = 0; i < names.size(); ++i)
      for (std::size_t axis = 0; axis < 3; ++axis)
        if (names[i] == std::string(1, "xyz"[axis]) && i != axis)
          fail(columns[i],
               fmt::format("the heading names column {} {}; columns 1, 2 and 3 must be x, y and z", i + 1,
                           quoted(names[i])),
               "put the columns in the order x y z");
    out_.notes.push_back(fmt::format("line {} is a heading and was left out", lines_.number()));
  }

  void add(std::string_view line) {
    Columns columns(line, separator_);
    Vec3 place;
    std::size_t count = 0;
    while (const auto column = columns.next()) {
      if (count < 3) place[static_cast<int>(count)] = coordinate(*column, "xyz"[count]);
      ++count;
    }
    if (count != columns_)
      fail(line, fmt::format("has {}, the first line with data has {}", counted(count, "column"), columns_),
           "complete the line, or get the file again whole");
    check_greatest(out_.points.size() + 1, greatest_, file_);
    out_.points.push_back(place);
  }

  double coordinate(std::string_view text, char axis) const {
    const std::optional<double> value = read_number(text);
    if (value && std::isfinite(*value)) return *value;
    if (has_decimal_comma(text)) {
      std::string point(text);
      point[point.find(',')] = '.';
      fail(text,
           fmt::format("{} is {}, written with a decimal comma; numbers have a decimal point", axis,
                       quoted(text)),
           fmt::format("write {}", quoted(point)));
    }
    fail(text, fmt::format("{} is {}, a finite number is expected", axis, quoted(text)),
         "correct the value, or remove the line");
  }

  std::string_view bytes_;
  const std::string& file_;
  std::uint64_t greatest_;
  Lines lines_;
  char separator_ = ' ';
  std::size_t columns_ = 0;
  bool heading_seen_ = false;
  std::optional<std::uint64_t> announced_;
  PointFile out_;
};

}  // namespace

bool looks_like_xyz(std::string_view bytes) {
  Lines lines(bytes.substr(0, 65536));
  for (int tried = 0; tried < 3 && lines.next();) {
    const std::string_view line = trimmed(lines.line());
    if (line.empty() || is_comment(line)) continue;
    ++tried;
    const std::vector<std::string_view> columns = split(line, separator_of(line));
    if (columns.size() < 3) continue;
    bool numbers = true;
    for (std::size_t k = 0; k < 3; ++k)
      numbers = numbers && (read_number(columns[k]) || has_decimal_comma(columns[k]));
    if (numbers) return true;
  }
  return false;
}

PointFile read_xyz(std::string_view bytes, const std::string& file, std::uint64_t greatest_points) {
  return XyzReader(bytes, file, greatest_points).read();
}

}  // namespace rimstance
