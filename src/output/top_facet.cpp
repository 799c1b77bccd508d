#include "top_facet.hpp"

namespace rimstance {

TopFacet top_facet(const Ground& ground, const Vec2& p, double under, std::vector<Facet>& scratch) {
  scratch.clear();
  ground.facets({p, p}, scratch);
  TopFacet best;
  for (const Facet& f : scratch) {
    const Vec2 a = f.a.head<2>(), ab = f.b.head<2>() - a, ac = f.c.head<2>() - a, ap = p - a;
    const double area = cross2(ab, ac), at_b = cross2(ap, ac) / area, at_c = cross2(ab, ap) / area;
    if (!(at_b >= -1e-9 && at_c >= -1e-9 && at_b + at_c <= 1 + 1e-9)) continue;
    const double z = f.a.z() + at_b * (f.b.z() - f.a.z()) + at_c * (f.c.z() - f.a.z());
    if (z > under || !(z > best.z)) continue;
    const Vec3 n = (f.b - f.a).cross(f.c - f.a).normalized();
    best = {z, n.z() < 0 ? Vec3(-n) : n};
  }
  return best;
}

}  // namespace rimstance
