#include "rimstance/output/stand.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rimstance/base/version.hpp"
#include "rimstance/output/part_loads.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

/// A measure's key, its factor from SI to the key's unit, and its name in words.
struct MeasureKey {
  const char* key;
  double factor;
  const char* criterion;  ///< key under `margin`
};
MeasureKey key_of(MarginKind kind) {
  switch (kind) {
    case MarginKind::moment:
      return {"moment_Nm", 1, "moment_Nm"};
    case MarginKind::clearance:
      return {"clearance_m", 1, "clearance_m"};
    case MarginKind::load_side_share:
      return {"load_side_share", 1, "load_side_share"};
    case MarginKind::moment_ratio:
      return {"moment_ratio", 1, "moment_ratio"};
    case MarginKind::tip_angle:
      return {"tip_angle_deg", degrees(1), "tip_angle_deg"};
    case MarginKind::energy:
      return {"energy_J", 1, "energy_J"};
    case MarginKind::force_angle:
      return {"force_angle", 1, "force_angle"};
  }
  expects(false, "key_of: a margin kind");
  return {};
}

Value number(double x, const std::string& why_not) {
  return std::isfinite(x) ? Value(x) : Value::null(why_not);
}

Value triple(const Vec3& p) { return Values{p.x(), p.y(), p.z()}; }

/// The body of that radius if its gravity is not the scenario's, else null. Radii and gravities are those of
/// the IAU's bodies to a part in a hundred and in twenty, which no other pair here comes near.
const char* body_of_other_gravity(double radius, double gravity) {
  struct Body {
    const char* name;
    double radius, gravity;
  };
  for (const Body& b :
       {Body{"the Moon", 1737.4e3, 1.62}, Body{"Mars", 3389.5e3, 3.72}, Body{"Earth", 6371.0e3, 9.81}})
    if (std::abs(radius - b.radius) <= 0.01 * b.radius)
      return std::abs(gravity - b.gravity) <= 0.05 * b.gravity ? nullptr : b.name;
  return nullptr;
}

class Describer {
 public:
  Describer(const Standing& standing, const Prepared& prepared, const Document& document,
            const LoadedTerrain& terrain, const Beside& beside)
      : s_(standing),
        prepared_(prepared),
        document_(document),
        terrain_(terrain),
        beside_(beside),
        offset_(terrain.terrain.map_offset),
        scenario_(*prepared.scenario) {}

  Value result() const {
    Members out = result_head("stand", document_);
    const auto put = [&](const char* key, Value value) { out.emplace_back(key, std::move(value)); };
    put("ok", s_.ok());
    put("outcome", outcome());
    put("diagnostic", s_.diagnostic);
    put("violations", violations());
    put("cautions", cautions());
    put("terrain", terrain());
    put("pose", pose());
    put("levelling", levelling());
    put("feet", feet());
    put("support_polygon_m", polygon());
    put("support_area_m2", number(has_edges() ? plan_area(s_.stability.edges) : kUnset, no_moments()));
    masses(out);
    put("worst", worst(s_.stability.worst, no_moments()));
    put("at_job", at_job());
    put("least", least());
    put("load_cases", cases());
    put("as_set",
        Members{
            {"worst", worst(s_.stability.worst, no_moments())}, {"least", least()}, {"load_cases", cases()}});
    put("lifts_off", s_.stability.lifts_off);
    describe_parts(s_, prepared_, of_hoist(), out);
    if (beside_.unloading) put("container", container());
    if (prepared_.schedule) put("schedule", schedule_rows(*prepared_.schedule));
    Values not_evaluated;
    for (const std::string& name : prepared_.not_evaluated) not_evaluated.emplace_back(name);
    put("not_evaluated", std::move(not_evaluated));
    put("ways_out", ways_out());
    put("no_way_out", no_way_out());
    Values assumed;
    for (const std::string& line : document_.assumed) assumed.emplace_back(line);
    for (const std::string& line : prepared_.assumed) assumed.emplace_back(line);
    put("assumed", std::move(assumed));
    return out;
  }

 private:
  bool has_edges() const { return !s_.stability.edges.empty(); }
  bool has_pose() const {
    return std::isfinite(s_.levelling.X_WC.p.z()) &&
           std::isfinite(s_.levelling.stroke.empty() ? 0 : s_.levelling.stroke[0]);
  }
  std::string no_moments() const {
    return s_.stability.reason.empty() ? "not computed" : s_.stability.reason;
  }

