#pragma once
#include <functional>
#include <limits>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/model/quantity.hpp"
#include "rimstance/model/scenario.hpp"

namespace rimstance {

// The one table of the keys of a scenario. A Shape is a map in the file, a Field one key of it: its
// form, dimension, range, default, meaning and the way to its value inside the struct that owns it.
// The loader, get(), with(), paths() and json_schema() walk this table and know no key of their own.
// A new key is one line in table.cpp.

struct Shape;

/// Which values are allowed; ends belong to it unless open.
struct Range {
  double lo = -std::numeric_limits<double>::infinity(), hi = std::numeric_limits<double>::infinity();
  bool open_lo = false;
  bool holds(double x) const { return (open_lo ? x > lo : x >= lo) && x <= hi; }
};
std::string text(const Range&, Dimension);  ///< "> 0 kg", "from 0 deg to 90 deg"

enum class Form {
  quantity,   ///< double
  integer,    ///< int
  integers,   ///< std::vector<int>
  text,       ///< std::string
  file,       ///< TerrainSource: file and written
  flag,       ///< bool: true or false
  word,       ///< one of `words`
  unit,       ///< double: SI per unit
  point,      ///< `size` doubles
  interval,   ///< Interval: "[a, b] unit" or a single value
  outline,    ///< std::vector<Vec2>
  deviation,  ///< shorthand for the standard deviation of the sibling key named in `of`
  group,      ///< a map described by `shape`
  list        ///< a list of maps described by `shape`
};

/// A text that may stand for the value.
struct Word {
  std::string text;
  std::function<void(void* owner)> apply;
};

/// A std::vector<T> behind one door.
struct Items {
  std::function<std::size_t(void*)> size;
  std::function<void*(void*, std::size_t)> item;
  std::function<void*(void*)> append;
  std::function<void(void*)> clear;
  std::function<std::string(const void* item)> name;  ///< empty: items have no names
};

struct Field {
  std::string key;
  Form form = Form::quantity;
  Dimension dimension = Dimension::number;
  Range range;
  std::string doc;
  /// The value inside its owner; null if it does not exist and is not to be created.
  std::function<void*(void* owner, bool create)> at;
  std::vector<Word> words;
  std::shared_ptr<const Shape> shape;
  Items items;
  int size = 0;            ///< of a point; least number of items of a list or corners of an outline
  bool required = false;   ///< unless a preset has it
  bool distinct = false;   ///< interval: two ends must differ
  bool direction = false;  ///< point: only its direction counts; kept as a unit vector
  std::string fallback;    ///< as somebody would write it; read like a written value
  std::string assume;      ///< why the fallback or the absence matters: goes to Document::assumed
  bool derives = false;    ///< absent: follows from other values
  std::string of;          ///< deviation: the sibling; quantity: the sibling that takes its margin

  Field must() &&;
  Field otherwise(std::string text) &&;
  Field assumed(std::string reason) &&;
  Field follows(std::string reason = {}) &&;
  Field margin_in(std::string sibling) &&;
  Field apart() &&;
  Field or_word(Word word) &&;
};

struct Shape {
  std::string title;
  std::vector<Field> fields;
  /// Fills the owner from the named preset; empty where there are no presets.
  std::function<void(void* owner, std::string_view name)> preset;
  std::vector<std::string> preset_names;

  const Field* find(std::string_view key) const;
  std::vector<std::string> keys() const;
};

/// The whole scenario; its owner is a Scenario. Built once.
const Shape& scenario_shape();

/// The path segment of item i of a list: its name where that can be written in a path.
std::string segment(const Field& list, void* vector, std::size_t i);
std::string segment(const std::string& name, std::size_t i);

/// Brings what follows from other values up to date (Scenario::derived).
void derive(Scenario&);

/// How far the boom can run out [m].
double greatest_extension(const Boom&);

}  // namespace rimstance
