#include "rimstance/statics/envelope.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <queue>

#include "view.hpp"

namespace rimstance {
namespace {

constexpr std::int64_t kEvaluationsPerGap = 4000;  ///< after so many, a search settles for four times the gap

constexpr std::int64_t kMostEvaluations = 400'000;  ///< then it gives up: nothing is proven, the gap is unset

constexpr std::int64_t kMostOfPayloads = 3000;  ///< the same over many payloads: fewer of them are asked then

/// Above any measure [SI]: the level asked while no state is known. A ratio beyond it overturns nothing.
constexpr double kUnbounded = 1e12;

/// A minimum that asks for cells in the order of their bounds; ties in the order they were made.
struct Open {
  Cell cell;
  double key;
  std::int64_t number;
  bool operator<(const Open& o) const { return key != o.key ? key > o.key : number > o.number; }
};

/// One search: a measure about one axis over one domain.
class Search {
 public:
  Search(const View& view, std::optional<MarginKind> kind, const SearchGoal& goal, double not_above)
      : view_(view), kind_(kind), goal_(goal), gap_(goal.gap), not_above_(not_above) {
    expects(goal.gap > 0, "least_over: gap > 0");
    best_.value = kInfinity;
  }

  Certified<CraneState> run() {
    for (const Cell& root : view_.roots()) push_root(root);
    if (pulled_up()) return best_;
    look_how_it_leans();
    if (goal_.decide_at) asked_ = *goal_.decide_at + leaning(*goal_.decide_at) - rounding();
    if (nothing_below() || close_at_once()) return best_;
    std::int64_t allowed = kEvaluationsPerGap;
    while (!open_.empty()) {
      if (decided_below() || undecidable() || open_payloads_) return best_;
      const Cell cell = open_.top().cell;
      open_.pop();
      visit(cell);
      if (best_.evaluations > (view_.has_payloads() ? kMostOfPayloads : kMostEvaluations)) return best_;
      if (best_.evaluations > allowed) {
        gap_ *= 4;
        allowed += kEvaluationsPerGap;
      }
    }
    if (decided_below() || undecidable() || open_payloads_) return best_;
    best_.gap = goal_.decide_at ? 0 : gap_ + leaning(std::min(best_.value, not_above_));
    if (best_.value > not_above_) best_.value = kInfinity;
    return best_;
  }

 private:
  // The level below which nothing may lie for a cell to be closed. A question of the sign knows no gap: what
  // is not proven is not said.
  double level() const { return goal_.decide_at ? asked_ : std::min(best_.value, not_above_) - gap_; }
  bool decided_below() const { return goal_.decide_at && best_.value < *goal_.decide_at; }
  /// Is a known state so near the level asked that it stays open what gravity's leaning costs there? No cell
  /// that holds it can be closed.
  bool undecidable() {
    if (!goal_.decide_at || !lean_ || !(best_.value < looked_at_)) return false;
    looked_at_ = best_.value;
    const CraneState& s = best_.at;
    Bound b;
    return !proven({{s.slew, s.slew},
                    {s.luff, s.luff},
                    {s.extension, s.extension},
                    {s.travel, s.travel},
                    {s.line, s.line},
                    s.units_left,
                    s.units_left},
                   asked_, b);
  }

  /// Of the level asked [in the measure's unit]: what is equal within it counts as attained.
  double rounding() const {
    double size = 1;
    if (!kind_ || *kind_ == MarginKind::moment || curved()) {
      size = 0;
      const double width = kind_ ? view_.axis().width : 1;
      for (const Cell& root : view_.roots()) {
        const Interval all = kind_ ? view_.weight_range(root) : view_.range(root, 1, 0);
        size = std::max({size, width * all.hi, -width * all.lo});
      }
    }
    return 1e-9 * std::abs(*goal_.decide_at) + 1e-12 * size;
  }

