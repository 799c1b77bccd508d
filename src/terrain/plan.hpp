#pragma once
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/terrain.hpp"

// Plan geometry of single facets, shared by everything that reads the ground. All side tests work on
// differences from the point asked about, so that large coordinates cost no digits.
namespace rimstance::plan {

/// Twice the signed plan area of (a, b, c); 0 where rounding cannot tell it from 0: vertical or degenerate.
inline double area2(const Vec3& a, const Vec3& b, const Vec3& c) {
  const double left = (b.x() - a.x()) * (c.y() - a.y()), right = (b.y() - a.y()) * (c.x() - a.x());
  const double noise = 4 * std::numeric_limits<double>::epsilon() * (std::abs(left) + std::abs(right));
  const double area = left - right;
  return std::abs(area) > noise ? area : 0.0;
}

/// Side of p relative to the line from a to b, scaled by the length: > 0 left, and 0 in doubt. Nothing
/// that lies exactly on a side is ever put on the other one, so neighbours leave no gap.
inline double side(const Vec3& a, const Vec3& b, const Vec2& p) {
  const double ax = a.x() - p.x(), ay = a.y() - p.y(), bx = b.x() - p.x(), by = b.y() - p.y();
  const double left = ax * by, right = ay * bx;
  const double noise = 4 * std::numeric_limits<double>::epsilon() * (std::abs(left) + std::abs(right));
  const double value = left - right;
  return std::abs(value) > noise ? value : 0.0;
}

/// Is p in the closed triangle in plan, however it is turned? Points in doubt count as inside.
inline bool holds(const Facet& f, const Vec2& p) {
  const double s = side(f.a, f.b, p), t = side(f.b, f.c, p), u = side(f.c, f.a, p);
  return (s >= 0 && t >= 0 && u >= 0) || (s <= 0 && t <= 0 && u <= 0);
}

inline double lowest(const Facet& f) { return std::min({f.a.z(), f.b.z(), f.c.z()}); }
inline double highest(const Facet& f) { return std::max({f.a.z(), f.b.z(), f.c.z()}); }

/// Height of the facet at a point that it holds; never outside the heights of its corners, also where it
/// is so steep that rounding hides how far up its side the point lies.
inline double height_on(const Facet& f, const Vec2& p) {
  const double ax = f.a.x() - p.x(), ay = f.a.y() - p.y(), bx = f.b.x() - p.x(), by = f.b.y() - p.y();
  const double cx = f.c.x() - p.x(), cy = f.c.y() - p.y();
  const double wa = bx * cy - by * cx, wb = cx * ay - cy * ax, wc = ax * by - ay * bx;
  const double area = wa + wb + wc;
  if (area == 0) return highest(f);
  const double z = f.c.z() + (wa * (f.a.z() - f.c.z()) + wb * (f.b.z() - f.c.z())) / area;
  return std::clamp(z, lowest(f), highest(f));
}

inline bool meets(const Facet& f, const Box2& box) {
  return std::max({f.a.x(), f.b.x(), f.c.x()}) >= box.lo.x() &&
         std::min({f.a.x(), f.b.x(), f.c.x()}) <= box.hi.x() &&
         std::max({f.a.y(), f.b.y(), f.c.y()}) >= box.lo.y() &&
         std::min({f.a.y(), f.b.y(), f.c.y()}) <= box.hi.y();
}

/// A 64-bit mix of one word (finaliser of splitmix64, as in random.hpp).
inline std::uint64_t mixed(std::uint64_t z) {
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
  return z ^ (z >> 31);
}

}  // namespace rimstance::plan
