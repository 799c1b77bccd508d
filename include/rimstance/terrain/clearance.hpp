#pragma once
#include <memory>
#include <optional>

#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Rays and distances in any direction against the facets of a box: an explicit value, built by who
/// needs it (about a second per million facets). Copying shares the tree.
class Clearance {
 public:
  struct Nearest {
    double distance;  ///< [m]
    Vec3 point_W;
  };
  /// First hit of the ray from p in a direction (need not be unit): distance along it [m].
  std::optional<double> ray(const Vec3& from_W, const Vec3& direction_W) const;
  /// Point of the ground nearest to p; empty if the box held no facet.
  std::optional<Nearest> nearest(const Vec3& p_W) const;

 private:
  struct Tree;
  std::shared_ptr<const Tree> tree_;
  friend Clearance clearance(const Terrain&, const Box2&);
};

/// Over all facets that meet `box`. Vertical facets take no part in Ground::facets() but count here.
Clearance clearance(const Terrain&, const Box2& box_W);

}  // namespace rimstance