  double value(const CraneState& s) const {
    if (!kind_) return view_.form_at(s);
    const auto with = [&](bool laden) {
      const double v = view_.at(s, laden).of(*kind_);
      return std::isnan(v) ? kInfinity : v;
    };
    return view_.has_payloads() ? std::min(with(false), with(true)) : with(false);
  }

  /// The form whose being nowhere negative on the cell proves that the measure is nowhere below v there.
  Form form(double v, const Cell& cell) {
    Form f;
    const double cos_psi = view_.axis().cos_psi;
    if (!kind_) {
      f.alpha = 1;
      f.delta = -v;
      return f;
    }
    switch (*kind_) {
      case MarginKind::moment:
        f.alpha = cos_psi;
        f.delta = -v;
        return f;
      case MarginKind::clearance:
        f.alpha = cos_psi;
        f.shift = v * cos_psi;
        return f;
      case MarginKind::load_side_share:
        f.alpha = cos_psi;
        f.shift = v * view_.axis().width * cos_psi;
        return f;
      case MarginKind::moment_ratio:
        f.masses = Form::Masses::by_body;
        f.alpha = cos_psi;
        f.ratio = std::max(v, 1e-12);
        return f;
      case MarginKind::tip_angle:
        f.masses = Form::Masses::least_moment;
        f.alpha = std::cos(v);
        f.gamma = std::sin(v);
        return f;
      case MarginKind::energy:
        return energy_form(v / cos_psi, cell);
      case MarginKind::force_angle:
        return force_angle_form(v / cos_psi, least_across(cell));
    }
    expects(false, "least_over: a measure with a form");
    return f;
  }

  /// Is it more than the sign of one form in the weights? Then no side of a cell is exact as a whole.
  bool curved() const { return kind_ == MarginKind::energy || kind_ == MarginKind::force_angle; }
  /// Is a ratio below 1 asked? It is exact only where no body changes its side.
  bool counted() const { return kind_ == MarginKind::moment_ratio && level() < 1; }
  /// Does the share of the weights that presses count, which follows from units and line?
  bool sheared() const { return kind_ == MarginKind::tip_angle && view_.has_pull(); }

  /// Least over the cell of sum(m g (alpha D - gamma H)), masses at least moment.
  double least_sum(const Cell& cell, double alpha, double gamma) {
    Form f;
    f.masses = Form::Masses::least_moment;
    f.alpha = alpha;
    f.gamma = gamma;
    ++best_.evaluations;
    return view_.bound(cell, f).value;
  }
  double least_across(const Cell& cell) {
    Form across;
    across.alpha = 1;
    ++best_.evaluations;
    return view_.bound(cell, across).value;
  }

  /// Lift >= e means H <= (D^2 - e^2) / (2 e), the underside of a parabola in D: below its tangent at the
  /// cell's least D it holds as well. A lift that is not positive is known from the moment's sign.
  Form energy_form(double e, const Cell& cell) const {
    Form f;
    f.masses = Form::Masses::least_moment;
    f.alpha = 1;
    if (!(e > 0)) return f;  // D >= 0 everywhere: nothing lifts less than nothing
    Form across;
    across.alpha = 1;
    const double d0 = std::max(view_.bound(cell, across).value, 0.0);
    f.alpha = d0 / e;
    f.gamma = 1;
    f.delta = -(d0 * d0 + e * e) / (2 * e);
    return f;
  }

  /// Of D atan2(D, H): at or above f > 0 it is H <= D cot(f / D), which is convex in D while H >= 0, that is
  /// for D >= 2 f / pi: below its tangent at the cell's least D it holds, as for the energy. Where that D is
  /// less the form only points at low states.
  Form force_angle_form(double f, double least_across) const {
    Form out;
    out.masses = Form::Masses::least_moment;
    out.alpha = 1;
    if (!(f > 0)) return out;
    const double d0 = std::max(least_across, 2 * f / kPi), angle = f / d0;
    const double sine = std::sin(angle), cot = std::cos(angle) / sine, slope = cot + angle / (sine * sine);
    out.alpha = slope;
    out.gamma = 1;
    out.delta = d0 * (cot - slope);
    return out;
  }

