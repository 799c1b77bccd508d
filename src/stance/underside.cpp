#include "underside.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "rimstance/base/errors.hpp"

namespace rimstance::underside {
namespace {

/// Outlines are this much wider than drawn [m], so that rounding loses none of a line's points.
constexpr double kWider = 1e-12;

/// Keeps the part of the convex piece where `value`, linear between the corners, is >= 0.
template <class Value>
void keep(Scratch& s, const Value& value) {
  s.spare.clear();
  for (std::size_t k = 0; k < s.piece.size(); ++k) {
    const Vec3 &a = s.piece[k], &b = s.piece[k + 1 == s.piece.size() ? 0 : k + 1];
    const double at_a = value(a), at_b = value(b);
    if (at_a >= 0) s.spare.push_back(a);
    if ((at_a < 0 && at_b > 0) || (at_a > 0 && at_b < 0))
      s.spare.push_back(a + at_a / (at_a - at_b) * (b - a));
  }
  std::swap(s.piece, s.spare);
}

void piece_at_or_below(const Facet& f, double under_W, Scratch& s) {
  s.piece.assign({f.a, f.b, f.c});
  if (under_W < std::max({f.a.z(), f.b.z(), f.c.z()}))
    keep(s, [&](const Vec3& c) { return under_W - c.z(); });
}

void grow(Box2& box, const Vec2& by) { box.lo -= by, box.hi += by; }

/// Box in W of what may lie on C's vertical lines through the outline.
Box2 box_under(const Terrain& terrain, const Pose& X, std::span<const Vec2> outline) {
  Box2 box{Vec2::Constant(kInfinity), Vec2::Constant(-kInfinity)};
  for (const Vec2& c : outline) {
    const Vec3 p = X * Vec3(c.x(), c.y(), 0);
    box.lo = box.lo.cwiseMin(p.head<2>());
    box.hi = box.hi.cwiseMax(p.head<2>());
  }
  grow(box, Vec2::Constant(kWider));
  const Vec2 lean = X.R.col(2).head<2>().cwiseAbs();
  if (lean.maxCoeff() > 0) {
    const HeightBounds z = terrain.ground->bounds(box);
    const double deep = z.lo <= z.hi ? std::max(std::abs(z.lo - X.p.z()), std::abs(z.hi - X.p.z())) : 0.0;
    grow(box, lean / X.R(2, 2) * deep);
  }
  return box;
}

/// Twice the area of a polygon in plan, positive counter-clockwise.
template <class Corner>
double turn(std::span<const Corner> corners) {
  double area = 0;
  for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
    const Vec2 u = (corners[k] - corners[0]).template head<2>(),
               v = (corners[k + 1] - corners[0]).template head<2>();
    area += cross2(u, v);
  }
  return area;
}

/// A side of a convex outline: how far a point lies inside of it.
struct Side {
  Vec2 from, along;
  double inside(const Vec3& c) const { return cross2(along, c.head<2>() - from) + kWider; }
};

std::vector<Side> sides(std::span<const Vec2> outline) {
  std::vector<Side> list;
  for (std::size_t k = 0; k < outline.size(); ++k) {
    const Vec2 along = outline[k + 1 == outline.size() ? 0 : k + 1] - outline[k];
    if (const double length = along.norm(); length > 0) list.push_back({outline[k], along / length});
  }
  return list;
}

/// Cuts the piece to one side; most pieces lie on one hand of it as they are.
void cut(Scratch& s, const Side& side) {
  double least = kInfinity, most = -kInfinity;
  for (const Vec3& c : s.piece) {
    const double inside = side.inside(c);
    least = std::min(least, inside);
    most = std::max(most, inside);
  }
  if (most < 0) s.piece.clear();
  if (least < 0 && most >= 0) keep(s, [&](const Vec3& c) { return side.inside(c); });
}

/// Calls `see(piece)` with every facet's part over a convex counter-clockwise outline, in C. Returns twice
/// the plan area of all parts.
template <class See>
double pieces(const Terrain& terrain, const Pose& X, std::span<const Vec2> outline, double under_W,
              Scratch& s, const See& see) {
  s.facets.clear();
  terrain.ground->facets(box_under(terrain, X, outline), s.facets);
  const std::vector<Side> bounds = sides(outline);
  const Mat3 R_CW = X.R.transpose();
  double area = 0;
  for (const Facet& f : s.facets) {
    piece_at_or_below(f, under_W, s);
    for (Vec3& c : s.piece) c = R_CW * (c - X.p);
    for (std::size_t k = 0; k < bounds.size() && !s.piece.empty(); ++k) cut(s, bounds[k]);
    if (s.piece.empty()) continue;
    area += std::abs(turn<Vec3>(s.piece));
    see(std::as_const(s.piece));
  }
  return area;
}

/// Underside of the wheel at u along C's x.
double rim(const Wheel& w, double u) {
  const double x = std::clamp(u - w.at.x(), -w.radius, w.radius);
  return w.at.z() - std::sqrt((w.radius - x) * (w.radius + x));
}

/// Where along the side from a to b the rim has the side's own slope, if that is within it.
void add_tangent(const Wheel& w, const Vec3& a, const Vec3& b, std::vector<Close>& out) {
  const double du = b.x() - a.x();
  if (!(std::abs(du) > 0)) return;
  const double slope = (b.z() - a.z()) / du;
  const double u = w.at.x() + w.radius * slope / std::hypot(1.0, slope), share = (u - a.x()) / du;
  if (!(share > 0 && share < 1)) return;
  const Vec3 c = a + share * (b - a);
  out.push_back({c.x(), c.y(), c.z(), rim(w, c.x())});
}

bool in_triangle(const Vec2& p, const Vec2& a, const Vec2& b, const Vec2& c) {
  return cross2(b - a, p - a) > 0 && cross2(c - b, p - b) > 0 && cross2(a - c, p - c) > 0;
}

/// Convex parts of a simple polygon: itself, or its triangles (ears cut off one by one; Meisters 1975).
std::vector<std::vector<Vec2>> convex_parts(std::vector<Vec2> outline) {
  if (turn<Vec2>(outline) < 0) std::reverse(outline.begin(), outline.end());
  std::vector<std::vector<Vec2>> parts;
  const auto corner = [&](std::size_t k) { return outline[k % outline.size()]; };
  const auto left = [&](std::size_t k) {
    return cross2(corner(k + 1) - corner(k), corner(k + 2) - corner(k + 1));
  };
  while (outline.size() > 3) {
    const std::size_t n = outline.size();
    bool convex = true;
    std::size_t ear = n;
    for (std::size_t k = 0; k < n; ++k) {
      convex = convex && left(k) >= 0;
      if (ear < n || !(left(k) > 0)) continue;
      const bool empty = std::none_of(outline.begin(), outline.end(), [&](const Vec2& p) {
        return in_triangle(p, corner(k), corner(k + 1), corner(k + 2));
      });
      if (empty) ear = k;
    }
    if (convex || ear == n) break;
    parts.push_back({corner(ear), corner(ear + 1), corner(ear + 2)});
    outline.erase(outline.begin() + static_cast<std::ptrdiff_t>((ear + 1) % n));
  }
  parts.push_back(outline);
  return parts;
}

/// Offsets at which the ground over one side of the piece enters or leaves the disc, and its corners within.
template <class See>
void side_in_disc(const Vec3& a, const Vec3& b, double radius, const See& see) {
  if (a.head<2>().norm() <= radius) see(a);
  const Vec3 d = b - a;
  const double dd = d.head<2>().squaredNorm(), ad = a.head<2>().dot(d.head<2>());
  const double rest = ad * ad - dd * (a.head<2>().squaredNorm() - radius * radius);
  if (!(dd > 0) || !(rest > 0)) return;
  for (const double share : {(-ad - std::sqrt(rest)) / dd, (-ad + std::sqrt(rest)) / dd})
    if (share > 0 && share < 1) see(Vec3(a + share * d));
}

bool holds(const std::vector<Vec3>& piece, const Vec2& p) {
  bool left = true, right = true;
  for (std::size_t k = 0; k < piece.size(); ++k) {
    const Vec3 &a = piece[k], &b = piece[k + 1 == piece.size() ? 0 : k + 1];
    const double side = cross2(b.head<2>() - a.head<2>(), p - a.head<2>());
    left = left && side >= 0;
    right = right && side <= 0;
  }
  return left || right;
}

}  // namespace

