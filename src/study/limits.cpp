#include "limits.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

constexpr double kPayloadStep = 1e-7;  ///< the least step of payloads that is proven, a share and [kg]

}  // namespace

Limits::Limits(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
               std::span<const Edge> edges, const std::vector<Sector>& sectors)
    : prepared_(prepared), X_(X_WC), edges_(edges.begin(), edges.end()), sectors_(sectors) {
  const Scenario& scenario = *prepared.scenario;
  const double lean = scenario.criteria.set_error + scenario.criteria.work_tilt;
  for (const Edge& e : edges_) axes_.push_back(tipping_axis(e, gravity_C(scenario, X_), lean));
  rules_ = tipping_rules(prepared, X_, edges_);
  for (const Rule& rule : rules_) {
    ready_.push_back(
        {Lever(prepared.loads, rule),
         Leaning(prepared, rule, edges_[static_cast<std::size_t>(rule.edge)], gravity_C(scenario, X_), lean),
         {},
         {},
         {kInfinity, -kInfinity}});
    Ready& r = ready_.back();
    for (const Lever::Corner& corner : r.lever.corners()) {
      r.lumps.emplace_back();
      for (const Sector& sector : sectors) r.lumps.back().push_back(r.lever.lumps(corner, sector));
      const double hangs = r.lever.hanging(corner);
      r.hanging = {std::min(r.hanging.lo, hangs), std::max(r.hanging.hi, hangs)};
    }
    for (std::size_t s = 0; s < sectors.size(); ++s) {
      std::vector<Folded> corners;
      for (const std::vector<Folded>& lumps : r.lumps) corners.push_back(lumps[s]);
      r.lowest.push_back(lowest_of(corners, sectors[s]));
    }
  }
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i)
    for (const auto& [kind, margin] : required_margin(prepared.load_cases[i]))
      if (!linear(prepared.load_cases[i], kind, margin))
        curved_.push_back({static_cast<int>(i), kind, margin});
  if (scenario.criteria.foot_limits) legs_ = std::make_unique<LegLimits>(prepared, X_, contacts, sectors);
}

/// The payload that the rule of the last limit leaves spares the others the search of all that is above it.
Bounded Limits::most(const TipPlace& place, std::size_t sector) {
  Bounded out;
  by_strength(place, out);
  Bounded likely;
  likely.payload = out.payload;
  if (!ready_.empty()) offer(last_rule_, place, sector, likely);
  const double ceiling = likely.payload + 1e-9 * (1 + likely.payload);
  for (std::size_t rule = 0; rule < ready_.size(); ++rule) {
    const double before = out.payload;
    offer(rule, place, sector, out, ceiling);
    if (out.payload < before) last_rule_ = rule;
  }
  // The less payload is looked at, the closer is what leaning costs: under its own ceiling that rule may hold.
  if (likely.payload < out.payload) out.offer(likely.payload, likely.governing);
  if (legs_) legs_->bound(place.ahead, place.end, sector, out);
  by_curved(place, sector, out);
  return out;
}

void Limits::offer(std::size_t rule, const TipPlace& place, std::size_t sector, Bounded& out,
                   double ceiling) {
  const Ready& r = ready_[rule];
  const AtTip& at = at_tip(rule, place.ahead, place.end, place.end);
  if (!at.allowed) return;
  const TipBox box = tip_box(place.ahead, place.end, place.end);
  std::array<double, 2> either;
  for (const double count : counts(r.lever.rule(), either)) {
    const Folded boom = r.lever.boom(at.boom, sectors_[sector], count);
    if (surely_holds(r, sector, boom, at.tip, std::max(std::min(ceiling, out.payload), 2 * kNothing)))
      continue;
    for (std::size_t c = 0; c < r.lever.corners().size(); ++c) {
      const double most = std::max(std::min(ceiling, out.payload), 2 * kNothing);
      const Held h = hold(r, c, sector, boom, at.tip, box, most);
      if (h.payload < most) out.offer(h.payload, governing(r, h, place, r.lever.corners()[c]));
    }
  }
}

std::span<const double> Limits::counts(const Rule& rule, std::array<double, 2>& either) {
  either = {1, rule.ratio};
  return {either.data(), rule.masses == Rule::Masses::by_body ? std::size_t{2} : std::size_t{1}};
}

