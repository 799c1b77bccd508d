#include "rimstance/output/part_loads.hpp"

#include <fmt/format.h>

#include <cmath>

#include "rimstance/output/text.hpp"
#include "rimstance/statics/resultant.hpp"

namespace rimstance {
namespace {

Value number(double x, const std::string& why_not) {
  return std::isfinite(x) ? Value(x) : Value::null(why_not);
}
Value proven_within(double gap) { return number(gap, "sampled: nothing bounds how much more it may be"); }

/// Parts of one standing, described.
class PartsDescriber {
 public:
  PartsDescriber(const Standing& standing, const Prepared& prepared)
      : p_(standing.parts), prepared_(prepared), machine_(prepared.loads.machine) {}

  void all(Members of_hoist, Members& out) const {
    const auto put = [&](const char* key, Value value) { out.emplace_back(key, std::move(value)); };
    const bool known = p_.reason.empty();
    const auto unless = [&](const auto& described) { return known ? described() : Value::null(p_.reason); };
    put("slew_bearing", unless([&] { return bearing(); }));
    put("luff_moment_Nm", unless([&] { return Value(Values{p_.luff.least.value, p_.luff.greatest.value}); }));
    put("luff_moment_at", unless([&] {
          return Value(Values{state(p_.luff.least), state(p_.luff.greatest)});
        }));
    put("luff_backlash", unless([&] { return Value(p_.luff.backlash()); }));
    put("boom", unless([&] { return boom(); }));
    put("guide", !machine_.guide ? Value::null("no guide") : unless([&] { return guide(); }));
    put("hoist", hoist(std::move(of_hoist)));
    put("stowed", stowed());
    put("plausibility", unless([&] { return plausibility(); }));
  }

  void foot(std::size_t i, Members& out) const {
    const auto put = [&](const char* key, double x, const std::string& why) {
      out.emplace_back(key, number(x, why));
    };
    const FootPart part = i < p_.feet.size() ? p_.feet[i] : FootPart{};
    const std::string why = p_.reason.empty() ? "the machine tips" : p_.reason;
    put("leg_axial_max_N", part.leg_axial, why);
    put("stroke_at_max_m", part.stroke, why);
    put("leg_moment_max_Nm", part.leg_moment, why);
    put("arm_moment_max_Nm", part.arm_moment, why);
    put("arm_side_moment_max_Nm", part.arm_side_moment, why);
    put("arm_shear_max_N", part.arm_shear, why);
    put("arm_torsion_max_Nm", part.arm_torsion, why);
    const bool bounded = std::isfinite(part.stroke_tolerance);
    put("stroke_tolerance_m", part.stroke_tolerance, part.tolerance_by.empty() ? why : part.tolerance_by);
    out.emplace_back("stroke_tolerance_by", bounded ? Value(part.tolerance_by) : Value(nullptr));
    out.emplace_back("reaction_max_at",
                     std::isfinite(part.reaction.value) ? state(part.reaction) : Value::null(why));
  }

 private:
  Value state(const ReadOff& r) const { return state(r.at); }
  Value state(const At& at) const {
    const CraneState& c = at.state;
    const std::string name =
        at.load_case < 0 ? "" : prepared_.load_cases[static_cast<std::size_t>(at.load_case)].name;
    return Members{{"load_case", name.empty() ? Value(nullptr) : Value(name)},
                   {"slew_deg", degrees(c.slew)},
                   {"luff_deg", degrees(c.luff)},
                   {"extension_m", c.extension},
                   {"reach_m", reach(machine_.boom, *prepared_.loads.boom, c.luff, c.extension)},
                   {"travel_m", c.travel},
                   {"line_m", c.line},
                   {"units_left", c.units_left},
                   {"transit", at.transit}};
  }

  Value bearing() const {
    const BearingLoads& b = p_.bearing;
    return Members{{"overturning_moment_Nm", b.overturning.value},
                   {"axial_N", b.axial.value},
                   {"radial_N", b.radial},
                   {"hold_torque_Nm", b.hold_torque},
                   {"at", state(b.overturning)},
                   {"axial_at", state(b.axial)},
                   {"certified_gap_Nm", proven_within(b.overturning.gap)},
                   {"certified_gap_N", proven_within(b.axial.gap)}};
  }

  Value boom() const {
    Values along;
    for (std::size_t k = 0; k < p_.boom.cuts.size(); ++k) {
      const BoomCut& c = p_.boom.cuts[k];
      const bool sections = machine_.boom.kind == Boom::Kind::telescopic;
      const std::string where = k == 0     ? "root"
                                : sections ? fmt::format("section {} leaves section {}", k + 1, k)
                                           : fmt::format("{}/4 of its length", k);
      along.push_back(Members{{"where", where},
                              {"at_m", c.at},
                              {"moment_Nm", c.moment},
                              {"shear_N", c.shear},
                              {"axial_N", c.axial}});
    }
    const bool telescopic = machine_.boom.kind == Boom::Kind::telescopic;
    return Members{
        {"root_moment_Nm", p_.boom.cuts[0].moment},
        {"root_side_moment_Nm", p_.boom.side_moment},
        {"at", state(p_.boom.at)},
        {"along", std::move(along)},
        {"tip_deflection_m", number(p_.boom.tip_deflection, telescopic ? "E I not given for every section"
                                                                       : "this kind of boom has no E I")},
        {"line_m", Values{prepared_.operation.line.lo, prepared_.operation.line.hi}},
        {"pendulum_period_s", Values{p_.boom.period.lo, p_.boom.period.hi}}};
  }

