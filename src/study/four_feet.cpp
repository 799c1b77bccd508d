#include "four_feet.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

constexpr double kWidest = 2;       ///< of a stretch [rad]: half its tangent stays below 1
constexpr double kSlack = 1e-12;    ///< of a leg's limit: what is met within rounding is met
constexpr double kOfStress = 1e-9;  ///< a foot with less of the self-stress than this takes no part in it

// With t = tan((theta - middle) / 2), (1 + t^2) times a first harmonic is a quadratic in t.
struct Quadratic {
  std::array<double, 3> c{};  ///< c0 + c1 t + c2 t^2
  double at(double t) const { return c[0] + t * (c[1] + t * c[2]); }
};

/// Appends the zeros of c0 + ... + cn t^n in [lo, hi] where its sign changes: between two zeros of the
/// derivative there is at most one.
void add_zeros(const double* c, int n, double lo, double hi, std::vector<double>& out) {
  const auto at = [&](double t) {
    double value = c[n];
    for (int k = n - 1; k >= 0; --k) value = c[k] + t * value;
    return value;
  };
  std::vector<double> knots{lo};
  if (n > 1) {
    std::array<double, 4> slope{};
    for (int k = 1; k <= n; ++k) slope[static_cast<std::size_t>(k - 1)] = k * c[k];
    add_zeros(slope.data(), n - 1, lo, hi, knots);
  }
  knots.push_back(hi);
  for (std::size_t i = 0; i + 1 < knots.size(); ++i) {
    double a = knots[i], b = knots[i + 1], fa = at(a);
    const double fb = at(b);
    if ((fa < 0) == (fb < 0)) continue;
    for (int step = 0; step < 80 && b - a > 1e-15; ++step) {
      const double middle = a + (b - a) / 2, fm = at(middle);
      if ((fm < 0) == (fa < 0)) {
        a = middle;
        fa = fm;
      } else {
        b = middle;
      }
    }
    out.push_back(a + (b - a) / 2);
  }
}

/// How far a sum of foot forces lies above a leg's limit, times 1 + t^2: none + Q per_kg.
struct Excess {
  Quadratic none, per_kg;
};

/// Some option and every cap have to exceed the limit for the leg to be overloaded.
struct Overload {
  std::vector<Excess> sums;  ///< options first
  std::size_t options = 0;
  double limit = 0, most = 0, reach = 0;  ///< |t| <= reach

  /// First payload at one slew angle; more than `most`: none.
  double at(double t) const {
    Interval caps{0, most};
    for (std::size_t i = options; i < sums.size(); ++i) clip(sums[i], t, caps);
    double first = kInfinity;
    for (std::size_t i = 0; i < options; ++i) {
      Interval all = caps;
      clip(sums[i], t, all);
      if (all.lo <= all.hi + 1e-9 * (1 + all.lo)) first = std::min(first, all.lo);
    }
    return first;
  }

  /// The first payload is least at an end, where that of one sum is least, where two sums reach the limit
  /// together, or, if it is none, where a sum without payload is at the limit.
  std::vector<double> candidates() const {
    std::vector<double> out{-reach, reach};
    for (std::size_t i = 0; i < sums.size(); ++i) {
      const auto &a = sums[i].none.c, &b = sums[i].per_kg.c;
      add_zeros(a.data(), 2, -reach, reach, out);
      const std::array<double, 3> stationary{a[1] * b[0] - a[0] * b[1], 2 * (a[2] * b[0] - a[0] * b[2]),
                                             a[2] * b[1] - a[1] * b[2]};
      add_zeros(stationary.data(), 2, -reach, reach, out);
      for (std::size_t j = std::max(i + 1, options); j < sums.size(); ++j) {
        std::array<double, 5> together{};
        for (std::size_t k = 0; k < 3; ++k)
          for (std::size_t l = 0; l < 3; ++l)
            together[k + l] += a[k] * sums[j].per_kg.c[l] - sums[j].none.c[k] * b[l];
        add_zeros(together.data(), 4, -reach, reach, out);
      }
    }
    return out;
  }

