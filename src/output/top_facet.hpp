#pragma once
// The facet that is the ground at a point, for pictures and inspection.
#include <vector>

#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Height [m] and upward unit normal of the highest facet over p at or below `under` (all in W);
/// z = -inf where there is none. On a shared side the facet with the smaller number counts.
struct TopFacet {
  double z = -kInfinity;
  Vec3 normal = Vec3::UnitZ();
};
TopFacet top_facet(const Ground&, const Vec2& p_W, double under, std::vector<Facet>& scratch);

}  // namespace rimstance
