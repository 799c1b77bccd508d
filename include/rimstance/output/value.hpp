#pragma once
#include <cstdint>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace rimstance {

/// A result, described once: JSON, text, tables and pages read this and nothing else, so they cannot
/// disagree. Keys carry units (_m, _deg, _kg, _N, _Nm, _J, _Pa). NaN and infinity cannot be put in:
/// what does not exist is null, with a reason where one helps.
struct Value;
using Members = std::vector<std::pair<std::string, Value>>;
using Values = std::vector<Value>;

struct Value {
  std::variant<std::nullptr_t, bool, double, std::int64_t, std::string, Values, Members> is = nullptr;
  std::string reason;  ///< why it is null

  Value() = default;
  Value(std::nullptr_t) {}
  Value(bool b) : is(b) {}
  Value(double number);  ///< NaN becomes null; infinite: the caller is wrong
  Value(int number) : is(std::int64_t{number}) {}
  Value(std::int64_t number) : is(number) {}
  Value(std::uint64_t number) : is(static_cast<std::int64_t>(number)) {}
  Value(const char* text) : is(std::string(text)) {}
  Value(std::string text) : is(std::move(text)) {}
  Value(Values list) : is(std::move(list)) {}
  Value(Members members) : is(std::move(members)) {}
  static Value null(std::string why) {
    Value v;
    v.reason = std::move(why);
    return v;
  }
  bool is_null() const { return std::holds_alternative<std::nullptr_t>(is); }
  /// The member called `key`; the caller is wrong where there is none.
  const Value& at(std::string_view key) const;
  const Value* find(std::string_view key) const;
};

/// Member lookup along a dotted path ("worst.moment_Nm", "feet.0.stroke_m"); nullptr where there is none.
const Value* find_path(const Value&, std::string_view dotted);

}  // namespace rimstance
