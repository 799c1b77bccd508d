// Travel windows and needed masses against closed forms, the certified search and dense scans; schedules.
#include "rimstance/study/counterweight.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

using studies::Ready;

Ready ready_free(const Scenario& scenario, const Pose& X_WC, const std::vector<double>& stroke) {
  Ready r;
  r.prepared = prepare_free(scenario);
  r.levelling.outcome = Levelling::Outcome::level;
  r.levelling.X_WC = X_WC;
  r.contacts = stands::feet(scenario.machine, stroke, X_WC);
  return r;
}
Ready ready_free(const Scenario& scenario) {
  return ready_free(scenario, {}, std::vector<double>(scenario.machine.outriggers.size(), 0.2));
}

Counterweight found(const Ready& r, std::vector<double> reaches, double step = radians(10)) {
  return counterweight(r.prepared, r.levelling, r.contacts, {std::move(reaches), step}, {});
}

// ---- two tipping lines ---------------------------------------------------------------------------

constexpr double kCabinets = 300, kStart = -1.0;

/// The textbook's crane with a guide: tipping lines 2 m ahead and 2 m behind the slew axis, 2000 kg at
/// -0.30 m, a boom of 150 kg with its centre at 3 m, load at 6 m, cabinets from -1 m backwards.
Scenario two_lines(std::vector<LoadCase> load_cases) {
  Scenario s = studies::plain(rigs::plain_crane(), load_cases[0]);
  s.criteria.load_cases = std::move(load_cases);
  Guide guide;
  guide.start = Vec3(kStart, 0, 0.3);
  guide.direction = -Vec3::UnitX();
  guide.travel = {0, 3};
  guide.bodies = {rigs::body("cabinets", kCabinets, Vec3::Zero())};
  s.machine.guide = guide;
  s.payload.mass = 1100;
  return s;
}
LoadCase forward() {
  LoadCase c;
  c.name = "forward";
  c.load_factor = 1.25;
  c.mass_margin = false;
  return c;
}
LoadCase unloaded() {
  LoadCase c;
  c.name = "unloaded";
  c.payload = c.mass_margin = false;
  c.margin = {{MarginKind::load_side_share, 0.15}};
  return c;
}

// About the line ahead, d = 2: M (d - x_M) + s m (d - x) >= m_b (r_b - d) + a P (R - d), x = start - c.
// The mass moment that the cabinets have to give there [kg m]:
const double kAhead = 1.25 * 1100 * (6 - 2) + 150 * (3 - 2) - 2000 * (2 + 0.30);
// Share on the load side (1 + x_cg / a) / 2 >= 15 % is x_cg >= -0.70 a, the backward rule of two parallel
// lines: M x_M + m_b r_b + s m x + 0.7 a (M + m_b + s m) >= 0. What cabinets at x may take [kg m]:
const double kBehind = 2000 * -0.30 + 150 * 3 + 0.7 * 2 * (2000 + 150);

TEST_CASE("on two tipping lines the window has its closed form at both ends") {
  const TravelState s = found(ready_free(two_lines({forward(), unloaded()})), {6}).states.at(0);
  CHECK(s.free.lo == Approx(kAhead / kCabinets - 2 + kStart).epsilon(1e-11));
  CHECK(s.free.hi == Approx(kBehind / kCabinets + kStart + 1.4).epsilon(1e-11));
  CHECK(s.lower.load_case == 0);
  CHECK(s.upper.load_case == 1);
  CHECK(s.window.lo == std::max(0.0, s.free.lo));
  CHECK(s.window.hi == std::min(3.0, s.free.hi));
  CHECK(s.missing == 0);
}

TEST_CASE("on two tipping lines the needed mass has its closed form at both ends") {
  Scenario s = two_lines({forward(), unloaded()});
  s.machine.guide->start.x() = -2;  // then too heavy tips backwards at every travel
  const TravelState found_there = found(ready_free(s), {6}).states.at(0);
  // Lightest at the far end of the guide, heaviest at its start.
  CHECK(found_there.mass.lo == Approx(kAhead / (2 + 2 + 3)).epsilon(1e-9));
  CHECK(found_there.mass.hi == Approx(kBehind / (2 - 1.4)).epsilon(1e-9));
}

TEST_CASE("no mass helps where both lines ask for more than half the weight") {
  LoadCase half = unloaded();
  half.margin = {{MarginKind::load_side_share, 0.55}};
  const TravelState s = found(ready_free(two_lines({half})), {6}).states.at(0);
  CHECK(std::isnan(s.mass.lo));
  CHECK(std::isnan(s.free.lo));
  CHECK(std::isnan(s.missing));
}

