#include "rimstance/study/remedies.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "rimstance/model/fields.hpp"
#include "rimstance/statics/curves.hpp"

namespace rimstance {
namespace {

constexpr int kDirections = 16, kKinds = 7;

/// Effort after which the search gives up: some ten times what a machine takes whose margins are easily
/// proven.
constexpr std::int64_t kMostEvaluations = 3'000'000;

/// A value in the unit it is written in: nine decimals, none that say nothing.
std::string decimal(double x) {
  std::string text = fmt::format("{:.9f}", x);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}
std::string list(double a, double b) { return "\"[" + decimal(a) + ", " + decimal(b) + "] m\""; }
std::string one_or_interval(const Interval& i) {
  return i.lo == i.hi ? decimal(i.lo) + " m" : list(i.lo, i.hi);
}

/// The scenario with a setting read as the loader would read it.
std::shared_ptr<const Scenario> with_setting(std::shared_ptr<const Scenario> scenario, const Setting& s) {
  const bool quoted = s.value.front() == '"';
  const std::string text = quoted ? s.value.substr(1, s.value.size() - 2) : s.value;
  const bool interval = quoted && s.path != "spot.at";
  for (const std::string& path : paths(*scenario, s.path + (quoted ? interval ? ".lo" : ".x" : ""))) {
    const Dimension dimension = facts(*scenario, path).dimension;
    if (!quoted) {
      scenario = with(*scenario, path, *read_quantity(text, dimension).value);
      continue;
    }
    const std::vector<double> two = *read_quantities(text, dimension).value;
    const std::string stem = path.substr(0, path.rfind('.'));
    scenario = with(*scenario, path, two[0]);
    scenario = with(*scenario, stem + (interval ? ".hi" : ".y"), two[1]);
  }
  return scenario;
}

/// Whole numbers of a fine step, from 0 outwards; what works only between two coarse steps is not found.
struct Outwards {
  long least = 0, most = 0;  ///< `least` <= 0 <= `most`
  long coarse = 1;           ///< fine steps in a coarse one
};
std::optional<long> smallest(const Outwards& range, const std::function<bool(long)>& works) {
  const long widest = std::max(-range.least, range.most);
  for (long before = 0; before < widest; before += range.coarse)
    for (const long sign : {1L, -1L}) {
      const long end = sign > 0 ? range.most : -range.least;
      if (before >= end) continue;
      long fails = before, holds = std::min(before + range.coarse, end);
      if (!works(sign * holds)) continue;
      while (holds - fails > 1) {
        const long middle = fails + (holds - fails) / 2;
        (works(sign * middle) ? holds : fails) = middle;
      }
      return sign * holds;
    }
  return {};
}

/// Fine steps that fit into a range of changes, with room for rounding.
long steps_in(double range, double fine) { return static_cast<long>(std::floor(range / fine + 1e-6)); }

/// Criteria of how the machine is set down, and of what it is strong enough for.
bool of_pose(const Violation& v) {
  for (const char* name :
       {"tilt", "stroke", "stroke_left", "wheel_clearance", "belly_clearance", "support", "pad_tilt"})
    if (v.criterion == name) return true;
  return false;
}
bool of_strength(const Violation& v) { return v.criterion == "structural" || v.criterion == "hoist"; }
bool of_levelling(const Violation& v) { return of_pose(v) && v.criterion != "pad_tilt"; }

/// The scenario with the spot and the splay that were asked, which need not be its own.
std::shared_ptr<const Scenario> as_asked(const Prepared& prepared, const Standing& standing) {
  auto out = std::make_shared<Scenario>(*prepared.scenario);
  out->spot = standing.spot;
  for (std::size_t i = 0; i < prepared.splay.size(); ++i)
    out->machine.outriggers[i].splay = prepared.splay[i];
  return out;
}

class Search {
 public:
  Search(const Prepared& prepared, const Terrain& terrain, const Standing& standing, const Control& control)
      : prepared_(prepared),
        scenario_(as_asked(prepared, standing)),
        machine_(scenario_->machine),
        terrain_(terrain),
        standing_(standing),
        control_(control) {
    for (const FootLoad& foot : standing.stability.feet) doubtful_.push_back(foot.greatest_at);
  }

