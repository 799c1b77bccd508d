#include "rimstance/model/load.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <set>

#include "checks.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"
#include "rimstance/model/nearby.hpp"
#include "rimstance/model/presets.hpp"
#include "table.hpp"
#include "yaml_tree.hpp"

namespace rimstance {

namespace fs = std::filesystem;

namespace {

using Kind = YamlNode::Kind;

/// Where the reader is: the path as users write it, and the same with `*` for the items of lists.
struct Trail {
  std::string path, general;
  Trail into(const std::string& key) const { return {joined(path, key), joined(general, key)}; }
  Trail item(const std::string& segment) const { return {joined(path, segment), joined(general, "*")}; }

 private:
  static std::string joined(const std::string& a, const std::string& b) {
    return a.empty() ? b : a + "." + b;
  }
};

struct Assumption {
  std::string general, path, text;
  int count = 0;
};

/// What surrounds a leaf: its map in the file and in the table.
struct Around {
  const Shape& shape;
  void* owner;
  const YamlNode& map;
  Trail trail;
};

std::string in_one_line(const YamlNode& node) {
  if (node.kind == Kind::scalar) return node.text;
  std::string out;
  for (const YamlNode& item : node.items) out += (out.empty() ? "" : ", ") + in_one_line(item);
  for (const YamlEntry& e : node.entries)
    out += (out.empty() ? "" : ", ") + e.key + ": " + in_one_line(e.value);
  return node.kind == Kind::list ? "[" + out + "]" : node.kind == Kind::map ? "{" + out + "}" : out;
}

/// Walks the tree of the file and the table side by side and fills the scenario.
class Reader {
 public:
  Reader(Document& document, Scenario& scenario, IssueList& issues, std::string folder)
      : document_(document), scenario_(scenario), issues_(issues), folder_(std::move(folder)) {}

  void read(const YamlNode& root) { read_map(scenario_shape(), &scenario_, root, {}); }

  std::vector<std::string> assumptions() const {
    std::vector<std::string> out;
    for (const Assumption& a : assumptions_)
      out.push_back((a.count > 1 ? a.general : a.path) + ": " + a.text);
    return out;
  }

 private:
  // --- maps and lists ---

  void read_map(const Shape& shape, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::map) {
      wrong_kind(node, trail, "`key: value` pairs are expected");
      return;
    }
    const std::string preset = take_preset(shape, owner, node, trail);
    for (const YamlEntry& entry : node.entries)
      if (!shape.find(entry.key) && !(entry.key == "preset" && shape.preset))
        unknown_key(shape, entry, trail);
    for (const Field& field : shape.fields) {
      const YamlEntry* const entry = node.find(field.key);
      const Around around{shape, owner, node, trail};
      if (entry)
        read_field(field, around, entry->value);
      else if (!given_.contains(trail.into(field.key).path))
        absent(field, around, preset);
    }
    note_margins(shape, owner, node, trail);
  }

  void unknown_key(const Shape& shape, const YamlEntry& entry, const Trail& trail) {
    const bool late = entry.key == "include" && entry.mark.line == 0;  // files are in before overrides
    const bool comma = entry.value.kind == Kind::nothing && entry.key[0] >= '0' && entry.key[0] <= '9';
    issues_.add(entry.mark.place(trail.path), fmt::format("unknown key \"{}\"", entry.key),
                comma  ? "a comma separates keys, the decimal sign is a point"
                : late ? "`include` works in files only; override single values of what is included"
                       : suggestion(entry.key, shape.keys()));
  }

  /// A margin beside a mass belongs to the mass, as one inside it does.
  void note_margins(const Shape& shape, void* owner, const YamlNode& node, const Trail& trail) {
    for (const Field& field : shape.fields) {
      const bool has_margin = field.form == Form::quantity && !field.of.empty() && node.find(field.key);
      const auto origin =
          has_margin ? document_.origins.find(trail.into(field.key).path) : document_.origins.end();
      if (origin != document_.origins.end())
        origin->second.margin = *static_cast<const double*>(shape.find(field.of)->at(owner, false));
    }
  }

