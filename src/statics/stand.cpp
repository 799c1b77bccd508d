#include "rimstance/statics/stand.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "foot_loads.hpp"
#include "rimstance/statics/foot_force.hpp"
#include "rimstance/statics/strength.hpp"

namespace rimstance {
namespace {

constexpr double kSlack = 1e-9;  ///< of comparisons of lengths and angles [m, rad]

LevellingNeeds needs(const Criteria& c) { return {c.stroke_left, c.wheel_clearance, c.belly_clearance}; }

/// What a spot off the map was probably meant to be, in map coordinates; empty where nothing suggests itself.
std::string spot_meant(const Vec2& at, const Box2& map, const Vec2& offset) {
  const auto write = [](const Vec2& p) { return fmt::format("at: \"[{}, {}] m\"", p.x(), p.y()); };
  const Vec2 swapped(at.y(), at.x());
  if (map.contains(at + offset))
    return fmt::format(
        "it lies on the map if it was measured from the local origin ({}, {}) m: then write {}", offset.x(),
        offset.y(), write(at + offset));
  if (map.contains(swapped)) return "x and y may be swapped: east comes first; then write " + write(swapped);
  if (std::abs(at.x()) <= 360 && std::abs(at.y()) <= 90 && map.lo.cwiseAbs().maxCoeff() > 1000)
    return "longitude and latitude in degrees are no map coordinates: convert them to the map's metres";
  return "give the spot in map coordinates of the terrain file; `rimstance inspect` shows its extent";
}

void check_spot(const Terrain& terrain, const Spot& spot) {
  const Vec2 offset = terrain.map_offset.head<2>(), p_W = spot.at - offset;
  if (terrain.ground->extent().contains(p_W)) return;
  const Box2 box = terrain.ground->extent();
  const Vec2 lo = box.lo + offset, hi = box.hi + offset;
  throw InputError(Place{"", 0, 0, "spot.at"},
                   fmt::format("({}, {}) m lies outside the terrain, which covers x {} to {} m, y {} to {} m",
                               spot.at.x(), spot.at.y(), lo.x(), hi.x(), lo.y(), hi.y()),
                   spot_meant(spot.at, {lo, hi}, offset));
}

const char* missing(double clearance) { return std::isnan(clearance) ? ", ground missing under it" : ""; }

void check_pose(const Machine& machine, const Criteria& criteria, const Levelling& l,
                std::vector<Violation>& out) {
  if (const double t = tilt(l.X_WC.R); t > criteria.allowed_tilt + kSlack)
    out.push_back({"tilt", "chassis", t, criteria.allowed_tilt, "rad", ""});
  for (std::size_t i = 0; i < l.stroke_left.size(); ++i)
    if (l.stroke_left[i] < criteria.stroke_left - kSlack)
      out.push_back(
          {"stroke_left", machine.outriggers[i].name, l.stroke_left[i], criteria.stroke_left, "m", ""});
  for (std::size_t i = 0; i < l.wheel_clearance.size(); ++i) {
    const double limit = std::max(machine.chassis.wheels[i].clearance, criteria.wheel_clearance);
    if (!(l.wheel_clearance[i] >= limit - kSlack))  // unknown over missing ground: not held
      out.push_back({"wheel_clearance", fmt::format("wheel {}{}", i + 1, missing(l.wheel_clearance[i])),
                     l.wheel_clearance[i], limit, "m", ""});
  }
  if (machine.chassis.belly) {
    const double limit = std::max(machine.chassis.belly->clearance, criteria.belly_clearance);
    if (!(l.belly_clearance >= limit - kSlack))
      out.push_back({"belly_clearance", std::string("belly") + missing(l.belly_clearance), l.belly_clearance,
                     limit, "m", ""});
  }
}

struct MeasureWords {
  const char *name, *unit;
};
MeasureWords words_of(MarginKind kind) {
  switch (kind) {
    case MarginKind::moment:
      return {"restoring moment", "N m"};
    case MarginKind::clearance:
      return {"clearance", "m"};
    case MarginKind::load_side_share:
      return {"load-side share", ""};
    case MarginKind::moment_ratio:
      return {"moment ratio", ""};
    case MarginKind::tip_angle:
      return {"tip angle", "rad"};
    case MarginKind::energy:
      return {"energy", "J"};
    case MarginKind::force_angle:
      return {"force-angle", ""};
  }
  return {"", ""};
}

std::string edge_name(const Stability& s, std::span<const Contact> contacts, int edge) {
  const Edge& e = s.edges[static_cast<std::size_t>(edge)];
  return contacts[static_cast<std::size_t>(e.from)].name + " to " +
         contacts[static_cast<std::size_t>(e.to)].name;
}

void check_cases(const Prepared& prepared, const Standing& standing, std::vector<Violation>& out) {
  const Stability& s = standing.stability;
  for (std::size_t i = 0; i < s.cases.size(); ++i) {
    const CaseResult& c = s.cases[i];
    if (c.ok) continue;
    const MeasureWords measure = words_of(c.decides_by);
    out.push_back({"load_case:" + prepared.load_cases[i].name,
                   "edge " + edge_name(s, standing.contacts, c.decides.at.edge), c.decides.value, c.required,
                   measure.unit, measure.name});
  }
}

void check_legs(const Prepared& prepared, const Standing& standing, std::vector<Violation>& out) {
  if (!prepared.scenario->criteria.foot_limits) return;
  const std::vector<FootLoad>& feet = standing.stability.feet;
  for (std::size_t i = 0; i < feet.size(); ++i) {
    const double limit = prepared.scenario->machine.outriggers[i].leg_limit;
    if (feet[i].greatest > limit)
      out.push_back({"leg_limit", standing.contacts[i].name, feet[i].greatest, limit, "N", ""});
  }
}

void check_strength(const Prepared& prepared, std::vector<Violation>& out) {
  for (const Strength& s : strengths(prepared)) {
    if (!(s.asked > s.allowed)) continue;
    const std::string where = fmt::format("at reach {:.4g} m", s.reach);
    switch (s.of) {
      case Strength::Of::boom_load:
        out.push_back({"structural", "boom " + where, s.asked, s.allowed, "N", "hanging load"});
        break;
      case Strength::Of::boom_root:
        out.push_back({"structural", "boom's root " + where, s.asked, s.allowed, "N m", "moment"});
        break;
      case Strength::Of::line_pull:
        out.push_back({"hoist", "line", s.asked, s.allowed, "N", "pull"});
        break;
    }
  }
}

void check_supports(const Machine& machine, const Standing& standing, std::vector<Violation>& out) {
  bool named = false;
  for (std::size_t i = 0; i < standing.contacts.size(); ++i) {
    const Contact& c = standing.contacts[i];
    if (!c.supported) {
      out.push_back({"support", c.name + ": " + c.reason, kUnset, kUnset, "", ""});
      named = true;
    }
    if (c.pad_tilt_exceeded) {
      const double slope = c.patch.normal.allFinite() ? slope_aspect(c.patch.normal).slope : kUnset;
      out.push_back({"pad_tilt", c.name, slope, machine.outriggers[i].pad_tilt, "rad", ""});
    }
  }
  if (!named && standing.stability.outcome == Stability::Outcome::no_support)
    out.push_back({"support", standing.stability.reason, kUnset, kUnset, "", ""});
}

/// Two triangles make a square of posts: its side around a place.
double spacing_around(const Terrain& terrain, const Vec2& p_W, double radius) {
  std::vector<Facet> facets;
  terrain.ground->facets({p_W - Vec2::Constant(radius), p_W + Vec2::Constant(radius)}, facets);
  if (facets.empty()) return kUnset;
  double area = 0;
  for (const Facet& f : facets) area += std::abs(cross2((f.b - f.a).head<2>(), (f.c - f.a).head<2>())) / 2;
  return std::sqrt(2 * area / static_cast<double>(facets.size()));
}

double coarsest_spacing(const Machine& machine, const Terrain& terrain, std::span<const Contact> contacts) {
  double coarsest = kUnset;
  for (std::size_t i = 0; i < contacts.size(); ++i) {
    const double here = spacing_around(terrain, contacts[i].p_W.head<2>(), machine.outriggers[i].pad_radius);
    if (!(here <= coarsest)) coarsest = std::isnan(here) ? coarsest : here;
  }
  return coarsest;
}

/// Does a leg carry more than it may at one of these states, as far as the envelope holds them?
bool overloaded_at(const Prepared& prepared, const FootForces& forces, std::span<const At> states) {
  const std::vector<Outrigger>& legs = prepared.scenario->machine.outriggers;
  for (const At& at : states) {
    if (at.load_case < 0 || at.load_case >= static_cast<int>(prepared.load_cases.size())) continue;
    const LoadCase& load_case = prepared.load_cases[static_cast<std::size_t>(at.load_case)];
    for (const Domain& domain : prepared.domains) {
      if (domain.transit != at.transit || !holds_state(prepared.loads, narrowed(domain, load_case), at.state))
        continue;
      const auto all = parts(prepared.loads, at.state, load_case, domain.payload, false);
      for (std::size_t i = 0; i < forces.count(); ++i)
        if (forces.at(all, at.state.slew, i, 1) > legs[i].leg_limit) return true;
    }
  }
  return false;
}

/// Are the forces on the feet within what the legs may carry? Where every foot carries, a sign settles it;
/// where one lifts, the forces have to be found.
bool legs_hold(const Prepared& prepared, const Standing& standing, std::span<const At> doubtful,
               std::int64_t& evaluations) {
  constexpr std::int64_t kOneByOne = 20'000;  ///< effort of that
  const std::vector<Outrigger>& legs = prepared.scenario->machine.outriggers;
  const FootForces forces(prepared, standing.levelling.X_WC, standing.contacts);
  if (overloaded_at(prepared, forces, doubtful)) return false;
  const double gap = 1e-6 * prepared.reference_masses.mass * prepared.scenario->gravity;
  const auto anywhere_below = [&](const LinearForm& form, double level) {
    for (const LoadCase& load_case : prepared.load_cases)
      for (const Domain& domain : prepared.domains) {
        const auto least = least_over(prepared.loads, load_case, domain, form, {gap, level});
        evaluations += least.evaluations;
        if (least.value < level) return true;
      }
    return false;
  };
  for (std::size_t i = 0; i < forces.count(); ++i) {
    if (!anywhere_below(forces.share(i).least, 0)) continue;
    evaluations += kOneByOne;
    const auto feet = foot_loads(prepared, standing.levelling, standing.contacts).feet;
    for (std::size_t k = 0; k < feet.size(); ++k)
      if (feet[k].greatest > legs[k].leg_limit) return false;
    return true;
  }
  for (std::size_t i = 0; i < forces.count(); ++i) {
    const LinearForm& most = forces.share(i).most;
    const LinearForm pressing{-most.per_place, -most.constant};
    if (std::isfinite(legs[i].leg_limit) && anywhere_below(pressing, -legs[i].leg_limit)) return false;
  }
  return true;
}

bool has_pose(const Levelling& l) {
  return l.outcome == Levelling::Outcome::level || l.outcome == Levelling::Outcome::least_tilt ||
         l.outcome == Levelling::Outcome::does_not_settle;
}

}  // namespace

Standing stand(const Prepared& prepared, const Terrain& terrain, const Spot& spot, Question question,
               const Control& control, double gap) {
  check_spot(terrain, spot);
  const Machine& machine = prepared.scenario->machine;
  const Criteria& criteria = prepared.scenario->criteria;
  const std::vector<double> no_sinkage(machine.outriggers.size(), 0.0);
  Standing out;
  out.spot = spot;
  out.levelling = level(machine, terrain, spot, needs(criteria), prepared.splay, no_sinkage);
  out.contacts = contacts(machine, terrain, out.levelling, prepared.splay, spot.under);
  out.spacing = coarsest_spacing(machine, terrain, out.contacts);
  out.diagnostic = out.levelling.outcome != Levelling::Outcome::level;
  if (has_pose(out.levelling)) {
    out.stability = assess(prepared, out.levelling, out.contacts, question, control, gap);
    if (out.stability.outcome != Stability::Outcome::no_support) check_cases(prepared, out, out.violations);
    check_legs(prepared, out, out.violations);
    check_strength(prepared, out.violations);
    check_pose(machine, criteria, out.levelling, out.violations);
  } else {
    out.stability.reason = out.levelling.outcome == Levelling::Outcome::unsupported
                               ? "a foot has no ground"
                               : "no pose of the machine was found";
  }
  check_supports(machine, out, out.violations);
  if (!has_pose(out.levelling) && out.levelling.outcome != Levelling::Outcome::unsupported) {
    std::string blocked;
    for (const std::string& b : out.levelling.blocked_by) blocked += (blocked.empty() ? "" : ", ") + b;
    out.violations.push_back({"stroke", "no pose: " + blocked, kUnset, kUnset, "", ""});
  }
  if (question == Question::extremes)
    out.parts = part_loads(prepared, out.levelling, out.contacts, out.stability);
  if (question == Question::extremes && out.diagnostic)
    out.ways_out = ways_out(machine, terrain, spot, needs(criteria), prepared.splay, no_sinkage);
  return out;
}

Verdict verdict(const Prepared& prepared, const Terrain& terrain, const Spot& spot, const Control& control,
                std::span<const At> doubtful) {
  const Vec2 p_W = spot.at - Vec2(terrain.map_offset.head<2>());
  if (!terrain.ground->extent().contains(p_W)) return {};
  const Standing standing = stand(prepared, terrain, spot, Question::verdict, control);
  Verdict out{standing.ok(), standing.stability.evaluations};
  if (out.holds && prepared.scenario->criteria.foot_limits)
    out.holds = legs_hold(prepared, standing, doubtful, out.evaluations);
  return out;
}

}  // namespace rimstance