TEST_CASE(
    "a guide too short lacks what the closed form says, and one that nothing lengthens lacks nothing "
    "sayable") {
  Scenario s = two_lines({forward(), unloaded()});
  s.payload.mass = 1400;
  const double needed = (1.25 * 1400 * 4 + 150 - 2000 * 2.3) / kCabinets - 3;
  s.machine.guide->travel = {0, needed - 0.25};
  TravelState at = found(ready_free(s), {6}).states.at(0);
  CHECK(!at.holds());
  CHECK(at.missing == Approx(0.25).epsilon(1e-9));
  s.payload.mass = 3000;  // forward needs more than backward leaves, wherever they are
  at = found(ready_free(s), {6}).states.at(0);
  CHECK(!(at.free.lo <= at.free.hi));
  CHECK(std::isnan(at.missing));
  CHECK(at.lower.load_case + at.upper.load_case == 1);  // one of each
}

TEST_CASE("what nothing limits is unbounded: the mass between the lines, the travel along the slew axis") {
  Scenario s = two_lines({forward()});
  CHECK(found(ready_free(s), {6}).states.at(0).mass.hi == kInfinity);
  s.machine.guide->direction = Vec3::UnitZ();
  const TravelState up = found(ready_free(s), {6}).states.at(0);
  const bool stands = 300 * (2 + 1) >= kAhead;
  CHECK(stands == (up.free.lo == -kInfinity && up.free.hi == kInfinity));
}

// ---- drawn machines ------------------------------------------------------------------------------

struct Drawn {
  Ready r;
  double reach;
  MarginKind kind;
  double margin;
};

Drawn drawn_study(Draw& draw, double tilt) {
  Scenario s = drawn::scenario(draw);
  LoadCase c = drawn::load_case(draw, draw.in(0, 1) < 0.6);
  LoadCase back = unloaded();
  back.mass_margin = c.mass_margin;
  Drawn d;
  d.kind = std::array{MarginKind::moment, MarginKind::clearance, MarginKind::load_side_share,
                      MarginKind::moment_ratio}[static_cast<std::size_t>(draw.in(0, 4))];
  d.margin = d.kind == MarginKind::moment         ? draw.in(0, 100)
             : d.kind == MarginKind::moment_ratio ? draw.in(1, 1.5)
                                                  : draw.in(0, 0.1);
  c.margin = {{d.kind, d.margin}};
  s = studies::plain(s, c);
  if (draw.in(0, 1) < 0.5) {
    back.margin = {{MarginKind::load_side_share, draw.in(0, 0.35)}};
    s.criteria.load_cases.push_back(back);
  }
  const auto shape = boom_shape(s.machine.boom);
  s.operation.luff = {draw.in(-0.2, 0.4), draw.in(0.5, 1.3)};
  s.operation.extension = {0, shape->greatest_extension()};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.slew = draw.in(0, 1) < 0.5 ? Interval{radians(-30), radians(30)} : Interval{-kPi, kPi};
  s.operation.line = {0, 20};
  s.payload.mass = draw.in(0, 1) < 0.5 ? draw.in(5, 40) : draw.in(100, 500);
  for (Body& b : s.machine.guide->bodies) b.mass *= draw.in(0.5, 2);
  s.machine.guide->travel = {0, draw.in(0.5, 2)};
  std::vector<double> stroke;
  for (std::size_t i = 0; i < s.machine.outriggers.size(); ++i) stroke.push_back(draw.in(0, 0.6));
  d.r = ready_free(s, drawn::pose(draw, tilt), stroke);
  const Interval all = reaches(d.r.prepared.loads, d.r.prepared.operation);
  d.reach = all.lo + all.width() * draw.in(0.05, 0.95);
  return d;
}

/// What a rule's margin has in hand, in the moment's unit: sum(min(q_k, (1 + mu_k) q_k)), q_k the moment of
/// one part less the share of its weight that the margin asks for; by body for a ratio.
double in_hand(const Ready& r, const Edge& e, const CraneState& at, std::size_t load_case, MarginKind kind,
               double margin) {
  const TippingAxis axis = tipping_axis(e, gravity_C(*r.prepared.scenario, r.levelling.X_WC));
  const auto all = parts(r.prepared.loads, at, r.prepared.load_cases[load_case], true, true);
  const double c = kind == MarginKind::clearance         ? margin
                   : kind == MarginKind::load_side_share ? margin * axis.width
                                                         : 0;
  double sum = kind == MarginKind::moment ? -margin : 0;
  for (std::size_t i = 0; i < all.size();) {
    double body = 0;
    for (const int b = all[i].body; i < all.size() && all[i].body == b; ++i) {
      const double one =
          all[i].mass * axis.g * axis.cos_psi * ((all[i].at(at.slew) - axis.c).dot(axis.n) - c);
      body += one * (one < 0 ? 1 + all[i].margin : 1);
    }
    sum += body < 0 && kind == MarginKind::moment_ratio ? margin * body : body;
  }
  return sum;
}

