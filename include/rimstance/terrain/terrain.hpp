#pragma once
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// A triangle of the ground in W [m]. Ids ascend in a fixed order, the same on every machine.
struct Facet {
  Vec3 a, b, c;
  std::uint64_t id = 0;
};

/// Bounds of the ground over a rectangle [m]: every height there lies in [lo, hi]; `hole` if any part
/// of the rectangle may have no ground. No facet at all: lo = +inf, hi = -inf, hole.
struct HeightBounds {
  double lo, hi;
  bool hole;
};

/// The one door to the ground: a mesh, a DEM (triangulated as it is asked) or a formula in a test.
/// Patch, layers, section and belly stand on it. Immutable; safe to read from many threads.
class Ground {
 public:
  virtual ~Ground() = default;
  virtual Box2 extent() const = 0;
  /// Appends every facet whose plan bounding box meets `box` (borders count), each once, ids
  /// ascending; a few more are allowed. Facets with no plan area (vertical, degenerate) never come.
  virtual void facets(const Box2& box, std::vector<Facet>& out) const = 0;
  /// As facets(), with those that have no plan area but do have an area: walls, for rays and distances.
  virtual void triangles(const Box2& box, std::vector<Facet>& out) const { facets(box, out); }
  virtual HeightBounds bounds(const Box2& box) const = 0;
  /// Does (x, y) lie in a marked hole (missing data), as against off the map or a void of the mesh?
  virtual bool hole_at(const Vec2& p) const = 0;
};

struct Terrain {
  std::shared_ptr<const Ground> ground;
  Vec3 map_offset = Vec3::Zero();  ///< map coordinates = W + map_offset
  std::string frame;               ///< what the map coordinates are, in words
  std::string sha256;              ///< of the file's bytes
};

/// Heights at p from top to bottom [m]; facets that share the point (within 1e-9 m) count once.
/// Empty over a hole, a void or off the map.
std::vector<double> layers(const Terrain&, const Vec2& p_W);

/// Ground height: the highest layer at or below `under` (z in W). NaN where there is none.
double height(const Terrain&, const Vec2& p_W, double under);

/// The ground under a rigid disc on a ball joint: facets at or below `under` clipped to the disc, the
/// plane of least squares weighted by plan area, and the height at which the disc rests.
/// All integrals are exact over the clipped polygons (no sampling). mechanics: plane fit by the
/// 3 x 3 normal equations of moments; a rigid disc stands on its highest points.
struct [[nodiscard]] Patch {
  /// full: over 1 - 1e-9 of the disc's plan area is ground. Otherwise the foot is unsupported and only
  /// `supported_share` holds: `hole` a marked hole in it, `off_map` the disc leaves the extent,
  /// `no_facet` void (nothing at or below `under`).
  enum class Outcome { full, hole, off_map, no_facet };
  Outcome outcome = Outcome::no_facet;
  double plane_height = kUnset;          ///< fitted plane at the centre [m]
  double rest_height = kUnset;           ///< plane_height + residual [m]
  double highest = kUnset;               ///< highest ground in the disc [m]
  double residual = kUnset;              ///< largest vertical residual over the clipped corners [m], >= 0
  double rms = kUnset;                   ///< root mean square of the vertical residual by plan area [m]
  double supported_share = 0;            ///< of the disc's plan area, in [0, 1]
  Vec3 normal = Vec3::Constant(kUnset);  ///< of the fitted plane, upward, unit
};
Patch patch(const Terrain&, const Vec2& centre_W, double radius, double under);
/// The same with scratch space of the caller, for hot loops.
Patch patch(const Terrain&, const Vec2& centre_W, double radius, double under, std::vector<Facet>& scratch);

/// Highest ground in a simple polygon in plan (convex or not, either way round, borders count), at or
/// below `under`; -inf where there is none. Exact: corners of the clipped facets.
double highest_under(const Terrain&, const std::vector<Vec2>& outline_W, double under);

/// Profile of the ground under the plan line from `from` to `to`: the highest layer at or below `under`
/// as pieces of (distance along the line, height), from the start onwards. A gap between pieces is a
/// hole or a void; a step, or the lip of an overhang, is two points at one distance in one piece.
std::vector<std::vector<Vec2>> section(const Terrain&, const Vec2& from_W, const Vec2& to_W, double under);

/// Slope [rad] and downslope direction (counter-clockwise from east, in (-pi, pi]) of an upward normal
/// of any length; `downslope` is unset where the slope is under 1e-12: level ground has none.
struct SlopeAspect {
  double slope, downslope;
};
SlopeAspect slope_aspect(const Vec3& normal);

}  // namespace rimstance
