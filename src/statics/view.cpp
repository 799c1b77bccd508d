#include "view.hpp"

#include <algorithm>
#include <array>
#include <optional>

namespace rimstance {
namespace {

Interval operator*(const Interval& x, const Interval& y) {
  const auto [lo, hi] = std::minmax({x.lo * y.lo, x.lo * y.hi, x.hi * y.lo, x.hi * y.hi});
  return {lo, hi};
}

Interval intersection(const Interval& x, const Interval& y) {
  return {std::max(x.lo, y.lo), std::min(x.hi, y.hi)};
}

/// cos and sin over a luff interval within [-90, 90] degrees.
Interval cosine(const Interval& luff) {
  const double a = std::cos(luff.lo), b = std::cos(luff.hi);
  return {std::min(a, b), luff.contains(0) ? 1.0 : std::max(a, b)};
}
Interval sine(const Interval& luff) { return {std::sin(luff.lo), std::sin(luff.hi)}; }

/// Slack of the cuts on reach and height [m], as the contract states it.
constexpr double kCutSlack = 1e-9;

Wave combine(double alpha, const Wave& n, double gamma, const Wave& v) { return alpha * n + (-gamma) * v; }

/// What hangs under a payload with the hoisting factor of another.
Hung hung_with(LoadCase load_case, const Hoist& hoist, double payload, double factor_of, bool hangs) {
  if (load_case.hoisting_computed) load_case.hoisting = hoisting_factor(load_case, hoist, factor_of);
  load_case.hoisting_computed = false;
  return hung(load_case, hoist, payload, hangs);
}

}  // namespace

struct View::PartBox {
  Interval mass;    ///< with the share of F at the tip folded in
  Interval moment;  ///< mass times distance along the boom, likewise; at the two ends of the extension
  double bow;  ///< how far the moment hangs below the straight line between those ends (a chain's: a square)
  double margin;
};

/// What a cell leaves of the boom. A unit vector along it lies on an arc; the arc lies in the triangle of
/// its ends and the meeting point of its end tangents, and a function that is concave in the direction has
/// its least over the triangle at one of the three. The excess is of second order in the arc.
struct View::BoomBox {
  std::vector<PartBox> parts;
  Interval length;
  std::vector<Vec2> directions;  ///< (along platform x, along z)
  std::vector<double> luffs;     ///< the luff nearest to each direction
  Interval magazine;             ///< mass
};

/// Multipliers of the cuts: where a cut is active, form + x (tip x - cut) + z (tip z - cut) has the same sign
/// on the cut and bounds the form from below inside it, but no longer pulls the corner of the box across it.
struct View::Multipliers {
  double x = 0, z = 0, constant = 0;
};

/// A ratio below 1 lets a body that overturns count less: the greater of two counts, and so not concave in
/// what moves it. Over a cell every body counts as in its middle, 1 or the ratio: never more than it does.
struct View::Counts {
  std::vector<double> lumps;
  double boom = 1, load = 1;
  bool indefinite = false;
};

/// One choice of ends.
struct View::Corner {
  double travel, line;
  int units;
  std::size_t direction = 0;
  bool out = false, heavy = false;  ///< extension at its upper end; boom masses at theirs
  bool laden = false;               ///< the greatest payload
  const Counts* counts = nullptr;   ///< of a ratio below 1
};

/// Collects a form at a corner: what has a definite sign in one wave, the rest as kinked waves.
class View::Sum {
 public:
  Sum(const Sector& slew, const Form& form) : slew_(slew), form_(form) {}

  /// A part: the form's wave of it, and the wave of its restoring moment.
  void add(const Wave& form_wave, const Wave& moment, double margin) {
    switch (form_.masses) {
      case Form::Masses::adverse:
        add_kinked(form_wave, 1 + margin);
        return;
      case Form::Masses::by_body:
        add_kinked(form_wave, form_.ratio * (1 + margin));
        return;
      case Form::Masses::least_moment:
        add_at_least_moment(form_wave, moment, margin);
        return;
    }
  }

  void add_at_least_moment(const Wave& wave, const Wave& moment, double margin) {
    add_signed(wave, margin > 0 ? sign_on(moment, slew_) : 1, margin);
  }

  /// A part whose restoring moment has this sign over the cell (0: either).
  void add_signed(const Wave& wave, int sign, double margin) {
    if (sign != 0) {
      smooth_ += (sign < 0 ? 1 + margin : 1.0) * wave;
      return;
    }
    kinked_.push_back({wave, 1 + margin});  // either mass may be the one: the lower bounds both
    indefinite = true;
  }