  std::string take_preset(const Shape& shape, void* owner, const YamlNode& node, const Trail& trail) {
    const YamlEntry* const entry = shape.preset ? node.find("preset") : nullptr;
    if (!entry) return {};
    const std::string& name = entry->value.text;
    const auto& names = shape.preset_names;
    if (entry->value.kind != Kind::scalar || std::find(names.begin(), names.end(), name) == names.end()) {
      issues_.add(entry->value.mark.place(trail.into("preset").path),
                  fmt::format("there is no preset \"{}\"", in_one_line(entry->value)),
                  suggestion(name, names));
      return "?";  // what it would have given is not reported as missing
    }
    shape.preset(owner, name);
    return name;
  }

  void read_field(const Field& field, const Around& around, const YamlNode& node) {
    const Trail trail = around.trail.into(field.key);
    if (node.kind == Kind::nothing) {
      if (!node.broken) issues_.add(node.mark.place(trail.path), "nothing is written here", wanted(field));
    } else if (field.form == Form::group) {
      read_map(*field.shape, field.at(around.owner, true), node, trail);
    } else if (field.form == Form::list) {
      read_list(field, around, node, trail);
    } else {
      read_leaf(field, around, node, trail);
    }
  }

  void read_list(const Field& field, const Around& around, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::list) {
      wrong_kind(node, trail, "a list is expected, every item with a dash or in [ ]");
      return;
    }
    void* const vector = field.at(around.owner, true);
    field.items.clear(vector);
    origin(trail, node, "list");
    if (static_cast<int>(node.items.size()) < field.size)
      issues_.add(node.mark.place(trail.path),
                  fmt::format("{}, at least {} needed", counted(node.items.size(), "item"), field.size),
                  fmt::format("add {} more", field.size - static_cast<int>(node.items.size())));
    std::map<std::string, int> lines;
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      const YamlNode& item = node.items[i];
      const YamlEntry* const entry = field.items.name ? item.find("name") : nullptr;
      const std::string name = entry ? entry->value.text : std::string{};
      const Trail into = trail.item(segment(name, i));
      void* const place = field.items.append(vector);
      read_map(*field.shape, place, item, into);
      if (!entry) continue;
      const auto [first, fresh] = lines.emplace(name, entry->value.mark.line);
      if (!fresh)
        issues_.add(entry->value.mark.place(into.into("name").path),
                    fmt::format("the name \"{}\" is taken by {}", name,
                                first->second > 0 ? fmt::format("the item in line {}", first->second)
                                                  : std::string("an item before it")),
                    "names in a list are unique");
    }
  }

  // --- what is not written ---

  static bool needs_something(const Shape& shape) {
    return std::any_of(shape.fields.begin(), shape.fields.end(), [](const Field& f) { return f.required; });
  }

  void absent(const Field& field, const Around& around, const std::string& preset) {
    const Trail trail = around.trail.into(field.key);
    const Place place = around.map.mark.place(trail.path);
    if (!preset.empty()) {
      if (field.form != Form::group && field.form != Form::deviation)
        document_.origins[trail.path] = {place, "preset " + preset, {}, kUnset, kUnset};
    } else if (field.required) {
      if (!around.map.broken)
        issues_.add(
            around.map.mark.place(around.trail.path), fmt::format("key \"{}\" is missing", field.key),
            fmt::format("add it: {}{}", field.doc, wanted(field).empty() ? "" : "; " + wanted(field)));
    } else if (!field.fallback.empty()) {
      YamlNode node;
      node.kind = Kind::scalar;
      node.text = field.fallback;
      node.mark = around.map.mark;
      read_leaf(field, around, node, trail);
      document_.origins[trail.path].written = "default: " + field.fallback;
      assume(field, trail);
    } else if (field.derives) {
      scenario_.derived.insert(trail.path);
      document_.origins[trail.path] = {place, "follows from other values", {}, kUnset, kUnset};
      assume(field, trail);
    } else if (field.form == Form::group && field.at(around.owner, false) && !needs_something(*field.shape)) {
      YamlNode empty;
      empty.kind = Kind::map;
      empty.mark = around.map.mark;
      empty.broken = around.map.broken;
      const std::vector<Assumption> before = assumptions_;
      read_map(*field.shape, field.at(around.owner, false), empty, trail);
      if (!field.assume.empty()) assumptions_ = before;  // one sentence for the whole part
      assume(field, trail);
    } else {
      if (field.form != Form::group && field.form != Form::deviation && field.form != Form::word)
        document_.origins[trail.path] = {place, "not given", {}, kUnset, kUnset};
      assume(field, trail);
    }
  }

  void assume(const Field& field, const Trail& trail) {
    if (field.assume.empty()) return;
    const auto it = std::find_if(assumptions_.begin(), assumptions_.end(),
                                 [&](const Assumption& a) { return a.general == trail.general; });
    if (it != assumptions_.end()) {
      ++it->count;
      return;
    }
    const std::string text = field.fallback.empty() ? "not given, " + field.assume
                                                    : fmt::format("{} ({})", field.fallback, field.assume);
    assumptions_.push_back({trail.general, trail.path, text, 1});
  }

  // --- single values ---

  void read_leaf(const Field& field, const Around& around, const YamlNode& node, const Trail& trail) {
    if (field.form == Form::deviation) {
      shorthand_deviation(field, around, node, trail);
    } else if (node.kind != Kind::map) {
      if (read_value(field, around.owner, node, trail)) origin(trail, node, in_one_line(node));
    } else if (field.dimension == Dimension::force && node.find("mass")) {
      read_weight(field, around.owner, node, trail);
    } else {
      read_value_map(field, around, node, trail);
    }
  }

  void origin(const Trail& trail, const YamlNode& node, std::string written) {
    Origin& o = document_.origins[trail.path];
    o.place = node.mark.place(trail.path);
    o.written = std::move(written);
  }

  bool refuse(const YamlNode& node, const Trail& trail, std::string what, std::string way_out) {
    issues_.add(node.mark.place(trail.path), std::move(what), std::move(way_out));
    return false;
  }
  bool wrong_kind(const YamlNode& node, const Trail& trail, const std::string& expected) {
    if (node.kind == Kind::nothing && node.broken) return false;
    std::string found = in_one_line(node);
    if (found.size() > 60) found = found.substr(0, 60) + "...";
    return refuse(
        node, trail,
        node.kind == Kind::nothing ? "nothing is written here" : fmt::format("\"{}\" does not fit", found),
        expected);
  }

  /// {value, sd, margin, from}
  void read_value_map(const Field& field, const Around& around, const YamlNode& node, const Trail& trail) {
    static const std::vector<std::string> keys{"value", "sd", "margin", "from"};
    bool known = true;
    for (const YamlEntry& entry : node.entries)
      if (std::find(keys.begin(), keys.end(), entry.key) == keys.end()) {
        known = refuse(node, trail, fmt::format("unknown key \"{}\" in a value map", entry.key),
                       suggestion(entry.key, keys));
      }
    const YamlEntry* const value = node.find("value");
    if (!value) {
      if (known && !node.broken) refuse(node, trail, "a value map needs `value`", wanted(field));
      return;
    }
    if (value->value.kind == Kind::map || value->value.kind == Kind::nothing) {
      wrong_kind(value->value, trail, wanted(field));
      return;
    }
    if (!read_value(field, around.owner, value->value, trail)) return;
    origin(trail, value->value, in_one_line(value->value));
    if (const YamlEntry* const from = node.find("from")) read_from(from->value, trail);
    if (const YamlEntry* const sd = node.find("sd")) read_deviation(field.dimension, sd->value, trail, trail);
    if (const YamlEntry* const margin = node.find("margin")) read_margin(field, around, margin->value, trail);
  }

  void read_from(const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar)
      wrong_kind(node, trail.into("from"), "text that says where the value comes from");
    else
      document_.origins[trail.path].from = node.text;
  }

  void read_deviation(Dimension d, const YamlNode& node, const Trail& of, const Trail& trail) {
    if (node.kind != Kind::scalar) {
      wrong_kind(node, trail, fmt::format("a standard deviation like \"{}\" is expected", example(d)));
      return;
    }
    const Reading<double> sd = read_quantity(node.text, d);
    if (!sd.value)
      refuse(node, trail, sd.problem, sd.way_out);
    else if (!(*sd.value >= 0))
      refuse(node, trail, fmt::format("\"{}\": a standard deviation is not negative", node.text),
             "check the sign");
    else
      document_.origins[of.path].sd = *sd.value;
  }

  void shorthand_deviation(const Field& field, const Around& around, const YamlNode& node,
                           const Trail& trail) {
    const YamlEntry* const sibling = around.map.find(field.of);
    const bool twice = sibling && sibling->value.kind == Kind::map && sibling->value.find("sd");
    if (twice)
      refuse(node, trail, fmt::format("the standard deviation of \"{}\" is given twice", field.of),
             fmt::format("keep the one beside \"{0}\" or the one inside it", field.of));
    else
      read_deviation(field.dimension, node, around.trail.into(field.of), trail);
  }

  void read_margin(const Field& field, const Around& around, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar) {
      wrong_kind(node, trail, "a margin like \"10 %\" is expected");
      return;
    }
    if (field.of.empty()) {
      const Reading<double> share = read_quantity(node.text, Dimension::share);
      if (!share.value) {
        refuse(node, trail, share.problem, share.way_out);
        return;
      }
      document_.origins[trail.path].margin = *share.value;
      document_.cautions.push_back({node.mark.place(trail.path),
                                    "this margin is kept with the value but changes no result",
                                    "margins count on the masses of bodies, outriggers, boom and container"});
      return;
    }
    if (const YamlEntry* const beside = around.map.find(field.of)) {
      refuse(node, trail, fmt::format("the margin is given twice, here and in line {}", beside->mark.line),
             fmt::format("keep `margin` inside the value or \"{}\" beside it", field.of));
      return;
    }
    const Trail sibling = around.trail.into(field.of);
    if (read_value(*around.shape.find(field.of), around.owner, node, sibling)) {
      origin(sibling, node, node.text);
      given_.insert(sibling.path);
      document_.origins[trail.path].margin =
          read_quantity(node.text, Dimension::share).value.value_or(kUnset);
    }
  }

  /// { mass: 60 kg, at_gravity: moon }: a force.
  void read_weight(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    static const std::vector<std::string> keys{"mass", "at_gravity", "from"};
    for (const YamlEntry& entry : node.entries)
      if (std::find(keys.begin(), keys.end(), entry.key) == keys.end()) {
        refuse(node, trail, fmt::format("unknown key \"{}\" in a force given as a mass", entry.key),
               suggestion(entry.key, keys));
        return;
      }
    const YamlEntry* const gravity = node.find("at_gravity");
    if (!gravity) {
      refuse(node, trail, "a force given as a mass needs `at_gravity`",
             "write { mass: 60 kg, at_gravity: moon }, or the force in newtons");
      return;
    }
    const Reading<double> mass = read_quantity(node.find("mass")->value.text, Dimension::mass);
    if (!mass.value) {
      refuse(node.find("mass")->value, trail, mass.problem, mass.way_out);
      return;
    }
    const GravityPreset* const preset = find_gravity(gravity->value.text);
    const Reading<double> g = preset ? Reading<double>{preset->value, {}, {}}
                                     : read_quantity(gravity->value.text, Dimension::acceleration);
    if (!g.value || !(*g.value > 0)) {
      refuse(gravity->value, trail, fmt::format("\"{}\" is not a gravity", in_one_line(gravity->value)),
             "allowed: moon, mars, earth or a value like \"1.62 m/s2\"");
      return;
    }
    if (!store(field, owner, node, trail, *mass.value * *g.value, in_one_line(node))) return;
    origin(trail, node, in_one_line(node));
    if (const YamlEntry* const from = node.find("from")) read_from(from->value, trail);
  }

  bool read_value(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind == Kind::scalar)
      for (const Word& word : field.words)
        if (word.text == node.text) {
          word.apply(owner);
          return true;
        }
    switch (field.form) {
      case Form::quantity:
        return read_scalar_quantity(field, owner, node, trail);
      case Form::integer:
        return read_whole(field, owner, node, trail);
      case Form::integers:
        return read_integers(field, owner, node, trail);
      case Form::text:
        return read_text(field, owner, node, trail);
      case Form::file:
        return read_file_name(field, owner, node, trail);
      case Form::flag:
        return read_flag(field, owner, node, trail);
      case Form::word:
        return refuse_word(field, node, trail);
      case Form::unit:
        return read_unit_name(field, owner, node, trail);
      case Form::point:
        return read_point(field, owner, node, trail);
      case Form::interval:
        return read_interval(field, owner, node, trail);
      case Form::outline:
        return read_outline(field, owner, node, trail);
      default:
        return false;
    }
  }

  static std::vector<std::string> word_texts(const Field& field) {
    std::vector<std::string> out;
    for (const Word& w : field.words) out.push_back(w.text);
    return out;
  }

  /// What could stand there, for messages.
  static std::string wanted(const Field& field) {
    std::string words;
    for (const Word& w : field.words) words += (words.empty() ? "" : ", ") + w.text;
    const std::string first = units(field.dimension).front();
    const std::string unit = first.empty() ? first : " " + first;
    std::string form;
    if (field.form == Form::quantity) form = fmt::format("write it like \"{}\"", example(field.dimension));
    if (field.form == Form::integer) form = "write it like \"6\"";
    if (field.form == Form::integers) form = "write it like \"[2, 8]\"";
    if (field.form == Form::flag) form = "write true or false";
    if (field.form == Form::point)
      form = fmt::format("write it like \"[{}]{}\"", field.size == 2 ? "1, 2" : "1, 2, 3", unit);
    if (field.form == Form::interval) form = fmt::format("write it like \"[1, 2]{}\"", unit);
    if (field.form == Form::outline) form = "write it like \"[[0, 0], [1, 0], [1, 1]] m\"";
    if (field.form == Form::unit) form = "write the unit alone, like m";
    if (field.form == Form::text || field.form == Form::file) form = "write text";
    if (field.form == Form::group) form = "write its `key: value` pairs under it, indented";
    if (field.form == Form::list) form = "write its items under it, every one with a dash";
    if (words.empty()) return form;
    return form.empty() ? "allowed: " + words : form + ", or " + words;
  }

  bool refuse_word(const Field& field, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar) return wrong_kind(node, trail, wanted(field));
    return refuse(node, trail, fmt::format("\"{}\" is not allowed here", node.text),
                  suggestion(node.text, word_texts(field)));
  }

  /// Problems of a value, with the words that would also do.
  template <class T>
  bool refuse_reading(const Field& field, const YamlNode& node, const Trail& trail,
                      const Reading<T>& reading) {
    const std::string near = field.words.empty() ? std::string{} : nearest(node.text, word_texts(field));
    if (!near.empty()) return refuse(node, trail, reading.problem, fmt::format("did you mean \"{}\"?", near));
    std::string words;
    for (const Word& w : field.words) words += (words.empty() ? ", or " : ", ") + w.text;
    return refuse(node, trail, reading.problem, reading.way_out + words);
  }

  bool in_range(const Field& field, const YamlNode& node, const Trail& trail, double value,
                const std::string& written) {
    if (field.range.holds(value)) return true;
    std::string way_out = "allowed: " + text(field.range, field.dimension);
    const std::size_t unit = written.rfind("rad");
    const bool degrees_meant = field.dimension == Dimension::angle && unit != std::string::npos &&
                               written.find("mrad") == std::string::npos && field.range.holds(radians(value));
    if (degrees_meant)
      way_out += fmt::format("; did you mean \"{}\"?", std::string(written).replace(unit, 3, "deg"));
    return refuse(node, trail, fmt::format("\"{}\" is out of range", written), std::move(way_out));
  }

  bool store(const Field& field, void* owner, const YamlNode& node, const Trail& trail, double value,
             const std::string& written) {
    if (!in_range(field, node, trail, value, written)) return false;
    *static_cast<double*>(field.at(owner, true)) = value;
    return true;
  }

  bool read_scalar_quantity(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar) return wrong_kind(node, trail, wanted(field));
    const Reading<double> value = read_quantity(node.text, field.dimension);
    if (value.value) return store(field, owner, node, trail, *value.value, node.text);
    if (field.dimension == Dimension::force && read_quantity(node.text, Dimension::mass).value)
      return refuse(node, trail, value.problem,
                    fmt::format("write the force, or {{ mass: {}, at_gravity: moon }}", node.text));
    return refuse_reading(field, node, trail, value);
  }

  bool read_whole(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar || node.quoted)
      return wrong_kind(node, trail, "a whole number is expected");
    const Reading<int> value = read_integer(node.text);
    if (!value.value) return refuse_reading(field, node, trail, value);
    if (!in_range(field, node, trail, *value.value, node.text)) return false;
    *static_cast<int*>(field.at(owner, true)) = *value.value;
    return true;
  }

  bool read_text(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar) return wrong_kind(node, trail, "text is expected");
    if (field.required && node.text.empty()) return refuse(node, trail, "the text is empty", "write a name");
    *static_cast<std::string*>(field.at(owner, true)) = node.text;
    return true;
  }

  bool read_file_name(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar || node.text.empty())
      return wrong_kind(node, trail, "the name of a file is expected");
    auto& source = *static_cast<TerrainSource*>(field.at(owner, true));
    source.written = node.text;
    // An override has no file of its own: its paths are the scenario's.
    const bool in_file = node.mark.line > 0;
    const fs::path folder = in_file ? fs::path(*node.mark.file).parent_path() : fs::path(folder_);
    source.file = (folder / node.text).lexically_normal().string();
    return true;
  }

  bool read_flag(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    const bool plain = node.kind == Kind::scalar && !node.quoted;
    if (!plain || (node.text != "true" && node.text != "false"))
      return refuse(node, trail, fmt::format("\"{}\" is neither true nor false", in_one_line(node)),
                    "write true or false, in small letters and without quotes");
    *static_cast<bool*>(field.at(owner, true)) = node.text == "true";
    return true;
  }

  bool read_unit_name(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    if (node.kind != Kind::scalar) return wrong_kind(node, trail, wanted(field));
    const Reading<double> unit = read_unit(node.text, field.dimension);
    if (!unit.value) return refuse_reading(field, node, trail, unit);
    *static_cast<double*>(field.at(owner, true)) = *unit.value;
    return true;
  }

  /// Numbers of a list written either way; empty after an issue.
  std::optional<std::vector<double>> read_numbers(const Field& field, const YamlNode& node,
                                                  const Trail& trail) {
    if (node.kind == Kind::scalar) {
      const Reading<std::vector<double>> values = read_quantities(node.text, field.dimension);
      if (!values.value) refuse(node, trail, values.problem, values.way_out);
      return values.value;
    }
    if (node.kind != Kind::list) {
      wrong_kind(node, trail, wanted(field));
      return {};
    }
    std::vector<double> out;
    for (const YamlNode& item : node.items) {
      const Reading<double> value =
          item.kind == Kind::scalar
              ? read_quantity(item.text, field.dimension)
              : Reading<double>{{}, fmt::format("\"{}\" is not a number", in_one_line(item)), {}};
      if (!value.value)
        refuse(item, trail, value.problem,
               value.way_out.empty() ? wanted(field)
                                     : value.way_out + " or, for the whole list, " + quoted_example(field));
      else
        out.push_back(*value.value);
    }
    if (out.size() != node.items.size()) return {};
    return out;
  }
  static std::string comma_hint(std::size_t found, int expected) {
    return found > static_cast<std::size_t>(expected)
               ? "; a comma separates numbers, the decimal sign is a point"
               : "";
  }
  static std::string quoted_example(const Field& field) {
    return fmt::format("\"[1, 2{}] {}\"", field.size == 3 ? ", 3" : "", units(field.dimension).front());
  }

  bool read_point(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    const auto values = read_numbers(field, node, trail);
    if (!values) return false;
    if (static_cast<int>(values->size()) != field.size)
      return refuse(node, trail,
                    fmt::format("{} where {} are expected", counted(values->size(), "number"), field.size),
                    wanted(field) + comma_hint(values->size(), field.size));
    double norm = 0;
    for (const double v : *values) norm = std::hypot(norm, v);
    if (field.direction && !(norm > 0))
      return refuse(node, trail, "all its numbers are 0, which is no direction", wanted(field));
    for (const double v : *values)
      if (!in_range(field, node, trail, v, shown(v, field.dimension))) return false;
    auto* const out = static_cast<double*>(field.at(owner, true));
    for (std::size_t i = 0; i < values->size(); ++i)
      out[i] = field.direction ? (*values)[i] / norm : (*values)[i];
    return true;
  }

  bool read_interval(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    const bool list = node.kind != Kind::scalar || node.text.find('[') != std::string::npos;
    Interval out;
    if (list) {
      const auto values = read_numbers(field, node, trail);
      if (!values) return false;
      if (values->size() != 2)
        return refuse(node, trail,
                      fmt::format("{} where two ends are expected", counted(values->size(), "number")),
                      wanted(field) + comma_hint(values->size(), 2));
      out = {(*values)[0], (*values)[1]};
    } else {
      const Reading<double> value = read_quantity(node.text, field.dimension);
      if (!value.value) return refuse_reading(field, node, trail, value);
      out = {*value.value, *value.value};
    }
    const std::string written = in_one_line(node);
    if (!(out.lo <= out.hi) || (list && field.distinct && !(out.lo < out.hi)))
      return refuse(node, trail,
                    fmt::format("\"{}\": the first end must lie {} the second", written,
                                field.distinct ? "below" : "at or below"),
                    field.distinct ? "a sector that passes 180 deg is written like \"[170, 190] deg\", a "
                                     "single angle without brackets"
                                   : "swap the ends");
    if (!in_range(field, node, trail, out.lo, written) || !in_range(field, node, trail, out.hi, written))
      return false;
    *static_cast<Interval*>(field.at(owner, true)) = out;
    return true;
  }

  bool read_integers(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    std::vector<double> values;
    if (node.kind == Kind::scalar && node.text.find('[') == std::string::npos) {
      const Reading<double> value = read_quantity(node.text, field.dimension);
      if (!value.value) return refuse_reading(field, node, trail, value);
      values = {*value.value};
    } else if (const auto list = read_numbers(field, node, trail)) {
      values = *list;
    } else {
      return false;
    }
    if (values.empty()) return refuse(node, trail, "the list is empty", wanted(field));
    std::vector<int> out;
    for (const double v : values) {
      if (!in_range(field, node, trail, v, shown(v, field.dimension))) return false;
      if (v != std::floor(v))
        return refuse(node, trail, fmt::format("{} is not a whole number", shown(v, field.dimension)),
                      wanted(field));
      out.push_back(static_cast<int>(v));
    }
    *static_cast<std::vector<int>*>(field.at(owner, true)) = std::move(out);
    return true;
  }

  bool read_outline(const Field& field, void* owner, const YamlNode& node, const Trail& trail) {
    std::vector<Vec2> corners;
    const auto corner = [&](const YamlNode& at, const std::vector<double>& row) {
      if (row.size() != 2) return refuse(at, trail, "a corner has two numbers", wanted(field));
      for (const double v : row)
        if (!in_range(field, at, trail, v, shown(v, field.dimension))) return false;
      corners.emplace_back(row[0], row[1]);
      return true;
    };
    if (node.kind == Kind::scalar) {
      const auto rows = read_rows(node.text, field.dimension);
      if (!rows.value) return refuse(node, trail, rows.problem, rows.way_out);
      for (const auto& row : *rows.value)
        if (!corner(node, row)) return false;
    } else if (node.kind == Kind::list) {
      for (const YamlNode& item : node.items) {
        const auto row = read_numbers(field, item, trail);
        if (!row || !corner(item, *row)) return false;
      }
    } else {
      return wrong_kind(node, trail, wanted(field));
    }
    if (static_cast<int>(corners.size()) < field.size)
      return refuse(node, trail,
                    fmt::format("{}, at least {} needed", counted(corners.size(), "corner"), field.size),
                    wanted(field));
    *static_cast<std::vector<Vec2>*>(field.at(owner, true)) = std::move(corners);
    return true;
  }

  Document& document_;
  Scenario& scenario_;
  IssueList& issues_;
  std::string folder_;
  std::vector<Assumption> assumptions_;
  std::set<std::string> given_;  // paths that a value map has filled for their sibling
};

