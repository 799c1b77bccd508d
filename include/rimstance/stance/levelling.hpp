#pragma once
#include <span>
#include <string>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

// Levelling: with the chassis level the feet stand at known places, so the stroke of leg i is
//   s_i = z_C - d_i - h_i,   d_i = drop_i - p_iz,  h_i the height at which its pad rests, less its sinkage,
// and every bound (strokes, wheels, belly) is a bound on z_C: an interval, of which the lowest is taken.
// Where it is empty, the chassis takes the least tilt at which every bound holds. With R_zz = cos(tilt) and
// gradient = (R_zx, R_zy) / R_zz all bounds are linear in (z_C / cos, gradient) and |gradient| = tan(tilt),
// so that is the point of a convex polygon nearest to the origin; the feet move with the tilt, so it is
// sought again with the ground under their new places until they rest.

/// Foot of an outrigger in C at a given splay [rad] and stroke [m]: `arm` from the pivot along
/// azimuth zero + sense * splay, drop + stroke below it.
Vec3 foot(const Outrigger&, double splay, double stroke);

/// Required in hand beside the machine's own clearances (criteria); all [m].
struct LevellingNeeds {
  double stroke_left = 0, wheel_clearance = 0, belly_clearance = 0;
};

/// How the machine stands on its outriggers at a spot. `outcome` first.
///   level           strokes found, chassis level
///   least_tilt      no common height: numbers hold for the least tilt; `blocked_by` says which bounds
///   unsupported     a foot has no ground (see unsupported_reason); no pose
///   no_convergence  no pose: no tilt keeps all bounds, or feet move with the tilt and never rest
///                   (`alternating` has the poses); `blocked_by` says which
///   does_not_settle sinkage and levelling chase each other (found by who iterates on sinkage)
struct [[nodiscard]] Levelling {
  enum class Outcome { level, least_tilt, unsupported, no_convergence, does_not_settle };
  Outcome outcome = Outcome::unsupported;
  Pose X_WC;                   ///< without a pose: level, at the spot, its height NaN
  std::vector<double> stroke;  ///< to set, per outrigger [m]; NaN without a pose
  /// How far a level chassis would overrun each leg's longest stroke [m], >= 0, at the lowest height that
  /// every shortest stroke, wheel and belly allow; NaN where a foot is unsupported.
  std::vector<double> stroke_missing;
  std::vector<double> stroke_left;  ///< min(s - s_min, s_max - s) [m]
  Interval height;                  ///< feasible heights of a level C's origin, W [m]; lo > hi: none;
                                    ///< NaN if a foot of the level chassis is unsupported
  std::vector<std::string>
      blocked_by;  ///< "stroke of front-left at its longest", "clearance of the belly", ...
  std::vector<std::string> unsupported_reason;  ///< per outrigger; empty if supported
  /// Of each wheel's rim over the ground along C's z [m]; NaN where ground is missing under any part of the
  /// footprint: then nobody knows, and no bound comes from what is missing.
  std::vector<double> wheel_clearance;
  double belly_clearance = kUnset;  ///< the same of the belly [m]
  std::vector<Pose> alternating;    ///< the poses that follow each other for ever
  int iterations = 0;
};

/// Levels the machine at a spot (at and under in MAP coordinates). `splay` and `sinkage` [m] per outrigger.
/// The greater of a machine's clearance and the criterion's counts, and they hold before the feet sink as
/// well (ground under wheels and belly does not sink). `stroke_left` is kept in hand at both ends if that
/// leaves an interval, else the bounds alone count. Comparisons have 1e-9 m of slack.
///
/// A pad on ground steeper than its joint allows keeps the limit angle to the vertical, towards the fall
/// line, and rests on its highest point. Laws: what was solved, solved again, is the same to 1e-9 m;
/// adding a length to every drop takes it from every stroke.
Levelling level(const Machine&, const Terrain&, const Spot&, const LevellingNeeds&,
                std::span<const double> splay, std::span<const double> sinkage);

/// Does level() find a level chassis? Without looking for the least tilt where not.
bool can_level(const Machine&, const Terrain&, const Spot&, const LevellingNeeds&,
               std::span<const double> splay, std::span<const double> sinkage);

}  // namespace rimstance
