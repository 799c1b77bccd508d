#include "leg_limits.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {

LegLimits::LegLimits(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts,
                     const std::vector<Sector>& sectors)
    : prepared_(prepared),
      sectors_(sectors),
      forces_(prepared, X_WC, contacts),
      legs_(leg_rules(prepared, X_WC, contacts)),
      lifts_(lift_rules(prepared, X_WC, contacts)),
      bounds_(leg_bounds(prepared, X_WC, contacts)) {
  if (contacts.size() == 4) four_.emplace(prepared, X_WC, contacts, sectors);
}

void LegLimits::bound(double ahead, const CurveEnd& end, std::size_t sector, Bounded& out) const {
  const double asked = std::max(out.payload, 2 * kNothing);
  if (!four_) {
    const Found found = most(ahead, end, sectors_[sector], asked);
    if (found.payload < asked) out.offer(found.payload, found.governing);
    return;
  }
  std::vector<FourFeet::First> firsts;
  four_->overloads(ahead, end, sector, asked, firsts);
  for (const FourFeet::First& first : firsts) out.offer(first.payload, first.governing);
}

double LegLimits::held_by(const Rule& rule, double ahead, const CurveEnd& end, const Sector& sector,
                          double most, Governing* by) const {
  const Lever lever(prepared_.loads, rule);
  const Wave tip = lever.tip(ahead, end);
  const Folded boom = lever.boom(ahead, end, end, sector);
  const BoomSetting set = setting_of(prepared_.loads, ahead, end);
  for (const Lever::Corner& corner : lever.corners()) {
    Folded base = lever.lumps(corner, sector);
    base += boom;
    const Held h = lever.held(std::move(base), tip, corner, sector, most);
    if (!(h.payload < most) && !h.without_load) continue;
    most = h.payload;
    if (by)
      *by = {Limit::leg,
             rule.load_case,
             -1,
             rule.foot,
             {h.slew, set.luff, set.extension, corner.travel, corner.line, corner.units},
             h.without_load};
  }
  return most;
}

bool LegLimits::bounds_hold(double ahead, const CurveEnd& end, const Sector& sector, double payload) const {
  if (bounds_.empty()) return false;
  return std::all_of(bounds_.begin(), bounds_.end(), [&](const std::vector<Rule>& foot) {
    return std::any_of(foot.begin(), foot.end(), [&](const Rule& rule) {
      Governing by;
      return held_by(rule, ahead, end, sector, payload, &by) >= payload && !by.without_load;
    });
  });
}

double LegLimits::share_at(const Governing& sample, double payload) const {
  MachineLoads loads = prepared_.loads;
  loads.payload = payload;
  const auto& the_case = prepared_.load_cases[static_cast<std::size_t>(sample.load_case)];
  const auto foot = static_cast<std::size_t>(sample.foot);
  const auto all = parts(loads, sample.at, the_case, prepared_.operation.payload, false);
  return forces_.at(all, sample.at.slew, foot, 1) / prepared_.scenario->machine.outriggers[foot].leg_limit;
}

LegLimits::Load LegLimits::load(const CraneState& tip, const Sector& sector, double payload) const {
  MachineLoads loads = prepared_.loads;
  loads.payload = payload;
  const int steps = std::max(1, static_cast<int>(std::ceil(sector.slew.width() / radians(5) - 1e-9)));
  Load out;
  for (const Rule& rule : legs_) {
    if (rule.foot != legs_.front().foot) continue;  // once per load case; every foot below
    const LoadCase& the_case = prepared_.load_cases[static_cast<std::size_t>(rule.load_case)];
    const Lever lever(loads, rule);
    for (const Lever::Corner& corner : lever.corners()) {
      CraneState state = tip;
      state.travel = corner.travel;
      state.line = corner.line;
      state.units_left = corner.units;
      const auto all = parts(loads, state, the_case, rule.domain.payload, false);
      for (int k = 0; k <= steps; ++k) {
        state.slew = sector.slew.lo + sector.slew.width() * k / steps;
        for (std::size_t f = 0; f < forces_.count(); ++f) {
          const double limit = prepared_.scenario->machine.outriggers[f].leg_limit;
          const double share = forces_.at(all, state.slew, f, 1) / limit;
          if (!(share > out.share)) continue;
          out.share = share;
          out.at.limit = Limit::leg;
          out.at.load_case = rule.load_case;
          out.at.foot = static_cast<int>(f);
          out.at.at = state;
        }
      }
    }
  }
  return out;
}

LegLimits::Found LegLimits::most(double ahead, const CurveEnd& end, const Sector& sector, double most) const {
  Found out{most, {}};
  if (legs_.empty() || bounds_hold(ahead, end, sector, most)) return out;
  for (const Rule& rule : legs_) out.payload = held_by(rule, ahead, end, sector, out.payload, &out.governing);
  for (const Rule& rule : lifts_)
    if (held_by(rule, ahead, end, sector, out.payload, nullptr) < out.payload)
      return sampled(ahead, end, sector, most);
  return out;
}

/// Once a foot lifts: the payload at which the worst sample is at its limit, then the worst sample at that
/// payload, until none is over it. Foot forces grow with the payload.
LegLimits::Found LegLimits::sampled(double ahead, const CurveEnd& end, const Sector& sector,
                                    double most) const {
  const BoomSetting set = setting_of(prepared_.loads, ahead, end);
  CraneState tip;
  tip.luff = set.luff;
  tip.extension = set.extension;
  Found out{most, {}};
  for (Load over = load(tip, sector, most); over.share > 1; over = load(tip, sector, out.payload)) {
    out.governing = over.at;
    out.governing.without_load = share_at(over.at, 0) > 1;
    if (out.governing.without_load) return {0, out.governing};
    double lo = 0, hi = out.payload;
    while (hi - lo > 1e-9 * (1 + hi)) {
      const double middle = lo + (hi - lo) / 2;
      (share_at(over.at, middle) > 1 ? hi : lo) = middle;
    }
    out.payload = lo;
  }
  return out;
}

}  // namespace rimstance