/// The least in hand over every edge, case and a dense sweep of a reach's states at one travel; of several
/// that lie below `enough`, the first. In hand: by in_hand(edge, state, case, kind, margin).
template <class InHand>
double swept(const Drawn& d, const Interval& slew, double travel, int luffs, int slews, double enough,
             const InHand& in_hand) {
  const Prepared& p = d.r.prepared;
  double least = kInfinity;
  for (const Edge& e : support_polygon(d.r.contacts, d.r.levelling.X_WC))
    for (std::size_t i = 0; i < p.load_cases.size(); ++i) {
      const auto [fewest, most] = units_left(p.loads, p.load_cases[i], p.operation);
      const auto [kind, margin] = *p.load_cases[i].margin.begin();
      for (const CurvePiece& piece : curve_at_reach(p.loads, p.operation, d.reach))
        for (int k = 0; k <= luffs; ++k) {
          const double z = piece.end[0].height + (piece.end[1].height - piece.end[0].height) * k / luffs;
          const BoomSetting set = setting_of(p.loads, piece.ahead, {std::hypot(piece.ahead, z), z});
          for (int t = 0; t <= slews; ++t)
            for (const double line : {p.operation.line.lo, p.operation.line.hi})
              for (const int units : {fewest, most}) {
                const CraneState at{slew.lo + slew.width() * t / slews,
                                    set.luff,
                                    std::max(0.0, set.extension),
                                    travel,
                                    line,
                                    units};
                least = std::min(least, in_hand(e, at, i, kind, margin));
                if (least < enough) return least;
              }
        }
    }
  return least;
}
double swept(const Drawn& d, const Interval& slew, double travel, int luffs, int slews,
             double enough = -kInfinity) {
  return swept(d, slew, travel, luffs, slews, enough,
               [&](const Edge& e, const CraneState& at, std::size_t i, MarginKind kind, double margin) {
                 return in_hand(d.r, e, at, i, kind, margin);
               });
}

double at_limit(const Drawn& d, const TravelLimit& limit, double travel) {
  const auto edges = support_polygon(d.r.contacts, d.r.levelling.X_WC);
  CraneState at = limit.at;
  at.travel = travel;
  const auto i = static_cast<std::size_t>(limit.load_case);
  const auto [kind, margin] = *d.r.prepared.load_cases[i].margin.begin();
  return in_hand(d.r, edges[static_cast<std::size_t>(limit.edge)], at, i, kind, margin);
}

/// Inside a window every swept state holds; just outside, the state that is named breaks its rule.
void check_window(const Drawn& d, const TravelState& s, double slack) {
  const double size = 1e-9 * d.r.prepared.reference_masses.mass;
  if (s.free.lo <= s.free.hi) {
    const double far = 20;  // as far from a window's one end as where the other is at infinity
    const Interval near{std::isfinite(s.free.lo) ? s.free.lo : std::min(-far, s.free.hi - far),
                        std::isfinite(s.free.hi) ? s.free.hi : std::max(far, s.free.lo + far)};
    for (const double travel : {near.lo, near.middle(), near.hi})
      CHECK(swept(d, s.slew, travel, 2, s.slew.width() > 2 ? 12 : 4) >= -size * (1 + std::abs(travel)));
    if (std::isfinite(s.free.lo)) CHECK(at_limit(d, s.lower, s.free.lo - slack) < 0);
    if (std::isfinite(s.free.hi)) CHECK(at_limit(d, s.upper, s.free.hi + slack) < 0);
    return;
  }
  for (double travel = -6; travel <= 6; travel += 1.5) CHECK(swept(d, s.slew, travel, 4, 36, 1e-3) < 1e-3);
}

TEST_CASE(
    "windows agree with dense sweeps on drawn machines, both mounts, all booms, narrow and full sectors") {
  int empty = 0, chassis = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{72, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Drawn d = drawn_study(draw, 0);
    const Counterweight c = found(d.r, {d.reach}, radians(40));
    const TravelState& s =
        c.states[static_cast<std::size_t>(draw.in(0, static_cast<double>(c.states.size())))];
    CAPTURE(static_cast<int>(d.kind), d.margin, s.free.lo, s.free.hi, s.slew.lo, s.slew.hi);
    REQUIRE(s.has_state);
    check_window(d, s, 1e-8);
    empty += !(s.free.lo <= s.free.hi);
    chassis += c.states.size() > 1;
  }
  CHECK(empty >= cases() / 100);
  CHECK(chassis >= cases() / 10);
}

TEST_CASE("on a tilted chassis windows lie inside dense sweeps, by no more than their gap") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{73, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Drawn d = drawn_study(draw, 0.15);
    const Counterweight c = found(d.r, {d.reach}, radians(40));
    const TravelState& s =
        c.states[static_cast<std::size_t>(draw.in(0, static_cast<double>(c.states.size())))];
    CAPTURE(static_cast<int>(d.kind), d.margin, s.free.lo, s.free.hi, s.slew.lo, s.slew.hi, s.gap);
    check_window(d, s, 1e-4);
  }
}

