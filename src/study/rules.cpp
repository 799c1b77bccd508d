#include "rules.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "rimstance/statics/foot_force.hpp"

namespace rimstance {

double falls_by(const Wave& w, double factor, const Sector& sector) {
  if (factor == 1 || (w.a >= 0 && w.a * w.a >= w.b * w.b + w.c * w.c)) return 0;
  return (factor - 1) * std::min(0.0, no_more_than(w, sector));
}

bool allows_luff(const Rule& rule, double ahead, const CurveEnd& end) {
  const double luff = std::atan2(end.height, ahead);
  return luff >= rule.domain.luff.lo - 1e-9 && luff <= rule.domain.luff.hi + 1e-9;
}

void Folded::add(const Wave& w, double factor, const Sector& sector) {
  if (factor == 1 || !falls_below_zero(w, sector))
    smooth += w;
  else if (!falls_below_zero(-1.0 * w, sector))
    smooth += factor * w;
  else
    kinked.push_back({w, factor});
}

Folded& Folded::operator+=(const Folded& o) {
  smooth += o.smooth;
  kinked.insert(kinked.end(), o.kinked.begin(), o.kinked.end());
  return *this;
}

Wave Folded::lower(const Sector& sector) const {
  Wave out = smooth;
  for (const Kinked& k : kinked) {
    out += k.wave;
    out.a += falls_by(k.wave, k.factor, sector);
  }
  return out;
}

/// The one that comes lowest, lower still by as much as another may lie below it.
Wave lowest_of(std::span<const Folded> sums, const Sector& sector) {
  std::vector<Wave> waves;
  for (const Folded& sum : sums) waves.push_back(sum.lower(sector));
  Wave out = *std::min_element(waves.begin(), waves.end(), [&](const Wave& a, const Wave& b) {
    return no_more_than(a, sector) < no_more_than(b, sector);
  });
  double below = 0;
  for (const Wave& other : waves) below = std::min(below, no_more_than(other + -1.0 * out, sector));
  out.a += below;
  return out;
}

Held held(const Folded& base, const Wave& per_kg, const Sector& sector, double most) {
  const auto negative = [&](double payload) {
    const Wave w = base.smooth + payload * per_kg;
    return base.kinked.empty() ? falls_below_zero(w, sector) : least(w, base.kinked, sector).value < 0;
  };
  const auto least_at = [&](double payload) {
    return least(base.smooth + payload * per_kg, base.kinked, sector);
  };
  // Concave in the payload: not negative at both ends is not negative between them.
  if (negative(0)) return {0, least_at(0).slew, true};
  if (!negative(most)) return {most, kUnset, false};
  Held out{most, kUnset, false};
  for (int step = 0; step < 100; ++step) {
    const SlewLeast now = least_at(out.payload);
    const double slope = per_kg.at(now.slew);
    out.slew = now.slew;
    if (!(now.value < 0) || !(slope < 0)) return out;
    const double next = std::max(0.0, out.payload - now.value / slope);
    if (!(next < out.payload)) return out;
    const bool close = out.payload - next <= 1e-15 * out.payload;
    out.payload = next;
    if (close) return out;
  }
  return out;
}

Lever::Lever(const MachineLoads& loads, const Rule& rule) : loads_(loads), rule_(rule) {
  const auto ends = [](double lo, double hi) {
    return hi > lo ? std::vector<double>{lo, hi} : std::vector<double>{lo};
  };
  for (const double travel : ends(rule.domain.travel.lo, rule.domain.travel.hi))
    for (const double line : ends(rule.domain.line.lo, rule.domain.line.hi))
      for (const double units : ends(rule.units.first, rule.units.second))
        corners_.push_back({travel, line, static_cast<int>(units)});
}

/// row . r(theta) + constant of a point fixed in C or turning with the platform.
Wave Lever::place(const Vec3& row, double constant, const Vec3& p, bool on_platform) const {
  if (!on_platform) return {row.dot(p) + constant, 0, 0};
  return {row.dot(loads_.machine.platform.axis) + row.z() * p.z() + constant,
          row.x() * p.x() + row.y() * p.y(), row.y() * p.x() - row.x() * p.y()};
}

void Lever::add_mass(const Wave& form, const Wave& moment, double margin, const Sector& sector,
                     Folded& sum) const {
  switch (rule_.masses) {
    case Rule::Masses::adverse:
      sum.add(form, grown(margin), sector);
      return;
    case Rule::Masses::by_body:
      sum.add(form, rule_.ratio * grown(margin), sector);
      return;
    case Rule::Masses::least_moment:
      if (grown(margin) == 1 || !falls_below_zero(moment, sector))
        sum.smooth += form;
      else if (!falls_below_zero(-1.0 * moment, sector))
        sum.smooth += grown(margin) * form;
      else
        sum.kinked.push_back({form, grown(margin)});  // the lower of the two bounds both
  }
}

Folded Lever::lumps(const Corner& corner, const Sector& sector, bool guide) const {
  Folded sum;
  sum.smooth.a = rule_.delta;
  for (const Lump& l : loads_.lumps) {
    if (!guide && !l.per_travel.isZero(0)) continue;
    const double mass = l.mass_at(corner.line, corner.units);
    const Vec3 at = l.at_travel(corner.travel);
    const Wave form = mass * place(rule_.row, rule_.constant, at, l.on_platform);
    const Wave moment = mass * place(rule_.moment_row, rule_.moment_constant, at, l.on_platform);
    add_mass(form, moment, l.margin, sector, sum);
  }
  return sum;
}

double Lever::most(const Vec3& p) const {
  const Wave w = place(rule_.row, rule_.constant, p, true);
  return std::abs(w.a) + std::hypot(w.b, w.c);
}

namespace {

/// A law of the boom over its length between two breakpoints: c0 + c1 L + c2 L^2.
struct Quadratic {
  double c0, c1, c2;
};
Quadratic through(const std::array<double, 3>& l, const std::array<double, 3>& v) {
  const double first = (v[1] - v[0]) / (l[1] - l[0]), second = (v[2] - v[1]) / (l[2] - l[1]);
  const double c2 = (second - first) / (l[2] - l[0]), c1 = first - c2 * (l[0] + l[1]);
  return {v[0] - l[0] * (c1 + c2 * l[0]), c1, c2};
}

/// Ends and middle of the range of extension between two breakpoints that holds `extension`.
std::array<double, 3> between_breakpoints(const BoomShape& shape, double extension) {
  double lo = 0, hi = shape.greatest_extension();
  for (const double e : shape.breakpoints()) {
    if (e <= extension) lo = std::max(lo, e);
    if (e > extension) hi = std::min(hi, e);
  }
  return {lo, (lo + hi) / 2, hi};
}

}  // namespace

/// A part's moment is c0 + c1 L + c2 L^2, so over the tip's height z it gives multiples of 1 / L, L, z / L
/// and L z with L^2 = x^2 + z^2, whose second derivatives are at most 2 / L^3, 1 / L, 1.2 / L^2 and 3; a
/// function lies within an eighth of that times the square of the piece of its chord.
double Lever::sag(double ahead, const CurveEnd& a, const CurveEnd& b) const {
  const BoomShape& shape = *loads_.boom;
  const std::array<double, 3> e = between_breakpoints(shape, (a.length + b.length) / 2 - shape.length(0));
  if (!(e[2] > e[0])) return 0;
  const std::array<double, 3> l{shape.length(e[0]), shape.length(e[1]), shape.length(e[2])};
  const double length = std::min(a.length, b.length), f = rule_.boom_factor;
  const double pin = most(loads_.machine.boom.foot), up = std::abs(rule_.row.z());
  const double along = rule_.row.head<2>().norm() * std::abs(ahead);
  double sum = 0;
  for (int k = 0; k < shape.parts(); ++k) {
    const std::array<BoomPart, 3> at{shape.part(k, e[0]), shape.part(k, e[1]), shape.part(k, e[2])};
    const Quadratic moment = through(l, {at[0].moment, at[1].moment, at[2].moment});
    const double per_metre = std::abs(at[2].mass - at[0].mass) / (l[2] - l[0]);
    sum += grown(shape.margin(k)) *
           (std::abs(moment.c0) / (length * length) *
                ((1 + f) * (2 * along / length + 1.2 * up) + f * 2 * pin / length) +
            std::abs(moment.c2) * ((1 + f) * (along / length + 3 * up) + f * pin / length) +
            per_metre * pin / length);
  }
  const double leaves = std::abs(shape.in_magazine(e[2]) - shape.in_magazine(e[0])) / (l[2] - l[0]);
  if (leaves > 0)
    sum += grown(loads_.machine.boom.margin) * leaves * most(loads_.machine.boom.magazine) / length;
  const double height = b.height - a.height;
  return std::max(1.0, rule_.ratio) * sum * height * height / 8;
}

std::vector<Runner> Lever::runners() const {
  std::vector<Runner> out;
  for (const Lump& l : loads_.lumps) {
    if (l.per_travel.isZero(0)) continue;
    const Wave at_start = l.mass * place(rule_.row, rule_.constant, l.at, l.on_platform);
    const Wave one_metre = l.mass * place(rule_.row, rule_.constant, l.at_travel(1), l.on_platform);
    const double counts = rule_.masses == Rule::Masses::by_body ? rule_.ratio : 1;
    out.push_back({at_start, one_metre + -1.0 * at_start, counts * grown(l.margin)});
  }
  return out;
}

Wave Lever::tip(double ahead, const CurveEnd& end) const {
  const Vec3& foot = loads_.machine.boom.foot;
  return place(rule_.row, rule_.constant, foot + Vec3(ahead, 0, end.height), true);
}

Folded Lever::boom(double ahead, const CurveEnd& length, const CurveEnd& height, const Sector& sector,
                   double counts) const {
  return boom(boom_waves(ahead, length, height), sector, counts);
}

std::vector<Lever::BoomWave> Lever::boom_waves(double ahead, const CurveEnd& length,
                                               const CurveEnd& height) const {
  const Boom& boom = loads_.machine.boom;
  const BoomShape& shape = *loads_.boom;
  const double extension = length.length - shape.length(0), b = rule_.boom_factor;
  const bool of_moment = rule_.masses == Rule::Masses::least_moment;
  std::vector<BoomWave> out;
  out.reserve(static_cast<std::size_t>(shape.parts()) + 1);
  const auto add = [&](const Vec3& p, double mass, double margin) {
    out.push_back({mass * place(rule_.row, rule_.constant, p, true),
                   of_moment ? mass * place(rule_.moment_row, rule_.moment_constant, p, true) : Wave{},
                   margin});
  };
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomPart part = shape.part(k, extension);
    // The share of F that this part gives hangs at the tip and belongs to it: one lump of both.
    const double share = part.moment / length.length, mass = part.mass + b * share;
    if (!(mass > 0)) continue;
    const double along = (1 + b) * share / mass;  // of the way from pin to tip
    add(boom.foot + along * Vec3(ahead, 0, height.height), mass, shape.margin(k));
  }
  if (const double rest = shape.in_magazine(extension); rest > 0) add(boom.magazine, rest, boom.margin);
  return out;
}

