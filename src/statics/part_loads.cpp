#include "rimstance/statics/part_loads.hpp"

#include <algorithm>
#include <cmath>

#include "plausible.hpp"
#include "rimstance/statics/slew.hpp"

namespace rimstance {
namespace {

/// A group of bodies and the point about which they turn, for the platform at slew 0.
struct Scope {
  MachineLoads loads;
  Vec3 origin_C;
};

Scope all_on_platform(const MachineLoads& loads) {
  Scope out{loads, loads.machine.platform.axis};
  std::erase_if(out.loads.lumps, [](const Lump& l) { return !l.on_platform; });
  return out;
}

Scope boom_and_load(const MachineLoads& loads) {
  Scope out{loads, loads.machine.platform.axis + loads.machine.boom.foot};
  out.loads.lumps.clear();
  out.loads.machine.boom.magazine = loads.machine.boom.foot;  // no lever: the platform carries it
  return out;
}

/// `g` turned by `angle` towards a direction.
Vec3 leaning(const Vec3& g, const Vec3& towards, double angle) {
  const Vec3 down = g.normalized(), across = towards - towards.dot(down) * down;
  if (!(across.norm() > 0)) return g;
  return g.norm() * (std::cos(angle) * down + std::sin(angle) * across.normalized());
}

/// Gravity along a vector of S as the platform turns: the greatest, and where.
SlewLeast greatest_along(const Vec3& g_C, const Vec3& v_S, const Interval& slew) {
  const Wave along{-v_S.z() * g_C.z(), -(v_S.x() * g_C.x() + v_S.y() * g_C.y()),
                   -(v_S.x() * g_C.y() - v_S.y() * g_C.x())};
  const SlewLeast found = least(along, slew);
  return {-found.value, found.slew};
}

Vec3 in_platform(const Vec3& v_C, double slew) { return Eigen::AngleAxisd(-slew, Vec3::UnitZ()) * v_C; }

/// Of two gaps the wider; unproven stays so.
double wider(double a, double b) { return std::isnan(a) || std::isnan(b) ? kUnset : std::max(a, b); }

/// A greatest moment, with gravity as it stands there in S.
struct Found {
  ReadOff read;
  Vec3 gravity_S = Vec3::Zero();
};

/// Searches over every case and domain of one pose.
class Reading {
 public:
  Reading(const Prepared& prepared, const Pose& X_WC)
      : prepared_(prepared),
        g_C_(gravity_C(*prepared.scenario, X_WC)),
        lean_(prepared.scenario->criteria.set_error + prepared.scenario->criteria.work_tilt),
        tilt_(tilt(X_WC.R)),
        gap_(1e-6 * prepared.reference_masses.mass * prepared.scenario->gravity) {}

  BearingLoads bearing() const {
    const Scope scope = all_on_platform(prepared_.loads);
    BearingLoads out;
    out.overturning = longest(scope, g_C_, lean_);
    const double upright = std::cos(std::max(0.0, tilt_ - lean_)), across = std::sin(tilt_ + lean_);
    out.axial = most(scope.loads, {Vec3::Zero(), g() * upright});
    out.radial = out.axial.value / upright * across;
    out.hold_torque = across > 0 ? across * longest(scope, {0, 0, -g()}, 0).value : 0;
    return out;
  }

  LuffMoment luff(Found& greatest) const {
    const Scope scope = boom_and_load(prepared_.loads);
    greatest = towards(scope, Vec3::UnitX(), g_C_, lean_);
    LuffMoment out{towards(scope, -Vec3::UnitX(), g_C_, lean_).read, greatest.read};
    out.least.value = -out.least.value;
    return out;
  }

  BoomLoads boom(const Found& found) const {
    const Machine& machine = prepared_.loads.machine;
    const BoomShape& shape = *prepared_.loads.boom;
    const CraneState& at = found.read.at.state;
    BoomLoads out;
    out.at = found.read.at;
    const BoomLoad load = load_of(found);
    if (machine.boom.kind == Boom::Kind::telescopic) {
      const std::vector<double> ends = section_ends(machine.boom, shape, at.extension);
      out.cuts.push_back(cut(load, 0));
      for (std::size_t k = 0; k + 1 < ends.size(); ++k) out.cuts.push_back(cut(load, ends[k]));
    } else {
      for (int k = 0; k < 4; ++k) out.cuts.push_back(cut(load, k * load.length / 4));
    }
    out.tip_deflection = tip_deflection(machine.boom, shape, at.extension, load);
    out.side_moment = side_moment();
    const Interval& line = prepared_.operation.line;
    const auto period = [&](double length) { return 2 * kPi * std::sqrt(length / g()); };
    out.period = {period(line.lo), period(line.hi)};
    return out;
  }

