#include "rimstance/statics/support_polygon.hpp"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>

#include <algorithm>
#include <numeric>

namespace rimstance {
namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Point = Kernel::Point_2;

struct Corner {
  Vec2 p;
  int contact;
};

bool left_turn(const Vec2& a, const Vec2& b, const Vec2& c) {
  return CGAL::orientation(Point(a.x(), a.y()), Point(b.x(), b.y()), Point(c.x(), c.y())) == CGAL::LEFT_TURN;
}

/// Distance of b to the right of the line a -> c; differences first.
double outside_line(const Corner& a, const Corner& b, const Corner& c) {
  const Vec2 along = c.p - a.p;
  return -cross2(along, b.p - a.p) / along.norm();
}

std::vector<Corner> distinct(std::span<const Contact> contacts) {
  std::vector<Corner> corners;
  for (std::size_t i = 0; i < contacts.size(); ++i) {
    if (!contacts[i].supported) continue;
    const Vec2 p = contacts[i].p_W.head<2>();
    const bool seen = std::any_of(corners.begin(), corners.end(),
                                  [&](const Corner& c) { return (c.p - p).norm() <= kOnEdge; });
    if (!seen) corners.push_back({p, static_cast<int>(i)});
  }
  return corners;
}

std::vector<Corner> hull(const std::vector<Corner>& corners) {
  std::vector<Vec2> points;
  for (const Corner& c : corners) points.push_back(c.p);
  std::vector<Corner> out;
  for (const std::size_t i : convex_hull(points)) out.push_back(corners[i]);
  return out;
}

/// A corner within kOnEdge of the line through its neighbours lies on that edge: dropping it makes the
/// polygon smaller, so it is safe.
void drop_flat_corners(std::vector<Corner>& corners) {
  for (std::size_t i = 0; i < corners.size() && corners.size() >= 3;) {
    const std::size_t n = corners.size();
    if (outside_line(corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]) <= kOnEdge) {
      corners.erase(corners.begin() + static_cast<std::ptrdiff_t>(i));
      i = 0;
    } else {
      ++i;
    }
  }
}

/// The walk starts at the first contact in the list, so that edges come in a familiar order.
void start_at_first_contact(std::vector<Corner>& corners) {
  const auto first = std::min_element(corners.begin(), corners.end(),
                                      [](const Corner& a, const Corner& b) { return a.contact < b.contact; });
  std::rotate(corners.begin(), first, corners.end());
}

Edge edge_between(const Contact& from, const Contact& to, const Pose& X_WC) {
  Edge edge;
  const Vec3 along = to.p_W - from.p_W;
  edge.length = along.norm();
  edge.p_W = from.p_W;
  edge.a_W = along / edge.length;
  edge.p_C = X_WC.R.transpose() * (from.p_W - X_WC.p);
  edge.a_C = X_WC.R.transpose() * edge.a_W;
  edge.inclination = std::atan2(edge.a_W.z(), edge.a_W.head<2>().norm());
  return edge;
}

}  // namespace

/// Monotone chain (Andrew 1979): lower side, then upper side.
std::vector<std::size_t> convex_hull(std::span<const Vec2> points) {
  std::vector<std::size_t> order(points.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t i, std::size_t j) {
    const Vec2 &a = points[i], &b = points[j];
    return a.x() != b.x() ? a.x() < b.x() : a.y() != b.y() ? a.y() < b.y() : i < j;
  });
  std::vector<std::size_t> out;
  const auto chain = [&](auto first, auto last) {
    const std::size_t base = out.size();
    for (auto it = first; it != last; ++it) {
      while (out.size() >= base + 2 &&
             !left_turn(points[out[out.size() - 2]], points[out.back()], points[*it]))
        out.pop_back();
      out.push_back(*it);
    }
    if (!out.empty()) out.pop_back();
  };
  chain(order.begin(), order.end());
  chain(order.rbegin(), order.rend());
  return out;
}

std::vector<Edge> support_polygon(std::span<const Contact> contacts, const Pose& X_WC) {
  std::vector<Corner> corners = hull(distinct(contacts));
  drop_flat_corners(corners);
  if (corners.size() < 3) return {};
  start_at_first_contact(corners);
  std::vector<Edge> edges;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const Corner &a = corners[i], &b = corners[(i + 1) % corners.size()];
    Edge edge = edge_between(contacts[static_cast<std::size_t>(a.contact)],
                             contacts[static_cast<std::size_t>(b.contact)], X_WC);
    edge.from = a.contact;
    edge.to = b.contact;
    edge.width = 0;
    const Vec2 along = (b.p - a.p).normalized();
    for (const Corner& c : corners) edge.width = std::max(edge.width, cross2(along, c.p - a.p));
    edges.push_back(edge);
  }
  return edges;
}

double plan_area(std::span<const Edge> edges) {
  double twice = 0;
  for (const Edge& e : edges) {
    const Vec2 a = (e.p_W - edges[0].p_W).head<2>();
    twice += cross2(a, e.length * e.a_W.head<2>());
  }
  return twice / 2;
}

double polygon_scale(std::span<const Edge> edges) {
  expects(!edges.empty(), "polygon_scale: a polygon");
  Vec2 centroid = Vec2::Zero();
  double twice = 0;
  for (const Edge& e : edges) {
    const Vec2 a = (e.p_W - edges[0].p_W).head<2>(), b = a + e.length * e.a_W.head<2>();
    const double t = cross2(a, b);
    twice += t;
    centroid += t / 3 * (a + b);
  }
  centroid = edges[0].p_W.head<2>() + centroid / twice;
  double greatest = 0;
  for (const Edge& e : edges)
    greatest = std::max(greatest, cross2(e.a_W.head<2>().normalized(), centroid - e.p_W.head<2>()));
  return greatest;
}

}  // namespace rimstance