Folded Lever::boom(std::span<const BoomWave> waves, const Sector& sector, double counts) const {
  const bool by_body = rule_.masses == Rule::Masses::by_body;
  const bool counted = by_body && std::isfinite(counts), together = by_body && !counted;
  Folded sum;
  Wave body;
  for (const BoomWave& w : waves) {
    if (counted) {
      sum.add(counts * w.form, grown(w.margin), sector);
    } else if (!together) {
      add_mass(w.form, w.moment, w.margin, sector, sum);
    } else {
      Folded one;
      one.add(w.form, grown(w.margin), sector);
      body += one.smooth;
      if (!one.kinked.empty()) body.a += least(Wave{}, one.kinked, sector).value;  // a bound of it
    }
  }
  if (together) sum.add(body, rule_.ratio, sector);
  return sum;
}

Interval Lever::at_tip(double hanging, double most) const {
  const double a = rule_.payload;
  if (!(rule_.rate > 0) || !(a > 0)) return {hanging, hanging + most * a};
  const Lift lift{rule_.rate, rule_.lightest, hanging / a};
  const double low = lift.mass(std::min(lift.turn(), most)), top = lift.mass(most);
  return {a * low, a * std::max(top, rule_.lightest > 0 ? lift.mass(0) : low)};
}

/// Under a hoisting factor of physics what hangs may fall with the payload before it rises. What holds is an
/// interval of masses at the tip, because the sum is concave in them: it is left either by too little, on the
/// way down, or by too much, on the way up.
Held Lever::held(Folded base, const Wave& tip, const Corner& c, const Sector& sector, double most) const {
  const double a = rule_.payload;
  if (!(rule_.rate > 0) || !(a > 0)) {
    base.smooth += hanging(c) * tip;
    return rimstance::held(base, a * tip, sector, most);
  }
  const Lift lift{rule_.rate, rule_.lightest, hanging(c) / a};
  const double turn = std::min(lift.turn(), most), low = lift.mass(turn);
  const double start = rule_.lightest > 0 ? lift.mass(0) : low;
  base.smooth += a * start * tip;
  if (low < start) {
    const Held less = rimstance::held(base, -a * tip, sector, start - low);
    if (less.without_load) return less;
    if (less.payload < start - low) return {lift.falling_to(start - less.payload), less.slew, false};
  }
  const double top = lift.mass(most);
  Held more = rimstance::held(base, a * tip, sector, std::max(0.0, top - start));
  if (more.without_load) return more;
  if (std::isnan(more.slew)) return {most, kUnset, false};
  more.payload = std::min(most, lift.rising_to(start + more.payload));
  return more;
}

