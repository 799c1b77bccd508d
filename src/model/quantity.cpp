#include "rimstance/model/quantity.hpp"

#include <fmt/format.h>
#include <locale.h>
#include <udunits2.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <memory>
#include <system_error>

#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

struct Kind {
  Dimension dimension;
  const char* name;
  const char* example;
  const char* base;  ///< udunits text of the SI unit
  std::vector<std::string> units;
  double most = 0;  ///< SI: beyond any machine, ground or map
};

const std::vector<Kind>& kinds() {
  using D = Dimension;
  static const std::vector<Kind> table{
      {D::number, "number", "1.25", "1", {"", "%"}, 1e6},
      {D::share, "share", "15 %", "1", {"%", ""}, 1e6},
      {D::length, "length", "2.4 m", "m", {"m", "cm", "mm", "um", "km", "ft", "in"}, 1e8},
      {D::angle, "angle", "35 deg", "rad", {"deg", "rad", "mrad"}, 1e12},
      {D::mass, "mass", "12.4 kg", "kg", {"kg", "g", "t", "lb"}, 1e6},
      {D::force, "force", "250 N", "N", {"N", "kN", "MN", "mN"}, 1e9},
      {D::moment, "moment", "50 N m", "N m", {"N m", "kN m", "N mm", "MN m"}, 1e12},
      {D::energy, "energy", "40 J", "J", {"J", "kJ", "mJ", "N m"}, 1e12},
      {D::stiffness, "stiffness", "55 kN/m", "N/m", {"kN/m", "N/m", "N/mm", "kN/mm", "MN/m"}, 1e15},
      {D::pressure,
       "pressure",
       "0.17 kPa",
       "Pa",
       {"kPa", "Pa", "MPa", "N/m2", "kN/m2", "MN/m2", "N/mm2", "N/cm2"},
       1e15},
      {D::subgrade,
       "pressure per length",
       "820 kN/m3",
       "N/m3",
       {"kN/m3", "N/m3", "MN/m3", "kPa/m", "Pa/m", "MPa/m"},
       1e15},
      {D::acceleration, "acceleration", "1.62 m/s2", "m/s2", {"m/s2", "cm/s2", "mm/s2"}, 1e4},
      {D::density, "density", "1500 kg/m3", "kg/m3", {"kg/m3", "g/cm3", "t/m3"}, 1e6},
      {D::line_density, "mass per length", "0.05 kg/m", "kg/m", {"kg/m", "g/m"}, 1e6},
      {D::bending_stiffness,
       "bending stiffness",
       "25 kN m2",
       "N m2",
       {"kN m2", "N m2", "MN m2", "N mm2"},
       1e18},
      {D::speed, "speed", "0.05 m/s", "m/s", {"m/s", "cm/s", "mm/s", "m/min", "km/h"}, 1e6}};
  return table;
}

const Kind& kind(Dimension d) { return kinds()[static_cast<std::size_t>(d)]; }

/// SI = value * factor, or value / divisor where the unit is a whole fraction: then one rounding,
/// and 80 cm is the same double as 0.8 m.
struct Factor {
  double factor = 1, divisor = 1;
  double to_si(double value) const { return divisor > 1 ? value / divisor : value * factor; }
};

/// While it lives, this thread's C locale is "C": the units database is read with the C library.
class PlainLocale {
 public:
  PlainLocale() : plain_(newlocale(LC_ALL_MASK, "C", locale_t{})), before_(uselocale(plain_)) {}
  ~PlainLocale() {
    uselocale(before_);
    freelocale(plain_);
  }
  PlainLocale(const PlainLocale&) = delete;
  PlainLocale& operator=(const PlainLocale&) = delete;

 private:
  locale_t plain_, before_;
};

using System = std::unique_ptr<ut_system, decltype(&ut_free_system)>;
using UdUnit = std::unique_ptr<ut_unit, decltype(&ut_free)>;

UdUnit parse_unit(const System& system, const std::string& text) {
  const std::string known = text == "deg" ? "degree" : text.empty() ? "1" : text;
  UdUnit unit(ut_parse(system.get(), known.c_str(), UT_ASCII), &ut_free);
  if (!unit)
    throw MachineError("units database: unit \"" + text + "\" is missing (package libudunits2-data)");
  return unit;
}

