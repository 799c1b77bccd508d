// What designers of the parts read off: by hand on plain machines, and against dense sums on drawn ones.
#include "rimstance/statics/part_loads.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/resultant.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

/// These worlds are searched a dozen times each.
int some() { return std::max(cases() / 4, 1); }

struct Placed {
  Prepared prepared;
  Levelling levelling;
  std::vector<Contact> contacts;
  Stability stability;
  PartLoads loads;
};

Placed placed(const Scenario& s, Question question, const Pose& X_WC = {}) {
  Placed out;
  out.prepared = prepare(std::make_shared<const Scenario>(s));
  out.levelling.outcome = Levelling::Outcome::level;
  out.levelling.X_WC = X_WC;
  out.levelling.stroke = std::vector<double>(s.machine.outriggers.size(), 0.3);
  out.contacts = stands::feet(s.machine, out.levelling.stroke, X_WC);
  out.stability = assess(out.prepared, out.levelling, out.contacts, question, {}, 0.05);
  out.loads = part_loads(out.prepared, out.levelling, out.contacts, out.stability);
  return out;
}

LoadCase plain_case(const char* name, double factor = 1) {
  LoadCase c;
  c.name = name;
  c.load_factor = factor;
  c.mass_margin = false;
  return c;
}

/// The rig with one case, no transit and no lean.
Scenario quiet(const LoadCase& c) {
  Scenario s = rigs::dunlin();
  s.criteria.set_error = s.criteria.work_tilt = 0;
  s.criteria.load_cases = {c};
  s.transit.reset();
  return s;
}

/// One luff and one extension, one line, one travel.
Scenario at_one_state(Scenario s, double luff, double extension) {
  s.operation.luff = {luff, luff};
  s.operation.extension = {extension, extension};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.line = {0, 0};
  return s;
}

// ---- everything on the platform, straight from the description ------------------------------------

struct Turning {
  double mass, margin;
  Vec3 p_S;
  bool of_boom;  ///< boom or what hangs: turns about the foot pin
};

std::vector<Turning> turning(const Prepared& prepared, const CraneState& at, const LoadCase& load_case,
                             bool payload) {
  const Machine& m = prepared.loads.machine;
  std::vector<Turning> out;
  for (const Body& b : m.platform.bodies) out.push_back({b.mass, b.margin, b.at, false});
  if (m.container && m.container->mount == Mount::platform) {
    out.push_back({m.container->empty, m.container->margin, m.container->at, false});
    out.push_back({at.units_left * m.container->unit_mass, 0, m.container->at, false});
  }
  if (m.guide && m.guide->mount == Mount::platform)
    for (const Body& b : m.guide->bodies)
      out.push_back({b.mass, b.margin, m.guide->start + b.at + at.travel * m.guide->direction, false});
  if (m.hoist.line_mass > 0)
    out.push_back({m.hoist.line_mass * (m.hoist.line_length - at.line), 0, m.hoist.drum, false});
  const Vec3 along(std::cos(at.luff), 0, std::sin(at.luff));
  const BoomShape& shape = *prepared.loads.boom;
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomPart part = shape.part(k, at.extension);
    out.push_back({part.mass, shape.margin(k), m.boom.foot + part.moment / part.mass * along, true});
  }
  if (m.boom.kind == Boom::Kind::rigid_chain)
    out.push_back({shape.in_magazine(at.extension), m.boom.margin, m.boom.magazine, false});
  const Hung load = hung(load_case, m.hoist, prepared.loads.payload, payload);
  out.push_back({load.fixed + load.per_line * at.line - load.pull, 0,
                 m.boom.foot + shape.length(at.extension) * along, true});
  if (!load_case.mass_margin)
    for (Turning& t : out) t.margin = 0;
  return out;
}

/// Greatest part of a moment along a direction: every body with its allowance where that adds.
template <class MomentOf>
double adverse(const std::vector<Turning>& all, const MomentOf& moment_of) {
  double sum = 0;
  for (const Turning& t : all) {
    const double moment = t.mass * moment_of(t);
    sum += moment > 0 ? (1 + t.margin) * moment : moment;
  }
  return sum;
}

/// Gravity in S under every lean tried: upright in W, turned by `lean` towards eight directions.
std::vector<Vec3> gravities(const Prepared& prepared, const Pose& X_WC, double slew) {
  const Criteria& c = prepared.scenario->criteria;
  const double lean = c.set_error + c.work_tilt, g = prepared.scenario->gravity;
  std::vector<Vec3> out;
  for (int k = 0; k < (lean > 0 ? 8 : 1); ++k) {
    const double a = k * kPi / 4;
    const Vec3 g_W = g * Vec3(std::sin(lean) * std::cos(a), std::sin(lean) * std::sin(a), -std::cos(lean));
    out.push_back(Eigen::AngleAxisd(-slew, Vec3::UnitZ()) * Vec3(X_WC.R.transpose() * g_W));
  }
  return out;
}

