#include "disc.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance::disc {
namespace {

/// Signed angle from a to b seen from the centre, in (-pi, pi].
double angle(const Vec2& a, const Vec2& b) { return std::atan2(cross2(a, b), a.dot(b)); }

Corner between(const Corner& a, const Corner& b, double t) {
  return {a.p + t * (b.p - a.p), a.z + t * (b.z - a.z)};
}

/// Where the side from a to b crosses the circle: shares of its length, in order and within [0, 1].
std::array<double, 2> crossings(const Vec2& a, const Vec2& b) {
  const Vec2 along = b - a;
  const double square = along.squaredNorm(), moment = cross2(a, b), back = -a.dot(along);
  const double root = std::sqrt(std::max(square - moment * moment, 0.0));
  return {std::clamp((back - root) / square, 0.0, 1.0), std::clamp((back + root) / square, 0.0, 1.0)};
}

Moments line_part(const Vec2& a, const Vec2& b) {
  const double c = cross2(a, b);
  return {c / 2,
          c / 6 * (a.x() + b.x()),
          c / 6 * (a.y() + b.y()),
          c / 12 * (a.x() * a.x() + a.x() * b.x() + b.x() * b.x()),
          c / 24 * (2 * a.x() * a.y() + a.x() * b.y() + b.x() * a.y() + 2 * b.x() * b.y()),
          c / 12 * (a.y() * a.y() + a.y() * b.y() + b.y() * b.y())};
}

/// Arc of the unit circle from a to b over `turn`.
Moments arc_part(const Vec2& a, const Vec2& b, double turn) {
  const double twice = (b.x() * b.y() - a.x() * a.y()) / 2;  // (sin 2 theta_b - sin 2 theta_a) / 4
  return {turn / 2,
          (b.y() - a.y()) / 3,
          (a.x() - b.x()) / 3,
          (turn / 2 + twice) / 4,
          (b.y() * b.y() - a.y() * a.y()) / 8,
          (turn / 2 - twice) / 4};
}

bool inside(const Vec2& p) { return p.squaredNorm() < 1; }

/// Goes round a polygon side by side and keeps what lies in the disc. The angle run through outside, seen
/// from the centre, becomes the arc from where the way left the disc to where it comes back: summed side
/// by side it is right also where an arc is next to nothing or next to a full turn.
struct Walk {
  List<Node>& nodes;
  std::size_t start;        ///< the first node of this polygon
  double outside = 0;       ///< angle since the last way out
  double before_first = 0;  ///< angle from the first corner to the first way in

  void side(const Corner& a, const Corner& b) {
    if (!enters(a.p, b.p)) {
      outside += angle(a.p, b.p);
      return;
    }
    const bool starts_in = inside(a.p), ends_in = inside(b.p);
    if (starts_in) nodes.push_back({a.p, a.z, 0});
    if (starts_in && ends_in) return;
    const auto [t0, t1] = crossings(a.p, b.p);
    if (!starts_in) come_in(a, between(a, b, t0));
    if (!ends_in) go_out(between(a, b, t1), b);
  }
  void come_in(const Corner& from, const Corner& at) {
    outside += angle(from.p, at.p);
    if (nodes.size() > start) {
      nodes.back().arc = std::max(outside, 0.0);
    } else {
      before_first = outside;
    }
    nodes.push_back({at.p, at.z, 0});
  }
  void go_out(const Corner& at, const Corner& to) {
    nodes.push_back({at.p, at.z, 0});
    outside = angle(at.p, to.p);
  }
  void close(bool started_outside) {
    if (started_outside) nodes.back().arc = std::max(outside + before_first, 0.0);
  }
};

}  // namespace

bool enters(const Vec2& a, const Vec2& b) {
  if (inside(a) || inside(b)) return true;
  const Vec2 along = b - a;
  const double moment = cross2(a, b);
  return a.dot(along) < 0 && b.dot(along) > 0 && moment * moment < along.squaredNorm();
}

Cut clip(const Corner* corners, std::size_t count, List<Node>& nodes) {
  const auto corner = [&](std::size_t k) -> const Corner& { return corners[k == count ? 0 : k]; };
  bool any = false, around = count > 0;
  for (std::size_t k = 0; k < count; ++k) {
    any = any || enters(corners[k].p, corner(k + 1).p);
    around = around && cross2(corners[k].p, corner(k + 1).p) > 0;
  }
  if (!any) return around ? Cut::whole : Cut::nothing;
  Walk walk{nodes, nodes.size()};
  for (std::size_t k = 0; k < count; ++k) walk.side(corners[k], corner(k + 1));
  walk.close(!inside(corners[0].p));
  return Cut::part;
}

Moments moments(const Node* first, const Node* last) {
  Moments sum;
  for (const Node* n = first; n != last; ++n) {
    const Vec2& next = (n + 1 == last ? first : n + 1)->p;
    sum += n->arc > 0 ? arc_part(n->p, next, n->arc) : line_part(n->p, next);
  }
  return sum;
}

Moments whole_disc() { return {kPi, 0, 0, kPi / 4, 0, kPi / 4}; }

}  // namespace rimstance::disc
