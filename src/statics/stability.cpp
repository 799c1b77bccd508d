#include "rimstance/statics/stability.hpp"

#include <algorithm>
#include <cmath>

#include "foot_loads.hpp"

namespace rimstance {
namespace {

constexpr const char* kPulledUp = "more is pulled up than weighs down";
constexpr const char* kNoReference = "the reference state, to which a force-angle is compared, is not held";

constexpr MarginKind kLeast[] = {MarginKind::clearance, MarginKind::moment_ratio, MarginKind::tip_angle,
                                 MarginKind::energy, MarginKind::force_angle};

std::vector<Part> reference_parts(const MachineLoads& loads, const CraneState& reference) {
  LoadCase basic;
  basic.mass_margin = false;
  return parts(loads, reference, basic, true, false);
}

/// One assessment under way: the axes in the pose's gravity, tolerances, and the searches over them.
class Assessment {
 public:
  Assessment(const Prepared& prepared, const Levelling& levelling, std::vector<Edge> edges,
             const Control& control, double gap)
      : prepared_(prepared), control_(control), gap_(gap) {
    out_.edges = std::move(edges);
    out_.scale = polygon_scale(out_.edges);
    const Scenario& scenario = *prepared.scenario;
    const double rotated = scenario.criteria.set_error + scenario.criteria.work_tilt;
    for (const Edge& edge : out_.edges)
      axes_.push_back(tipping_axis(edge, gravity_C(scenario, levelling.X_WC), rotated));
    const double weight = prepared.reference_masses.mass * scenario.gravity;
    moment_scale_ = weight * out_.scale;
    take_reference();
  }

  Stability verdict() {
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i) {
      CaseResult result;
      result.ok = true;
      for (const auto& [kind, required] : required_margin(prepared_.load_cases[i])) {
        const Least least = least_of(static_cast<int>(i), kind, prepared_.domains, required);
        if (least.value >= required && std::isfinite(least.gap)) continue;  // proven
        result.ok = false;
        result.decides_by = kind;
        result.required = required;
        result.decides = least;
        tips_ = tips_ || tips(static_cast<int>(i), kind, required, least.value);
        break;
      }
      out_.cases.push_back(result);
    }
    set_outcome();
    return std::move(out_);
  }

  Stability extremes() {
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i)
      out_.cases.push_back(case_result(static_cast<int>(i)));
    for (const CaseResult& result : out_.cases)
      if (!(result.worst.measures.moment >= out_.worst.measures.moment)) out_.worst = result.worst;
    for (const MarginKind kind : kLeast) out_.least[kind] = least_of_all(kind);
    at_job();
    set_outcome();
    return std::move(out_);
  }

 private:
  void take_reference() {
    const auto all = reference_parts(prepared_.loads, prepared_.reference);
    Measures& least = reference_;
    for (std::size_t e = 0; e < axes_.size(); ++e) {
      const Measures m = measures(all, axes_[e], prepared_.reference.slew);
      if (!(m.tip_angle >= least.tip_angle)) least.tip_angle = m.tip_angle;
      if (!(m.energy >= least.energy)) least.energy = m.energy;
      if (!(m.moment_ratio >= least.moment_ratio)) least.moment_ratio = m.moment_ratio;
      if (m.force_angle >= least.force_angle) continue;
      least.force_angle = m.force_angle;
      reference_edge_ = static_cast<int>(e);
    }
    out_.force_angle_reference = least.force_angle;
  }

  /// What a measure is given in, in SI: a force-angle over its reference.
  double unit(MarginKind kind) const { return kind == MarginKind::force_angle ? reference_.force_angle : 1; }