const Limits::AtTip& Limits::at_tip(std::size_t rule, double ahead, const CurveEnd& length,
                                    const CurveEnd& height) {
  constexpr std::size_t kKept = 32;
  auto known = std::find_if(known_.rbegin(), known_.rend(), [&](const Known& k) {
    return k.ahead == ahead && k.length.length == length.length && k.height.height == height.height;
  });
  if (known == known_.rend()) {
    if (known_.size() >= kKept) known_.clear();
    known_.push_back({ahead, length, height, std::vector<AtTip>(ready_.size())});
    known = known_.rbegin();
  }
  AtTip& out = known->rules[rule];
  if (out.made) return out;
  const Lever& lever = ready_[rule].lever;
  out = {true, allows_luff(lever.rule(), ahead, height), lever.tip(ahead, height),
         lever.boom_waves(ahead, length, height)};
  return out;
}

bool Limits::surely_holds(const Ready& r, std::size_t sector, const Folded& boom, const Wave& tip,
                          double most) {
  ++evaluations_;
  const Sector& over = sectors_[sector];
  const Leaning::Coarse& coarse = r.lean.coarse();
  const bool close = most <= coarse.up_to;
  Wave base = r.lowest[sector] + boom.lower(over);
  base.a -= close ? coarse.cost : coarse.fixed;
  const Interval least = r.lever.at_tip(r.hanging.lo, most), greatest = r.lever.at_tip(r.hanging.hi, most);
  const auto holds = [&](double mass, double count) {
    Wave w = base + mass * count * tip;
    if (!close) w.a -= mass * coarse.per_kg;
    return !falls_below_zero(w, over);
  };
  std::array<double, 2> either;
  for (const double count : counts(r.lever.rule(), either))
    if (!holds(std::min(least.lo, least.hi), count) || !holds(std::max(greatest.lo, greatest.hi), count))
      return false;
  return true;
}

std::vector<std::size_t> Limits::suspects(const CurvePiece& piece) const {
  std::vector<std::size_t> out;
  for (std::size_t r = 0; r < ready_.size(); ++r) {
    const Rule& rule = ready_[r].lever.rule();
    if (!rule.level() && allows_luff(rule, piece.ahead, piece.end[0]) &&
        allows_luff(rule, piece.ahead, piece.end[1]))
      out.push_back(r);
  }
  return out;
}

bool Limits::level() const {
  return std::all_of(rules_.begin(), rules_.end(), [](const Rule& rule) { return rule.level(); });
}

double Limits::held_inside(std::size_t rule, const CurvePiece& piece, std::size_t sector, double most) {
  const double crossed = held_between(rule, piece, true, 0, sector, most);
  // Where the masses are those of least moment, or counted by body, they change between the ends: no chord.
  if (crossed >= most || ready_[rule].lever.rule().masses != Rule::Masses::adverse) return crossed;
  const double sag = ready_[rule].lever.sag(piece.ahead, piece.end[0], piece.end[1]);
  return std::max(crossed, held_between(rule, piece, false, sag, sector, most));
}