  Value guide() const {
    return Members{{"root_moment_Nm", p_.guide->moment.value},
                   {"force_along_N", p_.guide->force},
                   {"at", state(p_.guide->moment)}};
  }

  Value hoist(Members also) const {
    const HoistLoads& h = p_.hoist;
    const bool known = p_.reason.empty();
    Members out{
        {"line_pull_max_N", number(h.pull, p_.reason)},
        {"hoisting_factor", known ? Value(h.hoisting) : Value::null(p_.reason)},
        {"line_pull_limit_N",
         std::isfinite(machine_.hoist.line_pull) ? Value(machine_.hoist.line_pull) : Value::null("no limit")},
        {"line_needed_m", number(h.line_needed, p_.reason)},
        {"line_left_m", number(h.line_left, known ? "the line's length is not given" : p_.reason)}};
    for (auto& member : also) out.push_back(std::move(member));
    return out;
  }

  Value stowed() const {
    const Stowed& s = p_.stowed;
    if (!(s.mass > 0)) return Value::null("not asked");
    Value tips = Value::null(s.no_tips);
    if (s.no_tips.empty())
      tips = Members{{"forward", degrees(s.tips.forward)},
                     {"backward", degrees(s.tips.backward)},
                     {"left", degrees(s.tips.left)},
                     {"right", degrees(s.tips.right)}};
    return Members{{"length_m", s.length},
                   {"width_m", s.width},
                   {"height_m", s.height},
                   {"mass_kg", s.mass},
                   {"centre_of_mass_chassis_m", Values{s.centre_C.x(), s.centre_C.y(), s.centre_C.z()}},
                   {"tip_angle_deg", std::move(tips)}};
  }

  Value plausibility() const {
    Values out;
    for (const Plausible& p : p_.plausibility)
      out.push_back(Members{{"what", p.what},
                            {"value", p.value},
                            {"low", number(p.low, "not bounded below")},
                            {"high", number(p.high, "not bounded above")},
                            {"unit", p.unit},
                            {"ok", p.ok()}});
    return out;
  }

