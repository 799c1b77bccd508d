#include "leaning.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

/// Payloads up to so many times the machine's mass are covered closely.
constexpr double kCloseUpTo = 10;

Interval operator*(const Interval& x, const Interval& y) {
  const auto [lo, hi] = std::minmax({x.lo * y.lo, x.lo * y.hi, x.hi * y.lo, x.hi * y.hi});
  return {lo, hi};
}
Interval operator+(const Interval& x, const Interval& y) { return {x.lo + y.lo, x.hi + y.hi}; }
double greatest(const Interval& x) { return std::max(std::abs(x.lo), std::abs(x.hi)); }
Interval both(double a, double b) { return {std::min(a, b), std::max(a, b)}; }

}  // namespace

TipBox tip_box(double ahead, const CurveEnd& a, const CurveEnd& b) {
  return {{ahead, ahead},
          {std::min(a.height, b.height), std::max(a.height, b.height)},
          {a.height * b.height < 0 ? ahead : std::min(a.length, b.length), std::max(a.length, b.length)}};
}

Leaning::Moments& Leaning::Moments::operator+=(const Moments& o) {
  across = across + o.across;
  height = height + o.height;
  above = above + o.above;
  weight = weight + o.weight;
  return *this;
}

Leaning::Moments operator*(const Interval& mass, const Leaning::Moments& m) {
  return {mass * m.across, mass * m.height, mass * m.above, mass * m.weight};
}

Leaning::Leaning(const Prepared& prepared, const Rule& rule, const Edge& edge, const Vec3& gravity_C,
                 double lean)
    : loads_(prepared.loads),
      rule_(rule),
      axis_(tipping_axis(edge, gravity_C, lean)),
      level_v_(tipping_axis(edge, gravity_C).v),
      costs_(rule.masses == Rule::Masses::adverse && axis_.sin_rotated > 0 && axis_.sin_psi_level != 0) {
  if (!costs_) return;
  const Domain& d = rule.domain;
  const Interval length{loads_.boom->length(d.extension.lo), loads_.boom->length(d.extension.hi)};
  const double flattest = std::clamp(0.0, d.luff.lo, d.luff.hi);
  all_ = {length * Interval{std::min(std::cos(d.luff.lo), std::cos(d.luff.hi)), std::cos(flattest)},
          length * Interval{std::sin(d.luff.lo), std::sin(d.luff.hi)}, length};
  lumps_ = lumps(false);
  guide_ = lumps(true);
  Moments machine = lumps_;
  machine += guide_;
  machine += boom(all_);
  const double side = rule.payload < 0 ? -1 : 1;
  const Moments per_kg = Interval{side, side} * tip(all_);
  machine += hanging() * tip(all_);
  coarse_.up_to = kCloseUpTo * prepared.reference_masses.mass;
  if (side < 0)  // a pull that leaves half of the moment above the edge
    coarse_.up_to = std::clamp(0.5 * machine.above.lo / greatest(per_kg.above), 0.0, coarse_.up_to);
  Moments with_load = machine;
  with_load += Interval{0, greatest_load(coarse_.up_to)} * per_kg;
  coarse_.cost = cost_of(with_load);
  coarse_.per_kg = side * cost_anywhere(per_kg);
  coarse_.fixed = cost_anywhere(machine) + hanging().hi * std::max(0.0, -coarse_.per_kg);
  expects(std::isfinite(coarse_.cost) && std::isfinite(coarse_.fixed), "Leaning: what weighs has a place");
}

double Leaning::cost(const TipBox& box, double payload) const {
  if (!costs_) return 0;
  Moments all = without_guide(box, Interval{0, greatest_load(payload)});
  all += guide_;
  return cost_of(all);
}