  /// Is D atan2(D, H) nowhere below f on the cell? For D >= 0 it grows with D and falls with H; for D < 0 it
  /// is minus that of |D|. So its least is no lower than at the cell's least D with the greatest H, or with
  /// the least one where D < 0; where that is too coarse, the tangent of force_angle_form() tells.
  bool force_angle_proven(const Cell& cell, double f, Bound& b) {
    Form across;
    across.alpha = 1;
    ++best_.evaluations;
    b = view_.bound(cell, across);
    const double d = b.value;
    if (d < 0) return f < 0 && -d * std::atan2(-d, least_sum(cell, 0, -1)) <= -f;
    if (f <= 0 || d * std::atan2(d, -least_sum(cell, 0, 1)) >= f) return true;
    if (d < 2 * f / kPi) return false;
    ++best_.evaluations;
    b = view_.bound(cell, force_angle_form(f, d));
    return b.value >= 0;
  }

  Bound bound(const Cell& cell, double v, double level_height = 0) {
    ++best_.evaluations;
    Form f = form(v, cell);
    f.level_height = level_height;
    return view_.bound(cell, f);
  }

  /// Is the whole cell proven to lie at or above v? An energy also needs D > 0 all over it.
  bool proven(const Cell& cell, double v, Bound& b) {
    v = std::min(v, kUnbounded);
    if (kind_ == MarginKind::energy && v <= 0) return true;
    if (kind_ == MarginKind::force_angle) return force_angle_proven(cell, v / view_.axis().cos_psi, b);
    b = bound(cell, v);
    if (!(b.value >= 0)) return false;
    if (either_way()) b = bound(cell, v, 2 * view_.axis().sin_rotated);
    if (!(b.value >= 0)) return false;
    // A weight below its axis, or more pulled up than weighs down, lies beyond the angle's other side.
    const bool beyond = kind_ == MarginKind::tip_angle && v > 0 && below_axis();
    if (beyond) return least_across(cell) >= 0;
    if (kind_ != MarginKind::energy) return true;
    Form across;
    across.alpha = 1;
    return view_.bound(cell, across).value > 0;
  }

  /// May the weights' centre, as far as it presses, lie below the axis somewhere?
  bool below_axis() {
    if (!below_axis_) {
      below_axis_ = view_.has_pull();
      for (const Cell& root : view_.roots())
        if (!(view_.range(root, 0, 1).lo >= 0)) below_axis_ = true;
    }
    return *below_axis_;
  }

  /// A release that pulls more than all weights press somewhere: there is no clearance to speak of, however
  /// low the level. True leaves the state in `best_`, at minus infinity.
  bool pulled_up() {
    const bool clearance = kind_ == MarginKind::clearance || kind_ == MarginKind::load_side_share;
    if (!clearance || !(view_.pull() > 0)) return false;
    Form pressing;
    pressing.masses = Form::Masses::least_moment;
    pressing.shift = -1;
    for (const Cell& root : view_.roots()) {
      const Bound b = view_.bound(root, pressing);
      ++best_.evaluations;
      if (b.value > 0) continue;
      const std::vector<CraneState> states = view_.candidates(root, b.hint);
      best_.value = -kInfinity;
      best_.gap = 0;
      if (!states.empty()) best_.at = states.front();
      return true;
    }
    return false;
  }

  /// What bounds the cost of gravity leaning the worst way over an inclined edge instead of straight out.
  struct Lean {
    double height_lo = kInfinity, height_hi = 0, across_hi = 0, weight_lo = kInfinity, weight_hi = 0;
  };