Factor factor_of(const System& system, const std::string& text, const UdUnit& base) {
  const UdUnit unit = parse_unit(system, text);
  const std::unique_ptr<cv_converter, decltype(&cv_free)> to_base(ut_get_converter(unit.get(), base.get()),
                                                                  &cv_free);
  if (!to_base) throw MachineError("units database: unit \"" + text + "\" has another dimension");
  Factor f;
  f.factor = cv_convert_double(to_base.get(), 1.0);
  const double inverse = std::round(1 / f.factor);
  if (inverse > 1 && std::abs(inverse * f.factor - 1) < 1e-12) f.divisor = inverse;
  return f;
}

/// Factors of units(d), in the same order, for every dimension.
std::vector<std::vector<Factor>> read_database() {
  const PlainLocale plain;
  ut_set_error_message_handler(&ut_ignore);
  const System system(ut_read_xml(nullptr), &ut_free_system);
  if (!system) throw MachineError("the units database cannot be read (package libudunits2-data)");
  std::vector<std::vector<Factor>> all;
  for (const Kind& k : kinds()) {
    const UdUnit base = parse_unit(system, k.base);
    std::vector<Factor> factors;
    for (const std::string& unit : k.units) factors.push_back(factor_of(system, unit, base));
    all.push_back(std::move(factors));
  }
  return all;
}

const std::vector<std::vector<Factor>>& database() {
  static const std::vector<std::vector<Factor>> factors = read_database();  // once; read-only afterwards
  return factors;
}

bool blank(char c) { return c == ' ' || c == '\t' || c == '\n'; }
bool digit(char c) { return c >= '0' && c <= '9'; }

std::string_view trimmed(std::string_view s) {
  while (!s.empty() && blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && blank(s.back())) s.remove_suffix(1);
  return s;
}

void replace_all(std::string& s, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = s.find(from, at)) != std::string::npos; at += to.size())
    s.replace(at, from.size(), to);
}

/// One spelling of a unit text: products by a blank, powers as a bare digit.
std::string unit_spelling(std::string_view text) {
  std::string s(trimmed(text));
  for (const auto& [from, to] : {std::pair{"\u00b7", " "},
                                 {"\u22c5", " "},
                                 {"*", " "},
                                 {"\u00b2", "2"},
                                 {"\u00b3", "3"},
                                 {"\u00b5", "u"},
                                 {"\u03bc", "u"},
                                 {"\u00b0", "deg"}})
    replace_all(s, from, to);
  for (const char* power : {"2", "3"}) replace_all(s, std::string("^") + power, power);
  std::string out;
  for (const char c : s) {
    const bool skip = blank(c) && (out.empty() || out.back() == ' ' || out.back() == '/');
    if (c == '/' && !out.empty() && out.back() == ' ') out.pop_back();
    if (!skip) out += blank(c) ? ' ' : c;
  }
  return out;
}

std::string without_blanks(std::string s) {
  s.erase(std::remove(s.begin(), s.end(), ' '), s.end());
  return s;
}

const Factor* find_unit(const std::string& spelling, Dimension d) {
  const std::vector<std::string>& known = kind(d).units;
  for (std::size_t i = 0; i < known.size(); ++i)  // "Nm" stands for "N m", but "m m" never for "mm"
    if (spelling == known[i] || spelling == without_blanks(known[i]))
      return &database()[static_cast<std::size_t>(d)][i];
  return nullptr;
}

std::string listed(const std::vector<std::string>& units) {
  std::string out;
  for (const std::string& u : units)
    if (!u.empty()) out += (out.empty() ? "" : ", ") + u;
  return out;
}

/// The unit of `d` that was meant by a word or by other capitals; empty if none was.
std::string meant_unit(const std::string& spelling, Dimension d) {
  constexpr std::pair<std::string_view, std::string_view> kWords[] = {
      {"feet", "ft"},      {"foot", "ft"},     {"'", "ft"},       {"inch", "in"},     {"inches", "in"},
      {"\"", "in"},        {"meter", "m"},     {"meters", "m"},   {"metre", "m"},     {"metres", "m"},
      {"degree", "deg"},   {"degrees", "deg"}, {"radian", "rad"}, {"radians", "rad"}, {"kilogram", "kg"},
      {"kilograms", "kg"}, {"kgs", "kg"},      {"gram", "g"},     {"grams", "g"},     {"ton", "t"},
      {"tonne", "t"},      {"tonnes", "t"},    {"pound", "lb"},   {"pounds", "lb"},   {"lbs", "lb"},
      {"newton", "N"},     {"newtons", "N"},   {"percent", "%"},  {"m/s^2", "m/s2"},  {"m/s/s", "m/s2"}};
  const auto lower = [](std::string s) {
    for (char& c : s) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return s;
  };
  std::string word = lower(spelling);
  for (const auto& [from, to] : kWords)
    if (word == from) word = lower(std::string(to));
  std::string found;
  for (const std::string& unit : units(d)) {
    if (unit.empty() || lower(unit) != word) continue;
    if (!found.empty()) return {};  // mN and MN
    found = unit;
  }
  return found;
}