  std::vector<Remedy> run() {
    for (int k = 0; k < kKinds; ++k) {
      const auto change = static_cast<Change>(k);
      share_ = k / double(kKinds);
      Remedy found = helps(change) ? of(change) : Remedy{change, kUnset, {}, false, kNoMatter};
      const bool gave_up = spent_ > kMostEvaluations;
      if (!found.settings.empty()) verify(found);
      if (gave_up && found.settings.empty() && helps(change))
        found.remark = "not found before the search gave up";
      if (gave_up && found.verified && found.remark.empty()) found.remark = "a smaller change may do";
      if (found.verified && prepared_.schedule && found.remark.empty())
        found.remark = "with the travel's schedule kept as it is";
      if (found.settings.empty()) levelled_at_least(found);
      out_.push_back(std::move(found));
    }
    return std::move(out_);
  }

 private:
  static constexpr const char* kNoMatter = "what fails does not depend on it";

  bool any(bool (*is)(const Violation&)) const {
    return std::any_of(standing_.violations.begin(), standing_.violations.end(), is);
  }
  bool helps(Change change) const {
    switch (change) {
      case Change::yaw:
      case Change::position:
      case Change::splay:
        return !any(of_strength);
      case Change::stroke:
        return !any(of_strength) && any(of_levelling);
      case Change::travel:
        return !any(of_strength) && !any(of_pose);
      case Change::payload:
      case Change::reach:
        return !any(of_pose);
    }
    return false;
  }

  Remedy of(Change change) const {
    switch (change) {
      case Change::yaw:
        return yaw();
      case Change::position:
        return position();
      case Change::splay:
        return splay();
      case Change::stroke:
        return stroke();
      case Change::travel:
        return travel();
      case Change::payload:
        return payload();
      case Change::reach:
        return reach();
    }
    return {};
  }

  static Remedy none(Change change, std::string why) { return {change, kUnset, {}, false, std::move(why)}; }

  std::shared_ptr<const Scenario> changed_by(const std::vector<Setting>& settings) const {
    std::shared_ptr<const Scenario> changed = scenario_;
    for (const Setting& s : settings) changed = with_setting(changed, s);
    return changed;
  }

  /// Do all criteria hold with the settings? A value that the scenario refuses does not help.
  bool works(const std::vector<Setting>& settings) const {
    if (control_.stop.stop_requested()) throw Interrupted();
    if (control_.progress) control_.progress(share_, "looking for ways out");
    if (spent_ > kMostEvaluations) return false;
    const bool only_spot = settings.front().path.starts_with("spot.");
    try {
      const auto changed = changed_by(settings);
      const Verdict found =
          verdict(only_spot ? prepared_ : prepared(changed), terrain_, changed->spot, control_, doubtful_);
      spent_ += found.evaluations;
      return found.holds;
    } catch (const InputError&) {
      return false;
    }
  }

  /// The smallest step at which what `write` writes works.
  Remedy found(Change change, double fine, const Outwards& range,
               const std::function<std::vector<Setting>(double)>& write, std::string why_none) const {
    const auto step = smallest(range, [&](long n) { return works(write(static_cast<double>(n) * fine)); });
    if (!step) return none(change, std::move(why_none));
    const double by = static_cast<double>(*step) * fine;
    return {change, by, write(by), false, ""};
  }

  Prepared prepared(std::shared_ptr<const Scenario> scenario) const {
    return prepare(std::move(scenario), {}, prepared_.schedule ? &*prepared_.schedule : nullptr);
  }

