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

}  // namespace rimstance
