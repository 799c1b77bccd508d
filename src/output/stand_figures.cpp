#include "rimstance/output/stand_figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rimstance/output/terrain_figure.hpp"
#include "rimstance/output/text.hpp"
#include "rimstance/statics/resultant.hpp"

namespace rimstance {
namespace {

bool has_pose(const Standing& s) { return std::isfinite(s.levelling.X_WC.p.z()); }

const CraneState& worst_state(const Standing& s, const Prepared& prepared) {
  return s.stability.worst.at.load_case >= 0 ? s.stability.worst.at.state : prepared.reference;
}
/// Reaching out to the job straight ahead: what the machine is there for.
CraneState job_state(const Standing& s, const Prepared& prepared) {
  CraneState state =
      s.stability.at_job.at.load_case >= 0 ? s.stability.at_job.at.state : worst_state(s, prepared);
  state.slew = prepared.reference.slew;
  return state;
}

std::string word(const Value& described, const char* path) {
  const Value* v = find_path(described, path);
  const auto* text = v ? std::get_if<std::string>(&v->is) : nullptr;
  return text ? one_line(*text) : "";
}

/// Rectangle around the wheels and the belly, C.
std::vector<Vec2> body_outline(const Machine& machine) {
  Vec2 lo = Vec2::Constant(kInfinity), hi = -lo;
  const auto grow = [&](const Vec2& p) {
    lo = lo.cwiseMin(p);
    hi = hi.cwiseMax(p);
  };
  if (machine.chassis.belly)
    for (const Vec2& p : machine.chassis.belly->outline) grow(p);
  else
    for (const Outrigger& o : machine.outriggers) grow(o.pivot.head<2>());
  return {lo, {hi.x(), lo.y()}, hi, {lo.x(), hi.y()}};
}

std::vector<Figure::Fact> key_numbers(const Standing& s, const Prepared& prepared, const Value& described) {
  std::vector<Figure::Fact> out;
  const bool stands = s.stability.outcome == Stability::Outcome::stands, accepted = s.violations.empty();
  out.push_back({"Outcome", stands && !accepted ? "held down, not accepted" : word(described, "outcome"),
                 !stands || !accepted});
  if (s.diagnostic && has_pose(s)) out.push_back({"Levelling", "not level: diagnostic only", true});
  for (const Violation& v : s.violations) {
    const std::string where = one_line(v.where);
    out.push_back({one_line(v.criterion), where.size() > 40 ? where.substr(0, 37) + "..." : where, true});
    if (out.size() > 7) break;
  }
  if (has_pose(s))
    out.push_back({"Residual tilt", rounded(degrees(tilt(s.levelling.X_WC.R)), 3) + " deg", false});
  for (std::size_t i = 0; i < s.contacts.size() && has_pose(s); ++i)
    out.push_back({"Stroke " + s.contacts[i].name, fixed(s.levelling.stroke[i], 3) + " m", false});
  if (s.stability.worst.at.load_case < 0) return out;
  const Worst& w = s.stability.worst;
  out.push_back({"Least moment", rounded(w.measures.moment) + " N m", w.measures.moment < 0});
  out.push_back({"  in case", prepared.load_cases[static_cast<std::size_t>(w.at.load_case)].name, false});
  out.push_back({"  clearance there", fixed(w.measures.clearance, 3) + " m", w.measures.clearance < 0});
  for (std::size_t i = 0; i < s.stability.cases.size(); ++i) {
    const CaseResult& c = s.stability.cases[i];
    out.push_back({"Case " + prepared.load_cases[i].name, c.ok ? "holds" : "does not hold", !c.ok});
  }
  return out;
}

class Plan {
 public:
  Plan(const Standing& s, const Prepared& prepared, const LoadedTerrain& terrain, const Value& described)
      : s_(s),
        prepared_(prepared),
        terrain_(terrain),
        described_(described),
        offset_(terrain.terrain.map_offset.head<2>()),
        machine_(prepared.scenario->machine) {}

