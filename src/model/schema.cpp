#include "rimstance/model/schema.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "rimstance/model/quantity.hpp"
#include "table.hpp"

namespace rimstance {

namespace {

using Json = nlohmann::ordered_json;  // keys stay in the table's order

std::string reference(std::string title) {
  std::replace(title.begin(), title.end(), ' ', '-');
  return title;
}
Json refer_to(const std::string& title) { return {{"$ref", "#/$defs/" + reference(title)}}; }

Json text_matching(const std::string& pattern) { return {{"type", "string"}, {"pattern", pattern}}; }

Json any_of(Json options) {
  return options.size() == 1 ? options.front() : Json{{"anyOf", std::move(options)}};
}

bool bare(Dimension d) { return std::count(units(d).begin(), units(d).end(), "") > 0; }

/// One number: text with its unit, or a plain number where no unit is needed.
Json number(Dimension d) {
  Json options = Json::array();
  if (bare(d)) options.push_back({{"type", "number"}});
  options.push_back(text_matching(quantity_pattern(d)));
  return any_of(std::move(options));
}
std::string number_title(Dimension d) { return std::string(name(d)); }

/// A list of numbers as text, or as YAML list with a unit each.
std::string list_title(Dimension d) { return number_title(d) + " list"; }
void add_numbers(Json& options, Dimension d, int size) {
  options.push_back(refer_to(list_title(d)));
  options.push_back(
      {{"type", "array"}, {"items", refer_to(number_title(d))}, {"minItems", size}, {"maxItems", size}});
}

Json whole_numbers(const Range& range) {
  return {{"type", "integer"}, {"minimum", range.lo}, {"maximum", range.hi}};
}

/// What may stand for the value itself.
Json plain_forms(const Field& f) {
  Json options = Json::array();
  switch (f.form) {
    case Form::quantity:
      options.push_back(refer_to(number_title(f.dimension)));
      break;
    case Form::integer:
      options.push_back(whole_numbers(f.range));
      break;
    case Form::text:
      options.push_back({{"type", {"string", "number", "boolean"}}});
      break;
    case Form::file:
      options.push_back({{"type", "string"}});
      break;
    case Form::integers:
      options.push_back(whole_numbers(f.range));
      options.push_back({{"type", "array"}, {"minItems", 1}, {"items", whole_numbers(f.range)}});
      break;
    case Form::flag:
      options.push_back({{"type", "boolean"}});
      break;
    case Form::unit:
      options.push_back({{"enum", units(f.dimension)}});
      break;
    case Form::point:
      add_numbers(options, f.dimension, f.size);
      break;
    case Form::interval:
      options.push_back(refer_to(number_title(f.dimension)));
      add_numbers(options, f.dimension, 2);
      break;
    case Form::outline:
      options.push_back({{"type", "string"}, {"pattern", "^ *\\[.*\\][^\\]]*$"}});
      options.push_back({{"type", "array"}, {"minItems", f.size}});
      break;
    default:
      break;
  }
  return options;
}

Json words(const Field& f) {
  Json texts = Json::array();
  for (const Word& w : f.words) {
    const bool digits = w.text.find_first_not_of("0123456789") == std::string::npos;
    texts.push_back(digits ? Json(*read_integer(w.text).value) : Json(w.text));
  }
  return {{"enum", std::move(texts)}};
}

Json value_map(const Field& f, const Json& plain) {
  Json properties{{"value", any_of(plain)}, {"from", {{"type", "string"}}}};
  const bool numeric =
      f.form != Form::text && f.form != Form::file && f.form != Form::flag && f.form != Form::word;
  if (numeric) {
    properties["sd"] = refer_to(number_title(f.dimension));
    properties["margin"] = refer_to(number_title(Dimension::share));
  }
  return {{"type", "object"},
          {"properties", std::move(properties)},
          {"required", {"value"}},
          {"additionalProperties", false}};
}

Json weight_map() {
  return {{"type", "object"},
          {"properties",
           {{"mass", refer_to(number_title(Dimension::mass))},
            {"at_gravity", {{"type", "string"}}},
            {"from", {{"type", "string"}}}}},
          {"required", {"mass", "at_gravity"}},
          {"additionalProperties", false}};
}

Json leaf_forms(const Field& f) {
  Json plain = plain_forms(f);
  if (!f.words.empty()) plain.push_back(words(f));
  Json options = plain;
  options.push_back(value_map(f, plain));
  if (f.dimension == Dimension::force) options.push_back(weight_map());
  return any_of(std::move(options));
}

/// Leaves that differ in nothing but their key share one definition.
Json leaf(const Field& f, Json& defs) {
  if (f.form == Form::deviation) return refer_to(number_title(f.dimension));
  const bool shared = f.form == Form::quantity || f.form == Form::interval || f.form == Form::point;
  if (!shared || !f.words.empty()) return leaf_forms(f);
  const std::string form = f.form == Form::quantity   ? " value"
                           : f.form == Form::interval ? " interval"
                                                      : " point " + std::to_string(f.size);
  const std::string title = number_title(f.dimension) + form;
  if (!defs.contains(reference(title))) defs[reference(title)] = leaf_forms(f);
  return refer_to(title);
}

std::string description(const Field& f) {
  std::string out = f.doc;
  if ((f.form == Form::quantity || f.form == Form::interval) &&
      text(f.range, f.dimension) != text(Range{}, f.dimension))
    out += " (" + text(f.range, f.dimension) + ")";
  if (!f.fallback.empty()) out += "; default " + f.fallback;
  if (!f.assume.empty()) out += "; not given: " + f.assume;
  return out;
}

void define(const Shape& shape, Json& defs);

Json property(const Field& f, Json& defs) {
  Json out;
  if (f.form == Form::group || f.form == Form::list) define(*f.shape, defs);
  if (f.form == Form::group)
    out = refer_to(f.shape->title);
  else if (f.form == Form::list)
    out = {{"type", "array"}, {"items", refer_to(f.shape->title)}, {"minItems", f.size}};
  else
    out = leaf(f, defs);
  out["description"] = description(f);
  return out;
}

/// Required keys may also come from an included file or a preset.
void require(const Shape& shape, Json& object) {
  Json required = Json::array();
  for (const Field& f : shape.fields)
    if (f.required) required.push_back(f.key);
  if (required.empty()) return;
  Json ways = Json::array({{{"required", std::move(required)}}, {{"required", {"include"}}}});
  if (shape.preset) ways.push_back({{"required", {"preset"}}});
  object["anyOf"] = std::move(ways);
}

void define(const Shape& shape, Json& defs) {
  const std::string key = reference(shape.title);
  if (defs.contains(key)) return;
  defs[key] = Json::object();  // its place in the order
  Json properties = Json::object();
  properties["include"] = {{"type", "string"},
                           {"description", "Another file whose keys stand here; keys beside it win"}};
  if (shape.preset)
    properties["preset"] = {{"enum", shape.preset_names}, {"description", "Keys beside it win"}};
  for (const Field& f : shape.fields) properties[f.key] = property(f, defs);
  Json object{{"title", shape.title},
              {"type", "object"},
              {"properties", std::move(properties)},
              {"additionalProperties", false}};
  require(shape, object);
  defs[key] = std::move(object);
}

}  // namespace

std::string machine_schema(const std::string& scenario_schema) {
  const Json schema{{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                    {"title", "Rimstance machine"},
                    {"$ref", scenario_schema + "#/$defs/Machine"}};
  return schema.dump(2) + "\n";
}

std::string json_schema() {
  Json defs = Json::object();
  for (int i = 0; i < kDimensions; ++i) {
    const auto d = static_cast<Dimension>(i);
    defs[reference(number_title(d))] = number(d);
    defs[reference(list_title(d))] = text_matching(quantities_pattern(d));
  }
  define(scenario_shape(), defs);
  const Json schema{{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                    {"title", "Rimstance scenario"},
                    {"$ref", "#/$defs/" + reference(scenario_shape().title)},
                    {"$defs", std::move(defs)}};
  return schema.dump(2) + "\n";
}

}  // namespace rimstance
