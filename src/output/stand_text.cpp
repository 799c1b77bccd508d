#include <fmt/format.h>

#include <cmath>

#include "rimstance/base/words.hpp"
#include "rimstance/output/part_loads.hpp"
#include "rimstance/output/stand.hpp"
#include "rimstance/output/table.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

double number(const Value* v) {
  if (!v) return kUnset;
  if (const double* d = std::get_if<double>(&v->is)) return *d;
  if (const auto* i = std::get_if<std::int64_t>(&v->is)) return static_cast<double>(*i);
  return kUnset;
}
double number(const Value& v, const char* path) { return number(find_path(v, path)); }

std::string words(const Value& v, const char* path) {
  const Value* found = find_path(v, path);
  const auto* text = found ? std::get_if<std::string>(&found->is) : nullptr;
  return text ? one_line(*text) : std::string();
}

const Values& list(const Value& v, const char* path) {
  static const Values none;
  const Value* found = find_path(v, path);
  const auto* values = found ? std::get_if<Values>(&found->is) : nullptr;
  return values ? *values : none;
}

bool truth(const Value& v, const char* path) {
  const Value* found = find_path(v, path);
  const bool* b = found ? std::get_if<bool>(&found->is) : nullptr;
  return b && *b;
}

std::string headline(const Value& r) {
  const std::string outcome = words(r, "outcome");
  if (outcome == "stands")
    return truth(r, "ok") ? "STANDS: every criterion that was evaluated holds."
                          : "NOT ACCEPTED: held down, but a criterion does not hold.";
  if (outcome == "short of margin")
    return "SHORT OF MARGIN: held down, but a load case keeps less than it must.";
  if (outcome == "tips") return "TIPS: the restoring moment is negative somewhere in the envelope.";
  if (outcome == "no pose") return "NO POSE: the machine cannot be set down here.";
  return "NO SUPPORT: the machine cannot stand here.";
}

/// Criteria that a value must stay below; all others are margins to keep.
bool is_upper_limit(const std::string& criterion) {
  for (const char* upper : {"tilt", "pad_tilt", "leg_limit", "structural", "hoist"})
    if (criterion == upper) return true;
  return false;
}

std::string violations(const Value& r) {
  std::string out;
  for (const Value& v : list(r, "violations")) {
    out += "  " + words(v, "criterion") + ": " + words(v, "where");
    const double value = number(v, "value"), limit = number(v, "limit");
    const std::string unit = words(v, "unit");
    const auto shown = [&](double x) { return unit == "m" ? fixed(x, 4) : rounded(x); };
    if (std::isfinite(value))
      out += fmt::format(", {}{}{} {}", words(v, "measure"), words(v, "measure").empty() ? "" : " ",
                         shown(value), unit);
    else if (!words(v, "measure").empty())
      out += ", " + words(v, "measure") + " does not exist";
    while (out.back() == ' ') out.pop_back();
    if (std::isfinite(limit))
      out += fmt::format(", must be {} {} {}", is_upper_limit(words(v, "criterion")) ? "at most" : "at least",
                         shown(limit), unit);
    while (!out.empty() && out.back() == ' ') out.pop_back();
    out += "\n";
  }
  return out.empty() ? out : "Does not hold\n" + out + "\n";
}

/// A change and what it takes to make it.
std::string change(const Value& w) {
  std::string by = "change", set;
  for (const auto& [key, unit] : {std::pair("by_deg", "deg"), {"by_m", "m"}, {"by_kg", "kg"}})
    if (const double x = number(w, key); std::isfinite(x))
      by = fmt::format("{} by {} {}", words(w, "change"), rounded(x), unit);
  for (const Value& v : list(w, "set"))
    set += fmt::format(" --set '{}'", one_line(std::get<std::string>(v.is)));
  const std::string remark = words(w, "remark");
  return by + (remark.empty() ? "" : ", " + remark) + ":" + set;
}