  /// Parts of one body that count together in `by_body`.
  void open_body() { body_ = Wave{}; }
  void close_body() { add_kinked(body_, form_.ratio); }
  void close_body_counted(double counts) { smooth_ += counts * body_; }
  void add_counted(const Wave& wave, double counts, double margin) { add_kinked(counts * wave, 1 + margin); }
  void add_to_body(const Wave& wave, double margin) {
    const int sign = margin > 0 ? sign_on(wave, slew_) : 1;
    if (sign != 0) {
      body_ += (sign < 0 ? 1 + margin : 1.0) * wave;
      return;
    }
    // It changes side within the cell: its least, a constant, bounds it; finer cells close the gap.
    const Kinked kink{wave, 1 + margin};
    body_.a += least(Wave{}, {&kink, 1}, slew_).value;
    indefinite = true;
  }
  void add_constant(double constant) { smooth_.a += constant; }
  SlewLeast least_value() const { return least(smooth_, kinked_, slew_); }
  bool indefinite = false;

 private:
  void add_kinked(const Wave& wave, double factor) {
    const int sign = factor != 1 ? sign_on(wave, slew_) : 1;
    if (sign == 0)
      kinked_.push_back({wave, factor});
    else
      smooth_ += (sign < 0 ? factor : 1.0) * wave;
  }

  const Sector& slew_;
  const Form& form_;
  Wave smooth_, body_;
  std::vector<Kinked> kinked_;
};

View::View(const MachineLoads& loads, const LoadCase& load_case, const Domain& domain,
           const TippingAxis& axis, double payload_to)
    : loads_(loads),
      domain_(narrowed(domain, load_case)),
      hung_(hung(load_case, loads.machine.hoist, loads.payload, domain.payload)),
      laden_(hung_),
      payloads_(payload_to > loads.payload && payload_hangs(load_case, domain.payload)),
      margins_(load_case.mass_margin),
      n_row_(axis.g * axis.n),
      v_row_(axis.g * axis.v),
      n_constant_(-axis.g * axis.n.dot(axis.c)),
      v_constant_(-axis.g * axis.v.dot(axis.c)),
      axis_(axis),
      g_(axis.g),
      units_(units_left(loads, load_case, domain)) {
  if (payloads_) {
    // A factor of physics falls with the payload: the least of either and the greatest of either.
    const Hoist& hoist = loads.machine.hoist;
    hung_ = hung_with(load_case, hoist, loads.payload, payload_to, domain.payload);
    laden_ = hung_with(load_case, hoist, payload_to, loads.payload, domain.payload);
  }
  build();
}

View::View(const MachineLoads& loads, const LoadCase& load_case, const Domain& domain, const LinearForm& form,
           const LinearForm& beside)
    : loads_(loads),
      domain_(narrowed(domain, load_case)),
      hung_(hung(load_case, loads.machine.hoist, loads.payload, domain.payload)),
      margins_(load_case.mass_margin),
      n_row_(form.per_place),
      v_row_(beside.per_place),
      n_constant_(form.constant),
      v_constant_(beside.constant),
      of_forces_(true),
      units_(units_left(loads, load_case, domain)) {
  hung_.boom_factor = 0;
  laden_ = hung_;
  build();
}

void View::build() {
  cut_ = std::isfinite(domain_.reach.lo) || std::isfinite(domain_.reach.hi) ||
         std::isfinite(domain_.tip_height.lo) || std::isfinite(domain_.tip_height.hi);
  for (const Lump& l : loads_.lumps) lumps_.push_back(lump_view(l));
  const Boom& boom = loads_.machine.boom;
  foot_n_ = place(n_row_, n_constant_, boom.foot, true);
  foot_v_ = place(v_row_, v_constant_, boom.foot, true);
  along_n_ = {0, n_row_.x(), n_row_.y()};
  along_v_ = {0, v_row_.x(), v_row_.y()};
  up_n_ = n_row_.z();
  up_v_ = v_row_.z();
  if (boom.kind == Boom::Kind::rigid_chain) {
    magazine_n_ = place(n_row_, n_constant_, boom.magazine, true);
    magazine_v_ = place(v_row_, v_constant_, boom.magazine, true);
  }
}

/// row . r(theta) + constant for a point fixed in C or turning with the platform.
Wave View::place(const Vec3& row, double constant, const Vec3& p, bool on_platform) const {
  if (!on_platform) return {row.dot(p) + constant, 0, 0};
  return {row.dot(loads_.machine.platform.axis) + row.z() * p.z() + constant,
          row.x() * p.x() + row.y() * p.y(), row.y() * p.x() - row.x() * p.y()};
}

View::LumpView View::lump_view(const Lump& l) const {
  LumpView out;
  out.n = place(n_row_, n_constant_, l.at, l.on_platform);
  out.v = place(v_row_, v_constant_, l.at, l.on_platform);
  const bool turns = l.on_platform;
  const Vec3& d = l.per_travel;
  const auto direction = [&](const Vec3& row) {
    return turns ? Wave{row.z() * d.z(), row.x() * d.x() + row.y() * d.y(), row.y() * d.x() - row.x() * d.y()}
                 : Wave{row.dot(d), 0, 0};
  };
  out.n_travel = direction(n_row_);
  out.v_travel = direction(v_row_);
  out.mass = l.mass;
  out.per_unit = l.per_unit;
  out.per_line = l.per_line;
  out.margin = margins_ ? l.margin : 0;
  out.body = l.body;
  return out;
}

std::vector<Cell> View::roots() const {
  std::vector<double> cuts{domain_.extension.lo};
  for (const double at : loads_.boom->breakpoints())
    if (at > domain_.extension.lo && at < domain_.extension.hi) cuts.push_back(at);
  cuts.push_back(domain_.extension.hi);
  std::vector<Cell> cells;
  for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
    Cell cell{domain_.slew, domain_.luff, {cuts[i], cuts[i + 1]}, domain_.travel,
              domain_.line, units_.first, units_.second};
    if (contract(cell)) cells.push_back(cell);
  }
  return cells;
}