double under_wheel(const Terrain& terrain, const Pose& X_WC, const Wheel& w, double under_W, Scratch& s,
                   std::vector<Close>& out) {
  const double r = w.radius, half = 0.5 * w.width, x = w.at.x(), y = w.at.y();
  const Vec2 footprint[] = {{x - r, y - half}, {x + r, y - half}, {x + r, y + half}, {x - r, y + half}};
  const std::size_t before = out.size();
  const double area = pieces(terrain, X_WC, footprint, under_W, s, [&](const std::vector<Vec3>& piece) {
    for (std::size_t k = 0; k < piece.size(); ++k) {
      const Vec3& a = piece[k];
      out.push_back({a.x(), a.y(), a.z(), rim(w, a.x())});
      add_tangent(w, a, piece[k + 1 == piece.size() ? 0 : k + 1], out);
    }
  });
  if (w.width > 0) return area / (4 * r * w.width);
  return out.size() > before ? 1 : 0;
}

double under_belly(const Terrain& terrain, const Pose& X_WC, const Belly& belly, double under_W, Scratch& s,
                   std::vector<Close>& out) {
  expects(belly.outline.size() >= 3, "Belly: at least three corners");
  double area = 0;
  for (const std::vector<Vec2>& part : convex_parts(belly.outline))
    area += pieces(terrain, X_WC, part, under_W, s, [&](const std::vector<Vec3>& piece) {
      for (const Vec3& c : piece) out.push_back({c.x(), c.y(), c.z(), belly.height});
    });
  return area / std::abs(turn<Vec2>(belly.outline));
}

double rest_with_gradient(const Terrain& terrain, const Vec2& centre_W, double radius, double under_W,
                          const Vec2& gradient, Scratch& s) {
  const Vec2 reach = Vec2::Constant(radius);
  s.facets.clear();
  terrain.ground->facets({centre_W - reach, centre_W + reach}, s.facets);
  double rest = -kInfinity;
  const auto see = [&](const Vec3& c) { rest = std::max(rest, c.z() - gradient.dot(c.head<2>())); };
  for (const Facet& f : s.facets) {
    piece_at_or_below(f, under_W, s);
    for (Vec3& c : s.piece) c -= Vec3(centre_W.x(), centre_W.y(), 0);
    for (std::size_t k = 0; k < s.piece.size(); ++k)
      side_in_disc(s.piece[k], s.piece[k + 1 == s.piece.size() ? 0 : k + 1], radius, see);
    const Vec3 normal = (f.b - f.a).cross(f.c - f.a);
    const Vec2 steeper = -normal.head<2>() / normal.z() - gradient;
    if (!(steeper.norm() > 0) || s.piece.empty()) continue;
    const Vec2 far = radius * steeper.normalized();  // where the facet stands out most on the circle
    if (!holds(s.piece, far)) continue;
    const Vec3& a = s.piece[0];
    see(Vec3(far.x(), far.y(), a.z() - normal.head<2>().dot(far - a.head<2>()) / normal.z()));
  }
  return rest;
}

}  // namespace rimstance::underside
