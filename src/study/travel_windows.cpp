#include "travel_windows.hpp"

#include <algorithm>
#include <cmath>

#include "leaning.hpp"

namespace rimstance {
namespace {

constexpr double kInward = 1e-5;    ///< [m]: how far inside its ends a window is checked all over a curve
constexpr double kLighter = 1e-5;   ///< likewise of masses, a share
constexpr double kCloseGap = 1e-4;  ///< [m]: a window so closely known is not asked about again
constexpr int kDeepest = 30, kMostSplits = 4000;
constexpr int kMostPasses = 8;  ///< of a window that leaves the travels for which leaning is bounded

bool same(const CurveEnd& a, const CurveEnd& b) { return a.length == b.length && a.height == b.height; }

/// The two ends of every piece, once each.
std::vector<std::pair<double, CurveEnd>> nodes_of(const std::vector<CurvePiece>& curve) {
  std::vector<std::pair<double, CurveEnd>> out;
  for (const CurvePiece& piece : curve)
    for (const CurveEnd& end : piece.end)
      if (out.empty() || !same(out.back().second, end)) out.emplace_back(piece.ahead, end);
  return out;
}

Interval meet(const Interval& a, const Interval& b) {
  const Interval out{std::max(a.lo, b.lo), std::min(a.hi, b.hi)};
  return out.lo <= out.hi ? out : Interval{};
}

/// How much longer a guide would have to be to meet the window.
double missing_travel(const Interval& free, const Interval& guide) {
  if (!(free.lo <= free.hi)) return kUnset;
  return std::max({0.0, free.lo - guide.hi, guide.lo - free.hi});
}

}  // namespace

TravelWindows::TravelWindows(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                             std::span<const Edge> edges, const Domain& domain)
    : prepared_(prepared), X_(X_WC), edges_(edges), domain_(domain), sector_(domain.slew) {
  const Guide& guide = *prepared.loads.machine.guide;
  guide_ = guide.travel;
  const double beside = 3 * std::max(1.0, guide_.width());
  about_ = {guide_.lo - beside, guide_.hi + beside};
  for (const Body& body : guide.bodies) bodies_ += body.mass;
  rules_ = tipping_rules(prepared, X_, edges, &domain_);
  if (prepared.scenario->criteria.foot_limits) {
    const std::vector<Rule> legs = leg_rules(prepared, X_, contacts, &domain_);
    rules_.insert(rules_.end(), legs.begin(), legs.end());
    lift_rules_ = lift_rules(prepared, X_, contacts, &domain_);
  }
  ready_ = made_ready(rules_);
  lift_ready_ = made_ready(lift_rules_);
  lean_over(about_);
  for (const Rule& rule : rules_) level_ = level_ && rule.level();
}

std::vector<TravelWindows::Ready> TravelWindows::made_ready(std::vector<Rule>& rules) const {
  std::vector<Ready> out;
  for (Rule& rule : rules) {
    rule.domain.travel = {0, 0};  // the travel is what is asked for
    const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(rule.load_case)];
    const MachineLoads& loads = prepared_.loads;
    Ready r{Lever(loads, rule),
            {},
            {},
            {},
            hung(load_case, loads.machine.hoist, loads.payload, domain_.payload),
            {},
            {}};
    r.runners = r.lever.runners();
    for (const Lever::Corner& corner : r.lever.corners())
      r.lumps.push_back(r.lever.lumps(corner, sector_, false));
    r.lowest = lowest_of(r.lumps, sector_);
    out.push_back(std::move(r));
  }
  return out;
}

/// Bounds what leaning gravity costs the rules at travels in a range. Of a transit the search itself tells.
void TravelWindows::lean_over(const Interval& travel) {
  if (leaning_over_.lo == travel.lo && leaning_over_.hi == travel.hi) return;
  leaning_over_ = travel;
  const Scenario& scenario = *prepared_.scenario;
  const double leans = scenario.criteria.set_error + scenario.criteria.work_tilt;
  for (std::size_t r = 0; r < rules_.size(); ++r) {
    if (rules_[r].edge < 0 || domain_.transit || !(leans > 0)) continue;
    rules_[r].domain.travel = travel;
    Leaning lean(prepared_, rules_[r], edges_[static_cast<std::size_t>(rules_[r].edge)],
                 gravity_C(scenario, X_), leans);
    rules_[r].domain.travel = {0, 0};
    ready_[r].lean.reset();
    ready_[r].leans = lean.cost_under(prepared_.loads.payload);
    if (lean.costs()) ready_[r].lean.emplace(std::move(lean));
  }
}

