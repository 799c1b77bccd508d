#include "tin.hpp"

#include <CGAL/Delaunay_triangulation_2.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Triangulation_vertex_base_with_info_2.h>

#include <algorithm>
#include <utility>

#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Vertices = CGAL::Triangulation_vertex_base_with_info_2<std::uint32_t, Kernel>;
using Triangulation = CGAL::Delaunay_triangulation_2<Kernel, CGAL::Triangulation_data_structure_2<Vertices>>;

/// Of the points that differ, the first that is not on the line through the first two; their number if all
/// are.
std::size_t first_off_line(const std::vector<std::pair<Kernel::Point_2, std::uint32_t>>& points) {
  std::size_t k = std::min<std::size_t>(2, points.size());
  while (k < points.size() && CGAL::collinear(points[0].first, points[1].first, points[k].first)) ++k;
  return k;
}

}  // namespace

std::vector<std::array<std::uint32_t, 3>> delaunay(std::span<const Vec2> points) {
  std::vector<std::pair<Kernel::Point_2, std::uint32_t>> numbered;
  numbered.reserve(points.size());
  for (std::size_t i = 0; i < points.size(); ++i)
    numbered.emplace_back(Kernel::Point_2(points[i].x(), points[i].y()), static_cast<std::uint32_t>(i));
  const std::size_t off = first_off_line(numbered);
  if (off == numbered.size()) return {};
  Triangulation all;
  // In a plane from the start: along a line each further point would be looked for from one end.
  for (const std::size_t k : {std::size_t{0}, std::size_t{1}, off})
    all.insert(numbered[k].first)->info() = numbered[k].second;
  all.insert(numbered.begin(), numbered.end());
  expects(all.number_of_vertices() == points.size(), "delaunay: the points differ in plan");
  std::vector<std::array<std::uint32_t, 3>> out;
  out.reserve(all.number_of_faces());
  for (const auto face : all.finite_face_handles()) {
    std::array<std::uint32_t, 3> t{face->vertex(0)->info(), face->vertex(1)->info(), face->vertex(2)->info()};
    std::rotate(t.begin(), std::min_element(t.begin(), t.end()), t.end());
    out.push_back(t);
  }
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace rimstance