/// In the share every range of moments is linear, and the bound that holds where the rule just does is
/// convex: a square over a height. Between two shares no more than its chord is needed. Where that bound does
/// not serve, what the machine costs anywhere and what stands on the guide does add up.
Leaning::OverShares Leaning::cost_under(const TipBox& box, double payload) const {
  if (!costs_) return {};
  const bool swings = rule_.rate > 0 && rule_.payload > 0;
  const double load = greatest_load(payload);
  const Moments machine = without_guide(box, Interval{swings ? 0 : load, load});
  const auto with_share = [&](double share) {
    Moments all = machine;
    all += Interval{share, share} * guide_;
    return all;
  };
  const double alone = cost_of(with_share(1)), none = curved_cost_of(machine),
               one = curved_cost_of(with_share(1)), most = curved_cost_of(with_share(kMostShare));
  if (std::isfinite(none + one + most)) return {alone, one, one - none, (most - one) / (kMostShare - 1)};
  const double per_share = cost_anywhere(guide_);
  return {alone, cost_anywhere(machine) + per_share, per_share, per_share};
}

/// Of boom, what hangs with a range of load beyond it, and lumps.
Leaning::Moments Leaning::without_guide(const TipBox& box, const Interval& load) const {
  Moments all = lumps_;
  all += boom(box);
  const double side = rule_.payload < 0 ? -1 : 1;
  const Moments at_tip = tip(box);
  all += hanging() * at_tip;
  all += load * (Interval{side, side} * at_tip);
  return all;
}

/// At the tip without payload and hoisting factor [kg].
Interval Leaning::hanging() const {
  return both(rule_.hanging + rule_.per_line * rule_.domain.line.lo,
              rule_.hanging + rule_.per_line * rule_.domain.line.hi);
}

/// Mass at the tip under a payload, beyond what hangs without it, hoisting factor included [kg].
double Leaning::greatest_load(double payload) const {
  const double a = std::abs(rule_.payload);
  if (!(rule_.rate > 0) || !(rule_.payload > 0)) return a * payload;
  const Lift lift{rule_.rate, rule_.lightest, hanging().hi / a};
  return a * std::max(lift.mass(payload), rule_.lightest > 0 ? lift.mass(0) : 0.0);
}

/// Of a mass anywhere in the box between two points, over all slew angles where it turns.
Leaning::Moments Leaning::weighed(const Interval& mass, const Vec3& p_lo, const Vec3& p_hi,
                                  bool on_platform) const {
  const auto range = [&](const Vec3& row) {
    const double constant = -row.dot(axis_.c);
    const Interval height = Interval{row.z(), row.z()} * both(p_lo.z(), p_hi.z());
    if (!on_platform) {
      const Interval x = Interval{row.x(), row.x()} * both(p_lo.x(), p_hi.x()),
                     y = Interval{row.y(), row.y()} * both(p_lo.y(), p_hi.y());
      return x + y + height + Interval{constant, constant};
    }
    const double swing = row.head<2>().norm() * std::hypot(std::max(std::abs(p_lo.x()), std::abs(p_hi.x())),
                                                           std::max(std::abs(p_lo.y()), std::abs(p_hi.y())));
    const double middle = row.dot(loads_.machine.platform.axis) + constant;
    return height + Interval{middle - swing, middle + swing};
  };
  const double g = axis_.g;
  return mass * Moments{range(g * axis_.n), range(g * axis_.v), range(g * level_v_), {g, g}};
}

/// Of what stands on the guide or of all else.
Leaning::Moments Leaning::lumps(bool guide) const {
  Moments out;
  const Domain& d = rule_.domain;
  for (const Lump& l : loads_.lumps) {
    if (guide == l.per_travel.isZero(0)) continue;
    const auto mass = [&](double line, int units) { return l.mass_at(line, units); };
    auto [lo, hi] = std::minmax({mass(d.line.lo, rule_.units.first), mass(d.line.hi, rule_.units.first),
                                 mass(d.line.lo, rule_.units.second), mass(d.line.hi, rule_.units.second)});
    if (rule_.growth) hi *= 1 + l.margin;
    out += weighed({lo, hi}, l.at_travel(d.travel.lo), l.at_travel(d.travel.hi), l.on_platform);
  }
  return out;
}

