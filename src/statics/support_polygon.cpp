#include "rimstance/statics/support_polygon.hpp"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>

#include <algorithm>

namespace rimstance {
namespace {

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Point = Kernel::Point_2;

struct Corner {
  Vec2 p;
  int contact;
};

bool left_turn(const Corner& a, const Corner& b, const Corner& c) {
  return CGAL::orientation(Point(a.p.x(), a.p.y()), Point(b.p.x(), b.p.y()), Point(c.p.x(), c.p.y())) ==
         CGAL::LEFT_TURN;
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

/// Monotone chain (Andrew 1979): lower side, then upper side.
std::vector<Corner> hull(std::vector<Corner> corners) {
  std::sort(corners.begin(), corners.end(), [](const Corner& a, const Corner& b) {
    return a.p.x() != b.p.x() ? a.p.x() < b.p.x() : a.p.y() < b.p.y();
  });
  std::vector<Corner> out;
  const auto chain = [&](auto first, auto last) {
    const std::size_t base = out.size();
    for (auto it = first; it != last; ++it) {
      while (out.size() >= base + 2 && !left_turn(out[out.size() - 2], out.back(), *it)) out.pop_back();
      out.push_back(*it);
    }
    if (!out.empty()) out.pop_back();
  };
  chain(corners.begin(), corners.end());
  chain(corners.rbegin(), corners.rend());
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