  GuideLoads guide(const Guide& guide) const {
    GuideLoads out;
    out.moment.value = -kInfinity;
    double mass = 0, along = 0;
    const bool turns = guide.mount == Mount::platform;
    const bool margins = std::any_of(prepared_.load_cases.begin(), prepared_.load_cases.end(),
                                     [](const LoadCase& c) { return c.mass_margin; });
    for (const Body& b : guide.bodies) mass += b.mass * (margins ? 1 + b.margin : 1);
    for (const Domain& d : prepared_.domains) {
      const Interval slew = turns ? d.slew : Interval{0, 0};
      for (const double side : {1.0, -1.0}) {
        const double pull = greatest_along(g_C_, side * guide.direction, slew).value / g();
        along = std::max(along, std::sin(std::min(kPi / 2, std::asin(std::clamp(pull, -1.0, 1.0)) + lean_)));
      }
      for (const double travel : {d.travel.lo, d.travel.hi})
        for (const double theta : turning_points(slew)) {
          const double m = guide_moment(guide, travel, in_platform(g_C_, theta), margins);
          if (!(m > out.moment.value)) continue;
          out.moment.value = m;
          out.moment.at = {{turns ? theta : d.slew.lo, d.luff.lo, d.extension.lo, travel, d.line.lo, 0},
                           d.transit,
                           -1,
                           -1};
        }
    }
    out.moment.gap = 0;
    out.force = mass * g() * along;
    return out;
  }

  HoistLoads hoist() const {
    const Hoist& hoist = prepared_.loads.machine.hoist;
    const Domain& operation = prepared_.operation;
    HoistLoads out;
    for (const LoadCase& c : prepared_.load_cases)
      if (hoists(c))
        out.hoisting = std::max(out.hoisting, hoisting_factor(c, hoist, prepared_.loads.payload));
    const double hanging = prepared_.loads.payload + hoist.head_mass + hoist.line_mass * operation.line.hi;
    out.pull = out.hoisting * g() * hanging;
    double longest = 0;
    for (const Domain& d : prepared_.domains)
      for (const Vec2& corner : boom_corners(prepared_.loads, d))
        longest = std::max(longest, prepared_.loads.boom->length(corner.y()));
    const double to_boom =
        hoist.drum.allFinite() ? (prepared_.loads.machine.boom.foot - hoist.drum).norm() : 0;
    out.line_needed = operation.line.hi + longest + to_boom;
    out.line_left = hoist.line_length - out.line_needed;
    return out;
  }

 private:
  double g() const { return prepared_.scenario->gravity; }

  /// Greatest of a form over every case and domain.
  ReadOff most(const MachineLoads& loads, const LinearForm& f) const {
    ReadOff best{-kInfinity, 0, {}};
    for (const Domain& domain : prepared_.domains)
      offer(loads, f, domain, best, [](const LoadCase&) { return true; });
    return best;
  }

  /// The same over the wanted cases of one domain; true if it became greater.
  template <class Wanted>
  bool offer(const MachineLoads& loads, const LinearForm& f, const Domain& domain, ReadOff& best,
             const Wanted& wanted) const {
    bool greater = false;
    for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c) {
      if (!wanted(prepared_.load_cases[c])) continue;
      const auto found = least_over(loads, prepared_.load_cases[c], domain, {-f.per_place, -f.constant},
                                    {gap_, {}}, -best.value);
      best.gap = wider(best.gap, found.gap);
      if (!(found.value < -best.value)) continue;
      best.value = -found.value;
      best.at = {found.at, domain.transit, static_cast<int>(c), -1};
      greater = true;
    }
    return greater;
  }

