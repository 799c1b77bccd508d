#include "rimstance/output/value.hpp"

#include <charconv>
#include <cmath>

#include "rimstance/base/errors.hpp"

namespace rimstance {

Value::Value(double number) {
  expects(!std::isinf(number), "Value: a number is finite, or NaN for what does not exist");
  if (!std::isnan(number)) is = number + 0.0;  // one zero, without a sign
}

const Value* Value::find(std::string_view key) const {
  const auto* members = std::get_if<Members>(&is);
  if (!members) return nullptr;
  for (const auto& [name, value] : *members)
    if (name == key) return &value;
  return nullptr;
}

const Value& Value::at(std::string_view key) const {
  const Value* found = find(key);
  expects(found != nullptr, "Value::at: the member exists");
  return *found;
}

const Value* find_path(const Value& root, std::string_view dotted) {
  const Value* here = &root;
  while (here && !dotted.empty()) {
    const std::size_t dot = dotted.find('.');
    const std::string_view key = dotted.substr(0, dot);
    dotted = dot == std::string_view::npos ? std::string_view{} : dotted.substr(dot + 1);
    if (const auto* list = std::get_if<Values>(&here->is)) {
      std::size_t index = 0;
      const auto [end, error] = std::from_chars(key.data(), key.data() + key.size(), index);
      const bool inside = error == std::errc{} && end == key.data() + key.size() && index < list->size();
      here = inside ? &(*list)[index] : nullptr;
    } else {
      here = here->find(key);
    }
  }
  return here;
}

}  // namespace rimstance
