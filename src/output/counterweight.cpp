#include "rimstance/output/counterweight.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rimstance/output/text.hpp"
#include "rimstance/statics/strength.hpp"

namespace rimstance {
namespace {

constexpr const char* kNoState = "no luff and extension of the operation has this reach";
constexpr const char* kNoTravel = "no travel holds";
constexpr double kSlack = 1e-9;  ///< [m]

bool any(const Interval& i) { return i.lo <= i.hi; }

Value end_value(double x) { return std::isfinite(x) ? Value(x) : Value::null("nothing limits it"); }
Value interval_value(const Interval& i, const char* why_none) {
  if (!any(i)) return Value::null(why_none);
  return Values{end_value(i.lo), end_value(i.hi)};
}

class Describer {
 public:
  Describer(const Counterweight& c, const Standing& s, const Prepared& p, const Document& d,
            const LoadedTerrain& terrain)
      : c_(c), s_(s), p_(p), document_(d), terrain_(terrain), asked_(d.scenario->operation) {}

  Value result() const {
    Members out = result_head("counterweight", document_);
    const Values broken = violations();
    const auto put = [&](const char* key, Value value) { out.emplace_back(key, std::move(value)); };
    put("ok", broken.empty());
    put("violations", broken);
    put("cautions", cautions());
    put("payload_kg", p_.scenario->payload.mass);
    const Guide& guide = *p_.loads.machine.guide;
    put("guide", Members{{"mount", guide.mount == Mount::platform ? "platform" : "chassis"},
                         {"travel_m", Values{guide.travel.lo, guide.travel.hi}},
                         {"mass_kg", c_.bodies}});
    put("operation_travel_m",
        asked_.scheduled ? Value("schedule") : Value(Values{asked_.travel.lo, asked_.travel.hi}));
    Values states;
    for (const TravelState& s : c_.states) states.push_back(state(s));
    put("states", states);
    put("as_set", Members{{"states", std::move(states)}});
    put("transit", transit());
    put("schedule", schedule_rows(c_.plan.schedule));
    put("schedule_holds", c_.plan.holds);
    put("schedule_reserve_m", c_.plan.reserve);
    put("schedule_movement_m", movement_value());
    put("assumed", assumed());
    return out;
  }

 private:
  const std::string& case_name(int i) const { return p_.load_cases[static_cast<std::size_t>(i)].name; }
  const std::string& foot_name(int i) const { return s_.contacts[static_cast<std::size_t>(i)].name; }

  Value limit(const TravelLimit& l) const {
    if (l.load_case < 0) return Value::null("nothing limits it");
    Value edge;
    if (l.edge >= 0) {
      const Edge& e = c_.edges[static_cast<std::size_t>(l.edge)];
      edge = Values{foot_name(e.from), foot_name(e.to)};
    }
    return Members{{"load_case", case_name(l.load_case)},
                   {"edge", std::move(edge)},
                   {"foot", l.foot < 0 ? Value(nullptr) : Value(foot_name(l.foot))},
                   {"slew_deg", degrees(l.at.slew)},
                   {"luff_deg", degrees(l.at.luff)},
                   {"extension_m", l.at.extension},
                   {"line_m", l.at.line},
                   {"units_left", l.at.units_left}};
  }

  const char* why_no_window(const TravelState& s) const {
    return any(s.free) ? "what holds lies beyond the guide" : kNoTravel;
  }
  Value transit_window() const {
    if (!c_.has_transit) return Value::null("the scenario has no transit");
    return interval_value(c_.transit.window, why_no_window(c_.transit));
  }

  Value state(const TravelState& s) const {
    Members out{{"reach_m", s.reach}, {"slew_deg", Values{degrees(s.slew.lo), degrees(s.slew.hi)}}};
    const char* keys[] = {"luff_deg",        "extension_m",    "window_m",
                          "window_free_m",   "needed_mass_kg", "missing_travel_m",
                          "certified_gap_m", "lower",          "upper"};
    if (!s.has_state) {
      for (const char* key : keys) out.emplace_back(key, Value::null(kNoState));
      out.emplace_back("transit_window_m", transit_window());
      return out;
    }
    out.emplace_back("luff_deg", degrees(s.luff));
    out.emplace_back("extension_m", s.extension);
    out.emplace_back("window_m", interval_value(s.window, why_no_window(s)));
    out.emplace_back("window_free_m", interval_value(s.free, kNoTravel));
    out.emplace_back("transit_window_m", transit_window());
    out.emplace_back("needed_mass_kg", interval_value(s.mass, "no mass would do"));
    out.emplace_back("missing_travel_m",
                     std::isfinite(s.missing) ? Value(s.missing) : Value::null("no travel would do"));
    out.emplace_back("certified_gap_m", s.gap);
    out.emplace_back("lower", limit(s.lower));
    out.emplace_back("upper", limit(s.upper));
    out.emplace_back("lifts_off", s.lifts);
    return out;
  }