/// The same machine with all bodies on the guide scaled.
TravelState scaled(const Drawn& d, std::size_t column, double share) {
  Scenario s = *d.r.prepared.scenario;
  for (Body& b : s.machine.guide->bodies) b.mass *= share;
  Ready r = d.r;
  r.prepared = prepare_free(s);
  return found(r, {d.reach}, radians(40)).states[column];
}

TEST_CASE("with a needed mass some travel holds, a little outside none does") {
  int bounded = 0;
  for (int i = 0; i < cases() / 5; ++i) {
    Draw draw{74, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const bool level = draw.in(0, 1) < 0.7;
    const Drawn d = drawn_study(draw, level ? 0 : 0.1);
    const double slack = level ? 1e-4 : 1e-2;  // a tilted window is checked 10 um inside its ends
    const Counterweight c = found(d.r, {d.reach}, radians(40));
    const auto column = static_cast<std::size_t>(draw.in(0, static_cast<double>(c.states.size())));
    const Interval share{c.states[column].mass.lo / c.bodies, c.states[column].mass.hi / c.bodies};
    CAPTURE(share.lo, share.hi, c.states[column].window.lo);
    if (!(share.lo <= share.hi)) {
      for (const double s : {0.01, 0.3, 0.6, 1.0, 1.5, 2.5, 5.0, 20.0}) CHECK(!scaled(d, column, s).holds());
      continue;
    }
    ++bounded;
    CHECK(scaled(d, column, share.lo * (1 + slack) + 1e-6).holds());
    if (share.lo > 1e-3) CHECK(!scaled(d, column, share.lo * (1 - 1e-4) - 2e-5).holds());
    if (std::isfinite(share.hi)) CHECK(scaled(d, column, share.hi * (1 - slack)).holds());
    if (std::isfinite(share.hi)) CHECK(!scaled(d, column, share.hi * (1 + 1e-4)).holds());
    CHECK((share.lo <= 1 + 1e-5 && share.hi >= 1 - 1e-5) == c.states[column].holds());
  }
  CHECK(bounded >= cases() / 20);
}

TEST_CASE(
    "a window and a capacity tell the same limit: the payload a travel carries has that travel at its end") {
  int met = 0;
  for (int i = 0; i < cases() / 5; ++i) {
    Draw draw{75, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Drawn d = drawn_study(draw, 0);
    Scenario s = *d.r.prepared.scenario;
    if (s.machine.guide->mount == Mount::chassis) continue;
    const double travel = s.machine.guide->travel.hi * draw.in(0.2, 0.9);
    s.operation.travel = {travel, travel};
    s.criteria.load_cases.resize(1);
    Ready fixed = d.r;
    fixed.prepared = prepare(std::make_shared<Scenario>(s));
    CapacityAsked asked;
    asked.reaches = {d.reach};
    asked.slew_step = 7;
    const Capacity c = capacity(fixed.prepared, fixed.levelling, fixed.contacts, asked, {});
    const CapacityCell& cell = c.cells.at(0);
    if (cell.governing.without_load || !std::isfinite(cell.capacity) || cell.capacity > 1e4) continue;
    ++met;
    const auto window = [&](double payload) {
      s.payload.mass = payload;
      Ready r = d.r;
      r.prepared = prepare_free(s);
      return found(r, {d.reach}).states.at(0).free;
    };
    CAPTURE(cell.capacity, travel);
    CHECK(window(cell.capacity * (1 - 1e-7)).contains(travel));
    CHECK(!window(cell.capacity * (1 + 1e-6) + 1e-6).contains(travel));
  }
  CHECK(met >= cases() / 50);
}

/// What a state's margin has in hand with gravity leaning the worst way, by the measures of single states.
double in_hand_leaning(const Drawn& d, const Edge& e, const CraneState& at, std::size_t load_case,
                       MarginKind kind, double margin) {
  const Scenario& s = *d.r.prepared.scenario;
  const TippingAxis axis = tipping_axis(e, gravity_C(s, d.r.levelling.X_WC), s.criteria.set_error);
  const auto all = parts(d.r.prepared.loads, at, d.r.prepared.load_cases[load_case], true, true);
  return measures(all, axis, at.slew).of(kind) - margin;
}

/// How far a window's end may lie inside for what leaning gravity costs being bounded, at most: per metre of
/// travel the guide's bodies give their weight times cos(psi) times how much of the guide lies across the
/// edge. Of phi, psi, the cost sin(phi) (sqrt(h^2 + t^2) - h), |t| = |d sin(psi)|, is known within
/// 2 sin(phi) |t| and twice sin(phi) times the range of h, which over slew is again the horizontal moments'
/// part sin(psi), and else that of the masses which may be there or not.
double leaning_allowance(const Drawn& d, const TravelLimit& limit, const Interval& travels) {
  const Scenario& s = *d.r.prepared.scenario;
  const Vec3 g_C = gravity_C(s, d.r.levelling.X_WC);
  const Edge e = support_polygon(d.r.contacts, d.r.levelling.X_WC)[static_cast<std::size_t>(limit.edge)];
  const TippingAxis axis = tipping_axis(e, g_C, s.criteria.set_error);
  const LoadCase& c = d.r.prepared.load_cases[static_cast<std::size_t>(limit.load_case)];
  const double inclined = std::abs(g_C.normalized().dot(e.a_C));
  double moments = 0, varies = 0;
  for (const Part& part : parts(d.r.prepared.loads, limit.at, c, true, true)) {
    const double moment = axis.g * std::abs(part.mass) * (part.at(limit.at.slew) - axis.c).norm();
    moments += (1 + part.margin) * moment;
    varies += part.margin * moment;
  }
  const Machine& m = s.machine;
  const Interval line = d.r.prepared.operation.line;
  const double farthest = 20;  // of any part from any edge [m]
  varies +=
      axis.g * farthest * (m.container->units * m.container->unit_mass + m.hoist.line_mass * line.width());
  double guide = 0;
  for (const Body& body : m.guide->bodies) guide += (1 + body.margin) * body.mass * axis.g;
  moments += guide * travels.width();
  varies += guide * travels.width() * std::abs(m.guide->direction.z());
  const Vec3 along = Eigen::AngleAxisd(limit.at.slew, Vec3::UnitZ()) * m.guide->direction;
  double slope = 0;
  for (const Body& body : m.guide->bodies) slope += body.mass * axis.g;
  slope *= axis.cos_psi * std::abs(along.dot(axis.n));
  return 2 * std::sin(s.criteria.set_error) * (2 * inclined * moments + varies) / slope;
}

/// A drawn machine on a tilted chassis whose guide turns with the boom, gravity leaning.
Drawn leaning_study(Draw& draw) {
  Drawn d = drawn_study(draw, 0.1);
  Scenario s = *d.r.prepared.scenario;
  s.criteria.set_error = radians(draw.in(0.1, 0.5));
  s.machine.guide->mount = Mount::platform;
  d.r.prepared = prepare_free(s);
  return d;
}

TEST_CASE("where gravity leans over tilted edges every state of a window holds, leaning any way") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{79, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Drawn d = leaning_study(draw);
    if (d.kind == MarginKind::moment_ratio) continue;  // defined by leaning straight out
    const TravelState t = found(d.r, {d.reach}).states.at(0);
    CAPTURE(t.free.lo, t.free.hi, static_cast<int>(d.kind));
    if (!(t.free.lo <= t.free.hi)) continue;
    for (const double end : {t.free.lo, t.free.hi})
      if (std::isfinite(end))
        CHECK(swept(d, t.slew, end, 3, 24, -1e-6,
                    [&](const Edge& e, const CraneState& at, std::size_t c, MarginKind kind, double margin) {
                      return in_hand_leaning(d, e, at, c, kind, margin);
                    }) >= -1e-6);
  }
}

TEST_CASE(
    "where gravity leans over tilted edges a window's ends lie inside by its gap at most, and that is "
    "small") {
  int ends = 0, wide = 0;
  for (int i = 0; i < cases() / 4; ++i) {
    Draw draw{79, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Drawn d = leaning_study(draw);
    if (d.kind == MarginKind::moment_ratio) continue;
    const TravelState t = found(d.r, {d.reach}).states.at(0);
    if (!(t.free.lo <= t.free.hi)) continue;
    const auto edges = support_polygon(d.r.contacts, d.r.levelling.X_WC);
    for (const bool upper : {false, true}) {
      const double end = upper ? t.free.hi : t.free.lo;
      const TravelLimit& limit = upper ? t.upper : t.lower;
      if (!std::isfinite(end)) continue;
      CraneState at = limit.at;
      at.travel = end + (upper ? 1 : -1) * (t.gap + 1e-6);
      const auto c = static_cast<std::size_t>(limit.load_case);
      const auto [kind, margin] = *d.r.prepared.load_cases[c].margin.begin();
      CAPTURE(upper, end, t.gap, limit.load_case);
      CHECK(in_hand_leaning(d, edges[static_cast<std::size_t>(limit.edge)], at, c, kind, margin) < 0);
      const Interval guide = d.r.prepared.scenario->machine.guide->travel;
      const Interval travels{std::min(guide.lo, t.free.lo > -1e9 ? t.free.lo : 0),
                             std::max(guide.hi, t.free.hi < 1e9 ? t.free.hi : 0)};
      ++ends;
      wide += t.gap > 1e-3;
      if (t.gap > 1e-3)
        CHECK(t.gap <= leaning_allowance(d, t.lower, travels) + leaning_allowance(d, t.upper, travels));
    }
  }
  CHECK(ends >= cases() / 20);
  CHECK(wide <= ends / 10);
}

TEST_CASE(
    "where gravity leans over tilted edges the certified search accepts a window at both ends, and no more") {
  int bounded = 0, open = 0, held = 0;
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{79, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Drawn d = leaning_study(draw);
    if (d.kind == MarginKind::moment_ratio) continue;  // its verdict is too kind by a gap of a thousandth
    const TravelState t = found(d.r, {d.reach}).states.at(0);
    const auto assessed = [&](double travel, Question question) {
      Ready r = d.r;
      r.prepared.domains = {r.prepared.operation};
      r.prepared.domains[0].reach = {d.reach, d.reach};
      r.prepared.domains[0].travel = {travel, travel};
      return assess(r.prepared, r.levelling, r.contacts, question, {}).cases;
    };
    const auto holds = [&](double travel) {
      const auto asked = assessed(travel, Question::verdict);
      return std::all_of(asked.begin(), asked.end(), [](const CaseResult& c) { return c.ok; });
    };
    // Where a release pulls loads below the axis a verdict leaves open what sin(phi) |d sin(psi)| costs at
    // most, and refuses: then nothing lower than the margin is found all the same.
    const auto nothing_lower = [&](double travel) {
      const auto asked = assessed(travel, Question::extremes);
      return std::all_of(asked.begin(), asked.end(),
                         [](const CaseResult& c) { return c.decides.value >= c.required; });
    };
    const auto accepted = [&](double travel) {
      ++held;
      if (holds(travel)) return true;
      ++open;
      return nothing_lower(travel);
    };
    CAPTURE(t.free.lo, t.free.hi, t.gap, static_cast<int>(d.kind));
    if (!t.holds()) continue;
    CHECK(accepted(t.window.lo));
    CHECK(accepted(t.window.hi));
    const Interval guide = d.r.prepared.scenario->machine.guide->travel;
    bounded += t.free.lo > guide.lo || t.free.hi < guide.hi;
    if (t.free.lo > guide.lo) CHECK(!holds(t.free.lo - t.gap - 1e-6));
    if (t.free.hi < guide.hi) CHECK(!holds(t.free.hi + t.gap + 1e-6));
  }
  CHECK(bounded >= 1);
  CHECK(open <= held / 500);
}

TEST_CASE("a stricter margin never widens a window, nor does a wider sector") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{76, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Drawn d = drawn_study(draw, 0.1);
    Scenario s = *d.r.prepared.scenario;
    s.machine.guide->mount = Mount::platform;
    const auto window = [&] {
      Ready r = d.r;
      r.prepared = prepare_free(s);
      return found(r, {d.reach}).states.at(0).free;
    };
    const Interval before = window();
    Scenario stricter = s;
    stricter.criteria.load_cases[0].margin.begin()->second += draw.in(0.01, 0.1);
    std::swap(s, stricter);
    const Interval after = window();
    std::swap(s, stricter);
    if (after.lo <= after.hi) {
      CHECK(before.lo <= after.lo + 1e-9);
      CHECK(before.hi >= after.hi - 1e-9);
    }
    s.operation.slew = {radians(-5), radians(5)};
    const Interval narrow = window();
    if (before.lo <= before.hi) {
      CHECK(narrow.lo <= before.lo + 2e-6);
      CHECK(narrow.hi >= before.hi - 2e-6);
    }
  }
}

// ---- transit and schedule ------------------------------------------------------------------------

TEST_CASE("a transit's window is the widest that the certified search accepts over its whole box") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{77, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Drawn d = drawn_study(draw, draw.in(0, 0.1));
    Scenario s = *d.r.prepared.scenario;
    Operation transit = s.operation;
    transit.slew = {draw.in(-3, 0), draw.in(0, 3)};
    transit.luff = {0.3, draw.in(0.4, 1.2)};
    transit.payload = false;
    s.transit = transit;
    d.r.prepared = prepare_free(s);
    const TravelState t = found(d.r, {d.reach}, 7).transit;
    const auto holds = [&](double travel) {
      Ready r = d.r;
      r.prepared.domains = {r.prepared.domains.back()};
      r.prepared.domains[0].travel = {travel, travel};
      const Stability stability = assess(r.prepared, r.levelling, r.contacts, Question::verdict, {});
      return std::all_of(stability.cases.begin(), stability.cases.end(),
                         [](const CaseResult& c) { return c.ok; });
    };
    CAPTURE(t.free.lo, t.free.hi, static_cast<int>(d.kind), t.lower.load_case, t.lower.edge);
    if (!(t.free.lo <= t.free.hi)) {
      for (double travel = -6; travel <= 6; travel += 0.75) CHECK(!holds(travel));
      continue;
    }
    if (t.free.hi - t.free.lo < 1e-5) continue;
    // A verdict on a ratio may be too kind by the search's gap of a thousandth.
    const double out = t.gap + (d.kind == MarginKind::moment_ratio ? 2e-2 : 1e-5);
    if (std::isfinite(t.free.lo)) CHECK(holds(t.free.lo + 1e-6));
    if (std::isfinite(t.free.lo)) CHECK(!holds(t.free.lo - out));
    if (std::isfinite(t.free.hi)) CHECK(holds(t.free.hi - 1e-6));
    if (std::isfinite(t.free.hi)) CHECK(!holds(t.free.hi + out));
  }
}