  Figure draw() {
    figure_.name = "plan";
    figure_.title = one_line(prepared_.scenario->title);
    figure_.subtitle = "Plan: support polygon, resultant over the envelope, edge of least restoring moment";
    figure_.frame = frame();
    figure_.x_label = "map x, east [m]";
    figure_.y_label = "map y, north [m]";
    figure_.north_arrow = figure_.scale_bar = true;
    const TerrainLayer ground = terrain_layer(terrain_.terrain, figure_.frame, s_.spot.under);
    figure_.marks = ground.marks;
    figure_.legend = ground.legend;
    statics();
    machine();
    figure_.facts = key_numbers(s_, prepared_, described_);
    figure_.caption = ground.note;
    return std::move(figure_);
  }

 private:
  Vec2 map(const Vec3& p_C) const { return (s_.levelling.X_WC * p_C).head<2>() + offset_; }
  Vec2 plan(const Vec3& p_C) const {
    if (has_pose(s_)) return map(p_C);
    return s_.spot.at + Eigen::Rotation2Dd(s_.spot.yaw) * p_C.head<2>();
  }

  Box2 frame() const {
    double half = 3;
    for (const Contact& c : s_.contacts)
      half = std::max(half, (c.p_W.head<2>() + offset_ - s_.spot.at).norm() + 1);
    const Domain& d = prepared_.operation;
    const double flattest = d.luff.contains(0) ? 0 : d.luff.lo;
    const double far =
        std::min(d.reach.hi, reach(machine_.boom, *prepared_.loads.boom, flattest, d.extension.hi));
    half = std::max(half, far + 1.5);
    return {s_.spot.at - Vec2::Constant(half), s_.spot.at + Vec2::Constant(half)};
  }

  void key(const char* look, const char* text) { figure_.legend.push_back({look, text}); }

  void statics() {
    if (s_.stability.edges.empty()) return;
    std::vector<Vec2> ring;
    for (const Edge& e : s_.stability.edges) ring.push_back(e.p_W.head<2>() + offset_);
    figure_.marks.emplace_back(Area{"polygon", {ring}});
    key("polygon", "support polygon");
    std::vector<Vec2> region = resultant_region_W(prepared_, s_.levelling.X_WC);
    for (Vec2& p : region) p += offset_;
    if (region.size() >= 3) {
      figure_.marks.emplace_back(Area{"path", {region}});
      key("path", "where the resultant passes, all cases");
    }
    const Worst& w = s_.stability.worst;
    if (w.at.load_case < 0) return;
    for (const ResultantPath& path : resultant_paths(prepared_, s_.levelling.X_WC, s_.stability)) {
      if (path.load_case != w.at.load_case) continue;
      Line way{"resultant-path", {}, false, ""};
      for (const ResultantPath::Point& point : path.points) way.points.push_back(point.at_W + offset_);
      if (way.points.size() < 2) continue;
      figure_.marks.emplace_back(std::move(way));
      key("resultant-path", "the same over the slew, case of least moment");
    }
    const Edge& e = s_.stability.edges[static_cast<std::size_t>(w.at.edge)];
    const Vec2 from = e.p_W.head<2>() + offset_, to = from + e.length * e.a_W.head<2>();
    figure_.marks.emplace_back(Line{"edge-worst", {from, to}, false, ""});
    key("edge-worst", "edge of least restoring moment");
    figure_.marks.emplace_back(Note{"label-strong", from + 0.5 * (to - from),
                                    fmt::format("least moment {} N m", rounded(w.measures.moment))});
  }

  void machine() {
    slew_sector();
    std::vector<Vec2> body;
    for (const Vec2& p : body_outline(machine_)) body.push_back(plan({p.x(), p.y(), 0}));
    figure_.marks.emplace_back(Area{"machine", {body}});
    for (const Wheel& w : machine_.chassis.wheels) {
      std::vector<Vec2> ring;
      const double half = std::max(w.width, 0.06) / 2;
      for (const Vec2& k : {Vec2(-1, -1), Vec2(1, -1), Vec2(1, 1), Vec2(-1, 1)})
        ring.push_back(plan(w.at + Vec3(k.x() * w.radius, k.y() * half, 0)));
      figure_.marks.emplace_back(Area{"wheel", {ring}});
    }
    feet();
    crane();
    const Worst& w = s_.stability.worst;
    if (w.at.load_case < 0) return;
    figure_.marks.emplace_back(
        Symbol{"state-worst", resultant_W(prepared_, s_.levelling.X_WC, w.at) + offset_});
    key("state-worst", "resultant at the worst state");
  }

