#pragma once
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/model/quantity.hpp"
#include "rimstance/model/scenario.hpp"

namespace rimstance {

// Every number of a scenario by its path, as in `--set` and `--vary`: keys with a point between them,
// items of a list by their name (or index from 0), points by .x .y .z, intervals by .lo and .hi or, to
// move both ends to one value, without either. Values are SI. One table of keys stands behind this, the
// loader and the schema: src/model/table.hpp, which says how a key is added.

/// Paths of all numbers that `pattern` matches, `*` standing for one segment, in the table's order.
/// "**" gives all. Numbers that are not given are among them, parts that do not exist are not.
std::vector<std::string> paths(const Scenario&, std::string_view pattern);

/// SI; NaN where it is not given, infinite where nothing limits. Throws InputError with the nearest path if
/// there is none such.
double get(const Scenario&, std::string_view path);

/// A copy with that number changed; what follows from it (see Scenario::derived) follows. Throws
/// InputError for an unknown path or a value outside the key's range.
std::shared_ptr<const Scenario> with(const Scenario&, std::string_view path, double si);

/// What does not agree between the values (the loader refuses such files; with() does not look).
std::vector<Issue> disagreements(const Scenario&);

struct FieldFacts {
  Dimension dimension;
  std::string doc;      ///< one line
  std::string allowed;  ///< "at least 0 m"
};
/// What the number at `path` is; throws as get() does.
FieldFacts facts(const Scenario&, std::string_view path);

}  // namespace rimstance