/// Reach cut as an interval of the tip's platform x from the foot pin, for a cell whose tip is ahead of
/// the axis; the outer cut alone otherwise.
Interval View::tip_x(const Cell& cell, double length_lo, double length_hi) const {
  const Boom& boom = loads_.machine.boom;
  const Interval free = Interval{length_lo, length_hi} * cosine(cell.luff);
  Interval cut{-kInfinity, kInfinity};
  if (std::isfinite(domain_.reach.hi)) {
    const double outer = ahead_of_foot(boom, domain_.reach.hi + kCutSlack);
    cut.hi = std::isfinite(outer) ? outer : -kInfinity;  // the foot pin itself is beyond the cut
  }
  if (std::isfinite(domain_.reach.lo) && free.lo + boom.foot.x() >= 0)
    if (const double inner = ahead_of_foot(boom, std::max(0.0, domain_.reach.lo - kCutSlack));
        std::isfinite(inner))
      cut.lo = inner;
  return intersection(free, cut);
}

bool View::contract(Cell& cell) const {
  const BoomShape& boom = *loads_.boom;
  const double l0 = boom.length(0);  // length(e) = l0 + e for every kind
  const Vec3& foot = loads_.machine.boom.foot;
  const double base = loads_.machine.platform.axis.z() + foot.z();
  const bool upper_quadrant = cell.luff.lo >= 0 && cell.luff.hi < kPi / 2;
  for (int pass = 0; pass < 2; ++pass) {
    const Interval length{l0 + cell.extension.lo, l0 + cell.extension.hi};
    const Interval x = tip_x(cell, length.lo, length.hi);
    const Interval z = intersection(length * sine(cell.luff), {domain_.tip_height.lo - kCutSlack - base,
                                                               domain_.tip_height.hi + kCutSlack - base});
    if (!(x.lo <= x.hi) || !(z.lo <= z.hi)) return false;
    const double farthest = std::max(std::abs(x.lo + foot.x()), std::abs(x.hi + foot.x()));
    if (std::hypot(farthest, foot.y()) < domain_.reach.lo - kCutSlack) return false;
    if (!upper_quadrant) continue;
    // x = L cos(luff) falls with luff and grows with L; z = L sin(luff) grows with both.
    const auto clamped = [](double c) { return std::clamp(c, -1.0, 1.0); };
    Interval luff{std::max(std::acos(clamped(x.hi / length.lo)), std::asin(clamped(z.lo / length.hi))),
                  std::min(std::acos(clamped(x.lo / length.hi)), std::asin(clamped(z.hi / length.lo)))};
    // Rounding of acos and asin, which grows without bound towards 0 and 90 degrees.
    const auto slack = [](double a) { return 1e-15 / std::max(3e-8, std::min(std::sin(a), std::cos(a))); };
    luff = {luff.lo - slack(luff.lo), luff.hi + slack(luff.hi)};
    cell.luff = intersection(cell.luff, luff);
    if (!(cell.luff.lo <= cell.luff.hi)) return false;
    const Interval c = cosine(cell.luff), s = sine(cell.luff);
    Interval reachable{x.lo > 0 ? x.lo / c.hi : 0, c.lo > 0 ? x.hi / c.lo : kInfinity};
    if (z.lo > 0) reachable.lo = std::max(reachable.lo, z.lo / s.hi);
    if (s.lo > 0) reachable.hi = std::min(reachable.hi, z.hi / s.lo);
    cell.extension = intersection(cell.extension, {reachable.lo - l0 - 1e-14, reachable.hi - l0 + 1e-14});
    if (!(cell.extension.lo <= cell.extension.hi)) return false;
  }
  return true;
}