  /// Slew angles at which gravity along a direction of S is greatest and least.
  static std::vector<double> slews(const Vec3& g_C, const Vec3& u_S, const Interval& slew) {
    const double most = greatest_along(g_C, u_S, slew).slew, least = greatest_along(g_C, -u_S, slew).slew;
    if (most == least) return {most};
    return {most, least};
  }

  /// May more than nothing weigh below the scope's origin? Above it, a lean towards u adds to every moment
  /// towards u, and the lean away from it need not be asked.
  bool below(const Scope& scope, const Domain& domain, const LoadCase& load_case) const {
    const Machine& machine = scope.loads.machine;
    const double origin = scope.origin_C.z(), platform = machine.platform.axis.z();
    const Hung load = hung(load_case, machine.hoist, scope.loads.payload, domain.payload);
    const bool lump = std::any_of(scope.loads.lumps.begin(), scope.loads.lumps.end(), [&](const Lump& l) {
      return std::min(l.at_travel(domain.travel.lo).z(), l.at_travel(domain.travel.hi).z()) +
                 (l.on_platform ? platform : 0) <
             origin;
    });
    const bool magazine =
        machine.boom.kind == Boom::Kind::rigid_chain && platform + machine.boom.magazine.z() < origin;
    return lump || magazine || platform + machine.boom.foot.z() < origin || domain.luff.lo < 0 ||
           load.fixed < load.pull || has_mass_behind_pin(scope);
  }
  /// A long retracted section may reach back and down behind the pin.
  static bool has_mass_behind_pin(const Scope& scope) {
    for (int k = 0; k < scope.loads.boom->parts(); ++k)
      if (scope.loads.boom->part(k, 0).moment < 0) return true;
    return false;
  }

  /// Greatest moment about the scope's origin that overturns towards u (S, horizontal): of a mass at p from
  /// it, m (-g_z u . p + (u . g) p_z). With the platform held at slew 0 and gravity turned instead that is a
  /// linear form; it is linear in gravity's part along u, so two slew angles suffice, and a lean along u.
  Found towards(const Scope& scope, const Vec3& u, const Vec3& g_C, double lean) const {
    Found best;
    best.read = {-kInfinity, 0, {}};
    for (const Domain& domain : prepared_.domains) {
      Domain held = domain;
      held.slew = {0, 0};
      for (const double theta : slews(g_C, u, domain.slew))
        for (const double side : {1.0, -1.0}) {
          if (side < 0 && !(lean > 0)) continue;
          const Vec3 g_S = leaning(in_platform(g_C, theta), u, side * lean);
          LinearForm f;
          f.per_place = -g_S.z() * u + u.dot(g_S) * Vec3::UnitZ();
          f.constant = -f.per_place.dot(scope.origin_C);
          const auto wanted = [&](const LoadCase& c) { return side > 0 || below(scope, domain, c); };
          if (!offer(scope.loads, f, held, best.read, wanted)) continue;
          best.read.at.state.slew = theta;
          best.gravity_S = g_S;
        }
    }
    return best;
  }

  /// Greatest length of the overturning moment. Its part towards every direction stays below towards(), so it
  /// lies in the polygon of the directions asked; the farthest corner names the next one.
  ReadOff longest(const Scope& scope, const Vec3& g_C, double lean) const {
    struct Asked {
      double angle, value;
    };
    std::vector<Asked> asked;
    ReadOff best{-kInfinity, 0, {}};
    const auto ask = [&](double angle) {
      const Found found = towards(scope, {std::cos(angle), std::sin(angle), 0}, g_C, lean);
      const Asked next{angle, found.read.value};
      asked.insert(std::find_if(asked.begin(), asked.end(), [&](const Asked& a) { return a.angle > angle; }),
                   next);
      const double gap = wider(best.gap, found.read.gap);
      if (found.read.value > best.value) best = found.read;
      best.gap = gap;
    };
    for (const double angle : {0.0, kPi / 2, kPi, 3 * kPi / 2}) ask(angle);
    for (int round = 0;; ++round) {
      Vec2 farthest = Vec2::Zero();
      for (std::size_t i = 0; i < asked.size(); ++i) {
        const Asked &a = asked[i], &b = asked[(i + 1) % asked.size()];
        const double turn = std::sin(b.angle - a.angle);
        const Vec2 corner((a.value * std::sin(b.angle) - b.value * std::sin(a.angle)) / turn,
                          (b.value * std::cos(a.angle) - a.value * std::cos(b.angle)) / turn);
        if (corner.norm() > farthest.norm()) farthest = corner;
      }
      const double beyond = farthest.norm() - best.value;
      if (beyond <= 1e-4 * best.value || round == 8) {
        best.gap += std::max(0.0, beyond);
        return best;
      }
      const double angle = std::atan2(farthest.y(), farthest.x());
      ask(angle < 0 ? angle + 2 * kPi : angle);
    }
  }

