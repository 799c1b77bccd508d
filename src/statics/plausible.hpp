#pragma once
#include <span>
#include <vector>

#include "rimstance/statics/part_loads.hpp"

namespace rimstance {

/// Numbers of a standing beside bounds from elementary statics, each computed without the search that gave
/// the number.
std::vector<Plausible> plausible(const Prepared&, const Levelling&, std::span<const Contact>,
                                 const Stability&, const PartLoads&);

}  // namespace rimstance