  void feet() {
    bool unsupported = false;
    for (std::size_t i = 0; i < s_.contacts.size(); ++i) {
      const Outrigger& o = machine_.outriggers[i];
      const Vec2 at = s_.contacts[i].p_W.head<2>() + offset_;
      figure_.marks.emplace_back(Line{"arm", {plan(o.pivot), at}, false, ""});
      figure_.marks.emplace_back(
          Disc{s_.contacts[i].supported ? "pad" : "pad-unsupported", at, o.pad_radius});
      unsupported = unsupported || !s_.contacts[i].supported;
      std::string text = one_line(o.name);
      if (!s_.contacts[i].supported)
        text += "\n" + one_line(s_.contacts[i].reason);
      else if (has_pose(s_))
        text += fmt::format("\nstroke {} m", fixed(s_.levelling.stroke[i], 3));
      figure_.marks.emplace_back(Note{s_.contacts[i].supported ? "label" : "label-strong", at, text});
    }
    key("pad", "pad on the ground");
    if (unsupported) key("pad-unsupported", "pad without ground");
  }

  void slew_sector() {
    const Domain& d = prepared_.operation;
    const double flattest = d.luff.contains(0) ? 0 : d.luff.lo;
    const double far =
        std::min(d.reach.hi, reach(machine_.boom, *prepared_.loads.boom, flattest, d.extension.hi));
    std::vector<Vec2> arc;
    const bool full = d.slew.width() >= 2 * kPi - 1e-9;
    if (!full) arc.push_back(plan(machine_.platform.axis));
    for (int k = 0; k <= 72; ++k)
      arc.push_back(plan(on_platform(machine_.platform, {far, 0, 0}, d.slew.lo + d.slew.width() * k / 72)));
    if (!full) arc.push_back(plan(machine_.platform.axis));
    figure_.marks.emplace_back(Line{"slew-sector", arc, false, ""});
    key("slew-sector", "reach of the operation");
  }

  void crane() {
    const CraneState& c = worst_state(s_, prepared_);
    const bool worst = s_.stability.worst.at.load_case >= 0;
    const auto at = [&](const Vec3& p_S) { return plan(on_platform(machine_.platform, p_S, c.slew)); };
    const Vec3 tip = tip_S(machine_.boom, *prepared_.loads.boom, c.luff, c.extension);
    if (machine_.guide) {
      const Guide& g = *machine_.guide;
      const auto on_guide = [&](double travel) {
        const Vec3 p = g.start + travel * g.direction;
        return g.mount == Mount::platform ? at(p) : plan(p);
      };
      figure_.marks.emplace_back(Line{"guide", {on_guide(g.travel.lo), on_guide(g.travel.hi)}, false, ""});
      figure_.marks.emplace_back(Disc{"counterweight", on_guide(c.travel), 0.22});
      key("counterweight", worst ? "counterweight at the worst state" : "counterweight");
    }
    figure_.marks.emplace_back(Line{"boom", {at(machine_.boom.foot), at(tip)}, false, ""});
    key("boom", worst ? "boom at the worst state" : "boom");
    const double r = std::isfinite(machine_.hoist.head_radius) ? machine_.hoist.head_radius : 0.2;
    figure_.marks.emplace_back(Disc{"load", at(tip), r});
    key("load", "hanging load");
  }

  const Standing& s_;
  const Prepared& prepared_;
  const LoadedTerrain& terrain_;
  const Value& described_;
  Vec2 offset_;
  const Machine& machine_;
  Figure figure_;
};

class Side {
 public:
  Side(const Standing& s, const Prepared& prepared, const LoadedTerrain& terrain, const Value& described)
      : s_(s),
        prepared_(prepared),
        terrain_(terrain),
        described_(described),
        offset_(terrain.terrain.map_offset),
        machine_(prepared.scenario->machine),
        crane_(job_state(s, prepared)) {
    pose_ = s.levelling.X_WC;
    if (!has_pose(s)) pose_.p.z() = fallback_height();
    const double heading = s.spot.yaw + crane_.slew;
    along_ = {std::cos(heading), std::sin(heading)};
    axis_ = (pose_ * machine_.platform.axis).head<2>();
  }