std::vector<double> spaced(const Ready& r, int n) {
  const Interval all = reaches(r.prepared.loads, r.prepared.operation);
  std::vector<double> out;
  for (int k = 0; k < n; ++k) out.push_back(k + 1 == n ? all.hi : all.lo + all.width() * k / (n - 1));
  return out;
}

TEST_CASE(
    "every state of a schedule that holds keeps every case; the same question gives the same schedule") {
  int held = 0;
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{78, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Drawn d = drawn_study(draw, draw.in(0, 1) < 0.5 ? 0 : 0.05);
    Scenario s = *d.r.prepared.scenario;
    s.criteria.travel_reserve = draw.in(0, 1) < 0.5 ? 0 : 0.05;
    for (Body& b : s.machine.guide->bodies) b.mass *= 2;
    s.machine.guide->travel.hi = 3;
    d.r.prepared = prepare_free(s);
    const Counterweight c = found(d.r, spaced(d.r, 7), radians(60));
    const Counterweight again = found(d.r, spaced(d.r, 7), radians(60));
    REQUIRE(c.plan.schedule.ranges.size() == again.plan.schedule.ranges.size());
    for (std::size_t k = 0; k < c.plan.schedule.ranges.size(); ++k)
      CHECK(c.plan.schedule.ranges[k].rows == again.plan.schedule.ranges[k].rows);
    const bool windows = std::all_of(c.states.begin(), c.states.end(),
                                     [](const TravelState& t) { return !t.has_state || t.holds(); });
    CHECK((windows || !c.plan.holds));
    CHECK(c.plan.schedule.ranges.front().slew.lo == d.r.prepared.operation.slew.lo);
    CHECK(c.plan.schedule.ranges.back().slew.hi == d.r.prepared.operation.slew.hi);
    if (!c.plan.holds) {
      CHECK((!windows || !c.plan.notes.empty()));
      continue;
    }
    ++held;
    for (const ScheduleRange& range : c.plan.schedule.ranges) {
      Drawn at = d;
      for (int k = 0; k < 8; ++k) {
        at.reach = range.rows.front().reach + (range.rows.back().reach - range.rows.front().reach) * k / 7;
        const Interval travel = travels_at(c.plan.schedule, range.slew, at.reach);
        const double slack = 1e-9 * d.r.prepared.reference_masses.mass;
        for (const double t : {travel.lo, travel.hi}) CHECK(swept(at, range.slew, t, 2, 8) >= -slack);
      }
    }
  }
  CHECK(held >= cases() / 40);
}

