#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "rimstance/output/counterweight.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

bool any(const Interval& i) { return i.lo <= i.hi; }

/// States of one range of slew: the one with the narrowest window, none counting as narrowest.
std::vector<TravelState> tightest_range(const Counterweight& c) {
  const TravelState* worst = nullptr;
  const auto room = [](const TravelState& s) { return any(s.window) ? s.window.width() : -1.0; };
  for (const TravelState& s : c.states)
    if (s.has_state && (!worst || room(s) < room(*worst))) worst = &s;
  std::vector<TravelState> out;
  for (const TravelState& s : c.states)
    if (worst && s.has_state && s.slew.lo == worst->slew.lo) out.push_back(s);
  return out;
}

class Drawing {
 public:
  Drawing(const Counterweight& c, const Prepared& p) : c_(c), p_(p), states_(tightest_range(c)) {
    const double room = std::max(0.35 * c.guide.width(), 0.25);
    shown_ = {c.guide.lo - room, c.guide.hi + room};
    if (states_.empty()) return;
    const Interval reach{states_.front().reach, states_.back().reach};
    side_ = std::max(0.08 * reach.width(), 0.3);
    f_.frame = {Vec2(reach.lo - side_, shown_.lo), Vec2(reach.hi + side_, shown_.hi)};
  }

  Figure figure() {
    f_.name = "counterweight";
    f_.title = "Counterweight: " + one_line(p_.scenario->title);
    f_.x_label = "reach of the boom [m]";
    f_.y_label = "travel of the cabinets [m]";
    f_.caption =
        "Travels that hold at each reach in every load case, whatever slew, luff, line and units left. A "
        "design "
        "aid.";
    if (states_.empty()) {
      f_.subtitle = c_.reason.empty() ? "no state of the operation" : c_.reason;
      f_.frame = {Vec2(0, shown_.lo), Vec2(4, shown_.hi)};
      return f_;
    }
    f_.subtitle = fmt::format("travels that hold, slew {} to {} deg", rounded(degrees(states_[0].slew.lo), 4),
                              rounded(degrees(states_[0].slew.hi), 4));
    if (c_.states.size() > states_.size()) f_.subtitle += ": the range with least room";
    windows();
    transit();
    guide();
    schedule();
    limits();
    facts();
    return f_;
  }

 private:
  double in_frame(double travel) const { return std::clamp(travel, shown_.lo, shown_.hi); }
  double left(std::size_t i) const {
    return i == 0 ? states_[0].reach - side_ / 2 : (states_[i - 1].reach + states_[i].reach) / 2;
  }
  double right(std::size_t i) const {
    return i + 1 == states_.size() ? states_[i].reach + side_ / 2
                                   : (states_[i].reach + states_[i + 1].reach) / 2;
  }
  void area(const char* look, const std::vector<Vec2>& ring) { f_.marks.push_back(Area{look, {ring}}); }

  /// The band between two ends over a run of states that all have one.
  template <class Ends>
  bool bands(const char* look, const Ends& ends) {
    bool drawn = false;
    std::vector<Vec2> ring;
    std::vector<Vec2> above;
    const auto close = [&] {
      if (ring.size() >= 2) {
        ring.insert(ring.end(), above.rbegin(), above.rend());
        area(look, ring);
        drawn = true;
      }
      ring.clear();
      above.clear();
    };
    for (const TravelState& s : states_) {
      const Interval e = ends(s);
      if (!any(e)) {
        close();
        continue;
      }
      ring.emplace_back(s.reach, in_frame(e.lo));
      above.emplace_back(s.reach, in_frame(e.hi));
    }
    close();
    return drawn;
  }

  void windows() {
    if (bands("travel-beyond", [](const TravelState& s) { return s.free; }))
      f_.legend.push_back({"travel-beyond", "would hold, beyond the guide"});
    if (bands("travel-window", [](const TravelState& s) { return s.window; }))
      f_.legend.insert(f_.legend.begin(), {"travel-window", "travels of the guide that hold"});
    bool none = false;
    for (std::size_t i = 0; i < states_.size(); ++i) {
      if (states_[i].holds()) continue;
      std::size_t last = i;
      while (last + 1 < states_.size() && !states_[last + 1].holds()) ++last;
      area("travel-none", {{left(i), c_.guide.lo},
                           {right(last), c_.guide.lo},
                           {right(last), c_.guide.hi},
                           {left(i), c_.guide.hi}});
      f_.marks.push_back(Note{"label-strong", {(left(i) + right(last)) / 2, c_.guide.hi}, "nothing holds"});
      none = true;
      i = last;
    }
    if (none) f_.legend.push_back({"travel-none", "no travel of the guide holds"});
  }

  void transit() {
    if (!c_.has_transit || !any(c_.transit.free)) return;
    bool drawn = false;
    for (const double travel : {c_.transit.free.lo, c_.transit.free.hi}) {
      if (!(travel > shown_.lo && travel < shown_.hi)) continue;
      f_.marks.push_back(
          Line{"transit-window", {{f_.frame.lo.x(), travel}, {f_.frame.hi.x(), travel}}, false, ""});
      drawn = true;
    }
    if (drawn) f_.legend.push_back({"transit-window", "ends of what holds in transit"});
    const Interval& w = c_.transit.window;
    f_.facts.push_back(
        {"transit", any(w) ? fixed(w.lo, 3) + " to " + fixed(w.hi, 3) + " m" : "no travel", !any(w)});
  }

