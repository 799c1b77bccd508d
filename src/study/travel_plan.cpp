#include "travel_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "travel_path.hpp"

namespace rimstance {
namespace {

/// Kept from every end whatever the reserve: at the very end of a window a verdict would be a matter of
/// rounding. Finer than a travel is set [m].
constexpr double kHair = 1e-4;
constexpr int kRounds = 10;

Interval meet(const Interval& a, const Interval& b) { return {std::max(a.lo, b.lo), std::min(a.hi, b.hi)}; }
bool any(const Interval& i) { return i.lo <= i.hi; }
Interval clamped(const Interval& i, const Interval& to) {
  return {std::clamp(i.lo, to.lo, to.hi), std::clamp(i.hi, to.lo, to.hi)};
}

class Planner {
 public:
  Planner(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
          std::vector<TravelColumn> columns, const Control& control)
      : prepared_(prepared),
        levelling_(levelling),
        contacts_(contacts),
        columns_(std::move(columns)),
        control_(control),
        guide_(prepared.loads.machine.guide->travel),
        reserve_(prepared.scenario->criteria.travel_reserve),
        kept_(std::max(reserve_, kHair)) {}

  TravelPlan run() {
    for (int round = 0;; ++round) {
      if (control_.stop.stop_requested()) throw Interrupted();
      build();
      if (!out_.holds) break;
      const std::optional<At> failing = first_failing();
      if (!failing) break;
      out_.holds = false;
      if (!mend(*failing)) break;
      if (round + 1 == kRounds) {
        out_.notes.push_back("Between the stations the schedule is not proven; more reaches may do.");
        break;
      }
    }
    out_.reserve = reserve_;
    note_what_is_missing();
    return std::move(out_);
  }

 private:
  /// The travels a station leaves to the schedule, never none: less the reserve, or the middle of what is
  /// too narrow for it; where nothing of the guide holds, its end nearest to what would.
  Interval allowed(const TravelState& s) const {
    if (!s.has_state || !any(s.free)) return guide_;
    Interval kept{s.free.lo + kept_, s.free.hi - kept_};
    if (!any(kept)) kept = {s.free.middle(), s.free.middle()};
    return clamped(kept, guide_);
  }
  /// Of one column or several: none where they agree on no travel.
  Interval allowed(std::size_t first, std::size_t last, std::size_t station) const {
    Interval all = guide_;
    for (std::size_t c = first; c <= last; ++c) all = meet(all, allowed(columns_[c].stations[station]));
    return all;
  }
  std::size_t stations() const { return columns_[0].stations.size(); }

  /// What is left between each station and the next; none anywhere: no schedule.
  std::optional<std::vector<Interval>> stretches(std::size_t first, std::size_t last) const {
    std::vector<Interval> out;
    Interval before = allowed(first, last, 0);
    if (stations() == 1) out.push_back(before);
    for (std::size_t i = 1; i < stations(); ++i) {
      const Interval here = allowed(first, last, i);
      out.push_back(meet(before, here));
      before = here;
    }
    for (const Interval& i : out)
      if (!any(i)) return std::nullopt;
    return out;
  }

  void build() {
    while (insert_where_windows_part()) {
    }
    out_ = {};
    out_.holds = std::all_of(columns_.begin(), columns_.end(), [](const TravelColumn& c) {
      return std::all_of(c.stations.begin(), c.stations.end(),
                         [](const TravelState& s) { return !s.has_state || s.holds(); });
    });
    double before = kUnset;
    for (std::size_t first = 0; first < columns_.size();) {
      std::size_t last = first;
      std::optional<std::vector<Interval>> all = stretches(first, last);
      while (all && last + 1 < columns_.size()) {
        auto wider = stretches(first, last + 1);
        if (!wider) break;
        all = std::move(wider);
        ++last;
      }
      if (!all) {
        all = bridged(first);
        out_.holds = false;
      }
      add_range(first, last, least_movement(*all, before));
      before = out_.schedule.ranges.back().rows.back().travel;
      first = last + 1;
    }
  }

  /// Where two neighbours share no travel, half way between what each would take.
  std::vector<Interval> bridged(std::size_t column) const {
    std::vector<Interval> out;
    for (std::size_t i = 0; i + 1 < stations(); ++i) {
      const Interval both = meet(allowed(column, column, i), allowed(column, column, i + 1));
      out.push_back(any(both) ? both : Interval{both.middle(), both.middle()});
    }
    return out;
  }

  void add_range(std::size_t first, std::size_t last, const std::vector<double>& travel) {
    const std::vector<TravelState>& at = columns_[first].stations;
    ScheduleRange range;
    range.slew = {columns_[first].windows->slew().lo, columns_[last].windows->slew().hi};
    range.rows.push_back({at.front().reach, travel.front()});
    for (std::size_t i = 1; i < travel.size(); ++i) {
      if (travel[i] == travel[i - 1]) continue;
      range.rows.push_back({at[i].reach, travel[i - 1]});
      range.rows.push_back({at[i].reach, travel[i]});
    }
    if (at.size() > 1) range.rows.push_back({at.back().reach, travel.back()});
    out_.schedule.ranges.push_back(std::move(range));
  }