/// Two tipping lines and a boom of two sections that runs out from 6 m to 10 m.
Scenario running_out(double payload) {
  Scenario s = two_lines({forward(), unloaded()});
  BoomSection inner = s.machine.boom.sections[0];
  inner.stroke = 4;
  inner.mass = 100;
  s.machine.boom.sections.push_back(inner);
  s.operation.extension = {0, 4};
  s.machine.guide->travel = {0, 15};
  s.payload.mass = payload;
  return s;
}

TEST_CASE("a schedule moves the cabinets by no more than the windows force, and its machine stands") {
  Scenario s = running_out(851);
  const Ready r = ready_free(s);
  const Counterweight c = found(r, spaced(r, 21));
  // The window's ends as above, the inner section with its centre 3 m short of the tip.
  const auto lower = [](double reach) {
    return (1.25 * 851 * (reach - 2) + 150 * (3 - 2) + 100 * (reach - 3 - 2) - 2000 * 2.3) / kCabinets - 2 +
           kStart;
  };
  const auto upper = [](double reach) {
    return (2000 * -0.30 + 150 * 3 + 100 * (reach - 3) + 1.4 * 2250) / kCabinets + kStart + 1.4;
  };
  REQUIRE(upper(6) < lower(10));
  CHECK(c.states.front().window.hi == Approx(upper(6)).epsilon(1e-10));
  CHECK(c.states.back().window.lo == Approx(lower(10)).epsilon(1e-10));
  REQUIRE(c.plan.holds);
  REQUIRE(c.plan.schedule.ranges.size() == 1);
  const ScheduleRange& range = c.plan.schedule.ranges[0];
  CHECK(movement(range) >= lower(10) - upper(6));
  CHECK(movement(range) <= lower(10) - upper(6) + 1e-3);  // both ends are kept off by a hair
  s.operation.scheduled = true;
  const Prepared p = prepare(std::make_shared<Scenario>(s), {}, &c.plan.schedule);
  CHECK(assess(p, r.levelling, r.contacts, Question::verdict, {}).outcome == Stability::Outcome::stands);
  // Neither of its travels alone would do, so that the verdict does tell.
  for (const double travel : {range.rows.front().travel, range.rows.back().travel}) {
    Scenario fixed = s;
    fixed.operation.scheduled = false;
    fixed.operation.travel = {travel, travel};
    const Prepared alone = prepare(std::make_shared<Scenario>(fixed));
    CHECK(assess(alone, r.levelling, r.contacts, Question::verdict, {}).outcome !=
          Stability::Outcome::stands);
  }
}

