#pragma once
#include <vector>

#include "rimstance/statics/stability.hpp"

namespace rimstance {

/// Where the vertical resultant of a state and case passes, in plan (W): sum(m r) / sum(m) with the case's
/// factors, a release's pull counted against the weights.
Vec2 resultant_W(const Prepared&, const Pose& X_WC, const At&);

/// Outline (convex, counter-clockwise) of the resultant's places in plan over every case and the envelope,
/// for pictures: at the ends of luff, extension, travel, line and units, every five degrees of slew.
std::vector<Vec2> resultant_region_W(const Prepared&, const Pose& X_WC);

/// The resultant's way in plan as the platform turns.
struct ResultantPath {
  struct Point {
    double slew;  ///< [rad]
    Vec2 at_W;
    double inside;  ///< horizontal distance to the nearest side of the support polygon, negative outside [m]
  };
  int load_case = -1;  ///< of Prepared::load_cases
  bool transit = false;
  std::vector<Point> points;
};

/// One path per load case that has a worst state: at that state, over the slew of its part of the envelope,
/// every five degrees and at the worst slew. Of a schedule over slew the cabinets stand where it has them at
/// that reach, and where they move there are two points at one slew. Basic masses, gravity upright.
std::vector<ResultantPath> resultant_paths(const Prepared&, const Pose& X_WC, const Stability&);

}  // namespace rimstance