  Value outcome() const {
    switch (s_.stability.outcome) {
      case Stability::Outcome::stands:
        return "stands";
      case Stability::Outcome::short_of_margin:
        return "short of margin";
      case Stability::Outcome::tips:
        return "tips";
      case Stability::Outcome::no_support:
        return has_pose() ? "no support" : "no pose";
    }
    return nullptr;
  }

  Value violations() const {
    Values out;
    for (const Violation& v : s_.violations) {
      const bool angle = v.unit == "rad";
      const double factor = angle ? degrees(1) : 1;
      out.push_back(Members{{"criterion", v.criterion},
                            {"where", v.where},
                            {"measure", v.measure.empty() ? Value(nullptr) : Value(v.measure)},
                            {"value", number(v.value * factor, "no number belongs to it")},
                            {"limit", number(v.limit * factor, "no number belongs to it")},
                            {"unit", angle ? "deg" : v.unit}});
    }
    return out;
  }

  /// What the file's height steps and its reference body say against the scenario.
  std::vector<std::string> ground_cautions() const {
    std::vector<std::string> out;
    const TerrainFacts& t = terrain_.facts;
    double least_left = kInfinity;
    for (const double left : s_.levelling.stroke_left) least_left = std::fmin(least_left, left);
    if (t.quantum > least_left)
      out.push_back(
          fmt::format("Heights in the file come in steps of {} m, more than the {} m of stroke that "
                      "the leg with the least has left: whether the strokes suffice is not known.",
                      rounded(t.quantum, 3), rounded(std::max(0.0, least_left), 3)));
    const double step = std::atan(t.quantum / t.spacing), allowed = scenario_.criteria.allowed_tilt;
    if (step > std::max(allowed, radians(1)))
      out.push_back(
          fmt::format("One step of the file's heights ({} m) between neighbours is a slope of {} deg: "
                      "slopes under the feet are known no better.",
                      rounded(t.quantum, 3), rounded(degrees(step), 3)));
    if (const char* body = body_of_other_gravity(t.body_radius, scenario_.gravity))
      out.push_back(
          fmt::format("The terrain refers to a body of radius {} km, the size of {}, where gravity is "
                      "not {} m/s2: check `gravity` or the file.",
                      rounded(t.body_radius / 1000, 5), body, rounded(scenario_.gravity, 4)));
    return out;
  }

  Value cautions() const {
    Values out;
    const auto say = [&](std::string text) { out.emplace_back(std::move(text)); };
    for (const Issue& caution : document_.cautions) say(to_string(caution));
    for (const std::string& note : terrain_.facts.notes) say(note);
    if (s_.diagnostic && has_pose())
      say("The machine cannot be levelled here: the numbers are diagnostic, not to work by.");
    if (!s_.stability.wide.empty()) {
      std::string names;
      for (const MarginKind kind : s_.stability.wide)
        names += (names.empty() ? "" : ", ") + std::string(key_of(kind).key);
      say("Certified less tightly than asked (see certified_gap): " + names + ".");
    }
    if (s_.stability.lifts_off) {
      const bool sampled = std::any_of(s_.stability.feet.begin(), s_.stability.feet.end(),
                                       [](const FootLoad& foot) { return std::isnan(foot.gap); });
      say(std::string("A foot lifts off somewhere in the envelope (lift-off is not tipping).") +
          (sampled ? " Foot forces are then taken at the corners of the envelope, every five degrees of slew: "
                     "between them they may be a little greater."
                   : ""));
    }
    double least_radius = kInfinity;
    for (const Outrigger& o : scenario_.machine.outriggers)
      least_radius = std::min(least_radius, o.pad_radius);
    if (s_.spacing > 2 * least_radius)
      say(
          fmt::format("Terrain posts are about {} m apart at the feet, wider than a pad ({} m): height, "
                      "slope and roughness under a pad "
                      "are interpolated, so foot-scale answers are illustrative.",
                      rounded(s_.spacing, 3), rounded(2 * least_radius, 3)));
    for (std::string& text : ground_cautions()) say(std::move(text));
    unloading_cautions(out);
    for (std::size_t i = 0; i < prepared_.lifting.size(); ++i)
      if (const double phi = prepared_.lifting[i].factor; phi > 2)
        say(
            fmt::format("In {} the load swings by more than its weight while it is lifted (factor {}): the line "
                        "goes slack in between, which no factor covers. A slower hoist or a softer line helps.",
                        prepared_.load_cases[i].name, rounded(phi, 3)));
    if (!prepared_.not_evaluated.empty()) {
      std::string names;
      for (const std::string& n : prepared_.not_evaluated) {
        const auto why = prepared_.why_not_evaluated.find(n);
        names += (names.empty() ? "" : ", ") + n;
        if (why != prepared_.why_not_evaluated.end()) names += " (" + why->second + ")";
      }
      say("Not evaluated, so `ok` does not speak of them: " + names + ".");
    }
    if (!(scenario_.criteria.set_error > 0))
      say("set_error is 0: the chassis is taken to be levelled exactly.");
    const double lean = scenario_.criteria.set_error + scenario_.criteria.work_tilt;
    if (lean > 0)
      say(
          fmt::format("Margins and foot forces are taken with gravity leaning {} deg the worst way "
                      "(set_error and work_tilt).",
                      rounded(degrees(lean), 3)));
    say("Pose as set: feet on rigid ground; sinkage and elastic settling are not included.");
    say("Terrestrial criteria are used by analogy. A design aid: its inputs decide it; real lifts follow the "
        "local "
        "code, the maker's rated capacity and licensed practice.");
    return out;
  }

