#include "limits.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

/// Does the case allow a luff? It may be narrowed to the steepest.
bool in_case(const Rule& rule, double ahead, const CurveEnd& end) {
  const double luff = std::atan2(end.height, ahead);
  return luff >= rule.domain.luff.lo - 1e-9 && luff <= rule.domain.luff.hi + 1e-9;
}

TipBox box_of(double ahead, const CurveEnd& a, const CurveEnd& b) {
  return {{ahead, ahead},
          {std::min(a.height, b.height), std::max(a.height, b.height)},
          {std::min(a.length, b.length), std::max(a.length, b.length)}};
}

}  // namespace

Limits::Limits(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
               std::span<const Edge> edges, const std::vector<Sector>& sectors)
    : prepared_(prepared), X_(X_WC), edges_(edges.begin(), edges.end()), sectors_(sectors) {
  const Scenario& scenario = *prepared.scenario;
  const double lean = scenario.criteria.set_error + scenario.criteria.work_tilt;
  rules_ = tipping_rules(prepared, X_, edges_);
  for (const Rule& rule : rules_) {
    ready_.push_back(
        {Lever(prepared.loads, rule),
         Leaning(prepared, rule, edges_[static_cast<std::size_t>(rule.edge)], gravity_C(scenario, X_), lean),
         {}});
    Ready& r = ready_.back();
    for (const Lever::Corner& corner : r.lever.corners()) {
      r.lumps.emplace_back();
      for (const Sector& sector : sectors) r.lumps.back().push_back(r.lever.lumps(corner, sector));
    }
  }
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i)
    for (const auto& [kind, margin] : required_margin(prepared.load_cases[i]))
      if (!linear(prepared.load_cases[i], kind, margin))
        curved_.push_back({static_cast<int>(i), kind, margin});
  if (scenario.criteria.foot_limits) legs_ = std::make_unique<LegLimits>(prepared, X_, contacts, sectors);
}

Bounded Limits::most(const TipPlace& place, std::size_t sector) {
  Bounded out;
  by_strength(place, out);
  for (std::size_t rule = 0; rule < ready_.size(); ++rule) offer(rule, place, sector, out);
  if (legs_) legs_->bound(place.ahead, place.end, sector, out);
  by_curved(place, sector, out);
  return out;
}

void Limits::offer(std::size_t rule, const TipPlace& place, std::size_t sector, Bounded& out) {
  const Ready& r = ready_[rule];
  if (!in_case(r.lever.rule(), place.ahead, place.end)) return;
  const Wave tip = r.lever.tip(place.ahead, place.end);
  const TipBox box = box_of(place.ahead, place.end, place.end);
  for (const Folded& boom : booms(r, place.ahead, place.end, place.end, sector))
    for (std::size_t c = 0; c < r.lever.corners().size(); ++c) {
      const double most = std::max(out.payload, 2 * kNothing);
      const Held h = hold(r, c, sector, boom, tip, box, most);
      if (h.payload < most) out.offer(h.payload, governing(r, h, place, r.lever.corners()[c]));
    }
}

std::vector<Folded> Limits::booms(const Ready& r, double ahead, const CurveEnd& length,
                                  const CurveEnd& height, std::size_t sector) const {
  const Sector& over = sectors_[sector];
  if (r.lever.rule().masses != Rule::Masses::by_body) return {r.lever.boom(ahead, length, height, over)};
  return {r.lever.boom(ahead, length, height, over, 1),
          r.lever.boom(ahead, length, height, over, r.lever.rule().ratio)};
}

std::vector<std::size_t> Limits::suspects(const CurvePiece& piece) const {
  std::vector<std::size_t> out;
  for (std::size_t r = 0; r < ready_.size(); ++r) {
    const Rule& rule = ready_[r].lever.rule();
    if (!rule.level() && in_case(rule, piece.ahead, piece.end[0]) && in_case(rule, piece.ahead, piece.end[1]))
      out.push_back(r);
  }
  return out;
}

bool Limits::level() const {
  return std::all_of(rules_.begin(), rules_.end(), [](const Rule& rule) { return rule.level(); });
}