  Remedy yaw() const {
    const double now = degrees(wrapped(scenario_->spot.yaw));
    Remedy out = found(
        Change::yaw, 0.01, {-1500, 1500, 50},
        [&](double by) {
          const double yaw = now + by;
          return std::vector<Setting>{{path_of(Change::yaw), decimal(yaw) + " deg"}};
        },
        "not within 15 deg either way");
    out.by = radians(out.by);
    return out;
  }

  /// All directions at one distance before the next distance; the nearest of those that work there.
  Remedy position() const {
    const auto at = [&](int direction, long millimetres) -> std::vector<Setting> {
      const double a = 2 * kPi * direction / kDirections, r = static_cast<double>(millimetres) / 1000;
      const Vec2 p = scenario_->spot.at + r * Vec2(std::cos(a), std::sin(a));
      return {{path_of(Change::position),
               list(std::round(p.x() * 1000) / 1000, std::round(p.y() * 1000) / 1000)}};
    };
    for (long ring = 0; ring < 2000; ring += 100) {
      std::optional<long> nearest;
      int towards = 0;
      for (int direction = 0; direction < kDirections; ++direction) {
        const long most = nearest ? *nearest - 1 : ring + 100;
        const auto to =
            smallest({0, most - ring, most - ring}, [&](long n) { return works(at(direction, ring + n)); });
        if (!to) continue;
        nearest = ring + *to;
        towards = direction;
      }
      if (nearest)
        return {Change::position, static_cast<double>(*nearest) / 1000, at(towards, *nearest), false, ""};
    }
    return none(Change::position, "not within 2 m, looked for in 16 directions");
  }

  /// One setting for all outriggers where they are alike, else one each.
  template <class Write>
  std::vector<Setting> of_outriggers(Change change, const Write& write) const {
    std::vector<Setting> out;
    const std::string suffix = change == Change::stroke ? ".lo" : "";
    for (const std::string& path : paths(*scenario_, path_of(change) + suffix))
      out.push_back({path.substr(0, path.size() - suffix.size()), write(machine_.outriggers[out.size()])});
    const bool alike =
        std::all_of(out.begin(), out.end(), [&](const Setting& s) { return s.value == out[0].value; });
    if (alike) return {{path_of(change), out[0].value}};
    return out;
  }

  Remedy splay() const {
    double least = -kInfinity, most = kInfinity;
    for (const Outrigger& o : machine_.outriggers) {
      least = std::max(least, degrees(o.splay_range.lo - o.splay));
      most = std::min(most, degrees(o.splay_range.hi - o.splay));
    }
    Remedy out = found(
        Change::splay, 0.01,
        {-steps_in(std::max(0.0, -least), 0.01), steps_in(std::max(0.0, most), 0.01), 50},
        [&](double by) {
          return of_outriggers(Change::splay,
                               [&](const Outrigger& o) { return decimal(degrees(o.splay) + by) + " deg"; });
        },
        "not within the splay ranges, all outriggers alike");
    out.by = radians(out.by);
    return out;
  }

  Remedy stroke() const {
    return found(
        Change::stroke, 0.001, {0, 1000, 10},
        [&](double by) {
          return of_outriggers(Change::stroke,
                               [&](const Outrigger& o) { return list(o.stroke.lo, o.stroke.hi + by); });
        },
        "not with up to 1 m more on every leg");
  }

  Remedy travel() const {
    const Operation& operation = scenario_->operation;
    if (!machine_.guide) return none(Change::travel, "the machine has no guide");
    if (operation.scheduled) return none(Change::travel, "the travel follows a schedule");
    const Interval& range = machine_.guide->travel;
    const double less = std::max(0.0, operation.travel.lo - range.lo),
                 more = std::max(0.0, range.hi - operation.travel.hi);
    return found(
        Change::travel, 0.001, {-steps_in(less, 0.001), steps_in(more, 0.001), 10},
        [&](double by) {
          const Interval shifted{operation.travel.lo + by, operation.travel.hi + by};
          return std::vector<Setting>{{path_of(Change::travel), one_or_interval(shifted)}};
        },
        "not within the guide's range");
  }