  Value terrain() const {
    return Members{{"file", scenario_.terrain.written},
                   {"sha256", terrain_.terrain.sha256},
                   {"format", terrain_.facts.format},
                   {"spacing_at_feet_m", number(s_.spacing, "no ground at the feet")}};
  }

  Value pose() const {
    const Pose& X = s_.levelling.X_WC;
    const YawPitchRoll a = yaw_pitch_roll(X.R);
    const std::string why = "no pose";
    const auto angle = [&](double x) { return has_pose() ? Value(degrees(x)) : Value::null(why); };
    return Members{{"at_m", Values{s_.spot.at.x(), s_.spot.at.y(),
                                   has_pose() ? Value(X.p.z() + offset_.z()) : Value::null(why)}},
                   {"yaw_deg", degrees(wrapped(s_.spot.yaw))},
                   {"azimuth_deg", degrees(azimuth_of(s_.spot.yaw))},
                   {"pitch_deg", angle(a.pitch)},
                   {"roll_deg", angle(a.roll)},
                   {"tilt_deg", angle(tilt(X.R))}};
  }

  Value levelling() const {
    const Levelling& l = s_.levelling;
    Values blocked;
    for (const std::string& b : l.blocked_by) blocked.emplace_back(b);
    const bool known = std::isfinite(l.height.lo) && std::isfinite(l.height.hi);
    Members out{{"feasible", l.outcome == Levelling::Outcome::level}};
    out.emplace_back("outcome", levelling_outcome());
    out.emplace_back("height_interval_m",
                     known ? Value(Values{l.height.lo + offset_.z(), l.height.hi + offset_.z()})
                           : Value::null("a foot is unsupported"));
    out.emplace_back("blocked_by", blocked.empty() ? Value(nullptr) : Value(std::move(blocked)));
    out.emplace_back("iterations", l.iterations);
    Values wheels;
    for (const double c : l.wheel_clearance) wheels.push_back(number(c, "ground is missing under the wheel"));
    out.emplace_back("wheel_clearance_m", std::move(wheels));
    out.emplace_back("belly_clearance_m",
                     number(l.belly_clearance, "no belly, or ground is missing under it"));
    if (!l.alternating.empty()) {
      Values poses;
      for (const Pose& X : l.alternating) {
        const YawPitchRoll a = yaw_pitch_roll(X.R);
        poses.push_back(Members{
            {"z_m", X.p.z() + offset_.z()}, {"pitch_deg", degrees(a.pitch)}, {"roll_deg", degrees(a.roll)}});
      }
      out.emplace_back("alternating", std::move(poses));
    }
    return out;
  }

  const char* levelling_outcome() const {
    switch (s_.levelling.outcome) {
      case Levelling::Outcome::level:
        return "level";
      case Levelling::Outcome::least_tilt:
        return "least tilt";
      case Levelling::Outcome::unsupported:
        return "unsupported";
      case Levelling::Outcome::no_convergence:
        return "no pose";
      case Levelling::Outcome::does_not_settle:
        return "does not settle";
    }
    return "";
  }