  /// A station between two that hold but share no travel; true if one was put in.
  bool insert_where_windows_part() {
    for (std::size_t c = 0; c < columns_.size(); ++c)
      for (std::size_t i = 0; i + 1 < stations(); ++i) {
        const TravelState &a = columns_[c].stations[i], &b = columns_[c].stations[i + 1];
        if (!a.holds() || !b.holds() || any(meet(allowed(a), allowed(b)))) continue;
        if (insert((a.reach + b.reach) / 2, 1e-3)) return true;
      }
    return false;
  }

  /// A further station, unless one is nearer than `apart`, or there are many.
  bool insert(double reach, double apart) {
    constexpr std::size_t kMostStations = 2000;
    const auto& known = columns_[0].stations;
    const auto next = std::lower_bound(known.begin(), known.end(), reach,
                                       [](const TravelState& s, double r) { return s.reach < r; });
    if (known.size() >= kMostStations || next == known.begin() || next == known.end()) return false;
    if (next->reach - reach < apart || reach - (next - 1)->reach < apart) return false;
    const auto place = next - known.begin();
    for (TravelColumn& c : columns_)
      c.stations.insert(c.stations.begin() + place, c.windows->at_reach(reach));
    return true;
  }

  /// The first state of the schedule that breaks a case, or a leg's limit while all feet carry.
  std::optional<At> first_failing() {
    Prepared one = prepared_;
    for (const Domain& box : boxes(out_.schedule, prepared_.operation)) {
      one.domains = {box};
      const Stability found = assess(one, levelling_, contacts_, Question::verdict, control_);
      for (std::size_t i = 0; i < found.cases.size(); ++i)
        if (!found.cases[i].ok) {
          At at = found.cases[i].decides.at;
          at.load_case = static_cast<int>(i);
          kind_ = found.cases[i].decides_by;
          required_ = found.cases[i].required;
          return at;
        }
      if (const std::optional<At> at = overloaded_leg(box)) return at;
    }
    return std::nullopt;
  }
  std::optional<At> overloaded_leg(const Domain& box) {
    if (!prepared_.scenario->criteria.foot_limits) return std::nullopt;
    for (const Rule& rule : leg_rules(prepared_, levelling_.X_WC, contacts_, &box)) {
      const auto& load_case = prepared_.load_cases[static_cast<std::size_t>(rule.load_case)];
      const auto found = least_over(prepared_.loads, load_case, box, LinearForm{rule.row, rule.constant},
                                    {1e-9 * rule.delta, -rule.delta});
      if (found.value >= -rule.delta) continue;
      kind_ = MarginKind::moment;
      required_ = 0;
      return At{found.at, false, rule.load_case, -1};
    }
    return std::nullopt;
  }

  /// Another station where the schedule fails, or a little more reserve; false: nothing helps.
  bool mend(const At& at) {
    const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(at.load_case)];
    if (!linear(load_case, kind_, required_)) {
      out_.notes.push_back("Case " + load_case.name +
                           " asks for a margin that no window tells, and the schedule does not keep it.");
      return false;
    }
    const MachineLoads& loads = prepared_.loads;
    const double where = reach(loads.machine.boom, *loads.boom, at.state.luff, at.state.extension);
    if (!insert(where, 1e-3)) kept_ *= 2;
    return true;
  }

  void note_what_is_missing() {
    for (const TravelColumn& c : columns_)
      for (const TravelState& s : c.stations) {
        if (!s.has_state) continue;
        if (!s.holds())
          out_.notes.push_back(missing(s));
        else if (reserve_ > 0 && s.free.hi - s.free.lo < 2 * reserve_)
          out_.notes.push_back(fmt::format("At {} the window is {:.4g} m wide, too narrow for the reserve.",
                                           place(s), s.free.hi - s.free.lo));
      }
  }
  std::string place(const TravelState& s) const {
    std::string text = fmt::format("reach {:.4g} m", s.reach);
    if (columns_.size() > 1)
      text += fmt::format(", slew {:.4g} to {:.4g} deg", degrees(s.slew.lo), degrees(s.slew.hi));
    return text;
  }
  std::string missing(const TravelState& s) const {
    std::string text = "At " + place(s) + " no travel of the guide holds: ";
    if (s.missing > 0)
      text += fmt::format("{:.3g} m more at its {} would do", s.missing,
                          s.free.lo > guide_.hi ? "far end" : "start");
    else
      text += "no other would";
    if (any(s.mass) && std::isfinite(s.mass.hi))
      text += fmt::format("; so would bodies of {:.4g} to {:.4g} kg on it", s.mass.lo, s.mass.hi);
    else if (any(s.mass))
      text += fmt::format("; so would bodies of {:.4g} kg or more on it", s.mass.lo);
    else
      text += ", and no mass on it either";
    return text + ".";
  }

  const Prepared& prepared_;
  const Levelling& levelling_;
  std::span<const Contact> contacts_;
  std::vector<TravelColumn> columns_;
  const Control& control_;
  Interval guide_;
  double reserve_, kept_;
  MarginKind kind_ = MarginKind::moment;
  double required_ = 0;
  TravelPlan out_;
};

}  // namespace

TravelPlan travel_plan(const Prepared& prepared, const Levelling& levelling,
                       std::span<const Contact> contacts, std::vector<TravelColumn> columns,
                       const Control& control) {
  return Planner(prepared, levelling, contacts, std::move(columns), control).run();
}

}  // namespace rimstance