Document load(const std::string& name, const std::string_view* text, std::span<const Override> overrides) {
  IssueList issues;
  const YamlSources sources = read_sources(name, text, overrides, issues);
  Document document;
  document.files = sources.files;
  document.sha256 = sha256(sources.bytes);
  for (const Override& set : overrides) document.overrides.emplace_back(set.path, set.value);
  auto scenario = std::make_shared<Scenario>();
  if (sources.root.kind != Kind::nothing) {
    Reader reader(document, *scenario, issues, fs::path(name).parent_path().string());
    reader.read(sources.root);
    document.assumed = reader.assumptions();
    derive(*scenario);
    check_scenario(*scenario, document.origins, issues);
    std::error_code error;
    const bool missing =
        !text && !scenario->terrain.file.empty() && !fs::exists(scenario->terrain.file, error);
    if (missing) {
      const Place& place = document.origins["terrain.file"].place;
      const std::string by = place.line > 0 ? place.file : name;
      issues.add(place, fmt::format("\"{}\": no such file", scenario->terrain.written),
                 whereabouts(scenario->terrain.written, fs::path(by).parent_path().string()));
    }
  } else if (issues.issues.empty()) {
    issues.add({name, 0, 0, {}}, "the file holds no scenario", "`rimstance new DIR` writes a starter");
  }
  if (!issues.issues.empty()) throw InputError(issues.finish(document.files));
  const std::vector<std::string> follows = assumptions(*scenario, document.origins);
  document.assumed.insert(document.assumed.end(), follows.begin(), follows.end());
  const std::vector<Issue> more = cautions(*scenario, document.origins);
  document.cautions.insert(document.cautions.end(), more.begin(), more.end());
  document.scenario = std::move(scenario);
  return document;
}

}  // namespace

Document load_scenario(const std::string& file, std::span<const Override> overrides) {
  std::error_code error;
  if (fs::status(file, error).type() == fs::file_type::not_found)
    throw InputError(Place{file, 0, 0, {}}, "no such file", whereabouts(file, "", "the current folder"));
  return load(file, nullptr, overrides);
}

Document load_scenario_text(std::string_view yaml, const std::string& name,
                            std::span<const Override> overrides) {
  return load(name, &yaml, overrides);
}

}  // namespace rimstance