/// What leaning gravity costs a rule with the tip in a box [N m].
Leaning::OverShares TravelWindows::leaning(const Ready& r, const TipBox& box) const {
  return r.lean ? r.lean->cost_under(box, prepared_.loads.payload) : Leaning::OverShares{};
}

void TravelWindows::add_demands(std::size_t rule, const Ready& r, double ahead, const CurveEnd& end,
                                const Leaning::OverShares& less, std::vector<Demand>& out) const {
  const Wave tip = r.lever.tip(ahead, end);
  const bool by_body = r.lever.rule().masses == Rule::Masses::by_body;
  // All that hangs is one body, and so is the boom: where it overturns it counts `ratio` times, which is the
  // lesser of counting it once and `ratio` times throughout.
  for (const double of_boom : {1.0, r.lever.rule().ratio}) {
    const Folded boom = r.lever.boom(ahead, end, end, sector_, of_boom);
    for (std::size_t c = 0; c < r.lumps.size(); ++c) {
      const Lever::Corner& corner = r.lever.corners()[c];
      const double hanging = r.hung.fixed + r.hung.per_line * corner.line - r.hung.pull;
      for (const double of_load : {1.0, r.lever.rule().ratio}) {
        out.push_back({r.lumps[c], &r.runners, static_cast<int>(rule), corner, ahead, end, false, less});
        out.back().rest += boom;
        out.back().rest.smooth += of_load * hanging * tip;
        if (!by_body) break;
      }
    }
    if (!by_body) break;
  }
}

void TravelWindows::add_demands(std::size_t rule, double ahead, const CurveEnd& end,
                                std::vector<Demand>& out) const {
  const Ready& r = ready_[rule];
  add_demands(rule, r, ahead, end, leaning(r, tip_box(ahead, end, end)), out);
}

/// Demands of the two ends, lower by what the piece between them may sag and leaning gravity may cost there.
void TravelWindows::add_bounds(std::size_t rule, const Span& span, std::vector<Demand>& out) const {
  const Ready& r = ready_[rule];
  const std::size_t before = out.size();
  Leaning::OverShares less = leaning(r, tip_box(span.ahead, span.end[0], span.end[1]));
  less += r.lever.sag(span.ahead, span.end[0], span.end[1]);
  for (const CurveEnd& end : span.end) add_demands(rule, r, span.ahead, end, less, out);
  for (std::size_t k = before; k < out.size(); ++k) out[k].bound = true;
}

/// Nothing that a rule demands at one tip with any line and count of units is more than one of these demands.
std::vector<Demand> TravelWindows::coarse_bounds(std::size_t rule, double ahead, const CurveEnd& end) const {
  const Ready& r = ready_[rule];
  const Wave tip = r.lever.tip(ahead, end);
  const std::vector<Lever::BoomWave> waves = r.lever.boom_waves(ahead, end, end);
  const bool by_body = r.lever.rule().masses == Rule::Masses::by_body;
  const Interval& line = r.lever.rule().domain.line;
  const auto hanging = [&](double out) { return r.hung.fixed + r.hung.per_line * out - r.hung.pull; };
  std::vector<double> masses{hanging(line.lo)};
  if (hanging(line.hi) != masses[0]) masses.push_back(hanging(line.hi));
  std::vector<Demand> out;
  for (const double of_boom : {1.0, r.lever.rule().ratio}) {
    const Wave boom = r.lever.boom(waves, sector_, of_boom).lower(sector_);
    for (const double mass : masses)
      for (const double of_load : {1.0, r.lever.rule().ratio}) {
        out.push_back({{}, &r.runners, static_cast<int>(rule), {}, ahead, end, true, r.leans});
        out.back().rest.smooth = r.lowest + boom + of_load * mass * tip;
        if (!by_body) break;
      }
    if (!by_body) break;
  }
  return out;
}

/// A quick proof; false tells nothing.
bool TravelWindows::surely_kept(const Work& w, std::size_t rule, const Span& span,
                                const std::vector<Vec2>& points) {
  const double sag = ready_[rule].lever.sag(span.ahead, span.end[0], span.end[1]);
  const auto holds = [&](const std::vector<Demand>& bounds) {
    return std::none_of(bounds.begin(), bounds.end(),
                        [&](const Demand& d) { return breaks(d, points, sag); });
  };
  return std::all_of(span.end.begin(), span.end.end(), [&](const CurveEnd& end) {
    for (const Node& n : w.nodes)
      if (n.rule == rule && n.ahead == span.ahead && same(n.end, end)) return holds(n.bounds);
    return holds(coarse_bounds(rule, span.ahead, end));
  });
}

