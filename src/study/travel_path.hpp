#pragma once
#include <span>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// One value per interval, inside it, with the least sum of |x_k+1 - x_k|; of all such ways one with the
/// fewest changes; then each value is the middle of what is left to it. `before`: the value is as close to it
/// as may be where nothing forces a change at all; NaN: the middle. Exact, in one pass.
///
/// Intervals that share a value are gathered from the front until the next one shares none; neighbours so
/// gathered are disjoint, so the way between them is forced, and only the values at turns and ends have to
/// lean on their neighbours.
/// Every interval must have lo <= hi.
std::vector<double> least_movement(std::span<const Interval>, double before = kUnset);

}  // namespace rimstance