  Value transit() const {
    if (!c_.has_transit) return Value::null("the scenario has no transit");
    return Members{{"window_m", transit_window()},
                   {"window_free_m", interval_value(c_.transit.free, kNoTravel)},
                   {"lower", limit(c_.transit.lower)},
                   {"upper", limit(c_.transit.upper)}};
  }

  Value movement_value() const {
    Values out;
    for (const ScheduleRange& r : c_.plan.schedule.ranges) out.emplace_back(movement(r));
    return out;
  }

  std::string place(const TravelState& s) const {
    const bool ranges = p_.loads.machine.guide->mount == Mount::chassis;
    std::string text = fmt::format("reach {} m", rounded(s.reach, 4));
    if (ranges)
      text +=
          fmt::format(", slew {} to {} deg", rounded(degrees(s.slew.lo), 4), rounded(degrees(s.slew.hi), 4));
    return text;
  }

  static std::string criterion(const TravelLimit& l, const Prepared& p) {
    if (l.load_case < 0) return "counterweight";
    return l.foot >= 0 ? "leg_limit"
                       : "load_case:" + p.load_cases[static_cast<std::size_t>(l.load_case)].name;
  }
  void break_at(const TravelLimit& l, const std::string& where, double value, double limit,
                Values& out) const {
    out.push_back(Members{{"criterion", criterion(l, p_)},
                          {"where", where},
                          {"value", value},
                          {"limit", std::isfinite(limit) ? Value(limit) : Value::null(kNoTravel)},
                          {"unit", "m"},
                          {"measure", "travel of the counterweight"}});
  }

  /// An empty window, or a travel of the operation outside it, is a capacity below the payload.
  void check(const TravelState& s, Values& out) const {
    if (!s.has_state) return;
    if (!s.holds()) {
      const bool beyond = s.free.lo > c_.guide.hi;
      const double end = beyond || !any(s.free) ? c_.guide.hi : c_.guide.lo;
      break_at(beyond || !any(s.free) ? s.lower : s.upper, place(s) + ": no travel of the guide holds", end,
               any(s.free) ? (beyond ? s.free.lo : s.free.hi) : kUnset, out);
      return;
    }
    if (asked_.scheduled) return;
    if (asked_.travel.lo < s.window.lo - kSlack)
      break_at(s.lower, place(s) + ": the operation's travel", asked_.travel.lo, s.window.lo, out);
    if (asked_.travel.hi > s.window.hi + kSlack)
      break_at(s.upper, place(s) + ": the operation's travel", asked_.travel.hi, s.window.hi, out);
  }

  Values violations() const {
    Values out;
    const auto plain = [&](const char* what, const std::string& where, Value value, Value limit) {
      out.push_back(Members{
          {"criterion", what}, {"where", where}, {"value", std::move(value)}, {"limit", std::move(limit)}});
    };
    if (c_.edges.empty()) plain("support", c_.reason, nullptr, nullptr);
    for (const TravelState& s : c_.states) check(s, out);
    if (asked_.scheduled && out.empty() && !c_.plan.holds)
      plain("schedule", "between the stations", nullptr, nullptr);
    for (const Strength& s : strengths(p_)) {
      if (!(s.asked > s.allowed)) continue;
      const bool hoist = s.of == Strength::Of::line_pull;
      plain(hoist ? "hoist" : "structural", fmt::format("reach {} m", rounded(s.reach, 4)), s.asked,
            s.allowed);
    }
    return out;
  }

  Values cautions() const {
    Values out;
    for (const Issue& caution : document_.cautions) out.emplace_back(to_string(caution));
    for (const std::string& note : terrain_.facts.notes) out.emplace_back(note);
    if (s_.diagnostic)
      out.emplace_back("The machine cannot be levelled here: the numbers are diagnostic, not to work by.");
    std::string names;
    for (const std::string& n : p_.not_evaluated) names += (names.empty() ? "" : ", ") + n;
    if (!names.empty()) out.emplace_back("Not evaluated, so no limit here: " + names + ".");
    if (const std::string curved = curved_cases(); !curved.empty())
      out.emplace_back("No window knows the margins of " + curved + "; `stand` judges them.");
    if (std::any_of(c_.states.begin(), c_.states.end(), [](const TravelState& s) { return s.lifts; }))
      out.emplace_back(
          "A foot lifts in some window: legs' limits are those while all carry; `stand` judges the rest.");
    for (const std::string& note : c_.plan.notes) out.emplace_back(note);
    transit_caution(out);
    out.emplace_back("Pose as set: feet on rigid ground; sinkage and elastic settling are not included.");
    out.emplace_back(
        "Terrestrial criteria are used by analogy. A design aid: real lifts follow the local code, the "
        "maker's "
        "rated capacity and licensed practice.");
    return out;
  }