  void look_how_it_leans() {
    const TippingAxis& axis = view_.axis();
    const bool straight =
        kind_ == MarginKind::moment || kind_ == MarginKind::load_side_share || kind_ == MarginKind::clearance;
    if (!straight || !(axis.sin_rotated > 0)) return;
    lean_.emplace();
    for (const Cell& root : view_.roots()) {
      const Interval height = view_.range(root, axis.vn, axis.vv), across = view_.range(root, 1, 0),
                     weight = view_.weight_range(root);
      lean_->height_lo = std::min(lean_->height_lo, height.lo);
      lean_->height_hi = std::max({lean_->height_hi, height.hi, -height.lo});
      lean_->across_hi = std::max({lean_->across_hi, across.hi, -across.lo});
      lean_->weight_lo = std::min(lean_->weight_lo, weight.lo);
      lean_->weight_hi = std::max(lean_->weight_hi, weight.hi);
    }
  }

  /// Where loads may lie below the axis, leaning inwards may be worse than leaning out. Both are sums of
  /// weights and searched; what is left of the cost is at most sin(phi) |d sin(psi)|.
  bool either_way() const { return lean_ && !(lean_->height_lo > 0); }

  /// That cost where the measure is v, in the measure's unit. It is at most sin(phi) (d sin(psi))^2 / (2 h),
  /// so the moment over the arm D, cos(psi) D - cost, still grows with D (checked), and its least is where D
  /// is least: the searches leave the cost out and the gap holds what it is there.
  double leaning(double v) const {
    if (!lean_ || !std::isfinite(v)) return 0;
    const TippingAxis& axis = view_.axis();
    const double s = axis.sin_rotated * axis.sin_psi_level * axis.sin_psi_level;
    const auto cost = [&](double across, double height_lo, double height_hi) {
      const double d = std::abs(axis.nn * across) + std::abs(axis.nv) * height_hi;
      return s * d * d / (2 * height_lo);
    };
    const double either = leaning_either_way(v);
    if (either_way()) return either;
    const double slope =
        s * (std::abs(axis.nn) * lean_->across_hi + std::abs(axis.nv) * lean_->height_hi) / lean_->height_lo;
    if (!(slope < axis.cos_psi)) return either;
    if (kind_ == MarginKind::moment)
      return std::min(either, cost(v / axis.cos_psi, lean_->height_lo, lean_->height_hi));
    const double width = kind_ == MarginKind::load_side_share ? axis.width : 1;
    return std::min(
        either, cost(v * width, lean_->height_lo / lean_->weight_hi, lean_->height_hi / lean_->weight_lo) /
                    (axis.cos_psi * width));
  }
  /// With X the lesser of both leanings' moments, D <= (X + 2 sin(phi) |h|) / cos(psi), so it is X that tells
  /// how large d may be; of a clearance v, X is what is left beyond v times the weight.
  double leaning_either_way(double v) const {
    const TippingAxis& axis = view_.axis();
    const double s = axis.sin_rotated, t = s * std::abs(axis.sin_psi_level),
                 below = 2 * s * lean_->height_hi / axis.cos_psi;
    const auto at = [&](double across) {
      return t * (std::abs(axis.nn) * across + std::abs(axis.nv) * lean_->height_hi);
    };
    const double left = 1 - t * std::abs(axis.nn) / axis.cos_psi;
    const bool close = v >= 0 && left > 0.5;
    if (kind_ == MarginKind::moment)
      return close ? (at(v / axis.cos_psi + below)) / left : at(lean_->across_hi);
    if (!(lean_->weight_lo > 0)) return kInfinity;
    const double width = kind_ == MarginKind::load_side_share ? axis.width : 1;
    const double most = close ? at(v * width * lean_->weight_hi + below) / left : at(lean_->across_hi);
    return most / (lean_->weight_lo * axis.cos_psi * width);
  }

  void push_root(Cell cell) {
    const int first = cell.units_lo, last = cell.units_hi;
    if (!sheared()) return push(cell, -kInfinity);
    for (int units = first; units <= last; ++units) {
      cell.units_lo = cell.units_hi = units;
      push(cell, -kInfinity);
    }
  }
  void push(const Cell& cell, double key) { open_.push({cell, key, made_++}); }

