#pragma once
#include <algorithm>
#include <vector>

#include "drawn.hpp"
#include "rimstance/statics/tipping.hpp"
#include "stands.hpp"

// Drawn machines on contacts of their own feet, and moments about edges summed by hand.
namespace rimstance::drawn {

struct Stance : World {
  std::vector<double> stroke;
  std::vector<Contact> contacts;
  std::vector<Edge> edges;
  Vec3 gravity_C;
};

/// Loads, contacts and edges anew, after a change of scenario or pose.
inline void refresh(Stance& s) {
  s.loads = machine_loads(s.scenario, splay(s.scenario.machine));
  s.contacts = stands::feet(s.scenario.machine, s.stroke, s.X_WC);
  s.edges = support_polygon(s.contacts, s.X_WC);
  s.gravity_C = s.X_WC.R.transpose() * Vec3(0, 0, -s.scenario.gravity);
}

inline Stance stance(Draw& draw, bool margins = true) {
  Stance s;
  static_cast<World&>(s) = world(draw, margins);
  for (std::size_t i = 0; i < s.scenario.machine.outriggers.size(); ++i) s.stroke.push_back(draw.in(0, 0.6));
  refresh(s);
  return s;
}

/// Every measure about every edge, in the edges' order.
inline std::vector<Measures> all_measures(const Stance& s, const CraneState& at, double rotated = 0) {
  std::vector<Measures> out;
  const auto all = parts(s.loads, at, s.load_case, true, true);
  for (const Edge& e : s.edges) out.push_back(measures(all, tipping_axis(e, s.gravity_C, rotated), at.slew));
  return out;
}
inline std::vector<Measures> all_measures(const Stance& s) { return all_measures(s, s.state); }

inline constexpr MarginKind kMeasures[] = {
    MarginKind::moment,    MarginKind::clearance, MarginKind::load_side_share, MarginKind::moment_ratio,
    MarginKind::tip_angle, MarginKind::energy,    MarginKind::force_angle};

inline bool near(double a, double b, double relative, double size = 1) {
  if (std::isnan(a) || std::isnan(b)) return std::isnan(a) && std::isnan(b);
  return std::abs(a - b) <= relative * std::max({std::abs(a), std::abs(b), size});
}

/// A scale for comparisons of a measure: weights of some 500 N on a stance of some metres.
inline double size_of(MarginKind kind) {
  return kind == MarginKind::moment || kind == MarginKind::energy || kind == MarginKind::force_angle ? 1000
                                                                                                     : 1;
}

/// A polygon's own support: contacts at points, and nothing else known.
inline std::vector<Edge> polygon(std::initializer_list<Vec3> points, const Pose& X_WC = {}) {
  std::vector<Contact> contacts = stands::at(points);
  for (Contact& c : contacts) c.p_W = X_WC * c.p_C;
  return support_polygon(contacts, X_WC);
}

/// A single lump.
inline Part lump(double mass, const Vec3& at, double margin = 0, int body = 0) {
  Part p;
  p.mass = mass;
  p.fixed = at;
  p.margin = margin;
  p.body = body;
  return p;
}

}  // namespace rimstance::drawn
