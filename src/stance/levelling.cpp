#include "rimstance/stance/levelling.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <optional>

#include "footing.hpp"
#include "rimstance/base/errors.hpp"
#include "underside.hpp"

namespace rimstance {
namespace {

/// Lengths that differ by less are equal [m]: far below what any leg can be set to.
constexpr double kSlack = 1e-9;
/// Strokes and heights that move less than this from one round to the next have come to rest [m].
constexpr double kAtRest = 1e-10;
constexpr int kMostRounds = 20;
/// Bounds that differ by less block together [m]: nobody can measure which of them it is.
constexpr double kSameBound = 1e-6;
/// Share of the plan area under a wheel or the belly that counts as all of it.
constexpr double kCovered = 1 - 1e-9;

/// A bound on the chassis: height + gradient . at >= limit (or <= for the upper side).
struct Bound {
  enum class Kind { shortest, longest, wheel, belly };
  Kind kind;
  std::size_t which;
  Vec2 at;  ///< in C's plan
  double limit;
  bool upper() const { return kind == Kind::longest; }
};

/// Pose by height above the datum over cos(tilt) and gradient of C's xy plane (see the header).
struct Tilted {
  double height = 0;
  Vec2 gradient = Vec2::Zero();
  double over_cos() const { return std::hypot(1.0, gradient.norm()); }
  double at(const Vec2& place) const { return height + gradient.dot(place); }
};

/// Everything that stays the same during one levelling.
struct Problem {
  const Machine& machine;
  const Terrain& terrain;
  const LevellingNeeds& needs;
  std::span<const double> splay, sinkage;
  Vec2 at_W;
  double yaw, under_W;
  std::vector<Vec2> feet;  ///< in C's plan
  /// Heights are taken from here, W: near the feet, or a round's error in cos(tilt) would move far ones.
  double datum = 0;
  Vec3 rise;  ///< of the chassis before the feet sink: rise . (1, x, y) in C's plan

  double drop(std::size_t i) const { return machine.outriggers[i].drop - machine.outriggers[i].pivot.z(); }