 private:
  void clip(const Excess& sum, double t, Interval& payload) const {
    const double a = sum.none.at(t) + kSlack * limit * (1 + t * t), b = sum.per_kg.at(t);
    if (b > 0) payload.lo = std::max(payload.lo, -a / b);
    if (b < 0) payload.hi = std::min(payload.hi, -a / b);
    if (b == 0 && a < 0) payload.hi = -kInfinity;
  }
};

std::array<double, 4> self_stress_of(std::span<const Contact> contacts) {
  std::array<Vec3, 4> points;
  for (std::size_t i = 0; i < 4; ++i) points[i] = contacts[i].p_W - contacts[0].p_W;
  return self_stress(points);
}

/// Is a + Q b nowhere above the limit on the stretch, for any payload up to `most`? Linear in the payload.
bool stays_below(const Wave& none, const Wave& per_kg, double limit, double most, const Sector& slew) {
  const auto holds = [&](const Wave& w) { return !falls_below_zero(Wave{limit - w.a, -w.b, -w.c}, slew); };
  return holds(none) && holds(none + most * per_kg);
}

}  // namespace

FourFeet::FourFeet(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                   const std::vector<Sector>& sectors)
    : prepared_(prepared), self_stress_(self_stress_of(contacts)) {
  const FootForces forces(prepared, X_WC, contacts);
  double greatest = 0;
  for (const double w : self_stress_) greatest = std::max(greatest, std::abs(w));
  const auto takes_part = [&](std::size_t i) { return std::abs(self_stress_[i]) > kOfStress * greatest; };
  for (std::size_t f = 0; f < 4; ++f)
    for (std::size_t i = 0; i < 4; ++i) {
      feet_[f].all_carry[i] = forces.all_carry(i, f);
      if (i == f || !takes_part(f) || !takes_part(i)) continue;
      (self_stress_[i] * self_stress_[f] > 0 ? feet_[f].same : feet_[f].other).push_back(i);
    }
  for (Rule& rule : leg_rules(prepared, X_WC, contacts)) {
    Ready ready{std::move(rule), {}, {}};
    ready.corners = Lever(prepared.loads, ready.rule).corners();
    for (const Lever::Corner& corner : ready.corners) {
      ready.lumps.emplace_back();
      for (const Sector& sector : sectors) ready.lumps.back().push_back(lumps(ready.rule, corner, sector));
    }
    ready_.push_back(std::move(ready));
  }
}

/// Of a unit mass.
FourFeet::Waves FourFeet::waves(const Foot& foot, const Vec3& p, bool on_platform) const {
  const Vec3& axis = prepared_.loads.machine.platform.axis;
  Waves out;
  for (std::size_t i = 0; i < 4; ++i) {
    const LinearForm& form = foot.all_carry[i];
    const Vec3& row = form.per_place;
    if (on_platform)
      out[i] = {row.dot(axis) + row.z() * p.z() + form.constant, row.x() * p.x() + row.y() * p.y(),
                row.y() * p.x() - row.x() * p.y()};
    else
      out[i] = {row.dot(p) + form.constant, 0, 0};
  }
  return out;
}

/// A mass that adds to the foot's force, while all carry, counts with its growth allowance; stretches are
/// split where it changes side.
void FourFeet::add(const Waves& unit, double mass, double margin, std::size_t foot,
                   std::vector<Stretch>& stretches) const {
  const auto put = [&](double m, Stretch& on) {
    for (std::size_t i = 0; i < 4; ++i) on.sum[i] += m * unit[i];
  };
  const Wave &w = unit[foot], opposite{-w.a, -w.b, -w.c};
  for (std::size_t k = 0; k < stretches.size(); ++k) {
    const bool sinks = margin != 0 && falls_below_zero(w, stretches[k].slew);
    if (!sinks || !falls_below_zero(opposite, stretches[k].slew)) {
      put(sinks ? mass : (1 + margin) * mass, stretches[k]);
      continue;
    }
    const Stretch whole = stretches[k];
    std::vector<double> cuts{whole.slew.slew.lo};
    for (const double root : zeros(w, whole.slew.slew))
      if (root > cuts.back() + kSlack && root < whole.slew.slew.hi - kSlack) cuts.push_back(root);
    cuts.push_back(whole.slew.slew.hi);
    for (std::size_t j = 0; j + 1 < cuts.size(); ++j) {
      Stretch part{Sector({cuts[j], cuts[j + 1]}), whole.sum};
      put(w.at(part.slew.slew.middle()) < 0 ? mass : (1 + margin) * mass, part);
      if (j == 0)
        stretches[k] = part;
      else
        stretches.insert(stretches.begin() + static_cast<std::ptrdiff_t>(++k), part);
    }
  }
}