bool linear(const LoadCase& load_case, MarginKind kind, double margin) {
  switch (kind) {
    case MarginKind::moment:
    case MarginKind::clearance:
    case MarginKind::load_side_share:
      return true;
    case MarginKind::moment_ratio:
      return margin >= 1;
    case MarginKind::tip_angle:
      return !std::isfinite(load_case.release) && !std::isfinite(load_case.stall);
    case MarginKind::energy:
    case MarginKind::force_angle:
      break;
  }
  return false;
}

namespace {

Rule rule_of(const Prepared& prepared, int i, bool moments, const Domain* asked = nullptr) {
  const LoadCase& load_case = prepared.load_cases[static_cast<std::size_t>(i)];
  const MachineLoads& loads = prepared.loads;
  const Domain& operation = asked ? *asked : prepared.operation;
  const Hoist& hoist = loads.machine.hoist;
  const bool hangs = payload_hangs(load_case, operation.payload);
  // What hangs as a linear function; a factor that follows the payload comes on top.
  LoadCase plumb = load_case;
  if (hangs && load_case.hoisting_computed) plumb.hoisting_rate = 0;
  const Hung none = hung(plumb, hoist, 0, operation.payload), unit = hung(plumb, hoist, 1, operation.payload);
  Rule out;
  out.load_case = i;
  out.boom_factor = moments ? none.boom_factor : 0;
  out.payload = (unit.fixed - unit.pull) - (none.fixed - none.pull);
  out.hanging = none.fixed - none.pull;
  out.per_line = none.per_line;
  if (hangs && load_case.hoisting_computed) {
    out.rate = load_case.hoisting_rate;
    out.lightest = hoist.head_mass + hoist.line_mass * load_case.hoisting_line;
  }
  out.growth = load_case.mass_margin;
  out.domain = narrowed(operation, load_case);
  out.units = units_left(loads, load_case, operation);
  return out;
}

/// Turns a margin over an axis into a rule.
void require(const TippingAxis& axis, MarginKind kind, double margin, Rule& rule) {
  const Vec3 n = axis.g * axis.n, v = axis.g * axis.v;
  rule.moment_row = n;
  rule.moment_constant = -n.dot(axis.c);
  rule.row = axis.cos_psi * n;
  double shift = 0;
  if (kind == MarginKind::moment) rule.delta = -margin;
  if (kind == MarginKind::clearance) shift = margin * axis.cos_psi;
  if (kind == MarginKind::load_side_share) shift = margin * axis.width * axis.cos_psi;
  if (kind == MarginKind::moment_ratio) {
    rule.masses = Rule::Masses::by_body;
    rule.ratio = margin;
  }
  if (kind == MarginKind::tip_angle) {
    rule.masses = Rule::Masses::least_moment;
    rule.row = std::cos(margin) * n - std::sin(margin) * v;
  }
  rule.constant = -rule.row.dot(axis.c) - shift * axis.g;
}

}  // namespace

