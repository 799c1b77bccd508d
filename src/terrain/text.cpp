#include "text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

namespace rimstance {

namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

}  // namespace

TextCursor::TextCursor(std::string_view bytes, const std::string& file, Style style)
    : file_(&file), begin_(bytes.data()), at_(begin_), end_(begin_ + bytes.size()), style_(style) {
  if (bytes.starts_with(kByteOrderMark)) at_ += kByteOrderMark.size();
}

bool TextCursor::next_filled_line() {
  next_line();
  return more();
}

bool TextCursor::more() {
  while (!more_on_line()) {
    if (at_ == end_) return false;
    next_line();
  }
  return true;
}

std::string_view TextCursor::peek() const {
  const char* stop = at_;
  while (stop != end_ && !is_space(*stop)) ++stop;
  return {at_, static_cast<std::size_t>(stop - at_)};
}

std::int64_t TextCursor::integer(const char* name) {
  if (!more_on_line()) fail_missing(name);
  const std::string_view text = peek();
  const char* const stop = text.data() + text.size();
  const char* const digits = text.size() > 1 && text[0] == '+' && text[1] != '-' ? at_ + 1 : at_;
  std::int64_t value = 0;
  const auto [parsed, error] = std::from_chars(digits, stop, value);
  if (error != std::errc{} || parsed != stop)
    fail(fmt::format("{} is {}, a whole number is expected", name, quoted(text)), "correct the file");
  at_ = stop;
  return value;
}

int TextCursor::line_of(const char* at) const {
  std::int64_t line = 1;
  for (const char* c = begin_; c < at; ++c)
    line += *c == '\n' || (*c == '\r' && !(c + 1 < end_ && c[1] == '\n'));
  return static_cast<int>(std::min<std::int64_t>(line, std::numeric_limits<int>::max()));
}

void TextCursor::fail(const char* at, std::string what, std::string way_out) const {
  const char* start = at;
  while (start > begin_ && !is_line_end(start[-1])) --start;
  const auto column = std::min<std::int64_t>(at - start + 1, std::numeric_limits<int>::max());
  throw InputError(Place{*file_, line_of(at), static_cast<int>(column), {}}, std::move(what),
                   std::move(way_out));
}

void TextCursor::fail_missing(const char* name) const {
  if (at_ == end_)
    fail(fmt::format("unexpected end of file: {} is missing", name), "the file is cut; get it again whole");
  fail(fmt::format("the line ends where {} is expected", name), "complete the line");
}

void TextCursor::fail_number(const char* start, const char* name) const {
  const char* stop = start;
  while (stop != end_ && !is_space(*stop)) ++stop;
  const std::string_view text(start, static_cast<std::size_t>(stop - start));
  if (has_decimal_comma(text)) {
    std::string point(text);
    std::replace(point.begin(), point.end(), ',', '.');
    fail(start,
         fmt::format("{} is {}, written with a decimal comma; numbers have a decimal point", name,
                     quoted(text)),
         fmt::format("write {}", quoted(point)));
  }
  fail(start, fmt::format("{} is {}, a finite number is expected", name, quoted(text)),
       "correct the value, or remove what uses it");
}

void TextCursor::fail_surplus(const char* after) const {
  fail(fmt::format("{} stands after {}, where the line must end", quoted(peek()), after),
       "remove it, or correct the line");
}

std::string quoted(std::string_view token) {
  constexpr std::size_t kLongest = 40;
  std::string out = "\"";
  for (const char c : token.substr(0, kLongest)) {
    if (c >= ' ' && c <= '~')
      out += c;
    else
      out += fmt::format("\\x{:02X}", static_cast<unsigned char>(c));
  }
  out += '"';
  if (token.size() > kLongest) out += "...";
  return out;
}

std::string lower_case(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

bool has_decimal_comma(std::string_view text) {
  std::size_t commas = 0, digits = 0;
  for (const char c : text) {
    if (c == ',')
      ++commas;
    else if (c >= '0' && c <= '9')
      ++digits;
    else if (c != '-' && c != '+' && c != 'e' && c != 'E')
      return false;
  }
  return commas == 1 && digits > 0;
}

}  // namespace rimstance