  /// Improves on a state by the slew angle: the form at its own value points to the lowest angle.
  void try_state(CraneState s, const Interval& slew) {
    s.slew = std::clamp(s.slew, slew.lo, slew.hi);
    for (int step = 0; step < 4; ++step) {
      ++best_.evaluations;
      const double v = value(s);
      if (v < best_.value) {
        best_.value = v;
        best_.at = s;
      } else if (step > 0) {
        return;
      }
      const Cell point{
          slew,         {s.luff, s.luff}, {s.extension, s.extension}, {s.travel, s.travel}, {s.line, s.line},
          s.units_left, s.units_left};
      s.slew = bound(point, std::min(v, kUnbounded)).hint.slew;
    }
  }

  /// Is it proven at the first boxes, before any state is tried, that nothing lies below the level that
  /// matters?
  bool nothing_below() {
    const double asked = goal_.decide_at ? asked_ : not_above_;
    if (!std::isfinite(asked)) return false;
    for (const Cell& root : view_.roots()) {
      Bound b;
      if (!proven(root, asked, b)) return false;
    }
    best_.gap = goal_.decide_at ? 0 : leaning(asked);
    return true;
  }

  /// Most searches end at the first box: its bound is attained. Then the gap is rounding.
  bool close_at_once() {
    std::vector<Open> roots;
    while (!open_.empty()) {
      roots.push_back(open_.top());
      open_.pop();
    }
    for (const Open& root : roots) start(root.cell);
    if (goal_.decide_at || !std::isfinite(best_.value)) {
      for (const Open& root : roots) push(root.cell, root.key);
      return false;
    }
    const double tight = std::min(gap_, 1e-12 * (std::abs(best_.value) + gap_ * 1e6));
    bool closed = true;
    for (const Open& root : roots) {
      Bound b;
      const double v = std::min(best_.value, not_above_) - tight;
      if (proven(root.cell, v, b)) continue;
      closed = false;
      push(root.cell, b.value);
    }
    if (!closed) return false;
    best_.gap = tight + leaning(std::min(best_.value, not_above_));
    if (best_.value > not_above_) best_.value = kInfinity;
    return true;
  }

  void start(const Cell& root) {
    // Any level serves to point at a bad corner; the least moment is a good one for every measure.
    Form across;
    across.alpha = 1;
    ++best_.evaluations;
    const Bound b = view_.bound(root, across);
    try_best(root, b);
  }

  /// Of a cell's candidates the lowest is worth refining.
  void try_best(const Cell& cell, const Bound& b) {
    double lowest = kInfinity;
    std::optional<CraneState> best;
    for (const CraneState& s : view_.candidates(cell, b.hint)) {
      ++best_.evaluations;
      const double v = value(s);
      if (best && v >= lowest) continue;
      lowest = v;
      best = s;
    }
    if (!best) return;
    try_state(*best, cell.slew);
    // Where a part changes side its mass jumps, and the least may be the limit from either side.
    if (b.indefinite)
      for (const double slew : {cell.slew.lo, cell.slew.hi}) try_state(*best, {slew, slew});
  }

  void visit(const Cell& cell) {
    Bound b;
    if (proven(cell, level(), b)) return;
    const double before = best_.value;
    try_best(cell, b);
    if (best_.value < before && proven(cell, level(), b)) return;
    split(cell, b);
  }

