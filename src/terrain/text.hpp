#pragma once
#include <charconv>
#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>

#include "decimal.hpp"
#include "rimstance/base/errors.hpp"

namespace rimstance {

/// A place in a text file that only moves forward: blanks, tokens, numbers and lines (LF, CRLF, CR).
/// A UTF-8 byte order mark is skipped. Numbers never depend on the locale. Every failure is an
/// InputError with line and column, which are counted only then.
class TextCursor {
 public:
  struct Style {
    char comment = 0;        ///< a token that starts with it ends the line; 0: no comments
    bool continued = false;  ///< a backslash before the end of a line joins the next one
  };

  TextCursor(std::string_view bytes, const std::string& file, Style style);
  TextCursor(std::string_view bytes, const std::string& file) : TextCursor(bytes, file, Style{}) {}

  bool at_end() const { return at_ == end_; }
  const char* at() const { return at_; }
  std::size_t offset() const { return static_cast<std::size_t>(at_ - begin_); }
  std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }

  static bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\v' || c == '\f'; }
  static bool is_line_end(char c) { return c == '\n' || c == '\r'; }
  static bool is_space(char c) { return is_blank(c) || is_line_end(c); }

  /// Skips blanks (and a comment); false at the end of the line or of the file.
  bool more_on_line() {
    while (at_ != end_) {
      if (is_blank(*at_)) {
        ++at_;
        continue;
      }
      if (is_line_end(*at_)) return false;
      if (*at_ == style_.comment && style_.comment) {
        skip_to_line_end();
        return false;
      }
      if (*at_ == '\\' && style_.continued && at_ + 1 != end_ && is_line_end(at_[1])) {
        ++at_;
        skip_line_end();
        continue;
      }
      return true;
    }
    return false;
  }
  /// To the start of the next line, whatever this one still holds.
  void next_line() {
    skip_to_line_end();
    skip_line_end();
  }
  /// To the next line that holds a token; false at the end of the file.
  bool next_filled_line();
  /// Skips blanks, line ends and comments; false at the end of the file.
  bool more();

  /// The token at the cursor (empty at the end of the line), without moving or with.
  std::string_view peek() const;
  std::string_view token() {
    const std::string_view t = peek();
    at_ += t.size();
    return t;
  }
  /// Moves to a place further on, found by the caller's own scan.
  void move_to(const char* at) { at_ = at; }

  /// A finite number on this line; `name` says what it is for ("x of a vertex").
  double number(const char* name) {
    if (!more_on_line()) fail_missing(name);
    const char* const start = at_;
    const char* const digits = *start == '+' && start + 1 != end_ && start[1] != '-' ? start + 1 : start;
    double value = 0;
    const auto [stop, error] = read_decimal(digits, end_, value);
    if (error != std::errc{} || !(stop == end_ || is_space(*stop)) || !std::isfinite(value))
      fail_number(start, name);
    at_ = stop;
    return value;
  }
  /// A whole number on this line.
  std::int64_t integer(const char* name);
  /// The line must hold nothing more.
  void expect_line_end(const char* after) {
    if (more_on_line()) fail_surplus(after);
  }

  /// InputError at a place of the text (by default: here).
  [[noreturn]] void fail(const char* at, std::string what, std::string way_out) const;
  [[noreturn]] void fail(std::string what, std::string way_out) const {
    fail(at_, std::move(what), std::move(way_out));
  }
  int line_of(const char* at) const;
  /// False if the last line has no end, as in a file that was cut.
  bool ends_with_line_end() const { return end_ == begin_ || is_line_end(end_[-1]); }

 private:
  void skip_to_line_end() {
    while (at_ != end_ && !is_line_end(*at_)) ++at_;
  }
  void skip_line_end() {
    if (at_ == end_) return;
    const bool cr = *at_ == '\r';
    ++at_;
    if (cr && at_ != end_ && *at_ == '\n') ++at_;
  }
  [[noreturn]] void fail_missing(const char* name) const;
  [[noreturn]] void fail_number(const char* start, const char* name) const;
  [[noreturn]] void fail_surplus(const char* after) const;

  const std::string* file_;
  const char *begin_, *at_, *end_;
  Style style_;
};

/// A token as it may stand in a message: in quotes, cut at 40 characters, what cannot be printed as \xNN.
std::string quoted(std::string_view token);

/// ASCII only, whatever the locale.
std::string lower_case(std::string_view);

/// Is `text` the start of a number that was written with a decimal comma?
bool has_decimal_comma(std::string_view text);

}  // namespace rimstance