  BoomLoad load_of(const Found& found) const {
    const MachineLoads& loads = prepared_.loads;
    const At& at = found.read.at;
    const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(at.load_case)];
    const double c = std::cos(at.state.luff), s = std::sin(at.state.luff);
    BoomLoad out;
    out.own = stretches(loads.machine.boom, *loads.boom, at.state.extension);
    out.length = loads.boom->length(at.state.extension);
    out.across = -found.gravity_S.z() * c + found.gravity_S.x() * s;
    out.lengthwise = -(found.gravity_S.x() * c + found.gravity_S.z() * s);
    for (std::size_t k = 0; load_case.mass_margin && k < out.own.size(); ++k)
      if (out.across * out.own[k].centre() > 0)
        out.own[k].mass *= 1 + loads.boom->margin(static_cast<int>(k));
    for (const Part& part : parts(loads, at.state, load_case, payload_in(at), false))
      if (part.body == loads.hung_body()) out.at_tip += part.mass;
    return out;
  }

  bool payload_in(const At& at) const {
    return std::any_of(prepared_.domains.begin(), prepared_.domains.end(),
                       [&](const Domain& d) { return d.transit == at.transit && d.payload; });
  }

  /// Mass times distance along the boom grows with the extension, whatever the luff.
  double side_moment() const {
    const MachineLoads& loads = prepared_.loads;
    double greatest = 0;
    for (const Domain& domain : prepared_.domains) {
      const double pull = std::max(greatest_along(g_C_, Vec3::UnitY(), domain.slew).value,
                                   greatest_along(g_C_, -Vec3::UnitY(), domain.slew).value);
      const double across = g() * std::sin(std::asin(std::clamp(pull / g(), -1.0, 1.0)) + lean_);
      for (const LoadCase& load_case : prepared_.load_cases) {
        const Hung load = hung(load_case, loads.machine.hoist, loads.payload, domain.payload);
        for (const Vec2& corner : boom_corners(loads, narrowed(domain, load_case)))
          for (const double line : {domain.line.lo, domain.line.hi}) {
            const double at_tip = load.fixed + load.per_line * line - load.pull;
            const double lever = loads.boom->length(corner.y());
            double least = at_tip * lever, most = least;
            for (int k = 0; k < loads.boom->parts(); ++k) {
              const double own = loads.boom->part(k, corner.y()).moment;
              least += own;
              most += own * (load_case.mass_margin ? 1 + loads.boom->margin(k) : 1);
            }
            greatest = std::max({greatest, across * most, -across * least});
          }
      }
    }
    return greatest;
  }

  /// Ends of the slew, and where the platform's x axis points with, against and across the tilt.
  std::vector<double> turning_points(const Interval& slew) const {
    std::vector<double> out{slew.lo, slew.hi};
    if (!(tilt_ > 0)) return {slew.lo};
    for (const Vec3& u :
         {Vec3(Vec3::UnitX()), Vec3(-Vec3::UnitX()), Vec3(Vec3::UnitY()), Vec3(-Vec3::UnitY())})
      out.push_back(greatest_along(g_C_, u, slew).slew);
    return out;
  }

  /// Length of the bodies' moment about the guide's start, gravity g in the guide's axes: the greatest over
  /// the masses and over a lean along or across the bodies.
  double guide_moment(const Guide& guide, double travel, const Vec3& g, bool margins) const {
    Vec3 offset = Vec3::Zero();
    for (const Body& b : guide.bodies) offset += b.mass * (b.at + travel * guide.direction);
    std::vector<Vec3> ways{g};
    if (lean_ > 0)
      for (const Vec3& u : {offset, Vec3(-offset), Vec3(offset.cross(g)), Vec3(g.cross(offset))})
        ways.push_back(leaning(g, u, lean_));
    double greatest = 0;
    for (const Vec3& way : ways)
      greatest = std::max(greatest, guide_moment_under(guide, travel, way, margins));
    return greatest;
  }