std::string ways_out(const Value& r) {
  std::string holds, levels, nothing;
  for (const Value& w : list(r, "ways_out"))
    (truth(w, "verified") ? holds : levels) += "  " + change(w) + "\n";
  for (const Value& w : list(r, "no_way_out"))
    nothing += fmt::format("  by {}: {}\n", words(w, "change"), words(w, "reason"));
  std::string out;
  if (!holds.empty())
    out += "Ways out: with one of these, and no other change, every criterion holds\n" + holds;
  if (!levels.empty()) out += "Not enough alone\n" + levels;
  if (!nothing.empty()) out += "No way out\n" + nothing;
  return out.empty() ? out : out + "\n";
}

std::string edge(const Value& v) {
  const Values& names = list(v, "edge");
  if (names.size() != 2) return "-";
  return fmt::format("{} to {}", std::get<std::string>(names[0].is), std::get<std::string>(names[1].is));
}

std::string state(const Value& v) {
  return fmt::format(
      "slew {} deg, luff {} deg, extension {} m (reach {} m), travel {} m, line {} m, {} left{}",
      fixed(number(v, "slew_deg"), 1), fixed(number(v, "luff_deg"), 1), fixed(number(v, "extension_m"), 2),
      fixed(number(v, "reach_m"), 2), fixed(number(v, "travel_m"), 2), fixed(number(v, "line_m"), 1),
      counted(static_cast<std::uint64_t>(number(v, "units_left")), "unit"),
      truth(v, "transit") ? ", in transit" : "");
}

std::string worst(const Value& r, const char* key, const std::string& title) {
  const Value* found = find_path(r, key);
  if (!found || found->is_null())
    return title + ": none" + (found && !found->reason.empty() ? " (" + found->reason + ")" : "") + "\n\n";
  const Value& w = *found;
  std::string out = fmt::format("{}: {} N m over edge {}, case {}\n  {}\n", title,
                                rounded(number(w, "moment_Nm")), edge(w), words(w, "load_case"), state(w));
  const double energy = number(w, "energy_J"), gap = number(w, "certified_gap_Nm");
  out += fmt::format(
      "  clearance {} m, moment ratio {}, tip angle {} deg{}; {}\n\n", fixed(number(w, "clearance_m"), 3),
      rounded(number(w, "moment_ratio")), fixed(number(w, "tip_angle_deg"), 2),
      std::isfinite(energy) ? fmt::format(", energy {} J", rounded(energy)) : "",
      std::isfinite(gap) ? fmt::format("certified to {} N m", rounded(gap, 2)) : "not certified");
  return out;
}

std::string cases(const Value& r) {
  Table table{{{"load case", ""},
               {"holds", ""},
               {"decided by", ""},
               {"least", ""},
               {"required", ""},
               {"edge", ""},
               {"slew", "deg", 1},
               {"luff", "deg", 1},
               {"reach", "m", 2},
               {"units", "", 0},
               {"transit", ""}},
              {}};
  for (const Value& c : list(r, "load_cases")) {
    const Value* d = find_path(c, "decides");
    const auto of = [&](const char* path) { return d ? Value(number(*d, path)) : Value(nullptr); };
    table.rows.push_back({words(c, "name"), truth(c, "ok") ? "yes" : "NO", d ? words(*d, "by") : "",
                          of("value"), of("required"), d ? edge(*d) : "-", of("slew_deg"), of("luff_deg"),
                          of("reach_m"), of("units_left"), d && truth(*d, "transit") ? "yes" : ""});
  }
  return to_text(table) + "\n";
}

/// The setting of the hoist's cut-out that holds, where its stall does not.
std::string cut_out(const Value& r) {
  const double stall = number(r, "hoist.stall_pull_N"), setting = number(r, "hoist.cut_out_N");
  if (!std::isfinite(setting)) return {};
  return fmt::format(
      "Snag: the hoist stalls at {} N, which is not held; its overload cut-out must be set to at most {} "
      "N\n\n",
      rounded(stall), rounded(setting));
}