/// Makes demands of a node that may break at a point.
bool TravelWindows::wakes(Work& w, Node& node, const std::vector<Vec2>& points) {
  node.idle = node.idle && std::none_of(node.bounds.begin(), node.bounds.end(),
                                        [&](const Demand& d) { return breaks(d, points); });
  if (!node.idle) add_demands(node.rule, node.ahead, node.end, w.demands);
  return !node.idle;
}

TravelWindows::Work TravelWindows::start(const std::vector<CurvePiece>& curve) const {
  Work w{{}, {}, {}, {}, ShareRegion(guide_)};
  const auto nodes = nodes_of(curve);
  for (std::size_t r = 0; r < rules_.size(); ++r)
    for (const auto& [ahead, end] : nodes)
      if (allows_luff(rules_[r], ahead, end))
        w.nodes.push_back({r, ahead, end, coarse_bounds(r, ahead, end)});
  for (const CurvePiece& piece : curve) {
    Span span{piece.ahead, piece.end, {}, 0};
    for (std::size_t r = 0; r < rules_.size(); ++r)
      if (!rules_[r].level() && allows_luff(rules_[r], piece.ahead, piece.end[0]) &&
          allows_luff(rules_[r], piece.ahead, piece.end[1]))
        span.rules.push_back(r);
    if (!span.rules.empty() && !same(piece.end[0], piece.end[1])) w.spans.push_back(std::move(span));
  }
  return w;
}

/// One after the other: what the first leave is all that the others are asked about.
void TravelWindows::settle_window(Work& w) {
  keep_demands(w);
  for (Node& node : w.nodes)
    if (node.idle && !w.window.empty &&
        wakes(w, node, {Vec2(1, w.window.travel.lo), Vec2(1, w.window.travel.hi)}))
      keep_demands(w);
}

void TravelWindows::keep_demands(Work& w) {
  evaluations_ += static_cast<std::int64_t>(2 * (w.demands.size() - w.kept));
  for (; w.kept < w.demands.size(); ++w.kept)
    w.window.keep(w.demands[w.kept], static_cast<int>(w.kept), sector_);
}

void TravelWindows::settle_region(Work& w) {
  const double slack = 1e-11 * prepared_.reference_masses.mass * prepared_.scenario->gravity;
  const auto settle = [&](std::size_t from) {
    (void)w.region.settle(std::span(w.demands).subspan(from), sector_, slack);
    evaluations_ += static_cast<std::int64_t>(2 * (w.demands.size() - from));
  };
  for (bool woken = true; woken;) {
    woken = false;
    settle(0);
    for (Node& node : w.nodes) {
      const std::size_t before = w.demands.size();
      if (!node.idle || w.region.empty() || !wakes(w, node, {w.region.lightest(), w.region.heaviest()}))
        continue;
      settle(before);
      woken = true;
    }
  }
}

/// Points (1, travel) just inside the window: what they keep, everything between keeps.
std::vector<Vec2> TravelWindows::window_points(const Work& w) const {
  const Interval& t = w.window.travel;
  if (w.window.empty) return {};
  if (!(t.width() > 2 * kInward)) return {Vec2(1, t.middle())};
  return {Vec2(1, t.lo + kInward), Vec2(1, t.hi - kInward)};
}

/// Points (share, moment) just inside the lightest and heaviest corner.
std::vector<Vec2> TravelWindows::region_points(const Work& w) const {
  std::vector<Vec2> out;
  if (w.region.empty()) return out;
  const Vec2 light = w.region.lightest(), heavy = w.region.heaviest(), middle = (light + heavy) / 2;
  for (const Vec2& end : {light, heavy}) {
    const double away = std::abs(middle.x() - end.x());
    const double share = away > 0 ? std::min(1.0, kLighter * std::max(end.x(), 1.0) / away) : 0;
    out.push_back(end + share * (middle - end));
  }
  return out;
}

bool TravelWindows::breaks(const Demand& d, const std::vector<Vec2>& points, double less) {
  evaluations_ += static_cast<std::int64_t>(points.size());
  return std::any_of(points.begin(), points.end(),
                     [&](const Vec2& p) { return falls_below_zero(d, p.x(), p.y(), sector_, less); });
}