  const PartLoads& p_;
  const Prepared& prepared_;
  const Machine& machine_;
};

// ---- for reading ---------------------------------------------------------------------------------

double at(const Value& v, const std::string& path) {
  const Value* found = find_path(v, path);
  const double* d = found ? std::get_if<double>(&found->is) : nullptr;
  return d ? *d : kUnset;
}

std::string words(const Value& v, const char* path) {
  const Value* found = find_path(v, path);
  const auto* text = found ? std::get_if<std::string>(&found->is) : nullptr;
  return text ? one_line(*text) : "";
}

const Values& list(const Value& v, const char* path) {
  static const Values none;
  const Value* found = find_path(v, path);
  const auto* values = found ? std::get_if<Values>(&found->is) : nullptr;
  return values ? *values : none;
}

std::string short_state(const Value& v, const std::string& path) {
  const Value* found = find_path(v, path);
  if (!found || found->is_null()) return "";
  const std::string name = words(*found, "load_case");
  return fmt::format("{}{}slew {}, luff {} deg, reach {} m", name, name.empty() ? "" : ": ",
                     fixed(at(*found, "slew_deg"), 1), fixed(at(*found, "luff_deg"), 1),
                     fixed(at(*found, "reach_m"), 2));
}

Table machine_table(const Value& r) {
  Table table{{{"part", ""}, {"load", ""}, {"greatest", ""}, {"", ""}, {"where", ""}}, {}};
  const auto add = [&](const char* part, std::string load, double value, const char* unit,
                       std::string where) {
    if (std::isfinite(value)) table.rows.push_back({part, std::move(load), value, unit, std::move(where)});
  };
  const std::string turned = short_state(r, "slew_bearing.at");
  add("slew bearing", "overturning", at(r, "slew_bearing.overturning_moment_Nm"), "N m", turned);
  add("", "axial", at(r, "slew_bearing.axial_N"), "N", short_state(r, "slew_bearing.axial_at"));
  add("", "radial", at(r, "slew_bearing.radial_N"), "N", "");
  add("", "torque to hold", at(r, "slew_bearing.hold_torque_Nm"), "N m", "");
  add("luff", "about the pin", at(r, "luff_moment_Nm.1"), "N m", short_state(r, "luff_moment_at.1"));
  add("", "the other way", at(r, "luff_moment_Nm.0"), "N m", short_state(r, "luff_moment_at.0"));
  for (const Value& cut : list(r, "boom.along")) {
    const std::string where =
        fmt::format("{} m from the pin, shear {} N, axial {} N", fixed(at(cut, "at_m"), 2),
                    rounded(at(cut, "shear_N")), rounded(at(cut, "axial_N")));
    add(words(cut, "where") == "root" ? "boom" : "", words(cut, "where"), at(cut, "moment_Nm"), "N m", where);
  }
  add("", "root, sideways", at(r, "boom.root_side_moment_Nm"), "N m", "");
  add("", "tip deflection", at(r, "boom.tip_deflection_m"), "m", "");
  add("", "load's pendulum period", at(r, "boom.pendulum_period_s.1"), "s", "at the longest line");
  add("guide", "root", at(r, "guide.root_moment_Nm"), "N m", "");
  add("", "along it", at(r, "guide.force_along_N"), "N", "");
  add("hoist", "line pull", at(r, "hoist.line_pull_max_N"), "N", "");
  add("", "line needed", at(r, "hoist.line_needed_m"), "m",
      std::isfinite(at(r, "hoist.line_left_m")) ? fixed(at(r, "hoist.line_left_m"), 1) + " m left on the drum"
                                                : "");
  return table;
}

Table feet_table(const Value& r) {
  Table table{{{"foot", ""},
               {"leg axial", "N", 0},
               {"leg moment", "N m", 1},
               {"arm moment", "N m", 1},
               {"sideways", "N m", 1},
               {"torsion", "N m", 1},
               {"stroke tolerance", "mm", 1},
               {"what gives", ""}},
              {}};
  for (const Value& f : list(r, "feet"))
    table.rows.push_back({words(f, "name"), at(f, "leg_axial_max_N"), at(f, "leg_moment_max_Nm"),
                          at(f, "arm_moment_max_Nm"), at(f, "arm_side_moment_max_Nm"),
                          at(f, "arm_torsion_max_Nm"), 1000 * at(f, "stroke_tolerance_m"),
                          words(f, "stroke_tolerance_by")});
  return table;
}

std::string stowed_text(const Value& r) {
  const double length = at(r, "stowed.length_m");
  if (!std::isfinite(length)) return "";
  std::string out =
      fmt::format("Stowed: {} x {} x {} m, {} kg", fixed(length, 2), fixed(at(r, "stowed.width_m"), 2),
                  fixed(at(r, "stowed.height_m"), 2), rounded(at(r, "stowed.mass_kg")));
  if (std::isfinite(at(r, "stowed.tip_angle_deg.forward")))
    out += fmt::format(
        "; on its wheels it tips at {} deg forward, {} backward, {} left, {} right",
        fixed(at(r, "stowed.tip_angle_deg.forward"), 1), fixed(at(r, "stowed.tip_angle_deg.backward"), 1),
        fixed(at(r, "stowed.tip_angle_deg.left"), 1), fixed(at(r, "stowed.tip_angle_deg.right"), 1));
  return out + "\n";
}

std::string plausibility_text(const Value& r) {
  std::string out;
  for (const Value& p : list(r, "plausibility")) {
    const bool* ok = std::get_if<bool>(&p.at("ok").is);
    const double low = at(p, "low"), high = at(p, "high");
    out += fmt::format("  {}: {} {} (", words(p, "what"), rounded(at(p, "value"), 5), words(p, "unit"));
    out += std::isfinite(low) ? rounded(low, 5) + " to " : "at most ";
    out += rounded(high, 5) + (ok && *ok ? ")\n" : "): NOT PLAUSIBLE\n");
  }
  return out.empty() ? out : "Plausible\n" + out;
}

}  // namespace

void describe_parts(const Standing& standing, const Prepared& prepared, Members hoist, Members& out) {
  PartsDescriber(standing, prepared).all(std::move(hoist), out);
}

void describe_foot_part(const Standing& standing, const Prepared& prepared, std::size_t foot, Members& out) {
  PartsDescriber(standing, prepared).foot(foot, out);
}

std::string part_loads_text(const Value& r) {
  std::string out;
  if (!list(r, "boom.along").empty())
    out += "Loads on the parts (weights, every case with its factors)\n" + to_text(machine_table(r)) + "\n" +
           to_text(feet_table(r)) + "\n";
  out += stowed_text(r) + plausibility_text(r);
  return out.empty() ? out : out + "\n";
}

Table resultant_table(const Standing& standing, const Prepared& prepared, const Vec3& map_offset) {
  Table table{{{"load case", ""}, {"slew", "deg"}, {"x", "m"}, {"y", "m"}, {"inside nearest side", "m"}}, {}};
  for (const ResultantPath& path : resultant_paths(prepared, standing.levelling.X_WC, standing.stability)) {
    const std::string name = prepared.load_cases[static_cast<std::size_t>(path.load_case)].name;
    for (const ResultantPath::Point& p : path.points)
      table.rows.push_back(
          {name, degrees(p.slew), p.at_W.x() + map_offset.x(), p.at_W.y() + map_offset.y(), p.inside});
  }
  return table;
}

}  // namespace rimstance