View::BoomBox View::boom_box(const Cell& cell) const {
  const BoomShape& boom = *loads_.boom;
  const double e0 = cell.extension.lo, e1 = cell.extension.hi;
  BoomBox box;
  box.length = {boom.length(e0), boom.length(e1)};
  const auto direction = [&](double luff, double scale) {
    box.directions.emplace_back(scale * std::cos(luff), scale * std::sin(luff));
    box.luffs.push_back(luff);
  };
  direction(cell.luff.lo, 1);
  if (cell.luff.hi > cell.luff.lo) {
    direction(cell.luff.hi, 1);
    direction(cell.luff.middle(), 1 / std::cos(cell.luff.width() / 2));
  }
  const double b = hung_.boom_factor;
  for (int k = 0; k < boom.parts(); ++k) {
    const BoomPart lo = boom.part(k, e0), hi = boom.part(k, e1);
    // F's share of this part is moment / length, monotone between breakpoints, and so is its mass.
    const double m0 = lo.mass + b * lo.moment / box.length.lo, m1 = hi.mass + b * hi.moment / box.length.hi;
    const double bow = e1 > e0 ? (lo.moment + hi.moment) / 2 - boom.part(k, (e0 + e1) / 2).moment : 0;
    box.parts.push_back({{std::min(m0, m1), std::max(m0, m1)},
                         {(1 + b) * lo.moment, (1 + b) * hi.moment},
                         bow > 1e-12 * hi.moment ? (1 + b) * bow : 0,
                         margins_ ? boom.margin(k) : 0});
  }
  box.magazine = {boom.in_magazine(e1), boom.in_magazine(e0)};
  return box;
}

View::Counts View::counts(const Cell& cell, const Form& form, const BoomBox& box, const Sector& slew) const {
  Counts out;
  const auto count = [&](const Wave& w) {
    const int sign = sign_on(w, slew);
    out.indefinite = out.indefinite || sign == 0;
    return (sign == 0 ? w.at(cell.slew.middle()) : sign) < 0 ? form.ratio : 1.0;
  };
  const double line = cell.line.middle(), units = (cell.units_lo + cell.units_hi) / 2.0;
  for (const LumpView& l : lumps_)
    out.lumps.push_back(
        count((l.mass + l.per_unit * units + l.per_line * line) * (l.n + cell.travel.middle() * l.n_travel)));
  const double luff = cell.luff.middle();
  Wave along = std::cos(luff) * along_n_;
  along.a += std::sin(luff) * up_n_;
  Wave boom = box.magazine.middle() * magazine_n_;
  for (const PartBox& part : box.parts) boom += part.mass.middle() * foot_n_ + part.moment.middle() * along;
  out.boom = count(boom);
  const double hangs =
      (hung_.fixed + laden_.fixed + (hung_.per_line + laden_.per_line) * line - hung_.pull - laden_.pull) / 2;
  out.load = count(hangs * (foot_n_ + box.length.middle() * along));
  return out;
}

void View::add_lumps(const Form& form, const Corner& corner, const Counts* counts, Sum& sum) const {
  const bool needs_v = form.gamma != 0;
  std::size_t k = 0;
  for (const LumpView& l : lumps_) {
    const double mass = l.mass + l.per_unit * corner.units + l.per_line * corner.line;
    const Wave n = l.n + corner.travel * l.n_travel;
    Wave w = form.alpha * n;
    if (needs_v) w += (-form.gamma) * (l.v + corner.travel * l.v_travel);
    w.a -= form.shift * g_;
    if (counts)
      sum.add_counted(mass * w, counts->lumps[k++], l.margin);
    else
      sum.add(mass * w, mass * n, l.margin);
    if (form.level_height != 0)
      sum.add_at_least_moment(mass * level_height(form, n, l.v + corner.travel * l.v_travel), mass * n,
                              l.margin);
  }
}

Wave View::level_height(const Form& form, const Wave& n, const Wave& v) const {
  return combine(form.level_height * axis_.vn, n, -form.level_height * axis_.vv, v);
}

/// Sign of a boom part's own restoring moment over slew and box; 0 if it changes.
int View::moment_sign(const BoomBox& box, const PartBox& part, const Sector& slew) const {
  int common = 0;
  for (const double mass : {part.mass.lo, part.mass.hi})
    for (const double moment : {part.moment.lo, part.moment.hi})
      for (const Vec2& d : box.directions) {
        Wave m = mass * foot_n_ + moment * d.x() * along_n_;
        m.a += moment * d.y() * up_n_;
        const int sign = sign_on(m, slew);
        if (sign == 0 || sign == -common) return 0;
        common = sign;
      }
  return common;
}