std::string article(std::string_view word) {
  const bool vowel = std::string_view("aeiou").find(word.front()) != std::string_view::npos;
  return (vowel ? "an " : "a ") + std::string(word);
}

std::string expected(Dimension d) { return article(name(d)) + " is expected"; }
std::string for_example(Dimension d) { return fmt::format("write it like \"{}\"", example(d)); }

Reading<Factor> unit_factor(std::string_view text, Dimension d, std::string_view whole) {
  const std::string spelling = unit_spelling(text);
  if (const Factor* f = find_unit(spelling, d)) return {*f, {}, {}};
  if (spelling.empty())
    return {{},
            fmt::format("\"{}\" has no unit; {}", whole, expected(d)),
            for_example(d) + (d == Dimension::angle ? " or, in radians, like \"0.61 rad\"" : "")};
  for (const Kind& k : kinds())
    if (find_unit(spelling, k.dimension))
      return {{}, fmt::format("\"{}\" is {}; {}", whole, article(k.name), expected(d)), for_example(d)};
  const std::string meant = meant_unit(spelling, d);
  return {{},
          fmt::format("\"{}\": unit \"{}\" is not known; {}", whole, spelling, expected(d)),
          fmt::format("{}units of {}: {}",
                      meant.empty() ? std::string() : fmt::format("did you mean \"{}\"? ", meant), name(d),
                      listed(units(d)))};
}

/// Length of the number at the start of s: [+-] digits [. digits] [e [+-] digits]; 0 if there is none.
std::size_t number_length(std::string_view s) {
  std::size_t i = 0;
  const auto digits = [&] {
    const std::size_t from = i;
    while (i < s.size() && digit(s[i])) ++i;
    return i - from;
  };
  if (i < s.size() && (s[i] == '+' || s[i] == '-')) ++i;
  const std::size_t whole = digits();
  std::size_t fraction = 0;
  if (i < s.size() && s[i] == '.') {
    ++i;
    fraction = digits();
  }
  if (whole + fraction == 0) return 0;
  if (i < s.size() && (s[i] == 'e' || s[i] == 'E')) {
    const std::size_t mantissa = i++;
    if (i < s.size() && (s[i] == '+' || s[i] == '-')) ++i;
    if (digits() == 0) i = mantissa;
  }
  return i;
}

bool says_not_finite(std::string_view s) {
  if (!s.empty() && (s.front() == '+' || s.front() == '-')) s.remove_prefix(1);
  if (!s.empty() && s.front() == '.') s.remove_prefix(1);
  std::string word;
  while (!s.empty() && !blank(s.front())) {
    const char c = s.front();
    word += c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
    s.remove_prefix(1);
  }
  return word == "nan" || word == "inf" || word == "infinity";
}

Reading<double> parse_number(std::string_view number, std::string_view whole) {
  std::string_view plain = number;
  if (plain.front() == '+') plain.remove_prefix(1);
  const std::string_view unsigned_part = plain.front() == '-' ? plain.substr(1) : plain;
  if (unsigned_part.size() > 1 && unsigned_part[0] == '0' && digit(unsigned_part[1]))
    return {{},
            fmt::format("\"{}\": a leading zero is ambiguous (octal or decimal)", whole),
            "write the number without leading zeros"};
  double value = 0;
  const auto [end, error] = std::from_chars(plain.data(), plain.data() + plain.size(), value);
  if (error != std::errc{} || end != plain.data() + plain.size() || !std::isfinite(value))
    return {{}, fmt::format("\"{}\" is outside the range of numbers", whole), "check the exponent"};
  return {value, {}, {}};
}

struct Split {
  double value;
  std::string_view unit;
};