  /// pitch = -asin(R_zx), roll = atan2(R_zy, R_zz) of Rz Ry Rx.
  Pose pose(const Tilted& t) const {
    const double cosine = 1 / t.over_cos();
    const double pitch = -std::asin(t.gradient.x() * cosine), roll = std::atan(t.gradient.y());
    return {rotation(yaw, pitch, roll), Vec3(at_W.x(), at_W.y(), datum + t.height * cosine)};
  }
};

/// Plane of least squares through the sinkages: how much higher the chassis stands before them.
Vec3 rise_before(const std::vector<Vec2>& feet, std::span<const double> sinkage) {
  if (std::all_of(sinkage.begin(), sinkage.end(), [](double s) { return s == 0; })) return Vec3::Zero();
  Mat3 normal = Mat3::Zero();
  Vec3 load = Vec3::Zero();
  for (std::size_t i = 0; i < feet.size(); ++i) {
    const Vec3 g(1, feet[i].x(), feet[i].y());
    normal += g * g.transpose();
    load += sinkage[i] * g;
  }
  return normal.completeOrthogonalDecomposition().solve(load);
}

/// The ground under all pads in one pose.
struct Feet {
  std::vector<double> height;  ///< rest height less sinkage, above the datum
  std::vector<std::string> reason;
  bool supported = true;
};

Feet feet_under(const Problem& p, const Pose& X, std::span<const double> stroke,
                underside::Scratch& scratch) {
  Feet feet;
  feet.reason.resize(p.splay.size());
  for (std::size_t i = 0; i < p.splay.size(); ++i) {
    const Vec2 at_W = (X * foot(p.machine.outriggers[i], p.splay[i], stroke[i])).head<2>();
    const Footing f = footing(p.terrain, p.machine.outriggers[i], at_W, p.under_W, scratch);
    feet.height.push_back(f.rest - p.sinkage[i] - p.datum);
    if (f.supported) continue;
    feet.supported = false;
    feet.reason[i] = unsupported_reason(p.terrain, f, at_W, p.under_W);
  }
  return feet;
}

void add_stroke_bounds(const Problem& p, const Feet& feet, double over_cos, double in_hand,
                       std::vector<Bound>& out) {
  for (std::size_t i = 0; i < p.feet.size(); ++i) {
    const double base = feet.height[i] * over_cos + p.drop(i);
    const Interval& s = p.machine.outriggers[i].stroke;
    out.push_back({Bound::Kind::shortest, i, p.feet[i], base + s.lo + in_hand});
    out.push_back({Bound::Kind::longest, i, p.feet[i], base + s.hi - in_hand});
  }
}

/// Calls see(kind, which, needed clearance, places, share of the plan with ground) for wheels and belly.
template <class See>
void look_under(const Problem& p, const Pose& X, underside::Scratch& scratch, const See& see) {
  const Chassis& chassis = p.machine.chassis;
  std::vector<underside::Close> close;
  for (std::size_t k = 0; k < chassis.wheels.size(); ++k) {
    close.clear();
    const double share = underside::under_wheel(p.terrain, X, chassis.wheels[k], p.under_W, scratch, close);
    see(Bound::Kind::wheel, k, std::max(chassis.wheels[k].clearance, p.needs.wheel_clearance), close, share);
  }
  if (!chassis.belly) return;
  close.clear();
  const double share = underside::under_belly(p.terrain, X, *chassis.belly, p.under_W, scratch, close);
  see(Bound::Kind::belly, 0, std::max(chassis.belly->clearance, p.needs.belly_clearance), close, share);
}

/// Clearances in a pose.
void measure(Levelling& out, Bound::Kind kind, std::size_t which, const std::vector<underside::Close>& close,
             double share) {
  double gap = kInfinity;
  for (const underside::Close& c : close) gap = std::min(gap, c.body - c.ground);
  (kind == Bound::Kind::wheel ? out.wheel_clearance[which] : out.belly_clearance) =
      gap < kInfinity && share >= kCovered ? gap : kUnset;
}

/// Bounds of wheels and belly as the ground under them lies in the given pose, and the clearances there.
void add_body_bounds(const Problem& p, const Tilted& t, underside::Scratch& scratch,
                     std::vector<Bound>& bounds, Levelling& out) {
  look_under(p, p.pose(t), scratch,
             [&](Bound::Kind kind, std::size_t which, double needed, const auto& close, double share) {
               measure(out, kind, which, close, share);
               for (const underside::Close& c : close) {
                 const Vec2 at(c.u, c.v);
                 const double below = std::min(0.0, p.rise.dot(Vec3(1, c.u, c.v)));
                 bounds.push_back({kind, which, at, c.ground + t.at(at) - c.body + needed - below});
               }
             });
}

/// Heights of a level chassis that keep all bounds.
Interval common(std::span<const Bound> bounds) {
  Interval z{-kInfinity, kInfinity};
  for (const Bound& b : bounds)
    (b.upper() ? z.hi : z.lo) = b.upper() ? std::min(z.hi, b.limit) : std::max(z.lo, b.limit);
  return z;
}

std::string text(const Machine& m, const Bound& b) {
  switch (b.kind) {
    case Bound::Kind::shortest:
      return fmt::format("stroke of {} at its shortest", m.outriggers[b.which].name);
    case Bound::Kind::longest:
      return fmt::format("stroke of {} at its longest", m.outriggers[b.which].name);
    case Bound::Kind::wheel:
      return fmt::format("clearance of wheel {} of {}", b.which + 1, m.chassis.wheels.size());
    case Bound::Kind::belly:
      break;
  }
  return "clearance of the belly";
}

/// The highest lower and the lowest upper bounds, each once.
std::vector<std::string> blocking(const Machine& m, std::span<const Bound> bounds, const Interval& z) {
  std::vector<std::string> list;
  for (const Bound& b : bounds) {
    if (b.upper() ? b.limit > z.hi + kSameBound : b.limit < z.lo - kSameBound) continue;
    std::string name = text(m, b);
    if (std::find(list.begin(), list.end(), name) == list.end()) list.push_back(std::move(name));
  }
  return list;
}

/// side . gradient <= limit
struct HalfPlane {
  Vec2 side;
  double limit;
  double excess(const Vec2& gradient) const { return side.dot(gradient) - limit; }
  /// Rounding of a gradient that lies on the line [m].
  double slack(const Vec2& gradient) const {
    return 1e-12 * (side.norm() * (1 + gradient.norm()) + std::abs(limit));
  }
};

/// Point nearest to the origin that lies in all half planes: the origin, the foot of the perpendicular on
/// one line, or where two lines meet; every candidate is tried, so the answer is exact for the few there are.
std::optional<Vec2> nearest_to_origin(std::span<const HalfPlane> planes) {
  std::optional<Vec2> best;
  const auto attempt = [&](const Vec2& g) {
    if (best && !(g.squaredNorm() < best->squaredNorm())) return;
    for (const HalfPlane& h : planes)
      if (h.excess(g) > h.slack(g)) return;
    best = g;
  };
  attempt(Vec2::Zero());
  for (std::size_t i = 0; i < planes.size(); ++i) {
    const HalfPlane& a = planes[i];
    attempt(a.side * (a.limit / a.side.squaredNorm()));
    for (std::size_t j = i + 1; j < planes.size(); ++j) {
      const HalfPlane& b = planes[j];
      const double turn = cross2(a.side, b.side);
      if (std::abs(turn) <= 1e-12 * a.side.norm() * b.side.norm()) continue;
      attempt(Vec2(a.limit * b.side.y() - b.limit * a.side.y(), b.limit * a.side.x() - a.limit * b.side.x()) /
              turn);
    }
  }
  return best;
}

/// Least gradient at which some height keeps all bounds, and the lowest such height; nothing if there is
/// none. Every lower bound with every upper one is a half plane of gradients; those that matter are few and
/// are taken in one by one, the one exceeded most first. Bounds may be overrun by `slack` in all.
std::optional<Tilted> least_tilt(std::span<const Bound> bounds, double slack) {
  std::vector<HalfPlane> taken;
  Tilted t;
  for (;;) {
    std::optional<HalfPlane> worst;
    double most = 0;
    for (const Bound& up : bounds) {
      if (!up.upper()) continue;
      for (const Bound& low : bounds) {
        if (low.upper()) continue;
        const HalfPlane h{up.at - low.at, up.limit - low.limit + slack};
        const double excess = h.excess(t.gradient);
        if (!(excess > most) || excess <= 10 * h.slack(t.gradient)) continue;
        if (!(h.side.norm() > kSlack)) return {};  // no tilt changes this
        most = excess;
        worst = h;
      }
    }
    if (!worst) break;
    taken.push_back(*worst);
    const std::optional<Vec2> g = nearest_to_origin(taken);
    if (!g) return {};
    t.gradient = *g;
  }
  t.height = -kInfinity;
  for (const Bound& b : bounds)
    if (!b.upper()) t.height = std::max(t.height, b.limit - t.gradient.dot(b.at));
  return t;
}

/// Strokes that put the feet on the ground.
std::vector<double> strokes(const Problem& p, const Feet& feet, const Tilted& t) {
  std::vector<double> s;
  for (std::size_t i = 0; i < p.feet.size(); ++i)
    s.push_back(t.at(p.feet[i]) - feet.height[i] * t.over_cos() - p.drop(i));
  return s;
}

double most_apart(const std::vector<double>& a, const std::vector<double>& b) {
  double most = 0;
  for (std::size_t i = 0; i < a.size(); ++i) most = std::max(most, std::abs(a[i] - b[i]));
  return most;
}

void take_pose(const Problem& p, const Tilted& t, std::vector<double> stroke, Levelling& out) {
  out.X_WC = p.pose(t);
  for (std::size_t i = 0; i < stroke.size(); ++i) {
    const Interval& s = p.machine.outriggers[i].stroke;
    out.stroke_left[i] = std::min(stroke[i] - s.lo, s.hi - stroke[i]);
  }
  out.stroke = std::move(stroke);
}

std::string text(const Problem& p, const Pose& X) {
  const YawPitchRoll a = yaw_pitch_roll(X.R);
  return fmt::format("pitch {:.3f} deg, roll {:.3f} deg, height {:.4f} m", degrees(a.pitch), degrees(a.roll),
                     X.p.z() + p.terrain.map_offset.z());
}

/// The rounds never came to rest: which poses keep returning.
void name_alternating(const Problem& p, const std::vector<Pose>& rounds, Levelling& out) {
  const auto same = [](const Pose& a, const Pose& b) {
    return (a.p - b.p).norm() + (a.R - b.R).norm() < 1e-6;
  };
  std::size_t period = 2;
  for (std::size_t n = 2; n <= 4 && n < rounds.size(); ++n)
    if (same(rounds[rounds.size() - 1], rounds[rounds.size() - 1 - n])) {
      period = n;
      break;
    }
  out.alternating.assign(rounds.end() - static_cast<std::ptrdiff_t>(period), rounds.end());
  std::string sentence = "feet that move with the tilt: the pose alternates between";
  for (std::size_t k = 0; k < period; ++k) sentence += (k == 0 ? " " : "; ") + text(p, out.alternating[k]);
  out.blocked_by.push_back(sentence);
}

/// Rounds of least tilt, each on the ground under the feet of the one before.
void tilt(const Problem& p, Tilted at, std::vector<double> stroke, underside::Scratch& scratch,
          Levelling& out) {
  std::vector<Pose> rounds;
  std::vector<Bound> bounds;
  for (out.iterations = 1; out.iterations <= kMostRounds; ++out.iterations) {
    Feet feet = feet_under(p, p.pose(at), stroke, scratch);
    if (!feet.supported) {
      out.outcome = Levelling::Outcome::unsupported;
      out.unsupported_reason = std::move(feet.reason);
      for (std::string& reason : out.unsupported_reason)
        if (!reason.empty()) reason = "with the chassis tilted: " + reason;
      return;
    }
    bounds.clear();
    add_stroke_bounds(p, feet, at.over_cos(), 0, bounds);
    add_body_bounds(p, at, scratch, bounds, out);
    std::optional<Tilted> next = least_tilt(bounds, 0);
    if (!next) next = least_tilt(bounds, kSlack);
    out.outcome = Levelling::Outcome::no_convergence;
    if (!next) {
      out.blocked_by.push_back("no tilt keeps every stroke and clearance within its bounds");
      return;
    }
    std::vector<double> set = strokes(p, feet, *next);
    const bool rests = most_apart(set, stroke) < kAtRest && std::abs(next->height - at.height) < kAtRest &&
                       (next->gradient - at.gradient).norm() < kAtRest;
    at = *next;
    stroke = std::move(set);
    rounds.push_back(p.pose(at));
    if (!rests) continue;
    out.outcome = Levelling::Outcome::least_tilt;
    take_pose(p, at, std::move(stroke), out);
    look_under(p, out.X_WC, scratch,
               [&](Bound::Kind kind, std::size_t which, double, const auto& close, double share) {
                 measure(out, kind, which, close, share);
               });
    return;
  }
  out.iterations = kMostRounds;
  name_alternating(p, rounds, out);
}

/// Without a pose nothing is known of the clearances.
void forget_clearances(Levelling& out) {
  out.wheel_clearance.assign(out.wheel_clearance.size(), kUnset);
  out.belly_clearance = kUnset;
}

Levelling blank(const Problem& p) {
  Levelling out;
  out.X_WC = {rotation(p.yaw, 0, 0), Vec3(p.at_W.x(), p.at_W.y(), kUnset)};
  out.stroke.assign(p.splay.size(), kUnset);
  out.stroke_missing = out.stroke_left = out.stroke;
  out.unsupported_reason.resize(p.splay.size());
  out.wheel_clearance.assign(p.machine.chassis.wheels.size(), kUnset);
  return out;
}

/// Solves as far as `tilting` asks: whether the chassis can be level, or how far it must tilt if not.
void solve(Problem p, bool tilting, Levelling& out) {
  underside::Scratch scratch;
  const Pose start{rotation(p.yaw, 0, 0), Vec3(p.at_W.x(), p.at_W.y(), 0)};
  Feet feet = feet_under(p, start, std::vector<double>(p.splay.size(), 0.0), scratch);
  out.iterations = 1;
  out.unsupported_reason = std::move(feet.reason);
  if (!feet.supported) return;
  for (const double h : feet.height) p.datum += h / static_cast<double>(feet.height.size());
  for (double& h : feet.height) h -= p.datum;

  std::vector<Bound> bounds, body;
  Interval heights;
  add_body_bounds(p, {}, scratch, body, out);
  for (const double in_hand : {p.needs.stroke_left, 0.0}) {
    bounds = body;
    add_stroke_bounds(p, feet, 1, in_hand, bounds);
    heights = common(bounds);
    if (heights.lo <= heights.hi + kSlack) break;
  }
  out.height = {p.datum + heights.lo, p.datum + heights.hi};
  Tilted at;
  at.height = heights.lo;
  std::vector<double> stroke = strokes(p, feet, at);
  for (std::size_t i = 0; i < stroke.size(); ++i) {
    const double over = stroke[i] - p.machine.outriggers[i].stroke.hi;
    out.stroke_missing[i] = over > kSlack ? over : 0.0;
  }
  if (heights.lo <= heights.hi + kSlack) {
    out.outcome = Levelling::Outcome::level;
    for (double& c : out.wheel_clearance) c += heights.lo;  // seen from a chassis at the datum
    out.belly_clearance += heights.lo;
    take_pose(p, at, std::move(stroke), out);
    return;
  }
  out.outcome = Levelling::Outcome::no_convergence;
  if (!tilting) return;
  out.blocked_by = blocking(p.machine, bounds, heights);
  tilt(p, at, std::move(stroke), scratch, out);
  if (out.outcome != Levelling::Outcome::least_tilt) forget_clearances(out);
}

Levelling solved(const Machine& machine, const Terrain& terrain, const Spot& spot,
                 const LevellingNeeds& needs, std::span<const double> splay, std::span<const double> sinkage,
                 bool tilting) {
  expects(splay.size() == machine.outriggers.size() && sinkage.size() == splay.size(),
          "level: one splay and one sinkage per outrigger");
  expects(spot.at.allFinite() && std::isfinite(spot.yaw), "level: a finite spot");
  Problem p{machine,     terrain,
            needs,       splay,
            sinkage,     spot.at - terrain.map_offset.head<2>(),
            spot.yaw,    spot.under - terrain.map_offset.z(),
            {},          0,
            Vec3::Zero()};
  for (std::size_t i = 0; i < splay.size(); ++i)
    p.feet.push_back(foot(machine.outriggers[i], splay[i], 0).head<2>());
  p.rise = rise_before(p.feet, sinkage);
  Levelling out = blank(p);
  solve(p, tilting, out);
  return out;
}

}  // namespace

Vec3 foot(const Outrigger& o, double splay, double stroke) {
  const double azimuth = o.zero + o.sense * splay;
  return o.pivot + Vec3(o.arm * std::cos(azimuth), o.arm * std::sin(azimuth), -(o.drop + stroke));
}

Levelling level(const Machine& machine, const Terrain& terrain, const Spot& spot, const LevellingNeeds& needs,
                std::span<const double> splay, std::span<const double> sinkage) {
  return solved(machine, terrain, spot, needs, splay, sinkage, true);
}

bool can_level(const Machine& machine, const Terrain& terrain, const Spot& spot, const LevellingNeeds& needs,
               std::span<const double> splay, std::span<const double> sinkage) {
  return solved(machine, terrain, spot, needs, splay, sinkage, false).outcome == Levelling::Outcome::level;
}

}  // namespace rimstance
