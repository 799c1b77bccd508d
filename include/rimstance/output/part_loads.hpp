#pragma once
#include <string>

#include "rimstance/output/table.hpp"
#include "rimstance/output/value.hpp"
#include "rimstance/statics/stand.hpp"

namespace rimstance {

/// What the designers of the parts read off a standing: slew bearing, luff, boom, guide, hoist, stowed
/// machine and the plausibility of its numbers, as members of the standing's description. `hoist`: what else
/// is known of the hoist.
void describe_parts(const Standing&, const Prepared&, Members hoist, Members& out);

/// The same of one foot's leg and arm, as members of that foot.
void describe_foot_part(const Standing&, const Prepared&, std::size_t foot, Members& out);

/// All of it for reading, from that description.
std::string part_loads_text(const Value& described);

/// Where the resultant passes over the slew, per load case at its state of least restoring moment: map
/// coordinates, and how far inside the nearest side of the support polygon.
Table resultant_table(const Standing&, const Prepared&, const Vec3& map_offset);

}  // namespace rimstance