/// Halves a piece for the rules that it may break; true if its middle does break one.
bool TravelWindows::split(Work& w, const Span& span, const std::vector<Vec2>& points,
                          std::vector<Span>& open) {
  const double height = (span.end[0].height + span.end[1].height) / 2;
  const CurveEnd middle{std::hypot(span.ahead, height), height};
  const std::size_t before = w.demands.size();
  for (const std::size_t r : span.rules) add_demands(r, span.ahead, middle, w.demands);
  ++w.splits;
  open.push_back({span.ahead, {span.end[0], middle}, span.rules, span.depth + 1});
  open.push_back({span.ahead, {middle, span.end[1]}, span.rules, span.depth + 1});
  return std::any_of(w.demands.begin() + static_cast<std::ptrdiff_t>(before), w.demands.end(),
                     [&](const Demand& d) { return breaks(d, points); });
}

/// Does something between the ends of the pieces break a rule at a point? The first that does becomes a
/// demand, for the points to be moved, and so does, at worst, the bound of a piece too small to halve.
bool TravelWindows::inside_breaks(Work& w, const std::vector<Vec2>& points) {
  bool found = false;
  std::vector<Span> open;
  open.swap(w.spans);
  while (!open.empty() && !found) {
    Span span = std::move(open.back());
    open.pop_back();
    Span held = span;
    held.rules.clear();
    std::vector<std::size_t> broken;
    for (const std::size_t r : span.rules) {
      if (surely_kept(w, r, span, points)) {
        held.rules.push_back(r);
        continue;
      }
      std::vector<Demand> bounds;
      add_bounds(r, span, bounds);
      const bool breaks_one =
          std::any_of(bounds.begin(), bounds.end(), [&](const Demand& d) { return breaks(d, points); });
      (breaks_one ? broken : held.rules).push_back(r);
    }
    if (!held.rules.empty()) w.spans.push_back(std::move(held));
    if (broken.empty()) continue;
    span.rules = std::move(broken);
    if (span.depth < kDeepest && w.splits < kMostSplits) {
      found = split(w, span, points, open);
      continue;
    }
    for (const std::size_t r : span.rules) add_bounds(r, span, w.demands);
    found = true;
  }
  w.spans.insert(w.spans.end(), open.begin(), open.end());
  return found;
}

/// Most windows lie within the wider range of travels, and there it costs next to nothing; else closer.
TravelState TravelWindows::at_reach(double reach) {
  const TravelState wide = at_reach(reach, about_);
  if (!wide.has_state || (wide.free.lo <= wide.free.hi && wide.gap <= kCloseGap)) return wide;
  if (!leans()) return wide;
  const TravelState close = at_reach(reach, guide_);
  return wide.free.lo <= wide.free.hi && wide.gap <= close.gap ? wide : close;
}

bool TravelWindows::leans() const {
  return std::any_of(ready_.begin(), ready_.end(), [](const Ready& r) { return r.lean.has_value(); });
}

/// Leaning bounded over that range of travels, or a wider one if it has to be.
TravelState TravelWindows::at_reach(double reach, const Interval& travels) {
  TravelState out;
  out.reach = reach;
  out.slew = domain_.slew;
  const std::vector<CurvePiece> curve = curve_at_reach(prepared_.loads, domain_, reach);
  out.has_state = !curve.empty();
  if (!out.has_state) return out;
  const BoomSetting set = setting_of(prepared_.loads, curve[0].ahead, curve[0].end[0]);
  out.luff = set.luff;
  out.extension = set.extension;
  lean_over(travels);
  Work w = closed_in(curve);
  for (int pass = 1; !leaning_covers(w); ++pass) {
    expects(pass < kMostPasses, "travel windows: a wider range of leaning gravity narrows the window");
    w = closed_in(curve);
  }
  w.splits = 0;
  settle_region(w);
  while (inside_breaks(w, region_points(w))) settle_region(w);
  describe(w, out);
  out.lifts = out.holds() && lifts(curve, out.window);
  return out;
}

TravelWindows::Work TravelWindows::closed_in(const std::vector<CurvePiece>& curve) {
  Work w = start(curve);
  settle_window(w);
  while (inside_breaks(w, window_points(w))) settle_window(w);
  return w;
}

