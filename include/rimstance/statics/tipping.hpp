#pragma once
#include <span>
#include <vector>

#include "rimstance/loads/parts.hpp"
#include "rimstance/statics/support_polygon.hpp"

namespace rimstance {

/// An edge in a gravity field: the two directions in which a weight's place counts. Gravity may be
/// rotated (tilt of the ground that was not measured); then n, v and psi are those of the rotated field.
///   restoring moment of a weight W at r:  M = W cos(psi) d,  d = (r - c) . n  horizontal, positive inside
///   height above the axis line, times cos(psi): (r - c) . v
struct TippingAxis {
  Vec3 c;          ///< a point of the axis, C [m]
  Vec3 n, v;       ///< unit, C: inward normal to the vertical plane of the edge; up, normal to the axis
  double cos_psi;  ///< psi: inclination of the axis to the horizontal plane of the field
  double g;        ///< [m/s2]
  double width;    ///< of the polygon normal to the edge [m]
  /// Where gravity is rotated by phi over an inclined edge, leaning straight out is not quite the worst way:
  /// of all ways M is least by this much more, of D = sum(m g d) and H = sum(m g h cos(psi)) in n and v.
  ///   M = W cos(psi) (d cos(phi) - sin(phi) sqrt(h^2 + (d tan(psi))^2))
  double worst_way(double across, double height) const {
    if (!(sin_rotated > 0)) return 0;
    const double d = nn * across + nv * height, h = vn * across + vv * height;
    return sin_rotated * (std::hypot(h, d * sin_psi_level) - h);
  }
  double sin_rotated = 0, sin_psi_level = 0;  ///< of phi; of the edge in the field that was not rotated
  double nn = 1, nv = 0, vn = 0, vv = 1;      ///< that field's n and v along these
};

/// `gravity_C`: vector [m/s2] in C. `rotated`: angle [rad] by which gravity leans over, the worst way.
TippingAxis tipping_axis(const Edge&, const Vec3& gravity_C, double rotated = 0);

/// How far one state is from tipping over one edge. NaN: does not exist there. Where gravity is rotated over
/// an inclined edge, moment, clearance and share are those of the worst way it can lean; ratio, angle,
/// energy and force-angle those of leaning straight out, which differ in the second order.
struct Measures {
  double moment = kUnset;     ///< restoring moment M [N m]; > 0 keeps the machine down (McGhee & Frank 1968)
  double clearance = kUnset;  ///< M / (R_v cos psi) [m], R_v the vertical part of all loads
  double moment_ratio =
      kUnset;  ///< restoring over overturning by body (common practice); NaN if nothing overturns
  double tip_angle = kUnset;  ///< [rad], positive inside (Papadopoulos & Rey 1996)
  double energy = kUnset;     ///< to tip [J] (Messuri & Klein 1985); 0 when already over; NaN under a pull
  double load_side_share = kUnset;  ///< clearance over the polygon's width normal to the edge
  double force_angle = kUnset;  ///< tip angle times |moment| [N m rad], theta |d| |f*| of the 2000 form of
                                ///< Papadopoulos & Rey, where |d| |f*| is the moment about the edge
  double of(MarginKind) const;
};

/// Measures of the parts at a slew angle. Masses with a growth allowance: each counts at the end of
/// [m, (1 + mu) m] that gives the least M at this state and edge; for clearance the c at which
/// sum(min(q_k, (1 + mu_k) q_k)) = 0 with q_k = M_k - c W_k cos psi.
Measures measures(std::span<const Part>, const TippingAxis&, double slew);

}  // namespace rimstance