double Limits::held_inside(std::size_t rule, const CurvePiece& piece, std::size_t sector, double most) {
  const Ready& r = ready_[rule];
  const TipBox box = box_of(piece.ahead, piece.end[0], piece.end[1]);
  for (const std::size_t length : {std::size_t{0}, std::size_t{1}}) {
    const CurveEnd &l = piece.end[length], &z = piece.end[1 - length];
    const Wave tip = r.lever.tip(piece.ahead, z);
    for (const Folded& boom : booms(r, piece.ahead, l, z, sector))
      for (std::size_t c = 0; c < r.lever.corners().size(); ++c) {
        const Held h = hold(r, c, sector, boom, tip, box, most);
        if (h.without_load) return -1;
        most = std::min(most, h.payload);
      }
  }
  return most;
}

/// Gravity that leans costs a little more than its waves tell (see Leaning). Most rules hold with a coarse
/// bound of it; where that may limit, the payload that holds without it tells how much to take off.
Held Limits::hold(const Ready& r, std::size_t corner, std::size_t sector, const Folded& boom, const Wave& tip,
                  const TipBox& box, double most) {
  if (!r.lean.costs()) return hold_straight(r, corner, sector, boom, tip, 0, 0, most);
  const Leaning::Coarse& coarse = r.lean.coarse();
  const Held roughly = most <= coarse.up_to
                           ? hold_straight(r, corner, sector, boom, tip, coarse.cost, 0, most)
                           : hold_straight(r, corner, sector, boom, tip, coarse.fixed, coarse.per_kg, most);
  if (!(roughly.payload < most)) return roughly;
  const Held without = hold_straight(r, corner, sector, boom, tip, 0, 0, most);
  if (without.without_load || !(without.payload < kMost)) return without.without_load ? without : roughly;
  const Held closely =
      hold_straight(r, corner, sector, boom, tip, r.lean.cost(box, without.payload), 0, without.payload);
  if (closely.payload < roughly.payload || closely.without_load) return roughly;
  return closely.payload < without.payload ? closely : without;
}

Held Limits::hold_straight(const Ready& r, std::size_t corner, std::size_t sector, const Folded& boom,
                           const Wave& tip, double cost, double cost_per_kg, double most) {
  const Rule& rule = r.lever.rule();
  // All that hangs is one body: where it overturns it counts `ratio` (>= 1) times, which is the lesser of
  // counting once and counting `ratio` times.
  const bool by_body = rule.masses == Rule::Masses::by_body;
  Held out{most, kUnset, false};
  for (const double counts : {1.0, rule.ratio}) {
    ++evaluations_;
    Folded base = r.lumps[corner][sector];
    base += boom;
    base.smooth.a -= cost;
    Wave at_tip = counts * tip;
    at_tip.a -= cost_per_kg;
    const Held h =
        r.lever.held(std::move(base), at_tip, r.lever.corners()[corner], sectors_[sector], out.payload);
    if (h.without_load) return h;
    if (h.payload < out.payload) out = h;
    if (!by_body) break;
  }
  return out;
}

Governing Limits::governing(const Ready& r, const Held& h, const TipPlace& place,
                            const Lever::Corner& corner) const {
  const Rule& rule = r.lever.rule();
  const BoomSetting set = setting_of(prepared_.loads, place.ahead, place.end);
  Governing g;
  g.limit = rule.limit == Limit::tipping && h.without_load ? Limit::tipping_without_load : rule.limit;
  g.load_case = rule.load_case;
  g.edge = rule.edge;
  g.foot = rule.foot;
  g.at = {h.slew, set.luff, set.extension, corner.travel, corner.line, corner.units};
  g.without_load = h.without_load;
  return g;
}