std::string feet(const Value& r) {
  Table table{{{"foot", ""},
               {"stroke", "m", 4},
               {"in hand", "m", 3},
               {"missing", "m", 3},
               {"ground slope", "deg", 1},
               {"greatest", "N", 0},
               {"least", "N", 0},
               {"contact x", "m", 3},
               {"y", "m", 3},
               {"z", "m", 3},
               {"", ""}},
              {}};
  for (const Value& f : list(r, "feet")) {
    const auto of = [&](const char* path) { return Value(number(f, path)); };
    table.rows.push_back({words(f, "name"), of("stroke_m"), of("stroke_left_m"), of("stroke_missing_m"),
                          of("ground_slope_deg"), of("reaction_max_N"), of("reaction_min_N"),
                          of("contact_m.0"), of("contact_m.1"), of("contact_m.2"), words(f, "reason")});
  }
  return to_text(table) + "\n";
}

std::string levelling(const Value& r) {
  std::string out = fmt::format("Levelling: {}", words(r, "levelling.outcome"));
  const double tilt = number(r, "pose.tilt_deg");
  if (std::isfinite(tilt))
    out +=
        fmt::format(", chassis origin at z = {} m, tilt {} deg (pitch {}, roll {}), yaw {} deg",
                    fixed(number(r, "pose.at_m.2"), 3), fixed(tilt, 3), fixed(number(r, "pose.pitch_deg"), 3),
                    fixed(number(r, "pose.roll_deg"), 3), fixed(number(r, "pose.yaw_deg"), 1));
  out += "\n";
  const double lo = number(r, "levelling.height_interval_m.0"),
               hi = number(r, "levelling.height_interval_m.1");
  if (lo <= hi)
    out += fmt::format("  level for z from {} to {} m; the lowest is taken\n", fixed(lo, 3), fixed(hi, 3));
  if (lo > hi) out += fmt::format("  no common height: bounds leave {} m too little\n", fixed(lo - hi, 3));
  for (const Value& b : list(r, "levelling.blocked_by"))
    out += "  blocked by " + one_line(std::get<std::string>(b.is)) + "\n";
  return out + "\n";
}

/// The counterweight's travel over reach, row by row.
std::string schedule(const Value& r) {
  if (!r.find("schedule")) return {};
  Table table{{{"slew from", "deg", 1},
               {"slew to", "deg", 1},
               {"reach", "m", 3},
               {"travel", "m", 3},
               {"moves first", "", -1}},
              {}};
  for (const Value& row : list(r, "schedule"))
    table.rows.push_back({Value(number(row, "slew_deg.0")), Value(number(row, "slew_deg.1")),
                          Value(number(row, "reach_m")), Value(number(row, "travel_m")),
                          words(row, "first")});
  return "Counterweight: schedule, going out\n" + to_text(table) + "\n";
}

std::string bullets(const Value& r, const char* key, const std::string& title) {
  std::string out;
  for (const Value& v : list(r, key))
    if (const auto* text = std::get_if<std::string>(&v.is)) out += "  - " + one_line(*text) + "\n";
  return out.empty() ? out : title + "\n" + out + "\n";
}

}  // namespace

std::string standing_text(const Value& r) {
  std::string out = words(r, "scenario.title") + "\n" + headline(r) + "\n\n";
  out += violations(r);
  out += ways_out(r);
  out += worst(r, "worst", "Least restoring moment anywhere");
  out += worst(r, "at_job", "Least restoring moment at the job");
  out += cases(r);
  out += cut_out(r);
  out += levelling(r);
  out += schedule(r);
  out += feet(r);
  out += fmt::format("Mass {} kg, weight {} N", rounded(number(r, "mass_kg"), 5),
                     rounded(number(r, "weight_N"), 5));
  const double area = number(r, "support_area_m2");
  if (std::isfinite(area)) out += fmt::format(", support polygon {} m2", fixed(area, 2));
  out += "\n\n";
  out += part_loads_text(r);
  out += bullets(r, "cautions", "Cautions");
  out += bullets(r, "assumed", "Assumed");
  return out;
}

}  // namespace rimstance