std::vector<FourFeet::Stretch> FourFeet::lumps(const Rule& rule, const Lever::Corner& corner,
                                               const Sector& sector) const {
  std::vector<Stretch> out;
  const int count = std::max(1, static_cast<int>(std::ceil(sector.slew.width() / kWidest)));
  for (int k = 0; k < count; ++k)
    out.push_back(
        {Sector({sector.slew.lo + sector.slew.width() * k / count,
                 k + 1 == count ? sector.slew.hi : sector.slew.lo + sector.slew.width() * (k + 1) / count}),
         {}});
  const auto foot = static_cast<std::size_t>(rule.foot);
  for (const Lump& l : prepared_.loads.lumps)
    add(waves(feet_[foot], l.at_travel(corner.travel), l.on_platform), l.mass_at(corner.line, corner.units),
        rule.growth ? l.margin : 0, foot, out);
  return out;
}

void FourFeet::add_boom(const Rule& rule, double ahead, const CurveEnd& end,
                        std::vector<Stretch>& out) const {
  const Boom& boom = prepared_.loads.machine.boom;
  const BoomShape& shape = *prepared_.loads.boom;
  const auto foot = static_cast<std::size_t>(rule.foot);
  const double extension = end.length - shape.length(0);
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomPart part = shape.part(k, extension);
    if (!(part.mass > 0)) continue;
    const Vec3 at = boom.foot + part.moment / (part.mass * end.length) * Vec3(ahead, 0, end.height);
    add(waves(feet_[foot], at, true), part.mass, rule.growth ? shape.margin(k) : 0, foot, out);
  }
  if (const double rest = shape.in_magazine(extension); rest > 0)
    add(waves(feet_[foot], boom.magazine, true), rest, rule.growth ? boom.margin : 0, foot, out);
}

namespace {

Quadratic on_stretch(const Wave& w, double cosine, double sine) {
  const double b = w.b * cosine + w.c * sine, c = w.c * cosine - w.b * sine;
  return {{w.a + b, 2 * c, w.a - b}};
}

/// What hangs as a function of the payload, in ways on which it only grows or only falls: y of a way hangs
/// start + y per_y.
struct Way {
  double start, per_y, most;
  enum class Payload { itself, falling, rising } payload = Payload::itself;
  Lift lift{0, 0, 0};
  double of(double y) const {
    if (payload == Payload::itself) return y;
    return payload == Payload::falling ? lift.falling_to(start / std::abs(per_y) - y)
                                       : lift.rising_to(start / std::abs(per_y) + y);
  }
};

std::vector<Way> ways(const Rule& rule, double hanging, double most) {
  const double a = rule.payload;
  if (!(rule.rate > 0) || !(a > 0)) return {{hanging, a, most}};
  const Lift lift{rule.rate, rule.lightest, hanging / a};
  const double low = lift.mass(std::min(lift.turn(), most));
  const double start = rule.lightest > 0 ? lift.mass(0) : low;
  std::vector<Way> out;
  if (low < start) out.push_back({a * start, -a, start - low, Way::Payload::falling, lift});
  out.push_back({a * low, a, std::max(0.0, lift.mass(most) - low), Way::Payload::rising, lift});
  return out;
}

}  // namespace