  /// Tolerances: the moment to 1e-6 of weight times size, clearance and share alike; the curved measures to
  /// `gap_` (1e-3 unless tightened) of their value at the reference state, or a thousandth of a degree, or
  /// 1e-6 of weight times size, tightened alike, where larger.
  double tolerance(MarginKind kind) const {
    const auto of = [&](double value) { return std::isfinite(value) ? gap_ * std::abs(value) : 0; };
    const double tightened = gap_ / kDefaultGap;
    switch (kind) {
      case MarginKind::moment:
        return 1e-6 * moment_scale_;
      case MarginKind::clearance:
        return 1e-6 * out_.scale;
      case MarginKind::load_side_share:
        return 1e-6;
      case MarginKind::moment_ratio:
        return std::max(of(reference_.moment_ratio), gap_);
      case MarginKind::tip_angle:
        return std::max(of(reference_.tip_angle), tightened * radians(1e-3));
      case MarginKind::energy:
        return std::max(of(reference_.energy), tightened * 1e-6 * moment_scale_);
      case MarginKind::force_angle:
        return std::max(gap_, tightened * 1e-6 * moment_scale_ / reference_.force_angle);
    }
    expects(false, "assess: a measure that is searched");
    return 0;
  }

  Certified<CraneState> search(const LoadCase& load_case, MarginKind kind, const Domain& domain,
                               std::size_t edge, std::optional<double> decide_at, double not_above) {
    if (control_.stop.stop_requested()) throw Interrupted();
    const double one = unit(kind);
    if (decide_at) *decide_at *= one;
    auto found = least_over(prepared_.loads, load_case, domain, axes_[edge], kind,
                            {one * tolerance(kind), decide_at}, one * not_above);
    found.value /= one;
    found.gap /= one;
    out_.evaluations += found.evaluations;
    return found;
  }

  /// The least over edges and domains; every search knows the least so far.
  Least least_of(int load_case, MarginKind kind, const std::vector<Domain>& domains,
                 std::optional<double> decide_at = {}, double not_above = kInfinity) {
    Least least;
    least.value = kInfinity;
    least.gap = 0;
    if (!(unit(kind) > 0)) {
      least.value = -kInfinity;
      least.at = {prepared_.reference, false, load_case, reference_edge_};
      least.reason = kNoReference;
      return least;
    }
    const LoadCase& the_case = prepared_.load_cases[static_cast<std::size_t>(load_case)];
    for (const Domain& domain : domains)
      for (std::size_t e = 0; e < axes_.size(); ++e) {
        const auto found = search(the_case, kind, domain, e, decide_at, std::min(least.value, not_above));
        least.gap = std::isnan(found.gap) ? kUnset : std::max(least.gap, found.gap);  // unproven stays so
        if (!(found.value < least.value)) continue;
        least.value = found.value;
        least.at = {found.at, domain.transit, load_case, static_cast<int>(e)};
        if ((decide_at && least.value < *decide_at) || least.value == -kInfinity) return least;
      }
    if (!decide_at && std::isfinite(least.value) && !(least.gap <= 10 * tolerance(kind)))
      out_.wide.insert(kind);
    return least;
  }

  Worst worst_of(int load_case, const std::vector<Domain>& domains) {
    const Least least = least_of(load_case, MarginKind::moment, domains);
    Worst worst;
    if (!std::isfinite(least.value)) return worst;
    worst.at = least.at;
    worst.gap = least.gap;
    worst.measures = measures_at(least.at, domains);
    return worst;
  }

  Measures measures_at(const At& at, const std::vector<Domain>& domains) const {
    bool payload = true;
    for (const Domain& d : domains)
      if (d.transit == at.transit) payload = d.payload;
    Measures m = measures(parts(prepared_.loads, at.state,
                                prepared_.load_cases[static_cast<std::size_t>(at.load_case)], payload, true),
                          axes_[static_cast<std::size_t>(at.edge)], at.state.slew);
    const double one = unit(MarginKind::force_angle);
    m.force_angle = one > 0 ? m.force_angle / one : kUnset;
    return m;
  }