/// Was leaning gravity bounded for all travels of the window, and of a guide where nothing ends it? If not,
/// it is from now on.
bool TravelWindows::leaning_covers(const Work& w) {
  if (!leans() || w.window.empty) return true;
  const Interval ends = w.window.ends();
  Interval all = leaning_over_;
  if (std::isfinite(ends.lo)) all.lo = std::min(all.lo, ends.lo);
  if (std::isfinite(ends.hi)) all.hi = std::max(all.hi, ends.hi);
  if (all.lo == leaning_over_.lo && all.hi == leaning_over_.hi) return true;
  lean_over(all);
  return false;
}

/// How much farther out than `from` the state that sets an end breaks its rule, gravity leaning the worst
/// way there [m].
double TravelWindows::leaning_gap(const TravelLimit& limit, double from, double outwards) const {
  const bool costs =
      limit.edge >= 0 && std::isfinite(from) &&
      std::any_of(ready_.begin(), ready_.end(), [&](const Ready& r) {
        return r.lean && r.lever.rule().edge == limit.edge && r.lever.rule().load_case == limit.load_case;
      });
  if (!costs) return 0;
  const Scenario& scenario = *prepared_.scenario;
  const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(limit.load_case)];
  const TippingAxis axis = tipping_axis(edges_[static_cast<std::size_t>(limit.edge)], gravity_C(scenario, X_),
                                        scenario.criteria.set_error + scenario.criteria.work_tilt);
  CraneState at = limit.at;
  const auto broken = [&](double away) {
    at.travel = from + outwards * away;
    const Measures m = measures(parts(prepared_.loads, at, load_case, domain_.payload, true), axis, at.slew);
    const auto margins = required_margin(load_case);
    return std::any_of(margins.begin(), margins.end(), [&](const auto& margin) {
      return linear(load_case, margin.first, margin.second) && !(m.of(margin.first) >= margin.second);
    });
  };
  double holds = 0, breaks = 1e-6;
  for (; !broken(breaks); breaks *= 2) {
    if (breaks > TravelWindow::kFar) return kInfinity;
    holds = breaks;
  }
  while (breaks - holds > 1e-3 * breaks) {
    const double middle = (holds + breaks) / 2;
    (broken(middle) ? breaks : holds) = middle;
  }
  return breaks;
}

void TravelWindows::describe(const Work& w, TravelState& out) const {
  const std::vector<Vec2> inner = window_points(w);
  const bool wide = w.window.travel.width() > 2 * kInward;
  out.free = w.window.ends();
  if (!level_ && !w.window.empty) {
    const Interval checked{inner[0].y(), inner[wide ? 1 : 0].y()};
    if (std::isfinite(out.free.lo)) out.free.lo = checked.lo;
    if (std::isfinite(out.free.hi)) out.free.hi = checked.hi;
  }
  out.window = meet(out.free, guide_);
  out.missing = missing_travel(out.free, guide_);
  out.lower = limit(w, w.window.lower, w.window.lower_slew, w.window.travel.lo);
  out.upper = limit(w, w.window.upper, w.window.upper_slew, w.window.travel.hi);
  out.gap = level_ ? 0 : kInward + over_bounded(w);
  if (!w.window.empty)
    out.gap =
        std::max({out.gap, leaning_gap(out.lower, out.free.lo, -1), leaning_gap(out.upper, out.free.hi, 1)});
  if (w.window.lower >= 0) {
    out.luff = out.lower.at.luff;
    out.extension = out.lower.at.extension;
  }
  if (w.region.empty()) return;
  const std::vector<Vec2> ends = region_points(w);
  const bool exact = level_ || !(w.region.lightest().x() > 0);
  const double light = exact ? w.region.lightest().x() : ends[0].x();
  const double heavy = level_ ? w.region.heaviest().x() : ends[1].x();
  const bool bounded = w.region.heaviest().x() < ShareRegion::kMost * (1 - 1e-9);
  out.mass = {bodies_ * light, bounded ? bodies_ * heavy : kInfinity};
}

/// How much farther out the window's ends would be without the bounds of pieces that were not halved further.
double TravelWindows::over_bounded(const Work& w) const {
  const bool bounded =
      std::any_of(w.demands.begin(), w.demands.end(), [](const Demand& d) { return d.bound; });
  if (!bounded || w.window.empty) return 0;
  TravelWindow attained;
  for (std::size_t k = 0; k < w.kept; ++k)
    if (!w.demands[k].bound) attained.keep(w.demands[k], static_cast<int>(k), sector_);
  return std::max(w.window.travel.lo - attained.travel.lo, attained.travel.hi - w.window.travel.hi);
}

