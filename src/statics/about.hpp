#pragma once
#include <span>

#include "rimstance/statics/tipping.hpp"

namespace rimstance {

/// One part about one edge, at basic mass.
struct About {
  double moment;  ///< restoring moment M_k [N m]
  double height;  ///< weight times height above the axis line times cos(psi) [N m]
  double force;   ///< downward [N]
  double margin;
  int body;
  bool weight;
  double factor() const { return moment < 0 ? 1 + margin : 1; }  ///< mass that gives least M, over basic
};

Measures measures(std::span<const About>, const TippingAxis&);

}  // namespace rimstance