  /// Halves the side that moves the form most. Slew, travel, line and units are exact for linear forms and
  /// are split only where they are not.
  void split(const Cell& cell, const Bound& b) {
    const bool bent = curved() || counted(), straight = !bent && !b.indefinite;
    const Form f = straight ? Form{} : form(std::min(best_.value, kUnbounded), cell);
    double widest = -1;
    Cell lower = cell, upper = cell;
    const auto offer = [&](Interval Cell::*side, double least_width) {
      const Interval& whole = cell.*side;
      if (!(whole.width() > least_width)) return;
      const double moved =
          straight ? plain_spread(cell, side) : spread(cell, f, side) + 1e-12 * whole.width();
      if (moved <= widest) return;
      widest = moved;
      const double middle = whole.middle();
      lower = upper = cell;
      lower.*side = {whole.lo, middle};
      upper.*side = {middle, whole.hi};
    };
    offer(&Cell::luff, 1e-13);
    offer(&Cell::extension, 1e-13);
    if (bent || b.indefinite) offer(&Cell::slew, 1e-13);
    if (sheared()) offer(&Cell::line, 1e-13);
    if (bent) {
      offer(&Cell::travel, 1e-13);
      offer(&Cell::line, 1e-13);
    }
    if (bent && cell.units_hi > cell.units_lo) {
      const double moved = units_spread(cell, f);
      if (moved > widest) {
        widest = moved;
        lower = upper = cell;
        lower.units_hi = (cell.units_lo + cell.units_hi) / 2;
        upper.units_lo = lower.units_hi + 1;
      }
    }
    if (widest < 0) {  // too small to halve: rounding is all that is left of its gap, or its payloads
      open_payloads_ = open_payloads_ || view_.has_payloads();
      return;
    }
    for (Cell* half : {&lower, &upper})
      if (view_.contract(*half)) push(*half, b.value);
  }

  /// How far the tip moves over a side [m], or would with as large a share of all weight as the line's: which
  /// side to halve for a straight form.
  double plain_spread(const Cell& cell, Interval Cell::*side) const {
    const double width = (cell.*side).width(), length = view_.length(cell.extension.middle());
    if (side == &Cell::line) return width * view_.line_share() * length;
    return side == &Cell::luff ? width * length : width;
  }

  /// How much the form's bound differs between the two ends of a side, the others at their middle.
  double spread(const Cell& cell, const Form& f, Interval Cell::*side) {
    Cell at = middle_of(cell);
    double lo = kInfinity, hi = -kInfinity;
    for (const double x : {(cell.*side).lo, (cell.*side).middle(), (cell.*side).hi}) {
      at.*side = {x, x};
      ++best_.evaluations;
      const double value = view_.bound(at, f).value;
      lo = std::min(lo, value);
      hi = std::max(hi, value);
    }
    return hi - lo;
  }
  double units_spread(const Cell& cell, const Form& f) {
    Cell lo = middle_of(cell), hi = lo;
    hi.units_lo = hi.units_hi = cell.units_hi;
    best_.evaluations += 2;
    return std::abs(view_.bound(hi, f).value - view_.bound(lo, f).value);
  }
  static Cell middle_of(const Cell& cell) {
    Cell at = cell;
    for (Interval Cell::*side : {&Cell::slew, &Cell::luff, &Cell::extension, &Cell::travel, &Cell::line}) {
      const double middle = (cell.*side).middle();
      at.*side = {middle, middle};
    }
    at.units_hi = at.units_lo;
    return at;
  }