double Limits::held_between(std::size_t rule, const CurvePiece& piece, bool crossed, double less,
                            std::size_t sector, double most) {
  const Ready& r = ready_[rule];
  const TipBox box = tip_box(piece.ahead, piece.end[0], piece.end[1]);
  std::array<double, 2> either;
  for (const std::size_t length : {std::size_t{0}, std::size_t{1}}) {
    const AtTip& at = at_tip(rule, piece.ahead, piece.end[length], piece.end[crossed ? 1 - length : length]);
    for (const double count : counts(r.lever.rule(), either)) {
      Folded boom = r.lever.boom(at.boom, sectors_[sector], count);
      boom.smooth.a -= less;
      if (surely_holds(r, sector, boom, at.tip, most)) continue;
      for (std::size_t c = 0; c < r.lever.corners().size(); ++c) {
        const Held h = hold(r, c, sector, boom, at.tip, box, most);
        if (h.without_load) return -1;
        most = std::min(most, h.payload);
      }
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

/// Under one payload, or if `to` is more, under all up to that. Of one payload `by` becomes what breaks.
bool Limits::keeps(const Asked& asked, double from, double to, Governing& by) {
  ++evaluations_;
  MachineLoads loads = prepared_.loads;
  loads.payload = from;
  const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(asked.curved.load_case)];
  const MarginKind kind = asked.curved.kind;
  // A force-angle is a share of that of the reference state, in which this payload hangs.
  double unit = 1;
  if (kind == MarginKind::force_angle) {
    unit = force_angle_reference_up_to(loads, to, prepared_.reference, axes_);
    for (std::size_t e = 0; e < axes_.size(); ++e)
      if (!(force_angle_reference(loads, prepared_.reference, {&axes_[e], 1}) > 0)) {
        refused(asked, by);  // nothing is a share of it
        by.edge = static_cast<int>(e);
        return false;
      }
  }
  const double margin = asked.curved.margin * unit;
  if (to > from) return nowhere_below(loads, to, load_case, asked.domain, axes_[asked.edge], kind, margin);
  const auto found = least_over(loads, load_case, asked.domain, axes_[asked.edge], kind,
                                {1e-9 * (1 + std::abs(margin)), margin});
  if (found.value >= margin && std::isfinite(found.gap)) return true;
  refused(asked, by);
  by.at = found.at;
  return false;
}

bool Limits::refused(const Asked& asked, Governing& by) const {
  by = {};
  by.limit = Limit::tipping;
  by.load_case = asked.curved.load_case;
  by.edge = static_cast<int>(asked.edge);
  by.at = prepared_.reference;
  return false;
}

namespace {

/// Is what one payload breaks broken by all greater ones? A ratio's and an angle's margin is the sign of a
/// sum that at every state is linear in the payload, under a pull too, so what keeps it is an interval.
bool once_broken(MarginKind kind) {
  return kind == MarginKind::moment_ratio || kind == MarginKind::tip_angle;
}

}  // namespace

/// Payloads from `from`, which is kept, on to the first that is not proven to be, at most `to`.
double Limits::kept_from(const Asked& asked, double from, double to, Governing& by) {
  if (once_broken(asked.curved.kind) || keeps(asked, from, to, by)) return to;
  if (to - from <= kPayloadStep * (1 + from)) {
    if (keeps(asked, to, to, by)) refused(asked, by);  // so near the margin that nothing is proven
    return from;
  }
  const double middle = from + (to - from) / 2;
  const double reached = kept_from(asked, from, middle, by);
  if (reached < middle || !keeps(asked, middle, middle, by)) return reached < middle ? reached : middle;
  return kept_from(asked, middle, to, by);
}

/// The first payload that breaks a margin. A margin of energy may be broken by some payloads and kept again
/// by greater ones (a load high up and well inside), and a force-angle's reference changes with the payload:
/// so every stretch is proven as a whole before it is passed.
void Limits::first_broken(const Asked& asked, Bounded& out) {
  Governing by;
  if (!keeps(asked, 0, 0, by)) {
    by.limit = Limit::tipping_without_load;
    by.without_load = true;
    out.offer(0, by);
    return;
  }
  const double most = std::max(out.payload, 2 * kNothing);
  double kept = 0, broken = most;
  if (keeps(asked, most, most, by)) {
    kept = kept_from(asked, 0, most, by);
    if (kept >= most) return;
    out.offer(kept, by);
    return;
  }
  while (broken - kept > kPayloadStep * (1 + kept)) {
    const double middle = kept + (broken - kept) / 2;
    if (!keeps(asked, middle, middle, by)) {
      broken = middle;
      continue;
    }
    const double reached = kept_from(asked, kept, middle, by);
    kept = reached;
    if (reached < middle) break;
  }
  out.offer(kept, by);
}

void Limits::by_curved(const TipPlace& place, std::size_t sector, Bounded& out) {
  const BoomSetting set = setting_of(prepared_.loads, place.ahead, place.end);
  Domain at = prepared_.operation;
  at.luff = {set.luff, set.luff};
  at.extension = {set.extension, set.extension};
  at.reach = at.tip_height = {-kInfinity, kInfinity};
  at.slew = sectors_[sector].slew;
  for (const Curved& curved : curved_)
    for (std::size_t e = 0; e < edges_.size(); ++e) first_broken({curved, e, at}, out);
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
      first_broken({curved, e, at}, below);
      if (below.payload < asked)
        least.offer(below.payload, below.governing);
      else
        gap = room;
    }
  return gap;
}

}  // namespace rimstance
