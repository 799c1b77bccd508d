#pragma once

namespace rimstance {

// What no ground does. Files that do it hold marks of missing data, a wrong unit or a wrong axis.

/// Heights [m] beyond any planet's relief (the highest known, from mean ground: 22 km).
inline constexpr double kGreatestHeight = 1e5;
/// Plan coordinates [m]: the greatest bodies with ground are 40 000 km round.
inline constexpr double kGreatestPlan = 1e9;
/// Step between neighbouring points [m] that is a mark and not a cliff, if also steeper than below.
inline constexpr double kGreatestStep = 1000;
/// The same where one of the two has a value that customarily marks missing data.
inline constexpr double kGreatestStepToMark = 100;
/// tan(80 deg).
inline constexpr double kSteepestStep = 5.671281819617709;
/// Half of the surface steeper than this [rad], 60 deg: the up axis or the unit is wrong.
inline constexpr double kSteepestMedian = 1.0471975511965976;

}  // namespace rimstance