TEST_CASE("where no travel holds the schedule says so, and what is missing") {
  Scenario s = running_out(1400);
  const Ready r = ready_free(s);
  const Counterweight c = found(r, spaced(r, 5));
  CHECK(!c.plan.holds);
  CHECK(c.plan.schedule.ranges.size() == 1);
  CHECK(std::any_of(c.plan.notes.begin(), c.plan.notes.end(),
                    [](const std::string& n) { return n.find("reach 10 m") != std::string::npos; }));
}

TEST_CASE("a schedule keeps the reserve from the ends of the windows, where they are wide enough") {
  Scenario s = rigs::dunlin();
  s.criteria.travel_reserve = 0.07;
  const Ready r = ready_free(s);
  const Counterweight c = found(r, spaced(r, 9));
  for (const TravelState& state : c.states) {
    const Interval at = travels_at(c.plan.schedule, state.slew, state.reach);
    if (!state.holds() || state.free.hi - state.free.lo < 0.14) continue;
    if (c.guide.lo < state.free.lo + 0.07) CHECK(at.lo >= state.free.lo + 0.07 - 1e-12);
    if (c.guide.hi > state.free.hi - 0.07) CHECK(at.hi <= state.free.hi - 0.07 + 1e-12);
  }
}

TEST_CASE("a machine that follows its schedule is searched over the schedule's boxes alone") {
  Scenario s = rigs::dunlin();
  const Ready r = ready_free(s);
  const Counterweight c = found(r, spaced(r, 9));
  s.operation.scheduled = true;
  s.transit->scheduled = true;
  const Prepared p = prepare(std::make_shared<Scenario>(s), {}, &c.plan.schedule);
  CHECK(p.domains.size() == boxes(c.plan.schedule, p.operation).size() + 1);
  CHECK(p.domains.back().transit);
  CHECK(p.domains.back().travel.lo == travels(c.plan.schedule).lo);
  const Stability found_there = assess(p, r.levelling, r.contacts, Question::extremes, {});
  CHECK((found_there.outcome == Stability::Outcome::stands) == c.plan.holds);
  const CraneState& at = found_there.worst.at.state;
  if (!found_there.worst.at.transit)
    CHECK(travels_at(c.plan.schedule, {at.slew, at.slew},
                     reach(p.loads.machine.boom, *p.loads.boom, at.luff, at.extension))
              .contains(at.travel));
  CHECK_THROWS_AS(prepare(std::make_shared<Scenario>(s)), InputError);
}