/// The number in front and what follows it.
Reading<Split> split_number(std::string_view text, Dimension d) {
  const std::string_view s = trimmed(text);
  const std::size_t length = number_length(s);
  if (length == 0 && says_not_finite(s))
    return {{}, fmt::format("\"{}\" is not a finite number", s), for_example(d)};
  if (length == 0) return {{}, fmt::format("\"{}\" is not a number; {}", s, expected(d)), for_example(d)};
  if (length + 1 < s.size() && s[length] == ',' && digit(s[length + 1])) {
    std::string point(s);
    point[length] = '.';
    const bool one = s.substr(0, length).find('.') == s.npos && s.find_first_of(",.", length + 1) == s.npos;
    return {{},
            fmt::format("\"{}\" has a comma inside the number", s),
            one ? fmt::format("the decimal sign is a point: write \"{}\"", point)
                : "the decimal sign is a point, and thousands have no sign"};
  }
  const Reading<double> number = parse_number(s.substr(0, length), s);
  if (!number.value) return {{}, number.problem, number.way_out};
  return {Split{*number.value, trimmed(s.substr(length))}, {}, {}};
}

/// Bracketed text as a tree of pieces; the unit behind the last bracket stays outside.
struct Pieces {
  std::vector<std::string_view> items;
  std::string_view behind;
  bool ok = false;
};

/// Splits "[a, b, ...] behind" at the commas of its outer level.
Pieces split_brackets(std::string_view text) {
  Pieces out;
  const std::string_view s = trimmed(text);
  if (s.empty() || s.front() != '[') return out;
  int depth = 0;
  std::size_t from = 1;
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (s[i] == '[') ++depth;
    const bool closes = s[i] == ']' && depth == 1;
    if ((s[i] == ',' && depth == 1) || closes) {
      out.items.push_back(trimmed(s.substr(from, i - from)));
      from = i + 1;
    }
    if (s[i] == ']') --depth;
    if (closes) {
      out.behind = trimmed(s.substr(i + 1));
      out.ok = std::none_of(out.items.begin(), out.items.end(), [](auto item) { return item.empty(); });
      return out;
    }
  }
  return out;
}

Reading<double> with_unit(std::string_view item, std::string_view behind, Dimension d) {
  if (behind.empty()) return read_quantity(item, d);
  const Reading<Split> split = split_number(item, d);
  if (!split.value) return {{}, split.problem, split.way_out};
  if (!split.value->unit.empty())
    return {{},
            fmt::format("\"{}\" has a unit of its own beside \"{}\" behind the list", item, behind),
            "give one unit behind the list or one for each number"};
  return read_quantity(fmt::format("{} {}", item, behind), d);
}

Reading<std::vector<double>> read_list(const Pieces& pieces, std::string_view behind, std::string_view whole,
                                       Dimension d) {
  if (!pieces.ok)
    return {{},
            fmt::format("\"{}\" is not a list in brackets", whole),
            fmt::format("write it like \"[1, 2] {}\"", units(d).front())};
  std::vector<double> values;
  for (const std::string_view item : pieces.items) {
    const Reading<double> value = with_unit(item, behind, d);
    if (!value.value) return {{}, value.problem, value.way_out};
    values.push_back(*value.value);
  }
  return {values, {}, {}};
}

std::string escaped(const std::string& unit) {
  std::string out;
  for (const char c : unit) {
    if (c == ' ')
      out += "[ *\u00b7]?";
    else if (c == '/')
      out += " ?/ ?";
    else if (c == '2')
      out += "(\\^?2|\u00b2)";
    else if (c == '3')
      out += "(\\^?3|\u00b3)";
    else
      out += c;
  }
  return out;
}

std::string unit_pattern(Dimension d) {
  std::string out;
  bool bare = false;
  for (const std::string& u : units(d)) {
    if (u.empty())
      bare = true;
    else
      out += (out.empty() ? "" : "|") + escaped(u);
  }
  if (d == Dimension::angle) out += "|\u00b0";
  return fmt::format(" *({}){}", out, bare ? "?" : "");
}

constexpr const char* kNumberPattern = "[-+]?((0|[1-9][0-9]*)(\\.[0-9]*)?|\\.[0-9]+)([eE][-+]?[0-9]+)?";

}  // namespace

std::string_view name(Dimension d) { return kind(d).name; }
std::string_view example(Dimension d) { return kind(d).example; }
std::string_view base_unit(Dimension d) {
  const std::string_view base = kind(d).base;
  return base == "1" ? std::string_view{} : base;
}
const std::vector<std::string>& units(Dimension d) { return kind(d).units; }