  std::string curved_cases() const {
    std::string names;
    for (const LoadCase& load_case : p_.load_cases)
      for (const auto& [kind, margin] : load_case.margin) {
        const bool linear = kind == MarginKind::moment || kind == MarginKind::clearance ||
                            kind == MarginKind::load_side_share ||
                            (kind == MarginKind::moment_ratio && margin >= 1) ||
                            (kind == MarginKind::tip_angle && !std::isfinite(load_case.release));
        if (!linear) names += (names.empty() ? "" : ", ") + load_case.name;
      }
    return names;
  }

  /// The transit's own travels, or those of the schedule that it may meet.
  void transit_caution(Values& out) const {
    if (!c_.has_transit || c_.edges.empty()) return;
    const Operation& t = *document_.scenario->transit;
    const Interval asked = t.scheduled ? travels(c_.plan.schedule) : t.travel;
    const Interval& w = c_.transit.window;
    if (any(w) && asked.lo >= w.lo - kSlack && asked.hi <= w.hi + kSlack) return;
    std::string text = fmt::format(
        "The transit's travel, {} to {} m, does not all hold: ", rounded(asked.lo, 4), rounded(asked.hi, 4));
    text += any(w) ? fmt::format("its window is {} to {} m.", rounded(w.lo, 4), rounded(w.hi, 4))
                   : "no travel of the guide does.";
    out.emplace_back(text);
  }

  Values assumed() const {
    Values out;
    for (const std::string& line : document_.assumed) out.emplace_back(line);
    for (const std::string& line : p_.assumed) out.emplace_back(line);
    if (p_.scenario->criteria.travel_reserve == 0)
      out.emplace_back(
          "criteria.travel_reserve: 0 m, a schedule goes to within 0.1 mm of the ends of what holds");
    return out;
  }

