#pragma once
#include <array>
#include <memory_resource>
#include <vector>

#include "rimstance/terrain/terrain.hpp"

// Convex pieces of facets cut by the unit disc about the origin. A patch is worked out in the disc's own
// coordinates: plan position relative to the centre over the radius, heights relative to one near by.
namespace rimstance::disc {

/// A corner in plan, and the height there.
struct Corner {
  Vec2 p;
  double z;
};

/// z = at_centre + slope . p
struct Plane {
  double at_centre = 0;
  Vec2 slope = Vec2::Zero();
  double at(const Vec2& p) const { return at_centre + slope.dot(p); }
};

/// Integrals of 1, x, y, x^2, x y, y^2 over a region.
struct Moments {
  double one = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
  Moments& operator+=(const Moments& m) {
    one += m.one, x += m.x, y += m.y, xx += m.xx, xy += m.xy, yy += m.yy;
    return *this;
  }
};

/// Corner of a piece within the disc; `arc` > 0: its side to the next corner runs along the circle over
/// that angle [rad], else it is straight.
struct Node {
  Vec2 p;
  double z;
  double arc;
};

template <class T>
using List = std::pmr::vector<T>;

/// A plane piece of the ground within the disc: nodes [first, last) of the common list, counter-clockwise;
/// none: the whole disc.
struct Piece {
  Plane plane;
  Moments moments;
  std::size_t first, last;
};

/// What cutting one polygon gave.
enum class Cut { nothing, part, whole };

/// Clips the convex counter-clockwise polygon to the disc and appends the nodes of what is left. Which
/// sides enter the disc does not depend on their direction: neighbours agree bit for bit.
Cut clip(const Corner* corners, std::size_t count, List<Node>& nodes);

/// Does the side from a to b run through the inside of the disc? Symmetric in a and b.
bool enters(const Vec2& a, const Vec2& b);

/// Exact integrals over the region bounded by the nodes: by Euler's theorem on homogeneous p of degree
/// d, (d + 2) * integral p dA = boundary integral p (x dy - y dx), elementary on lines and arcs.
Moments moments(const Node* first, const Node* last);
Moments whole_disc();

/// The visible parts of overlapping facets seen from above.
struct Sheet {
  Plane plane;
  std::array<Corner, 4> corners;  ///< counter-clockwise
  std::size_t count;
  double lo, hi;  ///< heights of the corners
};
/// Appends, piece by piece, what of each sheet within the disc no other one covers: where two share a
/// place the higher one shows, of two that coincide the earlier one.
void envelope(const List<Sheet>& sheets, List<Node>& nodes, List<Piece>& pieces);

}  // namespace rimstance::disc