  Remedy payload() const {
    const double now = scenario_->payload.mass;
    const double fine = std::min(0.01, std::pow(10, std::floor(std::log10(now)) - 3));
    const long steps = steps_in(now, fine) - 1;  // some of it is left
    return found(
        Change::payload, fine, {-steps, 0, std::max(1L, steps / 40)},
        [&](double by) {
          return std::vector<Setting>{{path_of(Change::payload), decimal(now + by) + " kg"}};
        },
        "not with any smaller one");
  }

  /// The greatest reach asked, cut; never below the least that the operation has.
  Remedy reach() const {
    const Interval all = reaches(prepared_.loads, prepared_.operation);
    const double least = std::max(0.0, scenario_->operation.reach.lo);
    const long steps = steps_in(all.width(), 0.001);
    Remedy out = found(
        Change::reach, 0.001, {-steps, 0, std::max(1L, steps / 40)},
        [&](double by) {
          return std::vector<Setting>{{path_of(Change::reach), list(least, all.hi + by)}};
        },
        "not at any smaller one");
    const double job = scenario_->payload.reach;
    if (all.hi + out.by < job) out.remark = fmt::format("short of the payload's reach of {} m", decimal(job));
    return out;
  }

  /// Everything once more, in full, from the settings as they are written.
  void verify(Remedy& remedy) const {
    const auto changed = changed_by(remedy.settings);
    remedy.verified = stand(prepared(changed), terrain_, changed->spot, Question::extremes, control_).ok();
    if (!remedy.verified) remedy = none(remedy.change, "what seemed to help does not stand a closer look");
  }

  bool levels(const std::vector<Setting>& settings) const {
    try {
      const auto changed = changed_by(settings);
      const Standing there = stand(prepared(changed), terrain_, changed->spot, Question::verdict, control_);
      return there.levelling.outcome == Levelling::Outcome::level;
    } catch (const InputError&) {
      return false;
    }
  }

  /// What the levelling found, where nothing was found that makes all criteria hold.
  void levelled_at_least(Remedy& remedy) const {
    for (const WayOut& way : standing_.ways_out) {
      const bool turn = way.kind == WayOut::Kind::yaw;
      if (remedy.change != (turn ? Change::yaw : Change::splay)) continue;
      const double by = std::copysign(std::ceil(std::abs(degrees(way.value)) * 100) / 100, way.value);
      const auto opened = [&](const Outrigger& o) { return decimal(degrees(o.splay) + by) + " deg"; };
      std::vector<Setting> settings{
          {path_of(Change::yaw), decimal(degrees(wrapped(scenario_->spot.yaw)) + by) + " deg"}};
      if (!turn) settings = of_outriggers(Change::splay, opened);
      if (levels(settings))
        remedy = {remedy.change, radians(by), settings, false, "levels there, but not every criterion holds"};
    }
  }

  const Prepared& prepared_;
  std::shared_ptr<const Scenario> scenario_;
  const Machine& machine_;
  const Terrain& terrain_;
  const Standing& standing_;
  const Control& control_;
  std::vector<At> doubtful_;  ///< where the legs carry most
  std::vector<Remedy> out_;
  double share_ = 0;                ///< done
  mutable std::int64_t spent_ = 0;  ///< evaluations
};

}  // namespace

const char* path_of(Change change) {
  switch (change) {
    case Change::yaw:
      return "spot.yaw";
    case Change::position:
      return "spot.at";
    case Change::splay:
      return "machine.outriggers.*.splay";
    case Change::stroke:
      return "machine.outriggers.*.stroke";
    case Change::travel:
      return "operation.counterweight";
    case Change::payload:
      return "payload.mass";
    case Change::reach:
      return "operation.reach";
  }
  return "";
}

std::vector<Remedy> remedies(const Prepared& prepared, const Terrain& terrain, const Standing& standing,
                             const Control& control) {
  if (standing.ok()) return {};
  return Search(prepared, terrain, standing, control).run();
}

}  // namespace rimstance