  const Counterweight& c_;
  const Standing& s_;
  const Prepared& p_;
  const Document& document_;
  const LoadedTerrain& terrain_;
  const Operation& asked_;
};

// ---- reading the description ---------------------------------------------------------------------

Value or_null(const Value& v, const char* path) {
  const Value* found = find_path(v, path);
  return found ? *found : Value(nullptr);
}
double number(const Value& v, const char* path) {
  const Value found = or_null(v, path);
  const auto* x = std::get_if<double>(&found.is);
  return x ? *x : kUnset;
}
std::string words(const Value& v, const char* path) {
  const Value found = or_null(v, path);
  const auto* text = std::get_if<std::string>(&found.is);
  return text ? one_line(*text) : std::string();
}
const Values& list(const Value& v, const char* key) { return std::get<Values>(v.at(key).is); }

Value edge_text(const Value& v, const std::string& limit) {
  const std::string from = words(v, (limit + ".edge.0").c_str()), to = words(v, (limit + ".edge.1").c_str());
  if (from.empty()) return or_null(v, (limit + ".foot").c_str());
  return from + " to " + to;
}

std::string headline(const Value& v) {
  const bool ok = std::get<bool>(v.at("ok").is), holds = std::get<bool>(v.at("schedule_holds").is);
  const std::string payload = rounded(number(v, "payload_kg")) + " kg";
  const bool scheduled = !words(v, "operation_travel_m").empty();
  if (ok && scheduled)
    return "HOLDS: the payload of " + payload + " is carried everywhere with the schedule below.";
  if (ok)
    return "HOLDS: the payload of " + payload +
           " is carried at every reach listed with the operation's travel.";
  if (!holds)
    return "DOES NOT HOLD: at some reach the guide has no travel that carries the payload of " + payload +
           ".";
  return "DOES NOT HOLD as the operation asks; with the schedule below the payload of " + payload +
         " is carried.";
}

std::string ranged(double lo, double hi, int decimals) {
  const auto end = [&](double x) { return std::isfinite(x) ? fixed(x, decimals) : std::string("any"); };
  return end(lo) + " to " + end(hi);
}
Value range_text(const Value& v, const char* key, int decimals) {
  const std::string path = key;
  if (or_null(v, key).is_null()) return "none";
  return ranged(number(v, (path + ".0").c_str()), number(v, (path + ".1").c_str()), decimals);
}

std::string steps(const Value& v) {
  std::string out = "Schedule, going out (coming in, the other way round):\n";
  const Values& rows = list(v, "schedule");
  const Value* before = nullptr;
  for (const Value& row : rows) {
    const double slew = number(row, "slew_deg.0"), travel = number(row, "travel_m"),
                 reach = number(row, "reach_m");
    if (!before || number(*before, "slew_deg.0") != slew)
      out += fmt::format("  slew {} to {} deg: start with the cabinets at {} m, reach {} m\n", fixed(slew, 1),
                         fixed(number(row, "slew_deg.1"), 1), fixed(travel, 3), fixed(reach, 3));
    else if (words(*before, "first") == "cabinets")
      out += fmt::format("    cabinets to {} m\n", fixed(travel, 3));
    else
      out += fmt::format("    boom to reach {} m\n", fixed(reach, 3));
    before = &row;
  }
  return out + '\n';
}

}  // namespace

Value describe(const Counterweight& c, const Standing& standing, const Prepared& prepared,
               const Document& document, const LoadedTerrain& terrain) {
  return Describer(c, standing, prepared, document, terrain).result();
}

Table travel_windows_table(const Value& v) {
  Table t{{{"reach", "m", 3},
           {"slew from", "deg", 1},
           {"slew to", "deg", 1},
           {"window from", "m", 4},
           {"window to", "m", 4},
           {"free from", "m", 4},
           {"free to", "m", 4},
           {"transit from", "m", 4},
           {"transit to", "m", 4},
           {"needed mass from", "kg", 2},
           {"needed mass to", "kg", 2},
           {"missing travel", "m", 4},
           {"lower end by", "", -1},
           {"edge or foot", "", -1},
           {"at slew", "deg", 1},
           {"upper end by", "", -1},
           {"edge or foot", "", -1},
           {"at slew", "deg", 1}},
          {}};
  for (const Value& s : list(v, "states"))
    t.rows.push_back({or_null(s, "reach_m"), or_null(s, "slew_deg.0"), or_null(s, "slew_deg.1"),
                      or_null(s, "window_m.0"), or_null(s, "window_m.1"), or_null(s, "window_free_m.0"),
                      or_null(s, "window_free_m.1"), or_null(s, "transit_window_m.0"),
                      or_null(s, "transit_window_m.1"), or_null(s, "needed_mass_kg.0"),
                      or_null(s, "needed_mass_kg.1"), or_null(s, "missing_travel_m"),
                      or_null(s, "lower.load_case"), edge_text(s, "lower"), or_null(s, "lower.slew_deg"),
                      or_null(s, "upper.load_case"), edge_text(s, "upper"), or_null(s, "upper.slew_deg")});
  return t;
}

Table schedule_table(const Value& v) {
  Table t{{{"slew from", "deg", 1},
           {"slew to", "deg", 1},
           {"reach", "m", 3},
           {"travel", "m", 4},
           {"moves first", "", -1}},
          {}};
  for (const Value& row : list(v, "schedule"))
    t.rows.push_back({or_null(row, "slew_deg.0"), or_null(row, "slew_deg.1"), or_null(row, "reach_m"),
                      or_null(row, "travel_m"), or_null(row, "first")});
  return t;
}

std::string counterweight_text(const Value& v) {
  std::string out = words(v, "scenario.title") + "\n" + headline(v) + "\n\n";
  out += fmt::format("Guide on the {}, travel {} m, {} kg on it.\n", words(v, "guide.mount"),
                     ranged(number(v, "guide.travel_m.0"), number(v, "guide.travel_m.1"), 3),
                     rounded(number(v, "guide.mass_kg")));
  if (!or_null(v, "transit").is_null())
    out += fmt::format("Transit: travel {} m holds.\n",
                       std::get<std::string>(range_text(v.at("transit"), "window_m", 3).is));
  Table t{{{"reach", "m", 3},
           {"slew", "deg", -1},
           {"window", "m", -1},
           {"needed mass", "kg", -1},
           {"missing", "m", 3},
           {"lower end by", "", -1},
           {"edge or foot", "", -1},
           {"upper end by", "", -1},
           {"edge or foot", "", -1}},
          {}};
  for (const Value& s : list(v, "states"))
    t.rows.push_back({or_null(s, "reach_m"), range_text(s, "slew_deg", 1), range_text(s, "window_m", 3),
                      range_text(s, "needed_mass_kg", 1), or_null(s, "missing_travel_m"),
                      or_null(s, "lower.load_case"), edge_text(s, "lower"), or_null(s, "upper.load_case"),
                      edge_text(s, "upper")});
  out +=
      "\nTravels of the guide that hold at each reach, over its slew, luff, line and units left; masses "
      "with\n"
      "which some travel of the guide would.\n\n";
  out += to_text(t) + "\n";
  out += steps(v) + "Cautions:\n";
  for (const Value& caution : list(v, "cautions"))
    out += "  - " + one_line(std::get<std::string>(caution.is)) + '\n';
  out += "Assumed:\n";
  for (const Value& line : list(v, "assumed"))
    out += "  - " + one_line(std::get<std::string>(line.is)) + '\n';
  return out;
}

}  // namespace rimstance