/// The greatest loads found by looking at one state.
struct Seen {
  double overturning = -kInfinity, axial = -kInfinity, luff = -kInfinity, luff_back = -kInfinity,
         torque = -kInfinity, radial = -kInfinity;
};

void look(const Placed& p, const At& at, bool payload, Seen& seen) {
  const LoadCase& load_case = p.prepared.load_cases[static_cast<std::size_t>(at.load_case)];
  const auto all = turning(p.prepared, at.state, load_case, payload);
  std::vector<Turning> boom;
  const Vec3 pin = p.prepared.loads.machine.boom.foot;
  for (const Turning& t : all)
    if (t.of_boom) boom.push_back(t);
  for (const Vec3& g : gravities(p.prepared, p.levelling.X_WC, at.state.slew)) {
    const auto over = [&](const Vec3& r) -> Vec3 { return r.cross(g); };
    for (int k = 0; k < 24; ++k) {
      const Vec3 u(std::cos(k * kPi / 12), std::sin(k * kPi / 12), 0);
      seen.overturning =
          std::max(seen.overturning, adverse(all, [&](const Turning& t) { return u.dot(over(t.p_S)); }));
    }
    seen.axial = std::max(seen.axial, adverse(all, [&](const Turning&) { return -g.z(); }));
    seen.radial = std::max(seen.radial, adverse(all, [&](const Turning&) { return g.head<2>().norm(); }));
    for (const double side : {1.0, -1.0})
      seen.torque =
          std::max(seen.torque, adverse(all, [&](const Turning& t) { return side * over(t.p_S).z(); }));
    // Positive about S's y where a weight ahead of the pin lowers the tip.
    seen.luff = std::max(seen.luff, adverse(boom, [&](const Turning& t) { return over(t.p_S - pin).y(); }));
    seen.luff_back =
        std::max(seen.luff_back, adverse(boom, [&](const Turning& t) { return -over(t.p_S - pin).y(); }));
  }
}

/// States of every case and domain: corners, and drawn ones between.
Seen look_everywhere(const Placed& p, Draw& draw) {
  Seen seen;
  for (std::size_t c = 0; c < p.prepared.load_cases.size(); ++c)
    for (const Domain& whole : p.prepared.domains) {
      const Domain d = narrowed(whole, p.prepared.load_cases[c]);
      std::vector<CraneState> states = corner_states(p.prepared.loads, p.prepared.load_cases[c], d);
      const auto [least, most] = units_left(p.prepared.loads, p.prepared.load_cases[c], d);
      for (int k = 0; k < 10; ++k)
        states.push_back({0, draw.in(d.luff.lo, d.luff.hi), draw.in(d.extension.lo, d.extension.hi),
                          draw.in(d.travel.lo, d.travel.hi), draw.in(d.line.lo, d.line.hi),
                          k % 2 ? least : most});
      for (CraneState s : states)
        for (int k = 0; k <= 2; ++k) {
          s.slew = d.slew.lo + d.slew.width() * k / 2;
          if (holds_state(p.prepared.loads, d, s))
            look(p, {s, d.transit, static_cast<int>(c), -1}, d.payload, seen);
        }
    }
  return seen;
}

Interval drawn_part(Draw& draw, const Interval& whole) {
  const double a = draw.in(whole.lo, whole.hi), b = draw.in(whole.lo, whole.hi);
  return draw.in(0, 1) < 0.4 ? Interval{a, a} : Interval{std::min(a, b), std::max(a, b)};
}

/// A drawn machine and envelope, with a case or two; tilted by up to `tilt`.
Placed drawn_world(Draw& draw, double tilt) {
  Scenario s = drawn::scenario(draw);
  if (draw.in(0, 1) < 0.5) s.criteria.set_error = draw.in(0, 0.01);
  Operation& o = s.operation;
  const auto shape = boom_shape(s.machine.boom);
  const double slew = draw.in(-3, 3);
  o.slew = {slew, slew + draw.in(0, 3)};
  o.luff = drawn_part(draw, {0, 1.3});
  o.extension = drawn_part(draw, {0, shape->greatest_extension()});
  o.reach = {-kInfinity, kInfinity};
  if (draw.in(0, 1) < 0.4) {
    o.luff.lo = 0;
    o.reach.hi = s.machine.boom.foot.x() + 0.05 + shape->length(o.extension.lo + 0.5 * o.extension.width());
  }
  o.line = drawn_part(draw, {0, 40});
  o.travel = drawn_part(draw, {0, 1.4});
  s.transit.reset();
  s.criteria.load_cases = {drawn::load_case(draw, draw.in(0, 1) < 0.5)};
  s.criteria.load_cases[0].name = "drawn";
  if (draw.in(0, 1) < 0.3) {
    s.criteria.load_cases.push_back(drawn::load_case(draw, false));
    s.criteria.load_cases[1].name = "another";
  }
  return placed(s, Question::verdict, drawn::pose(draw, tilt));
}

