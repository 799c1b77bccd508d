#pragma once
#include "rimstance/base/frames.hpp"
#include "rimstance/loads/boom.hpp"
#include "rimstance/model/scenario.hpp"

namespace rimstance {

/// One setting of the crane.
struct CraneState {
  double slew = 0;       ///< counter-clockwise from boom forward [rad]
  double luff = 0;       ///< [rad]
  double extension = 0;  ///< [m]
  double travel = 0;     ///< counterweight along its guide [m]
  double line = 0;       ///< paid out [m]
  int units_left = 0;    ///< in the container
};

/// Tip in S [m]: foot pin plus length along the luffed boom.
inline Vec3 tip_S(const Boom& boom, const BoomShape& shape, double luff, double extension) {
  return boom.foot + shape.length(extension) * Vec3(std::cos(luff), 0, std::sin(luff));
}

/// A point of the platform in C, at a slew angle [rad].
inline Vec3 on_platform(const Platform& platform, const Vec3& p_S, double slew) {
  const double c = std::cos(slew), s = std::sin(slew);
  return platform.axis + Vec3(c * p_S.x() - s * p_S.y(), s * p_S.x() + c * p_S.y(), p_S.z());
}

/// Horizontal distance of the tip from the slew axis in the platform's own plane [m].
inline double reach(const Boom& boom, const BoomShape& shape, double luff, double extension) {
  return tip_S(boom, shape, luff, extension).head<2>().norm();
}

/// The other way round: how far ahead of the foot pin, along platform x, the tip lies at a reach [m]; NaN
/// where the foot pin alone is farther from the axis.
inline double ahead_of_foot(const Boom& boom, double reach) {
  const double square = reach * reach - boom.foot.y() * boom.foot.y();
  return square >= 0 ? std::sqrt(square) - boom.foot.x() : kUnset;
}

/// Height of the tip above C's origin along C's z [m].
inline double tip_height(const Machine& machine, const BoomShape& shape, double luff, double extension) {
  return machine.platform.axis.z() + tip_S(machine.boom, shape, luff, extension).z();
}

}  // namespace rimstance