void View::add_boom(const Sector& slew, const Form& form, const BoomBox& box, const Multipliers& cuts,
                    const Corner& corner, Sum& sum) const {
  const Wave foot = combine(form.alpha, foot_n_, form.gamma, foot_v_);
  const Vec2 d = box.directions[corner.direction];
  Wave along = d.x() * combine(form.alpha, along_n_, form.gamma, along_v_);
  along.a += d.y() * (form.alpha * up_n_ - form.gamma * up_v_);
  const auto end = [](const Interval& i, bool high) { return high ? i.hi : i.lo; };
  const auto wave = [&](double mass, double moment) {
    Wave w = mass * foot + moment * along;
    w.a -= mass * form.shift * g_;
    return w;
  };
  const bool by_body = form.masses == Form::Masses::by_body;
  // Alone a boom's moment grows with its length and is least at an end; beside a pull or a multiplier, which
  // work against it, it may be least between, by no more than its bow below the straight line.
  Wave foot_height, height_along;
  if (form.level_height != 0) {
    foot_height = level_height(form, foot_n_, foot_v_);
    height_along = d.x() * level_height(form, along_n_, along_v_);
    height_along.a += d.y() * level_height(form, {up_n_, 0, 0}, {up_v_, 0, 0}).a;
  }
  const bool against = has_pull() || cuts.x != 0 || cuts.z != 0;
  const auto up_to = [](const Wave& w) { return std::max(0.0, w.a + std::hypot(w.b, w.c)); };
  const double rise = against ? up_to(along) + up_to(height_along) : 0;
  if (by_body) sum.open_body();
  for (const PartBox& part : box.parts) {
    if (against && part.bow > 0 && rise > 0)
      sum.add_constant(-(by_body ? std::max(1.0, form.ratio) : 1.0) * (1 + part.margin) * part.bow * rise);
    const Wave w = wave(end(part.mass, corner.heavy), end(part.moment, corner.out));
    if (by_body)
      sum.add_to_body(w, part.margin);
    else if (form.masses == Form::Masses::least_moment && part.margin > 0)
      sum.add_signed(w, moment_sign(box, part, slew), part.margin);
    else
      sum.add(w, w, part.margin);
    if (form.level_height != 0)
      sum.add_signed(end(part.mass, corner.heavy) * foot_height + end(part.moment, corner.out) * height_along,
                     part.margin > 0 ? moment_sign(box, part, slew) : 1, part.margin);
  }
  if (box.magazine.hi > 0) add_magazine(form, end(box.magazine, !corner.heavy), sum);
  if (corner.counts)
    sum.close_body_counted(corner.counts->boom);
  else if (by_body)
    sum.close_body();

  // What hangs: weights take part with their height, a pull in the moment only (in sums of forces fully).
  const Hung& load = corner.laden ? laden_ : hung_;
  const double hanging = load.fixed + load.per_line * corner.line, length = end(box.length, corner.out);
  Wave w = wave(hanging, hanging * length);
  if (has_pull()) {
    const double beside = pulls_beside(form);
    Wave pull = combine(form.alpha, foot_n_, beside, foot_v_) +
                length * d.x() * combine(form.alpha, along_n_, beside, along_v_);
    pull.a += length * d.y() * (form.alpha * up_n_ - beside * up_v_);
    w += -load.pull * pull;
    w.a += load.pull * form.shift * g_;
  }
  if (corner.counts)
    sum.add_counted(w, corner.counts->load, 0);
  else
    sum.add(w, w, 0);
  if (form.level_height != 0)
    sum.add_signed((hanging - load.pull) * (foot_height + length * height_along), 1, 0);
  sum.add_constant(cuts.x * length * d.x() + cuts.z * length * d.y() + cuts.constant);
}

void View::add_magazine(const Form& form, double mass, Sum& sum) const {
  Wave w = combine(form.alpha, magazine_n_, form.gamma, magazine_v_);
  w.a -= form.shift * g_;
  const double margin = margins_ ? loads_.machine.boom.margin : 0;
  if (form.masses == Form::Masses::by_body)
    sum.add_to_body(mass * w, margin);
  else
    sum.add(mass * w, mass * magazine_n_, margin);
  if (form.level_height != 0)
    sum.add_at_least_moment(mass * level_height(form, magazine_n_, magazine_v_), mass * magazine_n_, margin);
}

void View::consider(const Cell& cell, const Sector& slew, const Form& form, const BoomBox& box,
                    const Multipliers& cuts, const Corner& corner, Sum sum, Bound& bound) const {
  add_boom(slew, form, box, cuts, corner, sum);
  const SlewLeast found = sum.least_value();
  bound.indefinite = bound.indefinite || sum.indefinite;
  if (found.value + form.delta >= bound.value) return;
  bound.value = found.value + form.delta;
  bound.hint = {found.slew,
                box.luffs[corner.direction],
                corner.out ? cell.extension.hi : cell.extension.lo,
                corner.travel,
                corner.line,
                corner.units};
}

