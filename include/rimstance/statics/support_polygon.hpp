#pragma once
#include <span>
#include <vector>

#include "rimstance/stance/contacts.hpp"

namespace rimstance {

/// Contacts nearer than this to each other, or to the line of an edge, are one contact, or lie on the
/// edge [m]: below anything that can be set or measured, above rounding at map scale.
inline constexpr double kOnEdge = 1e-9;

/// A side of the support polygon: the 3-D line through two contacts.
struct Edge {
  int from = -1, to = -1;       ///< contact numbers; counter-clockwise, so the polygon lies on the left
  Vec3 p_W, p_C;                ///< a point of the axis: the first contact [m]
  Vec3 a_W, a_C;                ///< unit direction of the axis
  double length = kUnset;       ///< [m]
  double inclination = kUnset;  ///< psi of the axis above the horizontal [rad]
  double width = kUnset;        ///< of the polygon, in plan, normal to this edge [m]

  /// The axis in Pluecker form, so that the restoring moment of a wrench w about C's origin is axis() . w:
  /// M = -sum((r - c) x F) . a = (a x c) . F - a . (sum r x F), McGhee & Frank 1968.
  Vec6 axis() const {
    Vec6 out;
    out << a_C.cross(p_C), -a_C;
    return out;
  }
};

/// Numbers of the corners of the convex hull of `points`, counter-clockwise from the lowest x, by exact
/// predicates; points on a side are no corners. Fewer than three distinct points, or all on one line: what is
/// left of the chain, at most two.
std::vector<std::size_t> convex_hull(std::span<const Vec2> points);

/// Hull of the supported contacts' horizontal projections, counter-clockwise from above. Topology by
/// exact predicates. Fewer than three distinct supported contacts, or all on one line: empty, nothing stands.
/// Laws: a contact inside the hull changes nothing; a further one outside never shrinks it.
std::vector<Edge> support_polygon(std::span<const Contact>, const Pose& X_WC);

/// Area in plan [m2] of the polygon that the edges bound; 0 if empty.
double plan_area(std::span<const Edge>);

/// Greatest distance in plan from the polygon's centroid to an edge [m]: the scale of all tolerances.
double polygon_scale(std::span<const Edge>);

}  // namespace rimstance