void check_bound(const char* what, double seen, double value, double gap, double second_order) {
  INFO(what);
  CHECK(seen <= value + gap + second_order * std::abs(value) + 1e-6);
}

}  // namespace

TEST_CASE("slew bearing on level ground: the moments of all that turns add up; nothing pulls sideways") {
  // The boom level, all bodies of the rig's platform on its x axis: g sum(m x) ahead or behind.
  const Scenario s = at_one_state(quiet(plain_case("plain", 1.25)), 0, 2.7);
  const Placed p = placed(s, Question::verdict);
  const Machine& m = s.machine;
  const double tip = 0.2 + 5.9;
  const double ahead = 18 * (0.2 + 1.6) + 12 * (0.2 + 5.9 - 1.5) + 1.25 * (14 + 6) * tip;
  const auto behind = [&](int units) { return (8 + 14 * units) * 0.5 + 120 * (0.4 + 1.1) + 0.05 * 60 * 0.1; };
  // The container is emptiest where the load is ahead, fullest where the cabinets win.
  const double net = std::max(ahead - behind(0), behind(m.container->units - 1) - ahead);
  CHECK(p.loads.bearing.overturning.value == Approx(1.62 * net).epsilon(1e-9));
  CHECK(p.loads.bearing.axial.value ==
        Approx(1.62 * (40 + 8 + 14 * 5 + 120 + 3 + 18 + 12 + 1.25 * 20)).epsilon(1e-9));
  CHECK(p.loads.bearing.radial == 0);
  CHECK(p.loads.bearing.hold_torque == 0);
}

TEST_CASE("slew bearing: a lean across the boom twists the platform by what stands off the axis") {
  Scenario s = at_one_state(quiet(plain_case("plain")), 0, 0);
  s.criteria.set_error = radians(0.5);
  const Placed p = placed(s, Question::verdict);
  Scenario level = s;
  level.criteria.set_error = 0;
  const double off_axis = placed(level, Question::verdict).loads.bearing.overturning.value;
  CHECK(p.loads.bearing.hold_torque == Approx(std::sin(radians(0.5)) * off_axis).epsilon(1e-9));
  CHECK(p.loads.bearing.radial == Approx(std::sin(radians(0.5)) * p.loads.bearing.axial.value).epsilon(1e-9));
}

TEST_CASE("luff moment of a telescope, a scissor and a rigid chain, by hand") {
  const double luff = radians(30), c = std::cos(luff), out = 1.2;
  Scenario s = at_one_state(quiet(plain_case("plain", 1.25)), luff, out);
  // Telescope: sections of 3.2 and 3.0 m, the second 1.2 m out: its middle at 3.2 + 1.2 - 1.5.
  const double hung = 1.25 * (14 + 6);
  CHECK(placed(s, Question::verdict).loads.luff.greatest.value ==
        Approx(1.62 * c * (18 * 1.6 + 12 * 2.9 + hung * 4.4)).epsilon(1e-9));
  Boom& boom = s.machine.boom;
  boom.kind = Boom::Kind::scissor;
  boom.retracted = 0.8;
  boom.cells = 8;
  boom.bar = 0.5;
  boom.mass = 24;
  CHECK(placed(s, Question::verdict).loads.luff.greatest.value ==
        Approx(1.62 * c * (24 * 1.0 + hung * 2.0)).epsilon(1e-9));
  boom.kind = Boom::Kind::rigid_chain;
  boom.chain_mass = 6;
  boom.chain_length = 5;
  boom.magazine = Vec3(-0.3, 0.1, 0.2);  // on the platform: it does not hang on the luff drive
  CHECK(placed(s, Question::verdict).loads.luff.greatest.value ==
        Approx(1.62 * c * (6 * 2.0 * 1.0 + hung * 2.0)).epsilon(1e-9));
}

TEST_CASE("luff moment: it changes sign where a release pulls up more than boom and head weigh at the tip") {
  LoadCase released = plain_case("released");
  released.release = 1;
  Scenario s = at_one_state(quiet(plain_case("plain")), 0, 2.7);
  s.criteria.load_cases.push_back(released);
  // About the pin, over g: boom 18 * 1.6 + 12 * 4.4, head 6 kg at 5.9 m, the payload pulls up at 5.9 m.
  const double holds = 18 * 1.6 + 12 * 4.4 + 6 * 5.9;
  s.payload.mass = 0.99 * holds / 5.9;
  const LuffMoment barely = placed(s, Question::verdict).loads.luff;
  CHECK_FALSE(barely.backlash());
  CHECK(barely.least.value == Approx(1.62 * 0.01 * holds).epsilon(1e-6));
  s.payload.mass = 1.01 * holds / 5.9;
  const LuffMoment over = placed(s, Question::verdict).loads.luff;
  CHECK(over.backlash());
  CHECK(over.least.value == Approx(-1.62 * 0.01 * holds).epsilon(1e-6));
  CHECK(over.least.at.load_case == 1);
}