/// Multipliers that take away the form's slope along one side of the cell, at its middle and a slew angle:
/// what is left falls along the other side only, and the end of that side is exact. Any multipliers of these
/// signs bound the form from below; of the two sides' the better one counts.
std::array<View::Multipliers, 2> View::multipliers(const Cell& cell, const Form& form, const BoomBox& box,
                                                   const CraneState& at) const {
  const double alpha = form.alpha + form.level_height * axis_.vn,
               gamma = form.gamma - form.level_height * axis_.vv;
  const Vec3& foot = loads_.machine.boom.foot;
  const double base = loads_.machine.platform.axis.z() + foot.z();
  const Interval free_x = box.length * cosine(cell.luff), free_z = box.length * sine(cell.luff);
  const Interval x = tip_x(cell, box.length.lo, box.length.hi);
  const Interval z = intersection(
      free_z, {domain_.tip_height.lo - kCutSlack - base, domain_.tip_height.hi + kCutSlack - base});
  // Slope of the form with luff and extension, each over half the cell's width.
  const double h = combine(alpha, along_n_, gamma, along_v_).at(at.slew);
  const double up = alpha * up_n_ - gamma * up_v_;
  const double c = std::cos(cell.luff.middle()), s = std::sin(cell.luff.middle());
  const double hanging = laden_.fixed + laden_.per_line * at.line;
  const double mid_length = box.length.middle(),
               foot_value = combine(alpha, foot_n_, gamma, foot_v_).at(at.slew);
  // By body, what overturns counts `ratio` times, and so does its slope.
  const auto counts = [&](double mass, double moment) {
    const bool over = mass * foot_value + moment * (c * h + s * up) < 0;
    return form.masses == Form::Masses::by_body && over ? form.ratio : 1.0;
  };
  double mass = 0, moment = 0, growth = 0;
  for (const PartBox& part : box.parts) {
    mass += part.mass.middle();
    moment += part.moment.middle();
    growth += part.moment.width();
  }
  const double boom = counts(mass, moment), load = counts(hanging, hanging * mid_length);
  moment = boom * moment + load * hanging * mid_length;
  growth = boom * growth + load * hanging * box.length.width();
  Vec2 slope(moment * (-s * h + c * up), growth * (c * h + s * up));
  if (has_pull()) {
    const double beside = pulls_beside(form) - form.level_height * axis_.vv;
    const double h_pull = combine(alpha, along_n_, beside, along_v_).at(at.slew),
                 up_pull = alpha * up_n_ - beside * up_v_;
    slope -= laden_.pull *
             Vec2(mid_length * (-s * h_pull + c * up_pull), box.length.width() * (c * h_pull + s * up_pull));
  }
  const double stretch = box.length.width();
  const Vec2 slope_x(-mid_length * s, c * stretch), slope_z(mid_length * c, s * stretch);
  std::array<Multipliers, 2> out;
  for (const int side : {0, 1}) {
    Multipliers& m = out[static_cast<std::size_t>(side)];
    const auto against = [&](double gradient, const Interval& cut, const Interval& free, double& multiplier) {
      const double wanted = gradient != 0 ? -slope[side] / gradient : 0;
      if (wanted > 0 ? !(cut.hi < free.hi) : !(cut.lo > free.lo)) return;
      multiplier = wanted;
      m.constant -= wanted * (wanted > 0 ? cut.hi : cut.lo);
    };
    against(slope_x[side], x, free_x, m.x);
    if (m.x == 0) against(slope_z[side], z, free_z, m.z);
  }
  return out;
}

/// Shares of the weights that may press down under a pull, (W - k Q g) / W: less than 1 under a release, more
/// under a stall.
Interval View::press_share(const Cell& cell, const BoomBox& box) const {
  if (!has_pull()) return {1, 1};
  const auto pressing = [&](double side) {
    Form weight;
    weight.masses = Form::Masses::least_moment;
    weight.shift = side;
    return -side * bound_with(cell, weight, box, {}).value;
  };
  // What presses is least under the greatest pull upwards, and the other way round.
  const auto [least_pull, most_pull] = std::minmax({hung_.pull * g_, laden_.pull * g_});
  const double light = pressing(1) + most_pull, heavy = pressing(-1) + least_pull;
  const auto share = [](double pull, double weight) { return 1 - pull / weight; };
  const auto [lo, hi] = std::minmax(
      {share(least_pull, light), share(least_pull, heavy), share(most_pull, light), share(most_pull, heavy)});
  return {lo, hi};
}

Bound View::bound(const Cell& cell, const Form& asked) const {
  const BoomBox box = boom_box(cell);
  if (asked.gamma == 0 || !has_pull() || of_forces_) return bound_in_cuts(cell, asked, box);
  // Linear in the share: the lower of its ends bounds all between them.
  const Interval share = press_share(cell, box);
  Form form = asked;
  form.gamma = share.lo * asked.gamma;
  const Bound lo = bound_in_cuts(cell, form, box);
  form.gamma = share.hi * asked.gamma;
  const Bound hi = bound_in_cuts(cell, form, box);
  return hi.value < lo.value ? hi : lo;
}

Bound View::bound_in_cuts(const Cell& cell, const Form& form, const BoomBox& box) const {
  const Bound bound = bound_with(cell, form, box, {});
  if (!cut_) return bound;
  Bound best = bound;
  for (const Multipliers& cuts : multipliers(cell, form, box, bound.hint)) {
    if (cuts.x == 0 && cuts.z == 0) continue;
    const Bound other = bound_with(cell, form, box, cuts);
    if (other.value > best.value) best = other;
  }
  best.indefinite = bound.indefinite;
  return best;
}