  CaseResult case_result(int i) {
    CaseResult result;
    result.worst = worst_of(i, prepared_.domains);
    result.ok = true;
    double in_hand = kInfinity;
    for (const auto& [kind, required] : required_margin(prepared_.load_cases[static_cast<std::size_t>(i)])) {
      Least least;
      if (kind == MarginKind::moment)
        least = {result.worst.measures.moment, result.worst.gap, result.worst.at, ""};
      else
        least = least_of(i, kind, prepared_.domains);
      result.ok = decide(i, kind, required, least) && result.ok;
      if (kind == MarginKind::moment) take_moment(least, result.worst);
      const double hand = (least.value - required) / unit_of(kind);
      if (!std::isfinite(least.value)) {  // nothing overturns, or no energy under a release: nothing to hold
        if (least.reason.empty()) least.reason = least.value < 0 ? kPulledUp : "does not exist in this case";
        least.value = kUnset;
      }
      if (hand < in_hand || result.decides.at.load_case < 0) {
        in_hand = hand;
        result.decides_by = kind;
        result.required = required;
        result.decides = least;
      }
    }
    settle_sign(i, result);
    result.cut_out = cut_out(prepared_.load_cases[static_cast<std::size_t>(i)], result.ok);
    return result;
  }

  /// Does the margin hold? Where the gap of what was found leaves it open, the sign is asked, as a verdict
  /// asks it, and what that finds narrows the least.
  bool decide(int load_case, MarginKind kind, double required, Least& least) {
    if (!(least.value >= required)) return false;
    const double below = least.value - least.gap;  // what nothing lies below
    if (below >= required) return true;
    const Least found = least_of(load_case, kind, prepared_.domains, required);
    if (found.value < least.value) {
      least.value = found.value;
      least.at = found.at;
      least.reason = found.reason;
      least.gap = std::max(0.0, found.value - below);
    }
    if (!(found.value >= required) || !std::isfinite(found.gap)) return false;
    least.gap =
        std::isfinite(least.gap) ? std::min(least.gap, least.value - required) : least.value - required;
    return true;
  }

  /// A case that does not hold tips, or keeps too little: where the gap of its least moment hides which, the
  /// sign is asked.
  void settle_sign(int load_case, CaseResult& result) {
    Worst& worst = result.worst;
    Least least{worst.measures.moment, worst.gap, worst.at, ""};
    if (result.ok || !(least.value >= 0)) return;
    decide(load_case, MarginKind::moment, 0, least);
    take_moment(least, worst);
  }
  void take_moment(const Least& least, Worst& worst) const {
    if (!(least.value < worst.measures.moment)) return;
    worst.at = least.at;
    worst.gap = least.gap;
    worst.measures = measures_at(least.at, prepared_.domains);
  }

  /// The pull is halved between what is proven to hold and what is not. A margin that is a sign of a sum of
  /// weights holds for an interval of pulls, so it does for every smaller pull too; of a force-angle the
  /// first crossing is found.
  CutOut cut_out(const LoadCase& load_case, bool holds) {
    CutOut out;
    if (!std::isfinite(load_case.stall)) return out;
    const double g = prepared_.scenario->gravity;
    out.stall = g * load_case.stall_pull;
    out.held = holds;
    if (holds) {
      out.reason = "the stall pull itself is held";
      return out;
    }
    if (!holds_at(load_case, 0)) {
      out.reason = "not held even without any pull";
      return out;
    }
    double lo = 0, hi = load_case.stall_pull;
    while (hi - lo > 1e-6 * load_case.stall_pull) {
      const double middle = lo + (hi - lo) / 2;
      (holds_at(load_case, middle) ? lo : hi) = middle;
    }
    out.setting = g * lo;
    return out;
  }

  bool holds_at(LoadCase load_case, double pull) {
    load_case.stall_pull = pull;
    for (const auto& [kind, required] : required_margin(load_case)) {
      if (!(unit(kind) > 0)) return false;
      for (const Domain& domain : prepared_.domains)
        for (std::size_t e = 0; e < axes_.size(); ++e) {
          const auto found = search(load_case, kind, domain, e, required, kInfinity);
          if (!(found.value >= required) || !std::isfinite(found.gap)) return false;
        }
    }
    return true;
  }