  Figure draw() {
    figure_.name = "side";
    figure_.title = one_line(prepared_.scenario->title);
    figure_.subtitle = fmt::format(
        "Side: cut along the boom at the job, slew {} deg, luff {} deg, extension {} m",
        fixed(degrees(crane_.slew), 1), fixed(degrees(crane_.luff), 1), fixed(crane_.extension, 2));
    figure_.x_label = "distance from the slew axis along the boom [m]";
    figure_.y_label = "map height [m]";
    frame();
    ground();
    chassis();
    legs();
    crane();
    figure_.facts = key_numbers(s_, prepared_, described_);
    if (!has_pose(s_))
      figure_.caption =
          "No pose was found: the machine is drawn level at the lowest ground height around it.";
    else
      figure_.caption =
          "Drawn straight ahead at the job's reach; the key numbers are those of the worst state, which may "
          "be another.";
    figure_.scale_bar = true;
    return std::move(figure_);
  }

 private:
  /// A point of W in the picture: along the cut, and map height.
  Vec2 seen(const Vec3& p_W) const { return {along_.dot(p_W.head<2>() - axis_), p_W.z() + offset_.z()}; }
  Vec2 chassis_point(const Vec3& p_C) const { return seen(pose_ * p_C); }
  Vec2 platform_point(const Vec3& p_S) const {
    return chassis_point(on_platform(machine_.platform, p_S, crane_.slew));
  }

  double fallback_height() const {
    double lowest = kInfinity;
    for (const Contact& c : s_.contacts)
      if (c.supported) lowest = std::min(lowest, c.p_W.z());
    return std::isfinite(lowest) ? lowest : 0.0;
  }

  void frame() {
    const Vec2 tip =
        platform_point(tip_S(machine_.boom, *prepared_.loads.boom, crane_.luff, crane_.extension));
    double lo = -3, hi = std::max(3.0, tip.x() + 2), bottom = seen(pose_.p).y(),
           top = std::max(tip.y(), bottom + 2) + 0.8;
    for (const Contact& c : s_.contacts) {
      const double x = along_.dot(c.p_W.head<2>() - axis_);
      lo = std::min(lo, x - 1);
      hi = std::max(hi, x + 1);
      if (c.supported) bottom = std::min(bottom, c.p_W.z() + offset_.z());
    }
    bottom -= std::max(2.0, 0.25 * (hi - lo));
    figure_.frame = {{lo, bottom}, {hi, top}};
  }

  void ground() {
    const Vec2 from = axis_ + figure_.frame.lo.x() * along_, to = axis_ + figure_.frame.hi.x() * along_;
    const double under = s_.spot.under - offset_.z(), floor = figure_.frame.lo.y() - 1;
    for (const auto& piece : section(terrain_.terrain, from, to, under)) {
      std::vector<Vec2> ring;
      for (const Vec2& p : piece)
        ring.emplace_back(p.x() + figure_.frame.lo.x(), std::max(p.y() + offset_.z(), floor));
      if (ring.size() < 2) continue;
      const double first = ring.front().x(), last = ring.back().x();
      ring.emplace_back(last, floor);
      ring.emplace_back(first, floor);
      figure_.marks.emplace_back(Area{"ground", {ring}});
    }
    figure_.legend.push_back({"ground", "ground in the cut"});
  }

  void chassis() {
    double lo = kInfinity, hi = -kInfinity;
    std::vector<Vec2> ring;
    const double height =
        machine_.chassis.belly ? machine_.chassis.belly->height : machine_.outriggers[0].pivot.z() - 0.1;
    for (const Vec2& p : body_outline(machine_)) {
      const double x = chassis_point({p.x(), p.y(), height}).x();
      lo = std::min(lo, x);
      hi = std::max(hi, x);
    }
    const double bottom = chassis_point({0, 0, height}).y(), top = chassis_point(machine_.platform.axis).y();
    figure_.marks.emplace_back(Area{"machine", {{{lo, bottom}, {hi, bottom}, {hi, top}, {lo, top}}}});
    for (const Wheel& w : machine_.chassis.wheels)
      figure_.marks.emplace_back(Disc{"wheel", chassis_point(w.at), w.radius});
  }