TravelLimit TravelWindows::limit(const Work& w, int demand, double slew, double travel) const {
  TravelLimit out;
  if (demand < 0) return out;
  const Demand& d = w.demands[static_cast<std::size_t>(demand)];
  const Rule& rule = rules_[static_cast<std::size_t>(d.rule)];
  const BoomSetting set = setting_of(prepared_.loads, d.ahead, d.end);
  out.load_case = rule.load_case;
  out.edge = rule.edge;
  out.foot = rule.foot;
  out.at = {slew, set.luff, set.extension, travel, d.corner.line, d.corner.units};
  return out;
}

/// A force on a foot is concave in the travel: not negative at both ends is not negative between them.
bool TravelWindows::lifts(const std::vector<CurvePiece>& curve, const Interval& window) const {
  for (std::size_t r = 0; r < lift_ready_.size(); ++r)
    for (const auto& [ahead, end] : nodes_of(curve)) {
      std::vector<Demand> demands;
      if (allows_luff(lift_rules_[r], ahead, end)) add_demands(r, lift_ready_[r], ahead, end, {}, demands);
      for (const Demand& d : demands)
        for (const double travel : {window.lo, window.hi})
          if (falls_below_zero(d, 1, travel, sector_)) return true;
    }
  return false;
}

/// The state of least margin of a rule at one travel, and that margin less what is required.
Certified<CraneState> TravelWindows::worst(const Rule& rule, double travel) {
  Domain at = domain_;
  at.travel = {travel, travel};
  const Scenario& scenario = *prepared_.scenario;
  const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(rule.load_case)];
  Certified<CraneState> found;
  if (rule.foot >= 0) {
    found = least_over(prepared_.loads, load_case, at, LinearForm{rule.row, rule.constant},
                       {1e-9 * rule.delta, -rule.delta});
    found.value += rule.delta;
  } else {
    const double rotated = scenario.criteria.set_error + scenario.criteria.work_tilt;
    const TippingAxis axis =
        tipping_axis(edges_[static_cast<std::size_t>(rule.edge)], gravity_C(scenario, X_), rotated);
    found = least_over(prepared_.loads, load_case, at, axis, rule.kind,
                       {1e-9 * (1 + std::abs(rule.required)), rule.required});
    found.value -= rule.required;
  }
  evaluations_ += found.evaluations;
  return found;
}

/// Closes the window in on a rule over the whole domain: the worst state at each end becomes a demand, until
/// the search proves that nothing is worse. Where gravity leans over an inclined edge the search knows a
/// little more than the demands, and the ends move in by hair's breadths.
bool TravelWindows::raise(std::size_t r, Work& w) {
  for (double Interval::*side : {&Interval::lo, &Interval::hi}) {
    double hair = side == &Interval::lo ? 1e-7 : -1e-7;
    for (int step = 0; step < 200; ++step) {
      const double travel = w.window.travel.*side;
      const Certified<CraneState> found = worst(rules_[r], travel);
      if (found.value >= 0 && std::isfinite(found.gap)) break;
      const double length = prepared_.loads.boom->length(found.at.extension);
      const CurveEnd end{length, length * std::sin(found.at.luff)};
      add_demands(r, length * std::cos(found.at.luff), end, w.demands);
      for (; w.kept < w.demands.size(); ++w.kept)
        w.window.keep(w.demands[w.kept], static_cast<int>(w.kept), sector_);
      if (w.window.empty) return false;
      if (w.window.travel.*side != travel) continue;
      w.window.travel.*side += hair;
      w.moved_in += std::abs(hair);
      hair *= 4;
      if (w.window.travel.lo > w.window.travel.hi) {
        w.window.empty = true;
        return false;
      }
    }
  }
  return true;
}

TravelState TravelWindows::whole() {
  TravelState out;
  out.slew = domain_.slew;
  out.has_state = true;
  Work w{{}, {}, {}, {}, ShareRegion(guide_)};
  for (std::size_t r = 0; r < rules_.size(); ++r)
    if (!raise(r, w)) break;
  out.free = w.window.ends();
  out.window = meet(out.free, guide_);
  out.missing = missing_travel(out.free, guide_);
  out.gap = 1e-9 + w.moved_in;
  out.lower = limit(w, w.window.lower, w.window.lower_slew, w.window.travel.lo);
  out.upper = limit(w, w.window.upper, w.window.upper_slew, w.window.travel.hi);
  return out;
}

}  // namespace rimstance