  /// A common measure of what is in hand, to tell which of several margins decides.
  double unit_of(MarginKind kind) const {
    switch (kind) {
      case MarginKind::moment:
        return moment_scale_;
      case MarginKind::clearance:
        return out_.scale;
      case MarginKind::energy:
        return moment_scale_;
      default:
        return 1;
    }
  }

  Least least_of_all(MarginKind kind) {
    Least best;
    best.value = kInfinity;
    best.gap = 0;
    // The states of least moment first: the sign of every measure is the moment's, within no gap.
    for (const CaseResult& result : out_.cases)
      if (result.worst.measures.of(kind) < best.value) {
        best.value = result.worst.measures.of(kind);
        best.at = result.worst.at;
      }
    for (const CaseResult& result : out_.cases)
      if (result.decides_by == kind && result.decides.value < best.value) {
        best.value = result.decides.value;
        best.at = result.decides.at;
      }
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i) {
      const Least least = least_of(static_cast<int>(i), kind, prepared_.domains, {}, best.value);
      best.gap = std::isnan(least.gap) ? kUnset : std::max(best.gap, least.gap);
      if (!(least.value < best.value)) continue;
      best.value = least.value;
      best.at = least.at;
      if (best.value == -kInfinity) break;
    }
    if (std::isfinite(best.value)) return best;
    if (!(unit(kind) > 0))
      best.reason = kNoReference;
    else
      best.reason = best.value < 0                     ? kPulledUp
                    : kind == MarginKind::moment_ratio ? "nothing overturns in any case"
                                                       : "does not exist in any case";
    best.value = best.gap = kUnset;
    return best;
  }

  /// Worst over the operation's states with the payload's reach.
  void at_job() {
    const Scenario& scenario = *prepared_.scenario;
    const Domain& domain = prepared_.operation;
    double job = scenario.payload.reach;
    if (!std::isfinite(job)) job = greatest_reach(domain);
    if (!std::isfinite(job) || job < domain.reach.lo - 1e-9 || job > domain.reach.hi + 1e-9) {
      out_.at_job_reason = "the payload's reach lies outside the operation's";
      return;
    }
    std::vector<Domain> there;  // of a schedule, the boxes that reach so far
    for (Domain d : prepared_.domains) {
      if (d.transit || job < d.reach.lo - 1e-9 || job > d.reach.hi + 1e-9) continue;
      d.reach = {job, job};
      there.push_back(d);
    }
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i) {
      const Worst worst = worst_of(static_cast<int>(i), there);
      if (std::isfinite(worst.measures.moment) && !(worst.measures.moment >= out_.at_job.measures.moment))
        out_.at_job = worst;
    }
    if (!std::isfinite(out_.at_job.measures.moment))
      out_.at_job_reason = "no luff and extension of the operation has the payload's reach";
  }

  /// The operation's greatest reach: its flattest luff, longest extension, and cut.
  double greatest_reach(const Domain& domain) const {
    const Machine& machine = prepared_.loads.machine;
    const double flattest = domain.luff.contains(0) ? 0 : domain.luff.lo;
    const double free = reach(machine.boom, *prepared_.loads.boom, flattest, domain.extension.hi);
    return std::min(free, domain.reach.hi);
  }

  /// Does a case whose margin does not hold tip, or only keep too little? Where what was found does not say,
  /// the moment's sign is asked.
  bool tips(int load_case, MarginKind kind, double required, double found) {
    const bool signed_measure = kind != MarginKind::moment_ratio && kind != MarginKind::energy;
    if (signed_measure && found < 0 && unit(kind) > 0) return true;
    if (signed_measure && required <= 0 && unit(kind) > 0) return false;
    return least_of(load_case, MarginKind::moment, prepared_.domains, 0.0).value < 0;
  }

  void set_outcome() {
    bool ok = true;
    for (const CaseResult& result : out_.cases) {
      ok = ok && result.ok;
      tips_ = tips_ || result.worst.measures.moment < 0;
    }
    out_.outcome = tips_ ? Stability::Outcome::tips
                   : ok  ? Stability::Outcome::stands
                         : Stability::Outcome::short_of_margin;
  }

  const Prepared& prepared_;
  const Control& control_;
  double gap_;
  std::vector<TippingAxis> axes_;
  double moment_scale_ = 0;
  Measures reference_;
  int reference_edge_ = 0;
  bool tips_ = false;
  Stability out_;
};