/// Sums of foot forces over a stretch under a way of loading that exceed the limit when the leg does.
struct FourFeet::Sums {
  std::vector<std::pair<Wave, Wave>> list;  ///< at y = 0, per y; options first
  std::size_t options = 0;
};

/// Empty: no slew and load of the way reach the limit.
FourFeet::Sums FourFeet::sums(const Rule& rule, const Stretch& on, const Waves& tip, double start,
                              double per_y, double most) const {
  const auto f = static_cast<std::size_t>(rule.foot);
  const auto none = [&](std::size_t i) { return on.sum[i] + start * tip[i]; };
  const auto lifted = [&](std::size_t i) {
    const double share = -self_stress_[f] / self_stress_[i];
    return std::pair{none(f) + share * none(i), per_y * (tip[f] + share * tip[i])};
  };
  const auto below = [&](const std::pair<Wave, Wave>& sum) {
    return stays_below(sum.first, sum.second, rule.delta, most, on.slew);
  };
  Sums out;
  out.list.emplace_back(none(f), per_y * tip[f]);
  for (const std::size_t i : feet_[f].same) out.list.push_back(lifted(i));
  if (std::all_of(out.list.begin(), out.list.end(), below)) return {};
  out.options = out.list.size();
  for (const std::size_t i : feet_[f].other) {
    out.list.push_back(lifted(i));
    if (below(out.list.back())) return {};
  }
  return out;
}

void FourFeet::first_on(const Rule& rule, const Stretch& on, const Waves& tip, double hanging, double most,
                        Crossing& first) const {
  for (const Way& way : ways(rule, hanging, most)) {
    const Sums found = sums(rule, on, tip, way.start, way.per_y, way.most);
    if (found.list.empty()) continue;
    const double middle = on.slew.slew.middle(), cosine = std::cos(middle), sine = std::sin(middle);
    Overload overload{{}, found.options, rule.delta, way.most, std::tan(on.slew.slew.width() / 4)};
    for (const auto& [a, b] : found.list)
      overload.sums.push_back(
          {on_stretch(a + Wave{-rule.delta, 0, 0}, cosine, sine), on_stretch(b, cosine, sine)});
    double y = kInfinity, t = 0;
    for (const double at : overload.candidates()) {
      const double value = overload.at(at);
      if (!(value < y)) continue;
      y = value;
      t = at;
    }
    if (!std::isfinite(y)) continue;
    if (const double payload = way.of(y); payload < first.payload)
      first = {payload, middle + 2 * std::atan(t)};
    return;  // the ways follow one another with growing payload
  }
}

void FourFeet::overloads(double ahead, const CurveEnd& end, std::size_t sector, double most,
                         std::vector<First>& out) const {
  const BoomSetting set = setting_of(prepared_.loads, ahead, end);
  for (const Ready& ready : ready_) {
    const Rule& rule = ready.rule;
    if (!(set.luff >= rule.domain.luff.lo - 1e-9 && set.luff <= rule.domain.luff.hi + 1e-9)) continue;
    const Waves tip = waves(feet_[static_cast<std::size_t>(rule.foot)],
                            prepared_.loads.machine.boom.foot + Vec3(ahead, 0, end.height), true);
    First first{most, {}};
    for (std::size_t c = 0; c < ready.corners.size(); ++c) {
      const Lever::Corner& corner = ready.corners[c];
      std::vector<Stretch> stretches = ready.lumps[c][sector];
      add_boom(rule, ahead, end, stretches);
      Crossing at{first.payload, kUnset};
      for (const Stretch& on : stretches)
        first_on(rule, on, tip, rule.hanging + rule.per_line * corner.line, first.payload, at);
      if (!(at.payload < first.payload)) continue;
      first.payload = at.payload;
      first.governing = {Limit::leg,
                         rule.load_case,
                         -1,
                         rule.foot,
                         {at.slew, set.luff, set.extension, corner.travel, corner.line, corner.units},
                         at.payload <= 0};
    }
    if (first.payload < most) out.push_back(first);
  }
}

}  // namespace rimstance