Reading<double> read_quantity(std::string_view text, Dimension d) {
  const Reading<Split> split = split_number(text, d);
  if (!split.value) return {{}, split.problem, split.way_out};
  const Reading<Factor> factor = unit_factor(split.value->unit, d, trimmed(text));
  if (!factor.value) return {{}, factor.problem, factor.way_out};
  const double si = factor.value->to_si(split.value->value);
  if (!std::isfinite(si))
    return {{}, fmt::format("\"{}\" is outside the range of numbers", trimmed(text)), "check the exponent"};
  const double most = kind(d).most;
  if (std::abs(si) > most)
    return {{},
            fmt::format("\"{}\" is beyond any machine or ground (at most {})", trimmed(text), shown(most, d)),
            "check the exponent and the unit"};
  return {si, {}, {}};
}

Reading<std::vector<double>> read_quantities(std::string_view text, Dimension d) {
  const Pieces pieces = split_brackets(text);
  return read_list(pieces, pieces.behind, trimmed(text), d);
}

Reading<std::vector<std::vector<double>>> read_rows(std::string_view text, Dimension d) {
  const Pieces pieces = split_brackets(text);
  if (!pieces.ok)
    return {{},
            fmt::format("\"{}\" is not a list of points", trimmed(text)),
            "write it like \"[[0, 0], [1, 0], [1, 1]] m\""};
  std::vector<std::vector<double>> rows;
  for (const std::string_view item : pieces.items) {
    const Pieces row = split_brackets(item);
    const std::string_view behind = row.behind.empty() ? pieces.behind : row.behind;
    const Reading<std::vector<double>> values = read_list(row, behind, item, d);
    if (!values.value) return {{}, values.problem, values.way_out};
    rows.push_back(*values.value);
  }
  return {rows, {}, {}};
}

Reading<int> read_integer(std::string_view text) {
  const std::string_view s = trimmed(text);
  std::string_view digits = s;
  if (!digits.empty() && (digits.front() == '+' || digits.front() == '-')) digits.remove_prefix(1);
  if (digits.empty() || !std::all_of(digits.begin(), digits.end(), digit))
    return {{}, fmt::format("\"{}\" is not a whole decimal number", s), "write it like \"6\""};
  if (digits.size() > 1 && digits.front() == '0')
    return {{},
            fmt::format("\"{}\": a leading zero is ambiguous (octal or decimal)", s),
            "write the number without leading zeros"};
  int value = 0;
  const char* const begin = s.data() + (s.front() == '+' ? 1 : 0);
  const auto [end, error] = std::from_chars(begin, s.data() + s.size(), value);
  if (error != std::errc{} || end != s.data() + s.size())
    return {{}, fmt::format("\"{}\" is too large", s), "check the digits"};
  return {value, {}, {}};
}

Reading<double> read_unit(std::string_view text, Dimension d) {
  if (number_length(trimmed(text)) > 0)
    return {{},
            fmt::format("\"{}\" is not a unit", trimmed(text)),
            fmt::format("write the unit alone, one of {}", listed(units(d)))};
  const Reading<Factor> factor = unit_factor(text, d, trimmed(text));
  if (!factor.value) {
    const std::string meant = meant_unit(unit_spelling(text), d);
    return {{},
            factor.problem,
            fmt::format("{}write the unit alone, one of {}",
                        meant.empty() ? std::string() : fmt::format("did you mean \"{}\"? ", meant),
                        listed(units(d)))};
  }
  return {factor.value->to_si(1.0), {}, {}};
}

std::string shown(double si, Dimension d) {
  const std::string& unit = units(d).front();
  const Factor& f = database()[static_cast<std::size_t>(d)].front();
  const double value = f.divisor > 1 ? si * f.divisor : si / f.factor;
  return fmt::format("{:.6g}{}{}", value, unit.empty() ? "" : " ", unit);
}

std::string quantity_pattern(Dimension d) {
  return fmt::format("^ *{}{} *$", kNumberPattern, unit_pattern(d));
}

std::string quantities_pattern(Dimension d) {
  const std::string number = kNumberPattern, unit = unit_pattern(d);
  const std::string bare = fmt::format("\\[ *{0}( *, *{0})* *\\]{1}", number, unit);
  const std::string each = fmt::format("\\[ *{0}{1}( *, *{0}{1})* *\\]", number, unit);
  return fmt::format("^ *({}|{}) *$", bare, each);
}

}  // namespace rimstance
