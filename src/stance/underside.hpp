#pragma once
#include <span>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "rimstance/terrain/terrain.hpp"

// Where the ground comes closest to the body of the carrier, facet by facet and without sampling. All in
// C, distances along C's z: for a level chassis that is the vertical.
namespace rimstance::underside {

/// A place (u, v) of C's plan where a facet may come closest: height of the ground and of the body there.
struct Close {
  double u, v;
  double ground, body;
};

/// Scratch space for one thread.
struct Scratch {
  std::vector<Facet> facets;
  std::vector<Vec3> piece, spare;
};

/// Appends candidates under a wheel's rim, over its footprint 2 radius x width. The gap to the lower half
/// of the cylinder is convex over a facet and constant across it, so its least lies on the facet's sides:
/// at a corner or where the rim is parallel to the side. Every corner of the clipped facets is among them.
/// Returns the share of the footprint that has ground (layers count each; a line: 1 if any).
double under_wheel(const Terrain&, const Pose& X_WC, const Wheel&, double under_W, Scratch&,
                   std::vector<Close>& out);

/// Appends the corners of the facets clipped to a flat belly's outline (convex or not). Returns as above.
double under_belly(const Terrain&, const Pose& X_WC, const Belly&, double under_W, Scratch&,
                   std::vector<Close>& out);

/// Height of a disc's centre when it lies with a given gradient on the highest point of the ground under
/// it: greatest of (ground - gradient . offset) over the disc, exact, points of the circle included.
double rest_with_gradient(const Terrain&, const Vec2& centre_W, double radius, double under_W,
                          const Vec2& gradient, Scratch&);

}  // namespace rimstance::underside
