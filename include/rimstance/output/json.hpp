#pragma once
#include <string>

#include "rimstance/output/value.hpp"

namespace rimstance {

/// JSON (RFC 8259), members in order, two spaces of indent, doubles in the shortest form that reads
/// back the same, UTF-8 as it is (invalid bytes become U+FFFD). A null with a reason gets a sibling
/// member `<key>_reason`. Ends with a newline.
std::string to_json(const Value&);

}  // namespace rimstance
