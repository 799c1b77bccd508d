#pragma once
#include "rimstance/output/figure.hpp"
#include "rimstance/output/value.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// The stance from above, map coordinates: shaded terrain with contours, machine, feet, support polygon,
/// where the resultant passes over the whole envelope, and the edge and state of least restoring moment.
/// `described`: the same standing as describe() gave it, for the words and numbers beside the picture.
Figure plan_figure(const Standing&, const Prepared&, const LoadedTerrain&, const Value& described);

/// The stance from the side, cut along the boom at the reference slew, reaching out as in the worst state at
/// the job: distance from the slew axis against map height.
Figure side_figure(const Standing&, const Prepared&, const LoadedTerrain&, const Value& described);

}  // namespace rimstance