  const View& view_;
  std::optional<MarginKind> kind_;
  SearchGoal goal_;
  double gap_, not_above_;
  double asked_ = kUnset,
         looked_at_ = kInfinity;  ///< the level that decides; the value at which it was tried
  std::optional<Lean> lean_;
  std::optional<bool> below_axis_;
  bool open_payloads_ = false;  ///< some cell is small, and only fewer payloads could prove it
  Certified<CraneState> best_;
  std::priority_queue<Open> open_;
  std::int64_t made_ = 0;
};

}  // namespace

std::vector<Domain> domains(const Scenario& scenario) {
  const auto domain = [&](const Operation& o, bool transit) {
    Domain d;
    d.transit = transit;
    d.payload = o.payload;
    d.slew = o.slew_all ? scenario.machine.platform.slew_range : o.slew;
    d.luff = o.luff;
    d.extension = o.extension;
    d.travel = scenario.machine.guide ? o.travel : Interval{0, 0};
    d.line = o.line;
    d.reach = o.reach;
    d.tip_height = o.tip_height;
    return d;
  };
  std::vector<Domain> out{domain(scenario.operation, false)};
  if (scenario.transit) out.push_back(domain(*scenario.transit, true));
  return out;
}

Domain narrowed(Domain domain, const LoadCase& load_case) {
  if (load_case.luff_steepest) domain.luff.lo = domain.luff.hi;
  if (load_case.counterweight_end) domain.travel.lo = domain.travel.hi;
  return domain;
}

std::pair<int, int> units_left(const MachineLoads& loads, const LoadCase& load_case, const Domain& domain) {
  const int units = loads.machine.container ? loads.machine.container->units : 0;
  return {0, payload_hangs(load_case, domain.payload) ? std::max(units - 1, 0) : units};
}

std::vector<CraneState> corner_states(const MachineLoads& loads, const LoadCase& load_case,
                                      const Domain& domain) {
  const auto ends = [](const Interval& i) {
    return i.hi > i.lo ? std::vector<double>{i.lo, i.hi} : std::vector<double>{i.lo};
  };
  std::vector<Vec2> booms;  // luff, extension
  for (const double e : ends(domain.extension)) {
    for (const double luff : ends(domain.luff)) booms.emplace_back(luff, e);
    for (const double r : ends(domain.reach)) {
      const double c = ahead_of_foot(loads.machine.boom, r) / loads.boom->length(e);
      if (std::abs(c) <= 1) booms.emplace_back(std::acos(c), e);
    }
  }
  const auto [least, most] = units_left(loads, load_case, domain);
  std::vector<CraneState> out;
  for (const Vec2& boom : booms)
    for (const double travel : ends(domain.travel))
      for (const double line : ends(domain.line))
        for (const int units : {least, most}) {
          const CraneState s{domain.slew.lo, boom.x(), boom.y(), travel, line, units};
          if (holds_state(loads, domain, s)) out.push_back(s);
        }
  return out;
}

bool holds_state(const MachineLoads& loads, const Domain& domain, const CraneState& s) {
  constexpr double slack = 1e-9;
  const Boom& boom = loads.machine.boom;
  const double r = reach(boom, *loads.boom, s.luff, s.extension);
  const double h = tip_height(loads.machine, *loads.boom, s.luff, s.extension);
  return domain.slew.contains(s.slew) && domain.luff.contains(s.luff) &&
         domain.extension.contains(s.extension) && domain.travel.contains(s.travel) &&
         domain.line.contains(s.line) && r >= domain.reach.lo - slack && r <= domain.reach.hi + slack &&
         h >= domain.tip_height.lo - slack && h <= domain.tip_height.hi + slack;
}

Certified<CraneState> least_over(const MachineLoads& loads, const LoadCase& load_case, const Domain& domain,
                                 const TippingAxis& axis, MarginKind kind, const SearchGoal& goal,
                                 double not_above) {
  const View view(loads, load_case, domain, axis);
  if (kind == MarginKind::energy && view.has_pull()) {
    Certified<CraneState> none;
    none.value = kInfinity;
    none.gap = 0;
    return none;
  }
  return Search(view, kind, goal, not_above).run();
}

bool nowhere_below(const MachineLoads& loads, double payload_to, const LoadCase& load_case,
                   const Domain& domain, const TippingAxis& axis, MarginKind kind, double level) {
  const View view(loads, load_case, domain, axis, payload_to);
  if (kind == MarginKind::energy && view.has_pull()) return true;
  const auto found = Search(view, kind, {1, level}, kInfinity).run();
  return found.value >= level && std::isfinite(found.gap);
}

Certified<CraneState> least_over(const MachineLoads& loads, const LoadCase& load_case, const Domain& domain,
                                 const LinearForm& form, const SearchGoal& goal, double not_above) {
  const View view(loads, load_case, domain, form);
  return Search(view, std::nullopt, goal, not_above).run();
}

}  // namespace rimstance