std::vector<Rule> tipping_rules(const Prepared& prepared, const Pose& X_WC, std::span<const Edge> edges,
                                const Domain* domain) {
  const Scenario& scenario = *prepared.scenario;
  const double rotated = scenario.criteria.set_error + scenario.criteria.work_tilt;
  std::vector<Rule> out;
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i)
    for (const auto& [kind, margin] : required_margin(prepared.load_cases[i]))
      for (std::size_t e = 0; e < edges.size() && linear(prepared.load_cases[i], kind, margin); ++e) {
        Rule rule = rule_of(prepared, static_cast<int>(i), true, domain);
        rule.edge = static_cast<int>(e);
        rule.kind = kind;
        rule.required = margin;
        require(tipping_axis(edges[e], gravity_C(scenario, X_WC), rotated), kind, margin, rule);
        out.push_back(std::move(rule));
      }
  return out;
}

double payload_under(const Prepared& prepared, double mass) {
  const Hoist& hoist = prepared.loads.machine.hoist;
  const Domain& operation = prepared.operation;
  const double hanging = hoist.head_mass + hoist.line_mass * operation.line.hi;
  double out = mass - hanging;
  for (const LoadCase& c : prepared.load_cases) {
    if (!hoists(c)) continue;
    if (!payload_hangs(c, operation.payload)) {
      if (hoisting_factor(c, hoist, 0) * hanging > mass) return -1;
    } else if (!c.hoisting_computed) {
      out = std::min(out, mass / c.hoisting - hanging);
    } else {
      const double line = hoist.line_mass * c.hoisting_line;
      const Lift lift{c.hoisting_rate, hoist.head_mass + line, hanging};
      if (lift.mass(lift.lightest > 0 ? 0 : lift.turn()) > mass || lift.mass(lift.turn()) > mass) return -1;
      out = std::min(out, lift.rising_to(mass));
    }
  }
  return out;
}

