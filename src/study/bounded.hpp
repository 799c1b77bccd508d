#pragma once
#include <vector>

#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"

namespace rimstance {

inline constexpr double kMost =
    1e7;  ///< [kg], more than any crane that a carrier takes along: "nothing limits"
inline constexpr double kNothing = 1e-9;  ///< [kg]: a payload of nothing, within rounding

/// A payload, what holds it there, and what is met already without it.
struct Bounded {
  double payload = kMost;
  Governing governing;
  std::vector<Governing> met;
  void offer(double other, const Governing& by) {
    if (other <= kNothing) met.push_back(by);
    if (!(other < payload)) return;
    payload = other;
    governing = by;
  }
};

/// Where the tip is.
struct TipPlace {
  double reach;  ///< [m]
  double ahead;  ///< of the foot pin [m]
  CurveEnd end;
};

}  // namespace rimstance
