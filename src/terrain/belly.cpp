#include <algorithm>
#include <array>
#include <cmath>

#include "plan.hpp"

namespace rimstance {
namespace {

/// Is p in the polygon? By the crossings of a ray to the east; what lies on a border is found where the
/// sides cross.
bool holds_point(const std::vector<Vec2>& outline, const Vec2& p) {
  bool inside = false;
  for (std::size_t k = 0; k < outline.size(); ++k) {
    const Vec2 a = outline[k] - p, b = outline[(k + 1) % outline.size()] - p;
    const double turn = cross2(a, b);
    if ((a.y() > 0) != (b.y() > 0) && (turn > 0) == (b.y() > a.y())) inside = !inside;
  }
  return inside;
}

/// The part of a facet at or below a height: at most four corners.
struct Lower {
  std::array<Vec3, 4> corners;
  std::size_t count = 0;
};
Lower lower_part(const Facet& f, double under) {
  const std::array<Vec3, 3> c{f.a, f.b, f.c};
  Lower part;
  for (std::size_t k = 0; k < 3; ++k) {
    const Vec3 &a = c[k], &b = c[(k + 1) % 3];
    if (a.z() <= under) part.corners[part.count++] = a;
    if ((a.z() < under && b.z() > under) || (a.z() > under && b.z() < under)) {
      Vec3 cut = a + (under - a.z()) / (b.z() - a.z()) * (b - a);
      cut.z() = under;
      part.corners[part.count++] = cut;
    }
  }
  return part;
}

/// Height at which the side from a to b passes over the segment from p to q; -inf where it does not.
/// Parallel ones meet, if at all, at corners that are looked at anyway.
double crossing_height(const Vec3& a, const Vec3& b, const Vec2& p, const Vec2& q) {
  const Vec2 along = b.head<2>() - a.head<2>(), wall = q - p, apart = p - a.head<2>();
  const double turn = cross2(along, wall);
  if (turn == 0) return -kInfinity;
  const double t = cross2(apart, wall) / turn, s = cross2(apart, along) / turn;
  return t >= 0 && t <= 1 && s >= 0 && s <= 1 ? a.z() + t * (b.z() - a.z()) : -kInfinity;
}

/// Greatest height of a facet's lower part over the polygon: a plane is highest at a corner of the common
/// part, and that is a corner of one inside the other or a crossing of two sides.
double highest_over(const Facet& f, const std::vector<Vec2>& outline, double under) {
  const Lower part = lower_part(f, under);
  double best = -kInfinity;
  for (std::size_t k = 0; k < part.count; ++k) {
    const Vec3 &a = part.corners[k], &b = part.corners[(k + 1) % part.count];
    if (a.z() > best && holds_point(outline, a.head<2>())) best = a.z();
    for (std::size_t j = 0; j < outline.size(); ++j)
      best = std::max(best, crossing_height(a, b, outline[j], outline[(j + 1) % outline.size()]));
  }
  for (const Vec2& p : outline)
    if (plan::holds(f, p))
      if (const double z = plan::height_on(f, p); z <= under) best = std::max(best, z);
  return best;
}

}  // namespace

double highest_under(const Terrain& terrain, const std::vector<Vec2>& outline, double under) {
  expects(outline.size() >= 3 && !std::isnan(under),
          "highest_under: three corners, under a height or infinite");
  Box2 box{outline.front(), outline.front()};
  for (const Vec2& p : outline) {
    expects(p.allFinite(), "highest_under: finite corners");
    box = {box.lo.cwiseMin(p), box.hi.cwiseMax(p)};
  }
  std::vector<Facet> near;
  terrain.ground->facets(box, near);
  double best = -kInfinity;
  for (const Facet& f : near)
    if (plan::lowest(f) <= under && std::min(plan::highest(f), under) > best)
      best = std::max(best, highest_over(f, outline, under));
  return best;
}

}  // namespace rimstance