Bound View::bound_with(const Cell& cell, const Form& form, const BoomBox& box,
                       const Multipliers& cuts) const {
  bool masses_vary = box.magazine.hi > box.magazine.lo;
  for (const PartBox& p : box.parts) masses_vary = masses_vary || p.mass.hi > p.mass.lo;
  Bound bound;
  bound.value = kInfinity;
  const Sector slew(cell.slew);
  std::optional<Counts> counted;
  if (form.masses == Form::Masses::by_body && form.ratio < 1) counted = counts(cell, form, box, slew);
  const Counts* const by = counted ? &*counted : nullptr;
  bound.indefinite = by && by->indefinite;
  const auto each_end = [](double lo, double hi, const auto& then) {
    then(lo);
    if (hi > lo) then(hi);
  };
  each_end(cell.travel.lo, cell.travel.hi, [&](double travel) {
    each_end(cell.line.lo, cell.line.hi, [&](double line) {
      each_end(cell.units_lo, cell.units_hi, [&](double units) {
        Sum lumps(slew, form);
        add_lumps(form, {travel, line, static_cast<int>(units)}, by, lumps);
        for (std::size_t direction = 0; direction < box.directions.size(); ++direction)
          for (const bool out : {true, false})
            for (const bool heavy : {false, true}) {
              if ((!out && !(box.length.hi > box.length.lo)) || (heavy && !masses_vary)) continue;
              for (int laden = 0; laden <= (payloads_ ? 1 : 0); ++laden)
                consider(cell, slew, form, box, cuts,
                         {travel, line, static_cast<int>(units), direction, out, heavy, laden == 1, by},
                         lumps, bound);
            }
      });
    });
  });
  return bound;
}

Interval View::mass_range(const LumpView& l, const Cell& cell) const {
  const double a = l.per_line * cell.line.lo, b = l.per_line * cell.line.hi;
  const double lo = l.mass + l.per_unit * cell.units_lo + std::min(a, b);
  return {lo, (1 + l.margin) * (l.mass + l.per_unit * cell.units_hi + std::max(a, b))};
}

/// At the tip, pulls taken off [kg].
Interval View::hanging(const Cell& cell) const {
  const auto [less, more] = std::minmax({hung_.pull, laden_.pull});
  return {hung_.fixed + hung_.per_line * cell.line.lo - more,
          laden_.fixed + laden_.per_line * cell.line.hi - less};
}

Interval View::range(const Cell& cell, double alpha, double beta) const {
  Interval sum{0, 0};
  const auto add = [&](const Interval& term) { sum = {sum.lo + term.lo, sum.hi + term.hi}; };
  const auto values = [](const Wave& w) {
    const double r = std::sqrt(w.b * w.b + w.c * w.c);
    return Interval{w.a - r, w.a + r};
  };
  for (const LumpView& l : lumps_) {
    const Wave w = combine(alpha, l.n, -beta, l.v), d = combine(alpha, l.n_travel, -beta, l.v_travel);
    const Interval a = values(w + cell.travel.lo * d), b = values(w + cell.travel.hi * d);
    add(mass_range(l, cell) * Interval{std::min(a.lo, b.lo), std::max(a.hi, b.hi)});
  }
  const BoomBox box = boom_box(cell);
  const Interval foot = values(combine(alpha, foot_n_, -beta, foot_v_));
  const Interval out = values(combine(alpha, along_n_, -beta, along_v_)) * cosine(cell.luff);
  const double up = alpha * up_n_ + beta * up_v_;
  const Interval rise = sine(cell.luff) * Interval{up, up};
  const Interval along{out.lo + rise.lo, out.hi + rise.hi};
  for (const PartBox& p : box.parts) {
    const Interval grown{1, 1 + p.margin}, of_foot = p.mass * foot, of_arm = p.moment * along;
    add(grown * Interval{of_foot.lo + of_arm.lo, of_foot.hi + of_arm.hi});
  }
  if (box.magazine.hi > 0)
    add(Interval{box.magazine.lo, (1 + loads_.machine.boom.margin) * box.magazine.hi} *
        values(combine(alpha, magazine_n_, -beta, magazine_v_)));
  const Interval at_tip = box.length * along;
  add(hanging(cell) * Interval{foot.lo + at_tip.lo, foot.hi + at_tip.hi});
  return sum;
}

Interval View::weight_range(const Cell& cell) const {
  Interval sum{0, 0};
  const auto add = [&](double lo, double hi) { sum = {sum.lo + lo, sum.hi + hi}; };
  for (const LumpView& l : lumps_) add(mass_range(l, cell).lo, mass_range(l, cell).hi);
  const BoomBox box = boom_box(cell);
  for (const PartBox& p : box.parts) add(p.mass.lo, (1 + p.margin) * p.mass.hi);
  add(box.magazine.lo, (1 + loads_.machine.boom.margin) * box.magazine.hi);
  const Interval load = hanging(cell);
  add(load.lo, load.hi);
  return {g_ * sum.lo, g_ * sum.hi};
}

double View::line_share() const {
  double mass = 0;
  for (const LumpView& l : lumps_) mass += l.mass;
  return loads_.machine.hoist.line_mass / mass;
}