TEST_CASE(
    "luff moment of a chain that a release pulls up: the least lies between the ends of its extension") {
  LoadCase released = plain_case("released");
  released.release = 1;
  Scenario s = at_one_state(quiet(released), radians(20), 0);
  Boom& boom = s.machine.boom;
  boom.kind = Boom::Kind::rigid_chain;
  boom.retracted = 0.5;
  boom.chain_mass = 6;
  boom.chain_length = 6;
  boom.magazine = Vec3(-0.3, 0, 0.2);
  s.operation.extension = {0, 5.5};
  // Up at the tip k Q - H, down the chain's mu L at L / 2: least where mu L = k Q - H, at -(k Q - H)^2 / 2
  // mu.
  const double up = 24 - 6;
  s.payload.mass = 24;
  const LuffMoment found = placed(s, Question::verdict).loads.luff;
  CHECK(found.least.value == Approx(-1.62 * std::cos(radians(20)) * up * up / (2 * 6)).epsilon(1e-5));
  CHECK(found.least.at.state.extension == Approx(up / 6 - 0.5).margin(0.02));
}

TEST_CASE("the greatest of bearing and luff bound every state that is looked at, and are one of them") {
  for (int i = 0; i < some(); ++i) {
    Draw draw{521, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const bool tilted = draw.in(0, 1) < 0.5;
    const double tilt = tilted ? 0.02 : 0;
    const Placed p = drawn_world(draw, tilt);
    Seen seen = look_everywhere(p, draw);
    // Tilt and lean are treated to the second order.
    const double slack = tilted ? 1e-3 : 0;
    const PartLoads& l = p.loads;
    check_bound("overturning", seen.overturning, l.bearing.overturning.value, l.bearing.overturning.gap,
                slack);
    check_bound("axial", seen.axial, l.bearing.axial.value, l.bearing.axial.gap, 0);
    check_bound("radial", seen.radial, l.bearing.radial, l.bearing.axial.gap, slack);
    check_bound("torque", seen.torque, l.bearing.hold_torque, l.bearing.overturning.gap, slack);
    check_bound("luff", seen.luff, l.luff.greatest.value, l.luff.greatest.gap, slack);
    check_bound("luff_back", seen.luff_back, -l.luff.least.value, l.luff.least.gap, slack);
    // The states that they name give them (24 directions: within cos 7.5 deg of the worst, and leans in
    // eight).
    const auto seen_at = [&](const ReadOff& r) {
      Seen there;
      look(p, r.at, true, there);
      return there;
    };
    CHECK(seen_at(l.bearing.overturning).overturning >=
          std::cos(kPi / 24) * (1 - 1e-3) * l.bearing.overturning.value - 1e-6);
    CHECK(seen_at(l.bearing.axial).axial == Approx(l.bearing.axial.value).epsilon(1e-3));
    if (!tilted) {
      // A lean is tried in eight directions about the compass: within cos(22.5 deg) of sin(lean) of the
      // worst.
      const double lean = p.prepared.scenario->criteria.set_error;
      const double aside = lean * p.prepared.reference_masses.mass * p.prepared.scenario->gravity * 12 * 0.08;
      CHECK(seen_at(l.luff.greatest).luff ==
            Approx(l.luff.greatest.value).epsilon(1e-9).margin(aside + 1e-6));
      CHECK(seen_at(l.luff.least).luff_back ==
            Approx(-l.luff.least.value).epsilon(1e-9).margin(aside + 1e-6));
    }
  }
}

TEST_CASE("along the boom: the root's moment is the luff moment, and nothing is left beyond the sections") {
  int telescopes = 0, others = 0;
  for (int i = 0; i < some(); ++i) {
    Draw draw{522, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Placed p = drawn_world(draw, 0.02);
    const BoomLoads& b = p.loads.boom;
    const Boom& boom = p.prepared.loads.machine.boom;
    const BoomShape& shape = *p.prepared.loads.boom;
    bool behind = false;  // part of the boom behind the pin counts in the luff's moment alone
    for (const Stretch& s : stretches(boom, shape, b.at.state.extension)) behind = behind || s.lo < -1e-12;
    if (!behind) CHECK(b.cuts[0].moment == Approx(p.loads.luff.greatest.value).epsilon(1e-6).margin(1e-6));
    if (boom.kind == Boom::Kind::telescopic) {
      REQUIRE(b.cuts.size() == boom.sections.size());
      const auto ends = section_ends(boom, shape, b.at.state.extension);
      for (std::size_t k = 1; k < b.cuts.size(); ++k) CHECK(b.cuts[k].at == ends[k - 1]);
      ++telescopes;
    } else {
      REQUIRE(b.cuts.size() == 4);
      CHECK(b.cuts[2].at == Approx(shape.length(b.at.state.extension) / 2));
      ++others;
    }
  }
  CHECK(telescopes > 0);
  CHECK(others > 0);
}

TEST_CASE("across the boom's plane only tilt and lean load its root") {
  Scenario s = at_one_state(quiet(plain_case("plain")), radians(40), 2.7);
  CHECK(placed(s, Question::verdict).loads.boom.side_moment == 0);
  s.criteria.set_error = radians(0.5);
  // Whatever the luff, the lever is along the boom: 18 * 1.6 + 12 * 4.4 + 20 * 5.9.
  CHECK(placed(s, Question::verdict).loads.boom.side_moment ==
        Approx(1.62 * std::sin(radians(0.5)) * (18 * 1.6 + 12 * 4.4 + 20 * 5.9)).epsilon(1e-9));
}

TEST_CASE("a load swings on its line with a period of 2 pi sqrt(l / g)") {
  Scenario s = quiet(plain_case("plain"));
  s.operation.line = {20, 50};
  const Interval period = placed(s, Question::verdict).loads.boom.period;
  // Simple pendulum, g 1.62 m/s2: 22.07686 s at 20 m, 34.90659 s at 50 m.
  CHECK(period.lo == Approx(22.07686).epsilon(1e-6));
  CHECK(period.hi == Approx(34.90659).epsilon(1e-6));
}

TEST_CASE("guide: cabinets at the end of their travel bend its root; level and horizontal it needs no hold") {
  Scenario s = quiet(plain_case("plain"));
  s.criteria.load_cases[0].mass_margin = true;
  s.operation.travel = {0.2, 1.1};
  const Placed p = placed(s, Question::verdict);
  REQUIRE(p.loads.guide);
  CHECK(p.loads.guide->moment.value == Approx(1.62 * 1.1 * 120 * 1.1).epsilon(1e-12));
  CHECK(p.loads.guide->moment.at.state.travel == 1.1);
  CHECK(p.loads.guide->force == Approx(0).margin(1e-9));
  // Rising by 10 deg: its weight's part along it, and a shorter lever.
  s.machine.guide->direction = Vec3(-std::cos(radians(10)), 0, std::sin(radians(10)));
  const Placed up = placed(s, Question::verdict);
  CHECK(up.loads.guide->force == Approx(1.62 * 132 * std::sin(radians(10))).epsilon(1e-12));
  CHECK(up.loads.guide->moment.value == Approx(1.62 * 132 * 1.1 * std::cos(radians(10))).epsilon(1e-12));
  s.machine.guide.reset();
  CHECK_FALSE(placed(s, Question::verdict).loads.guide);
}

TEST_CASE("guide: on a tilted platform the cabinets pull downhill, as far as the sector turns them") {
  Scenario s = quiet(plain_case("plain"));
  const double tilt = radians(3);
  Pose X;
  X.R = rotation(0, tilt, 0);  // nose down: the guide, to the rear, points uphill at slew 0
  s.operation.slew = {radians(-30), radians(30)};
  CHECK(placed(s, Question::verdict, X).loads.guide->force ==
        Approx(1.62 * 120 * std::sin(tilt)).epsilon(1e-9));
  s.operation.slew = {radians(60), radians(90)};
  CHECK(placed(s, Question::verdict, X).loads.guide->force ==
        Approx(1.62 * 120 * std::sin(tilt) * std::cos(radians(60))).epsilon(1e-9));
}

TEST_CASE("hoist: payload, head and line hang on it; it needs line to the tip and down") {
  Scenario s = quiet(plain_case("plain", 1.25));  // a load factor is a margin of stability, not a pull
  s.operation.line = {0, 40};
  const HoistLoads h = placed(s, Question::verdict).loads.hoist;
  CHECK(h.pull == Approx(1.62 * (14 + 6 + 0.05 * 40)).epsilon(1e-12));
  // Longest boom within the reach of 5.7 m: out by 2.7 at 3.2 m, flat enough at 20 deg and more.
  const double drum_to_pin = (Vec3(0.2, 0, 0.35) - Vec3(-0.1, 0, 0.4)).norm();
  CHECK(h.line_needed == Approx(40 + 5.9 + drum_to_pin).epsilon(1e-12));
  CHECK(h.line_left == Approx(60 - h.line_needed).epsilon(1e-12));
  s.machine.hoist.line_length = kUnset;
  s.machine.hoist.line_mass = 0;
  CHECK(std::isnan(placed(s, Question::verdict).loads.hoist.line_left));
}

TEST_CASE("corners of the boom's region: no state within the cuts has a longer boom than a corner") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{523, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Scenario s = drawn::scenario(draw);
    const MachineLoads loads = machine_loads(s, stands::splay(s.machine));
    Domain d = domains(s)[0];
    const double most = loads.boom->greatest_extension();
    d.luff = drawn_part(draw, {0, 1.3});
    d.extension = drawn_part(draw, {0, most});
    d.reach.hi = draw.in(0, 1) < 0.6 ? draw.in(0.5, 1) * loads.boom->length(most) : kInfinity;
    d.tip_height.hi = draw.in(0, 1) < 0.4 ? draw.in(1, 4) : kInfinity;
    double longest = -kInfinity;
    for (const Vec2& corner : boom_corners(loads, d)) {
      CHECK(holds_state(loads, d, {d.slew.lo, corner.x(), corner.y(), d.travel.lo, d.line.lo, 0}));
      longest = std::max(longest, corner.y());
    }
    for (int k = 0; k < 200; ++k) {
      const CraneState at{d.slew.lo,
                          draw.in(d.luff.lo, d.luff.hi),
                          draw.in(d.extension.lo, d.extension.hi),
                          d.travel.lo,
                          d.line.lo,
                          0};
      if (holds_state(loads, d, at)) CHECK(at.extension <= longest + 1e-9);
    }
  }
}

TEST_CASE("a foot's arm is in equilibrium: force and lever give its moments, shear and torsion") {
  Scenario s = quiet(plain_case("plain"));
  s.criteria.set_error = radians(0.4);
  const Placed p = placed(s, Question::extremes);
  const double leans = std::tan(radians(0.4));
  for (std::size_t i = 0; i < p.loads.feet.size(); ++i) {
    const FootPart& part = p.loads.feet[i];
    const Outrigger& o = s.machine.outriggers[i];
    const double azimuth = o.zero + o.sense * o.splay;
    const Vec3 out(std::cos(azimuth), std::sin(azimuth), 0), side(-out.y(), out.x(), 0);
    const Vec3 lever = p.contacts[i].p_C - o.pivot;
    CHECK(part.reaction.value == p.stability.feet[i].greatest);
    CHECK(part.leg_axial == Approx(part.reaction.value));
    double upright = 0, about_z = 0, torsion = 0, shear = 0, leg = 0;
    for (int k = 0; k < 3600; ++k) {
      const double a = k * kPi / 1800;
      const Vec3 force = part.reaction.value * Vec3(leans * std::cos(a), leans * std::sin(a), 1);
      const Vec3 moment = lever.cross(force);
      upright = std::max(upright, std::abs(moment.dot(side)));
      about_z = std::max(about_z, std::abs(moment.z()));
      torsion = std::max(torsion, std::abs(moment.dot(out)));
      shear = std::max(shear, (force - force.dot(out) * out).norm());
      leg = std::max(leg, Vec3(0, 0, lever.z()).cross(force).norm());
    }
    CHECK(part.arm_moment == Approx(upright).epsilon(1e-6));
    CHECK(part.arm_side_moment == Approx(about_z).epsilon(1e-6));
    CHECK(part.arm_torsion == Approx(torsion).epsilon(1e-5));
    CHECK(part.arm_shear == Approx(shear).epsilon(1e-6));
    CHECK(part.leg_moment == Approx(leg).epsilon(1e-6));
    CHECK(part.stroke == 0.3);
  }
}

TEST_CASE("level and without lean an arm bends upright alone: reaction times its length") {
  const Placed p = placed(quiet(plain_case("plain")), Question::extremes);
  for (const FootPart& part : p.loads.feet) {
    CHECK(part.arm_moment == Approx(part.reaction.value * 1.6).epsilon(1e-12));
    CHECK(part.arm_side_moment == Approx(0).margin(1e-9));
    CHECK(part.arm_torsion == Approx(0).margin(1e-9));
    CHECK(part.leg_moment == Approx(0).margin(1e-9));
  }
}

TEST_CASE("stroke tolerance on four equal springs at a rectangle: 4 N / k until the lightest foot lifts") {
  Scenario s = at_one_state(quiet(plain_case("plain")), radians(40), 0);
  s.operation.slew = {0, 0};
  s.machine.hoist.line_mass = 0;
  for (Outrigger& o : s.machine.outriggers) o.leg_limit = kInfinity;
  const Placed p = placed(s, Question::extremes);
  double least = kInfinity, most = 0;
  for (const FootLoad& f : p.stability.feet) {
    least = std::min(least, f.least);
    most = std::max(most, f.greatest);
  }
  REQUIRE(least > 0);
  for (const FootPart& part : p.loads.feet) {
    CHECK(part.stroke_tolerance == Approx(4 * least / 55e3).epsilon(1e-9));
    CHECK(part.tolerance_by.find("lifts off") != std::string::npos);
  }
  // A leg's limit 1 % above what it carries gives first.
  for (Outrigger& o : s.machine.outriggers) o.leg_limit = most + 0.1 * least;
  for (const FootPart& part : placed(s, Question::extremes).loads.feet) {
    CHECK(part.stroke_tolerance == Approx(4 * 0.1 * least / 55e3).epsilon(1e-6));
    CHECK(part.tolerance_by.find("leg limit") == 0);
  }
}

TEST_CASE("stroke tolerance: the forces with the leg wrong by it, solved anew, leave a foot at nothing") {
  Scenario s = at_one_state(quiet(plain_case("plain")), radians(40), 0);
  s.operation.slew = {radians(20), radians(20)};
  s.machine.outriggers[0].splay = radians(20);
  s.machine.outriggers[2].stiffness = 30e3;
  s.machine.container.reset();  // one state: the reference
  for (Outrigger& o : s.machine.outriggers) o.leg_limit = kInfinity;
  const Placed p = placed(s, Question::extremes);
  const Vec3 centre = p.prepared.reference_masses.tipping_centre_C;
  const Vec6 w = wrench({0, 0, -p.prepared.reference_masses.mass * s.gravity}, centre);
  std::vector<Vec3> points;
  for (const Contact& c : p.contacts) points.push_back(c.p_W);
  for (std::size_t i = 0; i < 4; ++i) {
    const auto least_with = [&](double share) {
      double least = kInfinity;
      for (const double side : {1.0, -1.0}) {
        std::vector<Support> springs = supports(s.machine);
        springs[i].gap = side * share * p.loads.feet[i].stroke_tolerance;
        for (const double N : reactions(points, springs, w).normal) least = std::min(least, N);
      }
      return least;
    };
    CHECK(least_with(0.99) > 0);
    CHECK(least_with(0.99) == Approx(0.01 * least_with(0)).margin(0.02 * least_with(0)));
    CHECK(least_with(1.01) == 0);
  }
}

TEST_CASE("stroke tolerance: the chassis may turn by set_error, and no more") {
  Scenario s = at_one_state(quiet(plain_case("plain")), radians(40), 0);
  s.criteria.set_error = radians(0.001);
  const Placed p = placed(s, Question::extremes);
  // One leg of four equal springs at (+-a, +-b) moves the middle by a quarter, turning by 1/4a and 1/4b.
  const double a = p.contacts[0].p_C.x(), b = p.contacts[0].p_C.y();
  for (const FootPart& part : p.loads.feet) {
    CHECK(part.stroke_tolerance ==
          Approx(radians(0.001) / std::hypot(1 / (4 * a), 1 / (4 * b))).epsilon(1e-9));
    CHECK(part.tolerance_by == "set_error");
  }
}

TEST_CASE("stroke tolerance: three feet share by statics, so no stroke error changes their forces") {
  Scenario s = at_one_state(quiet(plain_case("plain")), radians(40), 0);
  s.machine.outriggers.pop_back();
  s.machine.outriggers[2].pivot.y() = 0;
  s.machine.outriggers[2].splay = 0;
  for (Outrigger& o : s.machine.outriggers) o.leg_limit = 1e4;
  for (const FootPart& part : placed(s, Question::extremes).loads.feet) {
    CHECK(std::isnan(part.stroke_tolerance));
    CHECK(part.tolerance_by.find("three feet") == 0);
  }
}

TEST_CASE("parts' loads do not depend on the heading, and grow with gravity") {
  for (int i = 0; i < some() / 2; ++i) {
    Draw draw{524, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Placed p = drawn_world(draw, 0.02);
    Pose turned = p.levelling.X_WC;
    turned.R = Eigen::AngleAxisd(draw.in(-3, 3), Vec3::UnitZ()) * turned.R;
    const PartLoads other = placed(*p.prepared.scenario, Question::verdict, turned).loads;
    Scenario heavier = *p.prepared.scenario;
    heavier.gravity *= 2;
    const PartLoads twice = placed(heavier, Question::verdict, p.levelling.X_WC).loads;
    const auto numbers = [](const PartLoads& l) {
      return std::vector<double>{l.bearing.overturning.value, l.bearing.axial.value, l.bearing.radial,
                                 l.bearing.hold_torque,       l.luff.least.value,    l.luff.greatest.value,
                                 l.boom.side_moment,          l.guide->moment.value, l.guide->force};
    };
    const auto a = numbers(p.loads), b = numbers(other), c = numbers(twice);
    for (std::size_t k = 0; k < a.size(); ++k) {
      CHECK(b[k] == Approx(a[k]).epsilon(1e-5).margin(1e-2));
      CHECK(c[k] == Approx(2 * a[k]).epsilon(1e-5).margin(1e-2));
    }
  }
}

TEST_CASE("a machine that stands gives numbers within the bounds that a hand can check") {
  const Placed p = placed(rigs::dunlin(), Question::extremes);
  REQUIRE(p.stability.outcome != Stability::Outcome::no_support);
  REQUIRE(p.loads.plausibility.size() >= 5);
  for (const Plausible& line : p.loads.plausibility) {
    INFO(line.what);
    CHECK(line.ok());
  }
  Plausible off = p.loads.plausibility[0];
  off.value *= 1.001;
  CHECK_FALSE(off.ok());
}

TEST_CASE("plausible bounds hold for any machine: they are bounds, not estimates") {
  for (int i = 0; i < some(); ++i) {
    Draw draw{525, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    for (const Plausible& line : drawn_world(draw, 0.02).loads.plausibility) {
      INFO(line.what);
      CHECK(line.ok());
    }
  }
}

TEST_CASE("without ground there are no loads on parts, but the stowed machine is what it is") {
  Placed p = placed(rigs::dunlin(), Question::verdict);
  p.contacts[0].supported = false;
  p.stability = assess(p.prepared, p.levelling, p.contacts, Question::extremes, {});
  const PartLoads none = part_loads(p.prepared, p.levelling, p.contacts, p.stability);
  CHECK_FALSE(none.reason.empty());
  CHECK(none.feet.empty());
  CHECK(none.stowed.mass == p.loads.stowed.mass);
}

TEST_CASE(
    "the resultant's path: at each case's worst slew it lies as far inside as the weights' clearance says") {
  Scenario s = quiet(plain_case("plain"));
  s.criteria.load_cases.push_back(plain_case("heavy", 1.25));
  s.criteria.load_cases[1].boom_factor = 0.1;
  const Placed p = placed(s, Question::extremes);
  const auto paths = resultant_paths(p.prepared, p.levelling.X_WC, p.stability);
  REQUIRE(paths.size() == 2);
  for (const ResultantPath& path : paths) {
    const CaseResult& result = p.stability.cases[static_cast<std::size_t>(path.load_case)];
    double nearest = kInfinity;
    for (const Edge& e : p.stability.edges)
      nearest = std::min(
          nearest,
          measures(parts(p.prepared.loads, result.worst.at.state,
                         p.prepared.load_cases[static_cast<std::size_t>(path.load_case)], true, true),
                   tipping_axis(e, {0, 0, -s.gravity}), result.worst.at.state.slew)
              .clearance);
    double least = kInfinity, at_worst = kUnset;
    for (const ResultantPath::Point& point : path.points) {
      least = std::min(least, point.inside);
      if (point.slew == result.worst.at.state.slew) at_worst = point.inside;
      CHECK(point.slew >= s.operation.slew.lo);
      CHECK(point.slew <= s.operation.slew.hi);
    }
    CHECK(at_worst == Approx(nearest).epsilon(1e-9));
    CHECK(least == Approx(at_worst).margin(1e-9));
  }
}

TEST_CASE(
    "the resultant's path on a chassis guide: at every slew the cabinets stand where the schedule has them") {
  Scenario s = quiet(plain_case("plain"));
  s.machine.guide->mount = Mount::chassis;
  s.operation.scheduled = true;
  const double middle = radians(7), left = 0.3, right = 0.9;
  Schedule schedule;
  schedule.ranges.push_back({{s.operation.slew.lo, middle}, {{1.8, left}, {5.7, left}}});
  schedule.ranges.push_back({{middle, s.operation.slew.hi}, {{1.8, right}, {5.7, right}}});
  Prepared prepared = prepare(std::make_shared<Scenario>(s), {}, &schedule);
  Levelling level;
  level.outcome = Levelling::Outcome::level;
  level.X_WC.p.z() = 0.5;
  const auto contacts = stands::feet(s.machine, {0.2, 0.2, 0.2, 0.2}, level.X_WC);
  const Stability found = assess(prepared, level, contacts, Question::extremes, {}, 0.05);
  const auto paths = resultant_paths(prepared, level.X_WC, found);
  REQUIRE(paths.size() == 1);
  int borders = 0;
  for (const ResultantPath::Point& point : paths[0].points) {
    CraneState at = found.cases[0].worst.at.state;
    at.slew = point.slew;
    const auto place = [&](double travel) {
      at.travel = travel;
      double mass = 0;
      Vec3 moment = Vec3::Zero();
      for (const drawn::PointMass& p : drawn::by_hand(s, at, 1, true, true)) {
        mass += p.mass;
        moment += p.mass * p.at_C;
      }
      return Vec2((level.X_WC * (moment / mass)).head<2>());
    };
    CAPTURE(degrees(point.slew), point.at_W.transpose());
    const bool as_left = (point.at_W - place(left)).norm() < 1e-9,
               as_right = (point.at_W - place(right)).norm() < 1e-9;
    if (point.slew < middle) CHECK(as_left);
    if (point.slew > middle) CHECK(as_right);
    if (point.slew == middle) CHECK(as_left != as_right);
    borders += point.slew == middle;
  }
  CHECK(borders == 2);
}

}  // namespace rimstance