std::string why_no_support(std::span<const Contact> contacts) {
  std::string names;
  for (const Contact& c : contacts)
    if (!c.supported) names += (names.empty() ? "" : ", ") + c.name;
  if (!names.empty()) return "no ground under " + names;
  return "the contacts lie on one line: nothing stands";
}

}  // namespace

Stability assess(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
                 Question question, const Control& control, double gap) {
  const bool all_supported =
      std::all_of(contacts.begin(), contacts.end(), [](const Contact& c) { return c.supported; });
  const bool has_pose = levelling.X_WC.p.allFinite();
  std::vector<Edge> edges;
  if (all_supported && has_pose) edges = support_polygon(contacts, levelling.X_WC);
  if (edges.empty()) {
    Stability out;
    out.reason = all_supported && !has_pose ? "no pose of the machine was found" : why_no_support(contacts);
    return out;
  }
  Assessment assessment(prepared, levelling, std::move(edges), control, gap);
  if (question == Question::verdict) return assessment.verdict();
  Stability out = assessment.extremes();
  const FootLoads loads = foot_loads(prepared, levelling, contacts);
  out.feet = loads.feet;
  out.lifts_off = loads.lifts_off;
  return out;
}

double force_angle_reference_up_to(MachineLoads loads, double payload_to, const CraneState& reference,
                                   std::span<const TippingAxis> axes) {
  // Moments are linear in the payload, and D atan2(D, H) grows with D and falls with H while D > 0.
  const auto moments = [&](double payload, const TippingAxis& axis) {
    loads.payload = payload;
    Vec2 sum = Vec2::Zero();
    for (const Part& part : reference_parts(loads, reference)) {
      const Vec3 r = part.at(reference.slew) - axis.c;
      sum += part.mass * axis.g * Vec2(r.dot(axis.n), r.dot(axis.v));
    }
    return sum;
  };
  const double from = loads.payload;
  double least = kInfinity;
  for (const TippingAxis& axis : axes) {
    const Vec2 a = moments(from, axis), b = moments(payload_to, axis);
    const double across = std::max(a.x(), b.x()), height = std::min(a.y(), b.y());
    least = std::min(least, across > 0 ? axis.cos_psi * across * std::atan2(across, height) : 0.0);
  }
  return least;
}

double force_angle_reference(const MachineLoads& loads, const CraneState& reference,
                             std::span<const TippingAxis> axes) {
  const auto all = reference_parts(loads, reference);
  double least = kInfinity;
  for (const TippingAxis& axis : axes)
    least = std::min(least, measures(all, axis, reference.slew).force_angle);
  return least;
}

Worst point(const Prepared& prepared, const Levelling& levelling, std::span<const Edge> edges,
            const CraneState& state, bool transit) {
  const Scenario& scenario = *prepared.scenario;
  const double rotated = scenario.criteria.set_error + scenario.criteria.work_tilt;
  bool payload = true;
  for (const Domain& d : prepared.domains)
    if (d.transit == transit) payload = d.payload;
  Worst worst;
  for (std::size_t i = 0; i < prepared.load_cases.size(); ++i) {
    const auto all = parts(prepared.loads, state, prepared.load_cases[i], payload, true);
    for (std::size_t e = 0; e < edges.size(); ++e) {
      const TippingAxis axis = tipping_axis(edges[e], gravity_C(scenario, levelling.X_WC), rotated);
      const Measures m = measures(all, axis, state.slew);
      if (m.moment >= worst.measures.moment) continue;
      worst = {{state, transit, static_cast<int>(i), static_cast<int>(e)}, m, 0};
    }
  }
  return worst;
}

}  // namespace rimstance
