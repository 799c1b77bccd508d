#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <initializer_list>
#include <optional>

#include "las_crs.hpp"
#include "rimstance/base/errors.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

/// KEYWORD[item, item, ...] with items that are texts, numbers, bare words or further nodes.
struct Node {
  std::string word;  ///< keyword in capitals; of a leaf: the text itself
  std::optional<double> number;
  std::vector<Node> items;

  const Node* child(std::initializer_list<std::string_view> words) const {
    for (const Node& item : items)
      for (const std::string_view w : words)
        if (item.word == w && !item.items.empty()) return &item;
    return nullptr;
  }
  std::string name() const { return items.empty() ? std::string() : items[0].word; }
};

class Parser {
 public:
  Parser(std::string_view text, const std::string& file) : text_(text), place_{file, 0, 0, {}} {}

  Node read() {
    Node root = node(0);
    skip();
    if (at_ != text_.size()) fail("has something after its end");
    if (root.items.empty()) fail("is no KEYWORD[...]");
    return root;
  }

 private:
  static bool is_letter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '_'; }
  static bool is_digit(char c) { return c >= '0' && c <= '9'; }

  void skip() {
    while (at_ < text_.size() && TextCursor::is_space(text_[at_])) ++at_;
  }
  char next() {
    skip();
    return at_ < text_.size() ? text_[at_] : '\0';
  }
  [[noreturn]] void fail(const char* what) const {
    throw InputError(place_,
                     fmt::format("the coordinate system (well-known text) {} at its character {}, near {}",
                                 what, at_ + 1, quoted(text_.substr(at_, 12))),
                     "write the file again, or remove the coordinate system and state terrain.unit");
  }

  Node node(int depth) {
    if (depth > 32) fail("is nested more than 32 deep");
    const char c = next();
    Node out;
    if (c == '"') {
      out.word = string();
    } else if (is_digit(c) || c == '-' || c == '+' || c == '.') {
      out.number = number();
    } else if (is_letter(c)) {
      while (at_ < text_.size() && (is_letter(text_[at_]) || is_digit(text_[at_]))) out.word += text_[at_++];
      for (char& letter : out.word)
        if (letter >= 'a' && letter <= 'z') letter = static_cast<char>(letter - 'a' + 'A');
      if (const char open = next(); open == '[' || open == '(') {
        ++at_;
        items(out, open == '[' ? ']' : ')', depth);
      }
    } else {
      fail("is cut or malformed");
    }
    return out;
  }
  void items(Node& out, char close, int depth) {
    for (;;) {
      out.items.push_back(node(depth + 1));
      const char c = next();
      if (c != ',' && c != close) fail("is cut or malformed");
      ++at_;
      if (c == close) return;
    }
  }
  std::string string() {
    std::string out;
    for (++at_; at_ < text_.size(); ++at_) {
      if (text_[at_] != '"') {
        out += text_[at_];
      } else if (at_ + 1 < text_.size() && text_[at_ + 1] == '"') {
        out += text_[at_++];
      } else {
        ++at_;
        return out;
      }
    }
    fail("is cut within a text");
  }
  double number() {
    double value = 0;
    const char* const start = text_.data() + at_ + (text_[at_] == '+' ? 1 : 0);
    const auto [stop, error] = std::from_chars(start, text_.data() + text_.size(), value);
    if (error != std::errc{} || !std::isfinite(value)) fail("has a malformed number");
    at_ = static_cast<std::size_t>(stop - text_.data());
    return value;
  }

  std::string_view text_;
  Place place_;
  std::size_t at_ = 0;
};

double factor(const Node* unit) {
  if (!unit || unit->items.size() < 2 || !unit->items[1].number) return kUnset;
  const double metres = *unit->items[1].number;
  return metres > 0 ? metres : kUnset;
}

/// The unit of a system's coordinates: its own, or in version 2 that of each axis if they are all the same.
double length_unit(const Node& system) {
  if (const Node* const own = system.child({"LENGTHUNIT", "UNIT"})) return factor(own);
  double common = kUnset;
  for (const Node& axis : system.items) {
    if (axis.word != "AXIS") continue;
    const double metres = factor(axis.child({"LENGTHUNIT", "UNIT"}));
    if (std::isnan(metres) || (!std::isnan(common) && metres != common)) return kUnset;
    common = metres;
  }
  return common;
}

bool points_down(const Node& vertical) {
  for (const Node& axis : vertical.items)
    if (axis.word == "AXIS")
      for (const Node& item : axis.items)
        if (item.word == "DOWN" || item.word == "down") return true;
  return false;
}

bool has_three_axes(const Node& system) {
  const Node* const axes = system.child({"CS"});
  return axes && axes->items.size() > 1 && axes->items[1].number == 3;
}

void take(const Node& system, CrsFacts& out) {
  const auto is = [&](std::initializer_list<std::string_view> words) {
    for (const std::string_view w : words)
      if (system.word == w) return true;
    return false;
  };
  const auto add_name = [&] { out.name += (out.name.empty() ? "" : " + ") + system.name(); };
  if (is({"COMPD_CS", "COMPOUNDCRS"})) {
    for (const Node& part : system.items) take(part, out);
  } else if (is({"PROJCS", "PROJCRS", "PROJECTEDCRS", "LOCAL_CS", "ENGCRS", "ENGINEERINGCRS"})) {
    out.kind = CrsFacts::Kind::projected;
    out.plan_unit = length_unit(system);
    if (has_three_axes(system)) out.height_unit = out.plan_unit;
    add_name();
  } else if (is({"GEOGCS", "GEOGCRS", "GEOGRAPHICCRS"})) {
    out.kind = CrsFacts::Kind::geographic;
    add_name();
  } else if (is({"GEOCCS"})) {
    out.kind = CrsFacts::Kind::geocentric;
    add_name();
  } else if (is({"GEODCRS", "GEODETICCRS"})) {
    const Node* const axes = system.child({"CS"});
    const bool straight = axes && (axes->name() == "CARTESIAN" || axes->name() == "Cartesian");
    out.kind = straight ? CrsFacts::Kind::geocentric : CrsFacts::Kind::geographic;
    add_name();
  } else if (is({"VERT_CS", "VERTCRS", "VERTICALCRS"})) {
    out.height_unit = length_unit(system);
    out.depths = points_down(system);
    add_name();
  }
}

}  // namespace

CrsFacts crs_from_wkt(std::string_view text, const std::string& file) {
  while (!text.empty() && (text.back() == '\0' || TextCursor::is_space(text.back()))) text.remove_suffix(1);
  CrsFacts out;
  if (text.empty()) return out;
  take(Parser(text, file).read(), out);
  return out;
}

}  // namespace rimstance