  Value feet() const {
    Values out;
    for (std::size_t i = 0; i < s_.contacts.size(); ++i) out.push_back(foot(i));
    return out;
  }

  Value foot(std::size_t i) const {
    const Contact& c = s_.contacts[i];
    const Outrigger& o = scenario_.machine.outriggers[i];
    const Levelling& l = s_.levelling;
    const std::string why = c.supported ? "no pose" : c.reason;
    const auto of = [&](const std::vector<double>& v) { return number(i < v.size() ? v[i] : kUnset, why); };
    Members out{{"name", c.name}, {"supported", c.supported}};
    out.emplace_back("reason", c.reason.empty() ? Value(nullptr) : Value(c.reason));
    const Vec3 p = c.p_W + offset_;
    out.emplace_back("contact_m", Values{number(p.x(), why), number(p.y(), why), number(p.z(), why)});
    const bool slope = c.patch.normal.allFinite();
    out.emplace_back("ground_slope_deg",
                     number(slope ? degrees(slope_aspect(c.patch.normal).slope) : kUnset, why));
    out.emplace_back("roughness_rms_m", number(c.patch.rms, why));
    out.emplace_back("largest_residual_m", number(c.patch.residual, why));
    out.emplace_back("supported_share", c.patch.supported_share);
    out.emplace_back("pad_tilt_exceeded", c.pad_tilt_exceeded);
    out.emplace_back("stroke_m", of(l.stroke));
    out.emplace_back("stroke_rigid_m", of(l.stroke));
    out.emplace_back("stroke_left_m", of(l.stroke_left));
    out.emplace_back("stroke_missing_m", of(l.stroke_missing));
    const bool loads = i < s_.stability.feet.size();
    const std::string unloaded = no_moments();
    const double most = loads ? s_.stability.feet[i].greatest : kUnset,
                 least = loads ? s_.stability.feet[i].least : kUnset;
    out.emplace_back("reaction_max_N", number(most, unloaded));
    out.emplace_back("reaction_min_N", number(least, unloaded));
    describe_foot_part(s_, prepared_, i, out);
    out.emplace_back("pressure_mean_Pa", number(most / (kPi * o.pad_radius * o.pad_radius), unloaded));
    return out;
  }

  Value polygon() const {
    Values out;
    for (const Edge& e : s_.stability.edges) out.push_back(triple(e.p_W + offset_));
    return out;
  }

  void masses(Members& out) const {
    const MassState& m = prepared_.reference_masses;
    out.emplace_back("mass_kg", m.mass);
    out.emplace_back("weight_N", m.mass * scenario_.gravity);
    if (!has_pose()) {
      out.emplace_back("centre_of_mass_m", Value::null("no pose"));
      out.emplace_back("tipping_centre_m", Value::null("no pose"));
      return;
    }
    const Pose& X = s_.levelling.X_WC;
    out.emplace_back("centre_of_mass_m", triple(centre_of_mass_W(m, X, prepared_.reference.line) + offset_));
    out.emplace_back("tipping_centre_m", triple(X * m.tipping_centre_C + offset_));
  }

  void add_state(const At& at, Members& out) const {
    out.emplace_back("load_case", prepared_.load_cases[static_cast<std::size_t>(at.load_case)].name);
    out.emplace_back("pose", "as set");
    const Edge& e = s_.stability.edges[static_cast<std::size_t>(at.edge)];
    out.emplace_back("edge", Values{s_.contacts[static_cast<std::size_t>(e.from)].name,
                                    s_.contacts[static_cast<std::size_t>(e.to)].name});
    const CraneState& c = at.state;
    out.emplace_back("slew_deg", degrees(c.slew));
    out.emplace_back("luff_deg", degrees(c.luff));
    out.emplace_back("extension_m", c.extension);
    out.emplace_back("reach_m", reach(scenario_.machine.boom, *prepared_.loads.boom, c.luff, c.extension));
    out.emplace_back("travel_m", c.travel);
    out.emplace_back("line_m", c.line);
    out.emplace_back("units_left", c.units_left);
    out.emplace_back("transit", at.transit);
  }

  static Value proven_within(double gap) {
    return number(std::isfinite(gap) ? gap : kUnset, "nothing bounds how much lower it may be");
  }