  void guide() {
    const double a = f_.frame.lo.x(), b = f_.frame.hi.x();
    for (const double travel : {c_.guide.lo, c_.guide.hi})
      f_.marks.push_back(Line{"guide-end", {{a, travel}, {b, travel}}, false, ""});
    f_.marks.push_back(Note{"label", {a + side_ / 4, c_.guide.hi}, "end of the guide"});
    f_.marks.push_back(Note{"label", {a + side_ / 4, c_.guide.lo}, "start of the guide"});
    f_.legend.push_back({"guide-end", "ends of the guide"});
  }

  void schedule() {
    for (const ScheduleRange& range : c_.plan.schedule.ranges) {
      if (states_[0].slew.middle() < range.slew.lo || states_[0].slew.middle() > range.slew.hi) continue;
      std::vector<Vec2> along;
      for (const ScheduleRow& row : range.rows) along.emplace_back(row.reach, row.travel);
      if (along.size() == 1) along.push_back(along[0] + Vec2(1e-3, 0));
      f_.marks.push_back(Line{c_.plan.holds ? "schedule" : "schedule-best", along, true, ""});
      notes_along(range);
      f_.legend.push_back({c_.plan.holds ? "schedule" : "schedule-best",
                           c_.plan.holds ? "schedule, going out: boom along, cabinets up or down"
                                         : "the nearest to a schedule: it does not hold"});
      return;
    }
  }
  void notes_along(const ScheduleRange& range) {
    int moves = 0;
    for (std::size_t i = 0; i + 1 < range.rows.size(); ++i) {
      const ScheduleRow &a = range.rows[i], &b = range.rows[i + 1];
      if (first_after(range.rows, i) != Mover::cabinets || ++moves > 8) continue;
      f_.marks.push_back(Note{"label",
                              {a.reach, (a.travel + b.travel) / 2},
                              fmt::format("cabinets {} to {} m", fixed(a.travel, 2), fixed(b.travel, 2))});
    }
    const ScheduleRow& first = range.rows.front();
    f_.marks.push_back(Note{"label",
                            {first.reach + side_, first.travel},
                            moves == 0 ? fmt::format("cabinets at {} m all the way", fixed(first.travel, 2))
                                       : fmt::format("start at {} m", fixed(first.travel, 2))});
  }

  std::string words_of(const TravelLimit& l) const {
    if (l.load_case < 0) return {};
    std::string out = one_line(p_.load_cases[static_cast<std::size_t>(l.load_case)].name);
    if (l.foot >= 0)
      return out + ", leg " + p_.scenario->machine.outriggers[static_cast<std::size_t>(l.foot)].name;
    const Edge& e = c_.edges[static_cast<std::size_t>(l.edge)];
    const auto name = [&](int i) {
      return p_.scenario->machine.outriggers[static_cast<std::size_t>(i)].name;
    };
    return out + "\nover " + one_line(name(e.from)) + " to " + one_line(name(e.to));
  }

  /// Which case ends the window, where it begins to and the end is to be seen.
  void limits() {
    for (const bool upper : {false, true}) {
      std::string before;
      for (std::size_t i = 0; i < states_.size(); ++i) {
        const TravelState& s = states_[i];
        const double end = upper ? s.free.hi : s.free.lo;
        if (!any(s.free) || !(end > shown_.lo && end < shown_.hi)) continue;
        const std::string now = words_of(upper ? s.upper : s.lower);
        if (now != before) {
          std::size_t last = i;
          const auto same = [&](const TravelState& o) { return words_of(upper ? o.upper : o.lower) == now; };
          while (last + 1 < states_.size() && same(states_[last + 1])) ++last;
          const TravelState& middle = states_[(i + last) / 2];
          const double at = in_frame(upper ? middle.free.hi : middle.free.lo);
          f_.marks.push_back(Note{"label", {middle.reach, at}, now});
        }
        before = now;
      }
    }
  }

  void facts() {
    f_.facts.push_back({"payload", rounded(p_.scenario->payload.mass) + " kg", false});
    f_.facts.push_back({"on the guide", rounded(c_.bodies) + " kg", false});
    const auto none =
        std::count_if(states_.begin(), states_.end(), [](const TravelState& s) { return !s.holds(); });
    if (none > 0)
      f_.facts.push_back({"reaches without a travel", fmt::format("{} of {}", none, states_.size()), true});
    f_.facts.push_back({"schedule", c_.plan.holds ? "holds" : "none that holds", !c_.plan.holds});
    for (const ScheduleRange& range : c_.plan.schedule.ranges)
      if (range.slew.contains(states_[0].slew.middle())) {
        f_.facts.push_back({"cabinets move in all", fixed(movement(range), 3) + " m", false});
        break;
      }
    f_.facts.push_back({"reserve kept", fixed(c_.plan.reserve, 3) + " m", false});
  }

  const Counterweight& c_;
  const Prepared& p_;
  std::vector<TravelState> states_;
  Interval shown_;  ///< travels [m]
  double side_ = 0.3;
  Figure f_;
};

}  // namespace

Figure counterweight_figure(const Counterweight& c, const Prepared& prepared) {
  return Drawing(c, prepared).figure();
}

}  // namespace rimstance