/// Every section lies at its own share of the way from pin to tip; what hangs at the tip as share of F
/// belongs to it.
Leaning::Moments Leaning::boom(const TipBox& box) const {
  const BoomShape& shape = *loads_.boom;
  const Vec3& pin = loads_.machine.boom.foot;
  const double b = rule_.boom_factor;
  const Interval e{box.length.lo - shape.length(0), box.length.hi - shape.length(0)};
  Moments out;
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomPart in = shape.part(k, e.lo), far = shape.part(k, e.hi);
    if (!(std::max(in.mass, far.mass) > 0)) continue;
    const Interval mass = both(in.mass, far.mass), moment = both(in.moment, far.moment);
    const double grown = rule_.growth ? 1 + shape.margin(k) : 1;
    const Interval share{moment.lo / box.length.hi, std::min(moment.hi / box.length.lo, mass.hi)};
    const Interval along{(1 + b) * share.lo / (mass.hi + b * share.hi),
                         mass.lo > 0 ? std::min(1.0, (1 + b) * share.hi / (mass.lo + b * share.lo)) : 1.0};
    const Interval x = along * box.ahead, z = along * box.height;
    out += weighed({mass.lo + b * share.lo, grown * (mass.hi + b * share.hi)}, pin + Vec3(x.lo, 0, z.lo),
                   pin + Vec3(x.hi, 0, z.hi), true);
  }
  const double grown = rule_.growth ? 1 + loads_.machine.boom.margin : 1;
  const Interval rest{shape.in_magazine(e.hi), grown * shape.in_magazine(e.lo)};
  if (rest.hi > 0) out += weighed(rest, loads_.machine.boom.magazine, loads_.machine.boom.magazine, true);
  return out;
}

/// Of a kilogram there.
Leaning::Moments Leaning::tip(const TipBox& box) const {
  const Vec3& pin = loads_.machine.boom.foot;
  return weighed({1, 1}, pin + Vec3(box.ahead.lo, 0, box.height.lo),
                 pin + Vec3(box.ahead.hi, 0, box.height.hi), true);
}

/// At most, wherever the moments lie in their ranges.
double Leaning::cost_anywhere(const Moments& m) const { return straight(m, greatest(m.across)); }

/// At most where the moment across the edge is no more than D.
double Leaning::straight(const Moments& m, double across) const {
  const double d = std::abs(axis_.nn) * across + std::abs(axis_.nv) * greatest(m.height);
  const double t = std::abs(axis_.sin_psi_level) * d;
  return axis_.sin_rotated * (m.above.lo > 0 ? std::min(t, t * t / (2 * m.above.lo)) : t - 2 * m.above.lo);
}

/// Does the moment grow faster with what is across the edge than the cost does?
bool Leaning::still_gains() const {
  return 2 * axis_.sin_rotated * std::abs(axis_.sin_psi_level * axis_.nn) < axis_.cos_psi;
}

/// At most where the moment across the edge is D; where it is more, the moment gains more than the cost. The
/// bounds grow with t no faster than twice t does.
double Leaning::cost_at(const Moments& m, double across) const {
  const double anywhere = cost_anywhere(m);
  return still_gains() ? std::min(anywhere, straight(m, across)) : anywhere;
}

/// The moment across the edge where the rule just holds but for what leaning costs.
double Leaning::asked_at(const Moments& m) const {
  double asked = std::abs(rule_.required);
  if (rule_.kind != MarginKind::moment) asked *= greatest(m.weight) * axis_.cos_psi;
  if (rule_.kind == MarginKind::load_side_share) asked *= axis_.width;
  return asked;
}

/// Where the rule just holds, the moment is its margin, or so much per weight, and that cost.
double Leaning::cost_of(const Moments& m) const {
  const double asked = asked_at(m);
  const double close = cost_at(m, asked / axis_.cos_psi);
  const double with_it = cost_at(m, (asked + 2 * close) / axis_.cos_psi);
  return with_it <= 2 * close ? with_it : cost_anywhere(m);
}

/// The same by the square alone; unset where that does not serve.
double Leaning::curved_cost_of(const Moments& m) const {
  if (!(m.above.lo > 0) || !still_gains()) return kUnset;
  const auto curved = [&](double across) {
    const double d = std::abs(axis_.nn) * across + std::abs(axis_.nv) * greatest(m.height);
    const double t = axis_.sin_psi_level * d;
    return axis_.sin_rotated * t * t / (2 * m.above.lo);
  };
  const double asked = asked_at(m), close = curved(asked / axis_.cos_psi);
  const double with_it = curved((asked + 2 * close) / axis_.cos_psi);
  return with_it <= 2 * close ? with_it : kUnset;
}

}  // namespace rimstance