Measures View::at(const CraneState& state, bool laden) const {
  const Hung& load = laden ? laden_ : hung_;
  static thread_local std::vector<About> all;
  all.clear();
  const Vec2 slew(std::cos(state.slew), std::sin(state.slew));
  const auto add = [&](double mass, const Wave& n, const Wave& v, double margin, int body,
                       bool weight = true) {
    if (mass == 0) return;
    all.push_back({mass * axis_.cos_psi * n.at(slew), mass * v.at(slew), mass * g_, margin, body, weight});
  };
  for (const LumpView& l : lumps_)
    add(l.mass + l.per_unit * state.units_left + l.per_line * state.line, l.n + state.travel * l.n_travel,
        l.v + state.travel * l.v_travel, l.margin, l.body);
  const BoomShape& boom = *loads_.boom;
  const double c = std::cos(state.luff), s = std::sin(state.luff), length = boom.length(state.extension);
  const auto on_boom = [&](const Wave& foot, const Wave& along, double up, double distance) {
    Wave w = foot + distance * c * along;
    w.a += distance * s * up;
    return w;
  };
  for (int k = 0; k < boom.parts(); ++k) {
    const BoomPart part = boom.part(k, state.extension);
    const double margin = margins_ ? boom.margin(k) : 0, share = hung_.boom_factor * part.moment / length;
    // The share of F at the tip belongs to the part: one lump of both, at their common centre.
    const double mass = part.mass + share;
    if (mass == 0) continue;
    const double distance = (part.moment + share * length) / mass;
    add(mass, on_boom(foot_n_, along_n_, up_n_, distance), on_boom(foot_v_, along_v_, up_v_, distance),
        margin, loads_.boom_body());
  }
  if (const double rest = boom.in_magazine(state.extension); rest > 0)
    add(rest, magazine_n_, magazine_v_, margins_ ? loads_.machine.boom.margin : 0, loads_.boom_body());
  const Wave tip_n = on_boom(foot_n_, along_n_, up_n_, length),
             tip_v = on_boom(foot_v_, along_v_, up_v_, length);
  add(load.fixed + load.per_line * state.line, tip_n, tip_v, 0, loads_.hung_body());
  add(-load.pull, tip_n, tip_v, 0, loads_.hung_body(), false);
  return measures(all, axis_);
}

double View::form_at(const CraneState& state) const {
  const Cell cell{{state.slew, state.slew},
                  {state.luff, state.luff},
                  {state.extension, state.extension},
                  {state.travel, state.travel},
                  {state.line, state.line},
                  state.units_left,
                  state.units_left};
  Form form;
  form.alpha = 1;
  return bound(cell, form).value;
}

bool View::feasible(double luff, double extension) const {
  const Boom& boom = loads_.machine.boom;
  const double r = reach(boom, *loads_.boom, luff, extension);
  const double h = tip_height(loads_.machine, *loads_.boom, luff, extension);
  return r >= domain_.reach.lo - kCutSlack && r <= domain_.reach.hi + kCutSlack &&
         h >= domain_.tip_height.lo - kCutSlack && h <= domain_.tip_height.hi + kCutSlack &&
         domain_.luff.contains(luff) && domain_.extension.contains(extension);
}

std::vector<CraneState> View::candidates(const Cell& cell, const CraneState& hint) const {
  std::vector<CraneState> out;
  const auto consider = [&](double luff, double extension) {
    luff = std::clamp(luff, cell.luff.lo, cell.luff.hi);
    luff = std::clamp(luff, domain_.luff.lo, domain_.luff.hi);
    extension = std::clamp(extension, domain_.extension.lo, domain_.extension.hi);
    if (!feasible(luff, extension)) return;
    CraneState state = hint;
    state.luff = luff;
    state.extension = extension;
    out.push_back(state);
  };
  consider(hint.luff, hint.extension);
  if (!out.empty()) return out;
  // The corner is cut off: along the luff to the cuts, from some extensions; along the extension from the
  // luff's ends.
  const Boom& boom = loads_.machine.boom;
  const double base = loads_.machine.platform.axis.z() + boom.foot.z();
  const std::array ahead{ahead_of_foot(boom, domain_.reach.hi), ahead_of_foot(boom, domain_.reach.lo)};
  for (const double e : {hint.extension, cell.extension.middle(), cell.extension.lo, cell.extension.hi}) {
    const double length = loads_.boom->length(e);
    for (const double x : ahead)
      if (const double c = x / length; std::abs(c) <= 1) consider(std::acos(c), e);
    for (const double h : {domain_.tip_height.hi, domain_.tip_height.lo})
      if (const double s = (h - base) / length; std::abs(s) <= 1) consider(std::asin(s), e);
    consider(hint.luff, e);
  }
  for (const double luff : {cell.luff.lo, cell.luff.hi})
    for (const double x : ahead)
      if (std::isfinite(x)) consider(luff, x / std::cos(luff) - loads_.boom->length(0));
  consider(cell.luff.middle(), cell.extension.middle());
  return out;
}

}  // namespace rimstance
