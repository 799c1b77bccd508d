#include <algorithm>
#include <cmath>

#include "plan.hpp"

namespace rimstance {
namespace {

/// Shorter gaps and smaller steps are rounding [m].
constexpr double kJoint = 1e-9;
/// Sine of the angle to the line below which a side counts as parallel to it.
constexpr double kParallel = 1e-12;
/// The line is asked for in so many boxes: an oblique one would else read the whole map.
constexpr int kBoxes = 128;

/// Straight piece of the profile: heights z0, z1 at the distances t0 < t1 [m].
struct Chord {
  double t0, t1, z0, z1;
  double slope() const { return (z1 - z0) / (t1 - t0); }
  double at(double t) const { return t <= t0 ? z0 : t >= t1 ? z1 : z0 + (t - t0) * slope(); }
};

std::vector<Facet> facets_along(const Ground& ground, const Vec2& from, const Vec2& to) {
  std::vector<Facet> found;
  for (int k = 0; k < kBoxes; ++k) {
    const Vec2 a = from + (to - from) * (static_cast<double>(k) / kBoxes);
    const Vec2 b = from + (to - from) * (static_cast<double>(k + 1) / kBoxes);
    ground.facets({a.cwiseMin(b), a.cwiseMax(b)}, found);
  }
  std::sort(found.begin(), found.end(), [](const Facet& a, const Facet& b) { return a.id < b.id; });
  found.erase(
      std::unique(found.begin(), found.end(), [](const Facet& a, const Facet& b) { return a.id == b.id; }),
      found.end());
  return found;
}

/// The way of the line through a facet, by its three sides; false where it misses.
bool cross_facet(const Facet& f, const Vec2& from, const Vec2& way, double length, Chord& chord) {
  double lo = 0, hi = length;
  const double turn = plan::area2(f.a, f.b, f.c) > 0 ? 1 : -1;
  const Vec3* const corner[] = {&f.a, &f.b, &f.c};
  for (int k = 0; k < 3; ++k) {
    const Vec2 a = corner[k]->head<2>(), side = (corner[(k + 1) % 3]->head<2>() - a) * turn;
    const double inside = cross2(side, from - a), rate = cross2(side, way), size = side.norm();
    if (std::abs(rate) <= kParallel * size) {
      if (inside < -kJoint * size) return false;
    } else if (rate > 0) {
      lo = std::max(lo, -inside / rate);
    } else {
      hi = std::min(hi, -inside / rate);
    }
  }
  if (!(lo < hi)) return false;
  chord = {lo, hi, plan::height_on(f, from + lo * way), plan::height_on(f, from + hi * way)};
  return true;
}

/// The part of a chord at or below `under`.
bool lower(Chord& c, double under) {
  if (std::min(c.z0, c.z1) > under) return false;
  if (std::max(c.z0, c.z1) <= under) return true;
  const double t = c.t0 + (under - c.z0) / (c.z1 - c.z0) * (c.t1 - c.t0);
  if (c.z0 > under) {
    c = {t, c.t1, under, c.z1};
  } else {
    c = {c.t0, t, c.z0, under};
  }
  return c.t0 < c.t1;
}

class Profile {
 public:
  /// A straight piece from (t0, z0) to (t1, z1), joined to the last one where they meet.
  void append(double t0, double z0, double t1, double z1) {
    if (pieces_.empty() || t0 - pieces_.back().back().x() > kJoint) pieces_.emplace_back();
    std::vector<Vec2>& piece = pieces_.back();
    if (piece.empty() || std::abs(piece.back().y() - z0) > kJoint) piece.emplace_back(t0, z0);
    piece.emplace_back(t1, z1);
  }
  std::vector<std::vector<Vec2>> take() { return std::move(pieces_); }

 private:
  std::vector<std::vector<Vec2>> pieces_;
};

/// Upper envelope of chords that all span [t0, t1]: from the top one to the next that overtakes it.
void envelope(const std::vector<Chord>& chords, double t0, double t1, Profile& profile) {
  const Chord* top = &chords.front();
  for (const Chord& c : chords)
    if (c.at(t0) > top->at(t0)) top = &c;
  while (t0 < t1) {
    double next = t1;
    const Chord* over = nullptr;
    for (const Chord& c : chords) {
      const double faster = c.slope() - top->slope();
      if (!(faster > 0) || c.at(t1) <= top->at(t1)) continue;
      const double meet = t0 + std::max(top->at(t0) - c.at(t0), 0.0) / faster;
      if (meet < next || (over && meet == next && c.slope() > over->slope())) next = meet, over = &c;
    }
    if (next > t0) profile.append(t0, top->at(t0), next, top->at(next));
    if (!over) return;
    t0 = next, top = over;
  }
}

}  // namespace

std::vector<std::vector<Vec2>> section(const Terrain& terrain, const Vec2& from, const Vec2& to,
                                       double under) {
  expects(from.allFinite() && to.allFinite() && !std::isnan(under),
          "section: finite ends, under a height or infinite");
  const double length = (to - from).norm();
  expects(length > 0, "section: ends apart");
  std::vector<Chord> chords;
  for (const Facet& f : facets_along(*terrain.ground, from, to))
    if (Chord c; cross_facet(f, from, (to - from) / length, length, c) && lower(c, under))
      chords.push_back(c);
  std::sort(chords.begin(), chords.end(), [](const Chord& a, const Chord& b) { return a.t0 < b.t0; });
  std::vector<double> stops;
  for (const Chord& c : chords) stops.push_back(c.t0), stops.push_back(c.t1);
  std::sort(stops.begin(), stops.end());

  Profile profile;
  std::vector<Chord> active;
  auto next = chords.begin();
  for (std::size_t k = 0; k + 1 < stops.size(); ++k) {
    const double t0 = stops[k], t1 = stops[k + 1];
    if (!(t0 < t1)) continue;
    std::erase_if(active, [&](const Chord& c) { return c.t1 <= t0; });
    for (; next != chords.end() && next->t0 <= t0; ++next)
      if (next->t1 > t0) active.push_back(*next);
    if (!active.empty()) envelope(active, t0, t1, profile);
  }
  return profile.take();
}

}  // namespace rimstance