namespace {

std::vector<Rule> foot_rules(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                             bool greatest, const Domain* domain) {
  const FootForces forces(prepared, X_WC, contacts);
  std::vector<Rule> out;
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i)
    for (std::size_t f = 0; f < contacts.size(); ++f) {
      Rule rule = rule_of(prepared, static_cast<int>(i), false, domain);
      rule.limit = Limit::leg;
      rule.foot = static_cast<int>(f);
      const LinearForm& form = greatest ? forces.share(f).most : forces.share(f).least;
      const double side = greatest ? -1 : 1;
      rule.row = side * form.per_place;
      rule.constant = side * form.constant;
      rule.delta = greatest ? prepared.scenario->machine.outriggers[f].leg_limit : 0;
      if (std::isfinite(rule.delta)) out.push_back(std::move(rule));
    }
  return out;
}

}  // namespace

std::vector<Rule> leg_rules(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                            const Domain* domain) {
  return foot_rules(prepared, X_WC, contacts, true, domain);
}
std::vector<Rule> lift_rules(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                             const Domain* domain) {
  return foot_rules(prepared, X_WC, contacts, false, domain);
}

std::vector<std::vector<Rule>> leg_bounds(const Prepared& prepared, const Pose& X_WC,
                                          std::span<const Contact> contacts) {
  const Scenario& scenario = *prepared.scenario;
  const double lean = scenario.criteria.set_error + scenario.criteria.work_tilt, g = scenario.gravity;
  double height = 0;  // horizontal loads are carried at the contacts' mean height
  for (const Contact& c : contacts) height += c.p_W.z() / static_cast<double>(contacts.size());
  const std::vector<Edge> edges = support_polygon(contacts, X_WC);
  std::vector<std::vector<Rule>> out;
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i)
    for (std::size_t f = 0; f < contacts.size(); ++f) {
      const double limit = scenario.machine.outriggers[f].leg_limit;
      if (!std::isfinite(limit)) continue;
      out.emplace_back();
      for (const Edge& edge : edges) {
        const Vec3 inward = Vec3(-edge.a_W.y(), edge.a_W.x(), 0).normalized();
        const double distance = (contacts[f].p_W - edge.p_W).dot(inward);
        if (!(distance > kOnEdge)) continue;
        const Vec3 row_W = g * (std::cos(lean) * inward + std::sin(lean) * Vec3::UnitZ());
        const Vec3 from(edge.p_W.x(), edge.p_W.y(), height);
        Rule rule = rule_of(prepared, static_cast<int>(i), false);
        rule.limit = Limit::leg;
        rule.foot = static_cast<int>(f);
        rule.row = -(X_WC.R.transpose() * row_W);
        rule.constant = -row_W.dot(X_WC.p - from);
        rule.delta = limit * distance;
        out.back().push_back(std::move(rule));
      }
    }
  return out;
}

}  // namespace rimstance