  /// A body counts with its allowance where that adds to the moment: convex in the masses, from all of them
  /// grown on.
  static double guide_moment_under(const Guide& guide, double travel, const Vec3& g, bool margins) {
    const auto moment = [&](const Body& b) -> Vec3 {
      return (b.at + travel * guide.direction).cross(b.mass * g);
    };
    Vec3 sum = Vec3::Zero();
    for (const Body& b : guide.bodies) sum += (margins ? 1 + b.margin : 1) * moment(b);
    for (int round = 0; margins && round < 8; ++round) {
      Vec3 next = Vec3::Zero();
      for (const Body& b : guide.bodies) next += (sum.dot(moment(b)) > 0 ? 1 + b.margin : 1) * moment(b);
      if (!(next.norm() > sum.norm())) break;
      sum = next;
    }
    return sum.norm();
  }

  const Prepared& prepared_;
  Vec3 g_C_;
  double lean_, tilt_, gap_;
};

FootPart foot_part(const Prepared& prepared, const Levelling& levelling, std::size_t i,
                   const FootLoad& load) {
  const Scenario& scenario = *prepared.scenario;
  const Outrigger& o = scenario.machine.outriggers[i];
  const double azimuth = o.zero + o.sense * prepared.splay[i], height = o.drop + levelling.stroke[i];
  const Vec3 up_C = levelling.X_WC.R.transpose() * Vec3::UnitZ();
  const Vec2 out_C(std::cos(azimuth), std::sin(azimuth)), side_C(-out_C.y(), out_C.x());
  const double leans = std::tan(scenario.criteria.set_error + scenario.criteria.work_tilt);
  const double N = load.greatest, aside = N * (std::abs(side_C.dot(up_C.head<2>())) + leans);
  FootPart part;
  part.reaction = {N, load.gap, load.greatest_at};
  part.stroke = levelling.stroke[i];
  part.leg_axial = N * up_C.z();
  part.leg_moment = height * N * (up_C.head<2>().norm() + leans);
  part.arm_moment = o.arm * part.leg_axial + height * N * (out_C.dot(up_C.head<2>()) + leans);
  part.arm_side_moment = o.arm * aside;
  part.arm_shear = std::hypot(part.leg_axial, aside);
  part.arm_torsion = height * aside;
  return part;
}

/// What one leg's length does to forces and pose, per metre.
class StrokeErrors {
 public:
  StrokeErrors(const Prepared& prepared, std::span<const Contact> contacts)
      : machine_(prepared.scenario->machine), set_error_(prepared.scenario->criteria.set_error) {
    const std::vector<Support> springs = supports(machine_);
    std::vector<Vec3> points;
    Mat3 S = Mat3::Zero();
    Vec6 even = Vec6::Zero();  // presses every spring alike: all of them carry
    for (std::size_t i = 0; i < contacts.size(); ++i) {
      points.push_back(contacts[i].p_W - contacts[0].p_W);
      const Vec3 row(1, -points[i].y(), points[i].x());
      S += springs[i].stiffness * row * row.transpose();
      rows_.push_back(springs[i].stiffness * row);
      even += wrench({0, 0, -springs[i].stiffness}, points[i]);
    }
    inverse_ = S.inverse();
    forces_ = force_per_stroke(points, springs, reactions(points, springs, even));
  }