  /// Of the cases of a stalled hoist the one with the lowest setting of its cut-out.
  void stall(Members& out) const {
    const CutOut* lowest = nullptr;
    for (const CaseResult& c : s_.stability.cases) {
      const CutOut& other = c.cut_out;
      if (!std::isfinite(other.stall)) continue;
      const bool fails = lowest && std::isnan(lowest->setting) && !lowest->held;
      if (!lowest || (!fails && !other.held && !(other.setting >= lowest->setting))) lowest = &other;
    }
    const std::string none = has_edges() ? "no case of a stalled hoist" : no_moments();
    out.emplace_back("stall_pull_N", number(lowest ? lowest->stall : kUnset, none));
    out.emplace_back("cut_out_N",
                     number(lowest ? lowest->setting : kUnset, lowest ? lowest->reason : none));
  }

  Members of_hoist() const {
    Members out;
    stall(out);
    return out;
  }

  Value worst(const Worst& w, const std::string& why_not) const {
    if (w.at.load_case < 0) return Value::null(why_not);
    Members out;
    add_state(w.at, out);
    const Measures& m = w.measures;
    out.emplace_back("moment_Nm", m.moment);
    out.emplace_back("clearance_m", number(m.clearance, "more is pulled up than weighs down"));
    out.emplace_back("moment_ratio", number(m.moment_ratio, "nothing overturns"));
    out.emplace_back("tip_angle_deg", degrees(m.tip_angle));
    out.emplace_back("energy_J", number(m.energy, "a release's or a stall's pull is not a weight"));
    out.emplace_back("force_angle", number(m.force_angle, "the reference state is not held"));
    out.emplace_back("load_side_share", number(m.load_side_share, "more is pulled up than weighs down"));
    out.emplace_back("certified_gap_Nm", proven_within(w.gap));
    return out;
  }

  Value at_job() const {
    const Stability& s = s_.stability;
    return worst(s.at_job, s.at_job_reason.empty() ? no_moments() : s.at_job_reason);
  }

  Value least_value(const Least& least, double factor) const {
    if (!std::isfinite(least.value)) return Value::null(least.reason);
    Members out{{"value", least.value * factor}};
    add_state(least.at, out);
    out.emplace_back("certified_gap", proven_within(least.gap * factor));
    return out;
  }

  Value least() const {
    if (!has_edges()) return Value::null(no_moments());
    Members out;
    for (const auto& [kind, least] : s_.stability.least) {
      const MeasureKey key = key_of(kind);
      out.emplace_back(key.key, least_value(least, key.factor));
    }
    return out;
  }