/// Boom and hoist: forces on all that hangs, unfactored but for hoisting, in the platform's own plane.
void Limits::by_strength(const TipPlace& place, Bounded& out) const {
  const Machine& machine = prepared_.loads.machine;
  const double g = prepared_.scenario->gravity;
  const Domain& operation = prepared_.operation;
  const BoomSetting set = setting_of(prepared_.loads, place.ahead, place.end);
  const auto offer = [&](Limit limit, double force) {
    const double payload = payload_under(prepared_, force / g);
    Governing by;
    by.limit = limit;
    by.at = {operation.slew.lo, set.luff, set.extension, operation.travel.lo, operation.line.hi, 0};
    by.without_load = payload < 0;
    out.offer(std::max(payload, 0.0), by);
  };
  if (machine.boom.limit) {
    offer(Limit::structural, structural_load(*machine.boom.limit, place.reach));
    if (std::isfinite(machine.boom.limit->root_moment) && place.ahead > 0)
      offer(Limit::boom_root, machine.boom.limit->root_moment / place.ahead -
                                  g * boom_equivalent(*prepared_.loads.boom, set.extension));
  }
  if (std::isfinite(machine.hoist.line_pull)) offer(Limit::hoist, machine.hoist.line_pull);
}

bool Limits::keeps(const Curved& curved, std::size_t edge, const Domain& domain, double payload,
                   Governing& by) {
  MachineLoads loads = prepared_.loads;
  loads.payload = payload;
  const Criteria& criteria = prepared_.scenario->criteria;
  std::vector<TippingAxis> axes;
  for (const Edge& e : edges_)
    axes.push_back(
        tipping_axis(e, gravity_C(*prepared_.scenario, X_), criteria.set_error + criteria.work_tilt));
  // A force-angle is a share of that of the reference state, in which this payload hangs.
  const double unit =
      curved.kind == MarginKind::force_angle ? force_angle_reference(loads, prepared_.reference, axes) : 1;
  const double margin = curved.margin * unit;
  const auto found = least_over(loads, prepared_.load_cases[static_cast<std::size_t>(curved.load_case)],
                                domain, axes[edge], curved.kind, {1e-9 * (1 + std::abs(margin)), margin});
  ++evaluations_;
  if (unit > 0 && found.value >= margin && std::isfinite(found.gap)) return true;
  by.limit = Limit::tipping;
  by.load_case = curved.load_case;
  by.edge = static_cast<int>(edge);
  by.at = found.at;
  return false;
}

void Limits::bisect(const Curved& curved, std::size_t edge, const Domain& domain, Bounded& out) {
  const double most = std::max(out.payload, 2 * kNothing);
  Governing by;
  if (keeps(curved, edge, domain, most, by)) return;
  if (!keeps(curved, edge, domain, 0, by)) {
    by.limit = Limit::tipping_without_load;
    by.without_load = true;
    out.offer(0, by);
    return;
  }
  double lo = 0, hi = most;
  while (hi - lo > 1e-9 * (1 + hi)) {
    const double middle = lo + (hi - lo) / 2;
    (keeps(curved, edge, domain, middle, by) ? lo : hi) = middle;
  }
  out.offer(lo, by);
}

void Limits::by_curved(const TipPlace& place, std::size_t sector, Bounded& out) {
  const BoomSetting set = setting_of(prepared_.loads, place.ahead, place.end);
  Domain at = prepared_.operation;
  at.luff = {set.luff, set.luff};
  at.extension = {set.extension, set.extension};
  at.reach = at.tip_height = {-kInfinity, kInfinity};
  at.slew = sectors_[sector].slew;
  for (const Curved& curved : curved_)
    for (std::size_t e = 0; e < edges_.size(); ++e) bisect(curved, e, at, out);
}

double Limits::curved_at(double reach, std::size_t sector, double room, Bounded& least) {
  Domain at = prepared_.operation;
  at.reach = {reach, reach};
  at.slew = sectors_[sector].slew;
  double gap = 0;
  for (const Curved& curved : curved_)
    for (std::size_t e = 0; e < edges_.size(); ++e) {
      // At the least payload known some state is at its margin, and nothing would prove that it keeps it.
      Bounded below;
      below.payload = std::max(0.0, least.payload - room);
      const double asked = below.payload;
      bisect(curved, e, at, below);
      if (below.payload < asked)
        least.offer(below.payload, below.governing);
      else
        gap = room;
    }
  return gap;
}

}  // namespace rimstance