  /// See FootPart::stroke_tolerance.
  void tolerance(std::size_t i, const std::vector<FootLoad>& feet, double upright, FootPart& part) const {
    double least = kInfinity;
    const auto gives = [&](double at, const std::string& what) {
      if (!(at < least)) return;
      least = at;
      part.tolerance_by = what;
    };
    for (std::size_t j = 0; j < feet.size(); ++j) {
      const std::string& name = machine_.outriggers[j].name;
      if (!std::isfinite(feet[j].greatest) || !std::isfinite(feet[j].least)) {
        part.tolerance_by = "the machine tips";
        return;
      }
      const double per_stroke = std::abs(forces_(static_cast<Eigen::Index>(j), static_cast<Eigen::Index>(i)));
      if (!(per_stroke > 0)) continue;
      if (feet[j].least > 0) gives(feet[j].least / per_stroke, name + " lifts off");
      gives(std::max(0.0, machine_.outriggers[j].leg_limit / upright - feet[j].greatest) / per_stroke,
            "leg limit of " + name);
    }
    if (set_error_ > 0) gives(set_error_ / (inverse_ * rows_[i]).tail<2>().norm(), "set_error");
    if (std::isfinite(least))
      part.stroke_tolerance = least;
    else
      part.tolerance_by = feet.size() == 3
                              ? "three feet share the weight by statics alone, whatever the strokes"
                              : "feet lift off without it, and the legs have no limit";
  }

 private:
  const Machine& machine_;
  double set_error_;
  std::vector<Vec3> rows_;
  Mat3 inverse_;
  Eigen::MatrixXd forces_;
};

}  // namespace

std::vector<Vec2> boom_corners(const MachineLoads& loads, const Domain& domain) {
  const double pin = loads.machine.platform.axis.z() + loads.machine.boom.foot.z(),
               at_0 = loads.boom->length(0);
  std::vector<double> luffs{domain.luff.lo, domain.luff.hi};
  if (domain.luff.contains(0)) luffs.push_back(0);
  std::vector<double> lengths, aheads, heights;
  for (const double e : {domain.extension.lo, domain.extension.hi}) lengths.push_back(loads.boom->length(e));
  for (const double r : {domain.reach.lo, domain.reach.hi})
    if (const double x = ahead_of_foot(loads.machine.boom, r); std::isfinite(x)) aheads.push_back(x);
  for (const double h : {domain.tip_height.lo, domain.tip_height.hi})
    if (std::isfinite(h)) heights.push_back(h - pin);
  std::vector<Vec2> out;
  const auto tip_at = [&](double x, double z) {
    if (!std::isfinite(x) || !std::isfinite(z)) return;
    CraneState s{domain.slew.lo,   std::atan2(z, x), std::hypot(x, z) - at_0,
                 domain.travel.lo, domain.line.lo,   0};
    const auto within = [](double& v, const Interval& i) {  // but for rounding
      if (std::abs(v - std::clamp(v, i.lo, i.hi)) < 1e-9) v = std::clamp(v, i.lo, i.hi);
    };
    within(s.luff, domain.luff);
    within(s.extension, domain.extension);
    if (holds_state(loads, domain, s)) out.emplace_back(s.luff, s.extension);
  };
  for (const double l : lengths) {
    for (const double luff : luffs) tip_at(l * std::cos(luff), l * std::sin(luff));
    for (const double x : aheads)
      for (const double side : {1.0, -1.0}) tip_at(x, side * std::sqrt((l - x) * (l + x)));
    for (const double z : heights) tip_at(std::sqrt((l - z) * (l + z)), z);
  }
  for (const double luff : luffs) {
    for (const double x : aheads) tip_at(x, x * std::tan(luff));
    for (const double z : heights) tip_at(z / std::tan(luff), z);
  }
  for (const double x : aheads)
    for (const double z : heights) tip_at(x, z);
  return out;
}

PartLoads part_loads(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
                     const Stability& stability) {
  PartLoads out;
  out.stowed = stowed(*prepared.scenario);
  if (stability.outcome == Stability::Outcome::no_support) {
    out.reason = stability.reason;
    return out;
  }
  const StrokeErrors errors(prepared, contacts);
  const double upright = std::cos(tilt(levelling.X_WC.R));
  for (std::size_t i = 0; i < stability.feet.size(); ++i) {
    out.feet.push_back(foot_part(prepared, levelling, i, stability.feet[i]));
    errors.tolerance(i, stability.feet, upright, out.feet.back());
  }
  const Reading reading(prepared, levelling.X_WC);
  Found root;
  out.bearing = reading.bearing();
  out.luff = reading.luff(root);
  out.boom = reading.boom(root);
  if (prepared.scenario->machine.guide) out.guide = reading.guide(*prepared.scenario->machine.guide);
  out.hoist = reading.hoist();
  out.plausibility = plausible(prepared, levelling, contacts, stability, out);
  return out;
}

}  // namespace rimstance
