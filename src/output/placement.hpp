#pragma once
// Inside the drawing core only: where words go.
#include <vector>

#include "svg.hpp"

namespace rimstance::svg {

/// What words should stay off, with how much it matters per unit of the words' area covered.
struct Obstacle {
  Rect box;
  double weight;
};

struct Placed {
  Rect box;
  bool leader;  ///< so far off that a line should lead to the point
};

/// The free place near `at` for words of that size: sixteen directions at growing distances, the
/// least sum of what is covered and how far off it is; outside `room` only if nothing else fits. The same
/// input gives the same place.
Placed place(const Vec2& at, double clear, double width, double height, const Rect& room,
             const std::vector<Obstacle>& obstacles);

}  // namespace rimstance::svg
