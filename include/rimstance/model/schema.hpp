#pragma once
#include <string>

namespace rimstance {

/// JSON Schema (draft 2020-12) of scenario files and of the files they include: keys, forms, accepted
/// units, words, defaults and meanings, from the same table the loader reads with. It knows nothing of
/// what must agree between values (ranges of the machine, names): the loader checks that.
std::string json_schema();

/// Schema of a machine kept in a file of its own; refers to the file that holds json_schema().
std::string machine_schema(const std::string& scenario_schema);

}  // namespace rimstance