TEST_CASE("a capacity follows the schedule: each reach with the travels it has there") {
  Scenario s = running_out(851);
  const Ready r = ready_free(s);
  const Counterweight c = found(r, spaced(r, 21));
  REQUIRE(c.plan.holds);
  s.operation.scheduled = true;
  const Prepared p = prepare(std::make_shared<Scenario>(s), {}, &c.plan.schedule);
  CapacityAsked asked;
  asked.reaches = {6.1, 8.3, 9.9};
  const Capacity scheduled = capacity(p, r.levelling, r.contacts, asked, {});
  REQUIRE(scheduled.cells.size() == 3);
  for (std::size_t k = 0; k < 3; ++k) {
    const Interval travel = travels_at(c.plan.schedule, s.operation.slew, asked.reaches[k]);
    Scenario fixed = s;
    fixed.operation.scheduled = false;
    fixed.operation.travel = travel;
    const Prepared alone = prepare(std::make_shared<Scenario>(fixed));
    CapacityAsked one = asked;
    one.reaches = {asked.reaches[k]};
    CHECK(scheduled.cells[k].capacity ==
          capacity(alone, r.levelling, r.contacts, one, {}).cells.at(0).capacity);
    CHECK(scheduled.cells[k].capacity >= 851);
  }
}

TEST_CASE("without a guide nothing can be asked") {
  Scenario s = rigs::dunlin();
  s.machine.guide.reset();
  CHECK_THROWS_AS(prepare_free(s), InputError);
}

}  // namespace
}  // namespace rimstance
