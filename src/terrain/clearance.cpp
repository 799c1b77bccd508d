#include "rimstance/terrain/clearance.hpp"

#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/AABB_triangle_primitive.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/ground.hpp"

namespace rimstance {
namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Triangles = std::vector<Kernel::Triangle_3>;
using Primitive = CGAL::AABB_triangle_primitive<Kernel, Triangles::const_iterator>;
using Boxes = CGAL::AABB_tree<CGAL::AABB_traits<Kernel, Primitive>>;

Kernel::Point_3 point(const Vec3& p) { return {p.x(), p.y(), p.z()}; }
Vec3 vector(const Kernel::Point_3& p) { return {p.x(), p.y(), p.z()}; }

}  // namespace

struct Clearance::Tree {
  Triangles triangles;
  Boxes boxes;
  explicit Tree(Triangles given) : triangles(std::move(given)), boxes(triangles.cbegin(), triangles.cend()) {
    if (triangles.empty()) return;
    boxes.build();  // now, so that questions from many threads only read
    boxes.accelerate_distance_queries();
  }
};

std::optional<double> Clearance::ray(const Vec3& from, const Vec3& direction) const {
  expects(from.allFinite() && direction.allFinite() && direction.squaredNorm() > 0,
          "Clearance::ray: finite, a direction");
  if (!tree_ || tree_->triangles.empty()) return std::nullopt;
  const Kernel::Ray_3 ray(point(from), Kernel::Vector_3(direction.x(), direction.y(), direction.z()));
  const auto hit = tree_->boxes.first_intersection(ray);
  if (!hit) return std::nullopt;
  if (const auto* p = boost::get<Kernel::Point_3>(&hit->first)) return (vector(*p) - from).norm();
  // the ray runs within a triangle: its nearer end, or the start itself if that lies in it
  const auto* s = boost::get<Kernel::Segment_3>(&hit->first);
  return std::min((vector(s->source()) - from).norm(), (vector(s->target()) - from).norm());
}

std::optional<Clearance::Nearest> Clearance::nearest(const Vec3& p) const {
  expects(p.allFinite(), "Clearance::nearest: finite point");
  if (!tree_ || tree_->triangles.empty()) return std::nullopt;
  const Vec3 q = vector(tree_->boxes.closest_point(point(p)));
  return Nearest{(q - p).norm(), q};
}

Clearance clearance(const Terrain& terrain, const Box2& box) {
  std::vector<Facet> facets;
  all_triangles(*terrain.ground, box, facets);
  Triangles triangles;
  triangles.reserve(facets.size());
  for (const Facet& f : facets) {
    const Kernel::Triangle_3 t(point(f.a), point(f.b), point(f.c));
    if (!t.is_degenerate()) triangles.push_back(t);
  }
  Clearance result;
  result.tree_ = std::make_shared<const Clearance::Tree>(std::move(triangles));
  return result;
}

}  // namespace rimstance