  Value cases() const {
    Values out;
    const Stability& s = s_.stability;
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i) {
      const LoadCase& load_case = prepared_.load_cases[i];
      Members row{{"name", load_case.name}, {"source", load_case.source}};
      if (const Lifting& lifting = prepared_.lifting[i]; std::isfinite(lifting.factor)) {
        row.emplace_back("hoisting_factor", lifting.factor);
        row.emplace_back("hoisting_factor_longest",
                         number(lifting.factor_at_longest, "the factor was stated, not computed"));
      }
      Members margin;
      for (const auto& [kind, required] : required_margin(load_case)) {
        const MeasureKey key = key_of(kind);
        margin.emplace_back(key.criterion, required * key.factor);
      }
      if (i >= s.cases.size()) {
        row.emplace_back("worst", Value::null(no_moments()));
        row.emplace_back("margin", std::move(margin));
        row.emplace_back("decides", Value::null(no_moments()));
        row.emplace_back("ok", false);
      } else {
        const CaseResult& c = s.cases[i];
        row.emplace_back("worst", worst(c.worst, no_moments()));
        row.emplace_back("margin", std::move(margin));
        const MeasureKey key = key_of(c.decides_by);
        Value decides = least_value(c.decides, key.factor);
        if (Members* members = std::get_if<Members>(&decides.is))
          members->insert(members->begin(), {{"by", key.key}, {"required", c.required * key.factor}});
        row.emplace_back("decides", std::move(decides));
        row.emplace_back("ok", c.ok);
      }
      out.push_back(std::move(row));
    }
    return out;
  }

  /// Changes by angles, lengths and masses say so in their key.
  static std::pair<const char*, double> unit_of(Change change) {
    switch (change) {
      case Change::yaw:
      case Change::splay:
        return {"by_deg", degrees(1)};
      case Change::payload:
        return {"by_kg", 1};
      default:
        return {"by_m", 1};
    }
  }

  Value ways_out() const {
    Values out;
    for (const Remedy& r : beside_.remedies) {
      if (r.settings.empty()) continue;
      Values set;
      for (const Setting& s : r.settings) set.emplace_back(s.path + "=" + s.value);
      const auto [key, factor] = unit_of(r.change);
      out.push_back(Members{{"change", path_of(r.change)},
                            {key, r.by * factor},
                            {"set", std::move(set)},
                            {"verified", r.verified},
                            {"remark", r.remark.empty() ? Value(nullptr) : Value(r.remark)}});
    }
    return out;
  }

  Value no_way_out() const {
    Values out;
    for (const Remedy& r : beside_.remedies)
      if (r.settings.empty()) out.push_back(Members{{"change", path_of(r.change)}, {"reason", r.remark}});
    return out;
  }

  Value container() const {
    const Unloading& p = *beside_.unloading;
    const Container& c = *scenario_.machine.container;
    const std::string why_any = p.reachable ? "any slew: it turns with the platform" : p.reason;
    Members up{{"reachable", p.reachable},
               {"reason", p.reason.empty() ? Value(nullptr) : Value(p.reason)},
               {"in_operation", p.in_operation},
               {"slew_deg", number(degrees(p.slew), why_any)},
               {"reach_m", p.reach},
               {"luff_deg", number(degrees(p.luff), p.reason)},
               {"extension_m", number(p.extension, p.reason)},
               {"height_m", number(p.height, p.reason)}};
    const std::string not_looked = !p.reachable      ? p.reason
                                   : p.in_operation ? "a state of the operation: see load_cases"
                                                    : no_moments();
    up.emplace_back("least", p.stability ? worst(p.stability->worst, "no load case") : Value::null(not_looked));
    Values fails;
    for (const std::string& criterion : p.fails) fails.emplace_back(criterion);
    up.emplace_back("fails", std::move(fails));
    up.emplace_back("ok", p.stability ? Value(p.ok()) : Value::null(not_looked));
    return Members{{"mount", c.mount == Mount::platform ? "platform" : "chassis"},
                   {"units", c.units},
                   {"unit_kg", c.unit_mass},
                   {"pick_up", std::move(up)}};
  }

  void unloading_cautions(Values& out) const {
    if (!beside_.unloading) return;
    const Unloading& p = *beside_.unloading;
    if (!p.reachable)
      out.emplace_back("The boom cannot lift a unit out of its container: " + p.reason +
                       ". How units come to the hook is not looked at.");
    if (p.fails.empty()) return;
    std::string names;
    for (const std::string& f : p.fails) names += (names.empty() ? "" : ", ") + f;
    out.emplace_back(fmt::format(
        "Lifting a unit out of the container, outside the operation (reach {} m), does not hold: {}. `ok` "
        "speaks of the operation only.",
        rounded(p.reach, 3), names));
  }

  const Standing& s_;
  const Prepared& prepared_;
  const Document& document_;
  const LoadedTerrain& terrain_;
  const Beside& beside_;
  Vec3 offset_;
  const Scenario& scenario_;
};

}  // namespace

Members result_head(const std::string& command, const Document& document) {
  Values overrides;
  for (const auto& [path, value] : document.overrides)
    overrides.push_back(Members{{"path", path}, {"value", value}});
  return {{"rimstance", Members{{"format", 1}, {"version", kVersion}, {"command", command}}},
          {"scenario", Members{{"file", document.files.empty() ? std::string() : document.files[0]},
                               {"sha256", document.sha256},
                               {"title", document.scenario->title},
                               {"overrides", std::move(overrides)}}}};
}

Values schedule_rows(const Schedule& schedule) {
  Values out;
  for (const ScheduleRange& range : schedule.ranges)
    for (std::size_t i = 0; i < range.rows.size(); ++i) {
      const Mover first = first_after(range.rows, i);
      out.push_back(Members{{"slew_deg", Values{degrees(range.slew.lo), degrees(range.slew.hi)}},
                            {"reach_m", range.rows[i].reach},
                            {"travel_m", range.rows[i].travel},
                            {"first", first == Mover::none   ? Value::null("the last row of its range")
                                      : first == Mover::boom ? Value("boom")
                                                             : Value("cabinets")}});
    }
  return out;
}

Value describe(const Standing& standing, const Prepared& prepared, const Document& document,
               const LoadedTerrain& terrain, const Beside& beside) {
  return Describer(standing, prepared, document, terrain, beside).result();
}

}  // namespace rimstance