  void legs() {
    for (std::size_t i = 0; i < machine_.outriggers.size(); ++i) {
      const Outrigger& o = machine_.outriggers[i];
      const Contact& c = s_.contacts[i];
      Vec3 foot_C = foot(o, prepared_.splay[i], has_pose(s_) ? s_.levelling.stroke[i] : o.stroke.lo);
      Vec3 hinge = foot_C;
      hinge.z() = o.pivot.z();
      figure_.marks.emplace_back(Line{"arm", {chassis_point(o.pivot), chassis_point(hinge)}, false, ""});
      figure_.marks.emplace_back(Line{"leg", {chassis_point(hinge), chassis_point(foot_C)}, false, ""});
      if (!c.supported) continue;
      const Vec2 p = seen(c.p_W);
      figure_.marks.emplace_back(
          Line{"pad", {p - Vec2(o.pad_radius, 0), p + Vec2(o.pad_radius, 0)}, false, ""});
      std::string text = one_line(o.name);
      if (has_pose(s_)) text += fmt::format("\nstroke {} m", fixed(s_.levelling.stroke[i], 3));
      figure_.marks.emplace_back(Note{"label", p, text});
    }
    figure_.legend.push_back({"leg", "leg (all feet, seen from the side)"});
  }

  void crane() {
    const Vec3 tip = tip_S(machine_.boom, *prepared_.loads.boom, crane_.luff, crane_.extension);
    const Vec2 pin = platform_point(machine_.boom.foot), end = platform_point(tip),
               base = platform_point(Vec3::Zero());
    figure_.marks.emplace_back(Line{"arm", {base, pin}, false, ""});
    if (machine_.guide) {
      const Guide& g = *machine_.guide;
      const auto on_guide = [&](double travel) {
        const Vec3 p = g.start + travel * g.direction;
        return g.mount == Mount::platform ? platform_point(p) : chassis_point(p);
      };
      figure_.marks.emplace_back(Line{"guide", {on_guide(g.travel.lo), on_guide(g.travel.hi)}, false, ""});
      figure_.marks.emplace_back(Disc{"counterweight", on_guide(crane_.travel), 0.22});
      figure_.legend.push_back({"counterweight", "counterweight on its guide"});
    }
    if (machine_.container && machine_.container->mount == Mount::platform) {
      const Vec2 at = platform_point(machine_.container->at);
      figure_.marks.emplace_back(
          Area{"machine",
               {{at + Vec2(-0.3, -0.3), at + Vec2(0.3, -0.3), at + Vec2(0.3, 0.3), at + Vec2(-0.3, 0.3)}}});
    }
    figure_.marks.emplace_back(Line{"boom", {pin, end}, false, ""});
    figure_.legend.push_back({"boom", "boom"});
    const double r = std::isfinite(machine_.hoist.head_radius) ? machine_.hoist.head_radius : 0.2;
    const double lowest = figure_.frame.lo.y() + r,
                 hook = std::max(end.y() - std::max(crane_.line, 0.4), lowest);
    figure_.marks.emplace_back(Line{"line", {end, {end.x(), hook}}, false, ""});
    figure_.marks.emplace_back(Disc{"load", {end.x(), hook}, r});
    figure_.legend.push_back({"load", "hanging load"});
    figure_.marks.emplace_back(Measurement{"dimension",
                                           {base.x(), end.y()},
                                           end,
                                           12,
                                           fmt::format("reach {} m", fixed(tip.head<2>().norm(), 2))});
  }

  const Standing& s_;
  const Prepared& prepared_;
  const LoadedTerrain& terrain_;
  const Value& described_;
  Vec3 offset_;
  const Machine& machine_;
  CraneState crane_;
  Pose pose_;
  Vec2 along_, axis_;
  Figure figure_;
};

}  // namespace

Figure plan_figure(const Standing& s, const Prepared& prepared, const LoadedTerrain& terrain,
                   const Value& described) {
  return Plan(s, prepared, terrain, described).draw();
}

Figure side_figure(const Standing& s, const Prepared& prepared, const LoadedTerrain& terrain,
                   const Value& described) {
  return Side(s, prepared, terrain, described).draw();
}

}  // namespace rimstance
