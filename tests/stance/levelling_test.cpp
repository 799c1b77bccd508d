#include "rimstance/stance/levelling.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rigs.hpp"
#include "rimstance/stance/contacts.hpp"
#include "stance/draw.hpp"
#include "worlds.hpp"

namespace rimstance {
namespace {

using Outcome = Levelling::Outcome;

std::vector<double> splays(const Machine& m) {
  std::vector<double> s;
  for (const Outrigger& o : m.outriggers) s.push_back(o.splay);
  return s;
}

Spot spot(double x, double y, double yaw = 0) {
  Spot s;
  s.at = Vec2(x, y);
  s.yaw = yaw;
  return s;
}

Levelling levelled(const Machine& m, const Terrain& t, const Spot& s, const LevellingNeeds& needs = {},
                   std::vector<double> sinkage = {}) {
  sinkage.resize(m.outriggers.size(), 0.0);
  return level(m, t, s, needs, splays(m), sinkage);
}

/// The demo carrier without wheels and belly: only strokes bound it.
Machine legs_only() {
  Machine m = rigs::dunlin_machine();
  m.chassis.wheels.clear();
  m.chassis.belly.reset();
  return m;
}

double below_origin(const Outrigger& o) { return o.drop - o.pivot.z(); }
double front_x(const Machine& m) { return foot(m.outriggers[0], m.outriggers[0].splay, 0).x(); }

/// Height of a mesh terrain under every contact, less the contact's: 0 where the feet touch.
void check_feet_on_ground(const Machine& m, const Terrain& t, const Levelling& l, const Spot& s,
                          double tolerance) {
  const std::vector<Contact> feet = contacts(m, t, l, splays(m), s.under);
  for (std::size_t i = 0; i < feet.size(); ++i) {
    REQUIRE(feet[i].supported);
    const Vec3 foot_W = l.X_WC * foot(m.outriggers[i], m.outriggers[i].splay, l.stroke[i]);
    CHECK((foot_W - feet[i].p_W).norm() <= tolerance);
    CHECK((l.X_WC * feet[i].p_C - feet[i].p_W).norm() <= 1e-12);
  }
}

}  // namespace

TEST_CASE("a foot lies an arm from its pivot along the splayed azimuth, drop and stroke below") {
  const Machine m = rigs::dunlin_machine();
  const double splay = radians(40), reach = 1.6;
  for (std::size_t i = 0; i < 4; ++i) {
    const Vec3& pivot = m.outriggers[i].pivot;  // the pivot's own quadrant is opened
    const Vec3 expected = pivot + Vec3(std::copysign(reach * std::cos(splay), pivot.x()),
                                       std::copysign(reach * std::sin(splay), pivot.y()), -0.25 - 0.3);
    CHECK((foot(m.outriggers[i], splay, 0.3) - expected).norm() <= 1e-15);
  }
}

TEST_CASE("on level ground the carrier stands as low as its wheels allow, all strokes alike") {
  const Machine m = rigs::dunlin_machine();
  const Levelling l = levelled(m, worlds::terrain(worlds::plane(3, 0, 0)), spot(0.3, -0.7, 0.4));
  REQUIRE(l.outcome == Outcome::level);
  const Wheel& w = m.chassis.wheels[0];
  const double height = 3 + w.clearance - (w.at.z() - w.radius);
  CHECK(l.X_WC.p.z() == Approx(height).epsilon(1e-14));
  CHECK(l.height.lo == l.X_WC.p.z());
  CHECK(l.height.hi == Approx(3 + below_origin(m.outriggers[0]) + m.outriggers[0].stroke.hi).epsilon(1e-14));
  for (std::size_t i = 0; i < 4; ++i) {
    const double stroke = height - 3 - below_origin(m.outriggers[i]);
    CHECK(l.stroke[i] == Approx(stroke).epsilon(1e-13));
    CHECK(l.stroke_left[i] == Approx(std::min(stroke, 0.6 - stroke)).epsilon(1e-13));
    CHECK(l.stroke_missing[i] == 0);
    CHECK(l.wheel_clearance[i] == Approx(w.clearance).epsilon(1e-12));
  }
  CHECK(l.belly_clearance == Approx(l.X_WC.p.z() + m.chassis.belly->height - 3).epsilon(1e-13));
  CHECK(l.iterations == 1);
  CHECK(l.blocked_by.empty());
}

TEST_CASE(
    "on a slope the strokes differ by the slope between the feet and the uphill rims bound the height") {
  const double mx = 0.05, my = -0.03;
  const Machine m = rigs::dunlin_machine();
  const Levelling l = levelled(m, worlds::terrain(worlds::plane(1, mx, my)), spot(0, 0));
  REQUIRE(l.outcome == Outcome::level);
  // A circle of radius r on a line of slope s touches at the tangent: it stands r sqrt(1 + s^2) above it.
  double lowest = -kInfinity;
  for (const Wheel& w : m.chassis.wheels) {
    const double edge = w.at.y() + std::copysign(w.width / 2, my);
    lowest = std::max(lowest,
                      1 + mx * w.at.x() + my * edge + w.radius * std::hypot(1, mx) - w.at.z() + w.clearance);
  }
  CHECK(l.X_WC.p.z() == Approx(lowest).epsilon(1e-13));
  for (std::size_t i = 0; i < 4; ++i) {
    const Vec3 f = foot(m.outriggers[i], m.outriggers[i].splay, 0);
    CHECK(l.stroke[i] ==
          Approx(lowest - below_origin(m.outriggers[i]) - (1 + mx * f.x() + my * f.y())).epsilon(1e-12));
  }
  CHECK(*std::min_element(l.wheel_clearance.begin(), l.wheel_clearance.end()) ==
        Approx(m.chassis.wheels[0].clearance).epsilon(1e-10));
}

TEST_CASE("a wheel on uneven ground clears the rim's height there, not the lowest point of its circle") {
  // One spike, at u ahead of the axle: the rim is sqrt(r^2 - u^2) below it.
  const double u = 0.2, tip = 0.1;
  TriangleMesh ground = worlds::meshed(worlds::plane(0, 0, 0), worlds::square(5), 0.5);
  Machine m = rigs::dunlin_machine();
  m.chassis.belly.reset();
  const Wheel& w = m.chassis.wheels[0];
  const Vec2 top(w.at.x() + u, w.at.y());
  ground = worlds::joined(ground,
                          {{Vec3(top.x() - 0.01, top.y() - 0.01, 0), Vec3(top.x() + 0.01, top.y() - 0.01, 0),
                            Vec3(top.x(), top.y() + 0.01, 0), Vec3(top.x(), top.y(), tip)},
                           {{0, 1, 3}, {1, 2, 3}, {2, 0, 3}}});
  const Levelling l = levelled(m, worlds::terrain(ground), spot(0, 0));
  REQUIRE(l.outcome == Outcome::level);
  const double on_flat = w.clearance - (w.at.z() - w.radius);
  const double on_spike = tip + w.clearance - (w.at.z() - std::sqrt(w.radius * w.radius - u * u));
  REQUIRE(on_spike < on_flat);  // the whole circle's lowest point would have asked for tip + clearance
  CHECK(l.X_WC.p.z() == Approx(on_flat).epsilon(1e-12));
  CHECK(l.wheel_clearance[0] ==
        Approx(l.X_WC.p.z() + w.at.z() - std::sqrt(w.radius * w.radius - u * u) - tip).epsilon(1e-6));
}

TEST_CASE("a wheel without width is bounded by the ground under its line alone") {
  Machine m = rigs::dunlin_machine();
  for (Wheel& w : m.chassis.wheels) w.width = 0;
  const double my = 0.1;
  for (const double yaw : {0.0, 0.3}) {
    const Levelling l = levelled(m, worlds::terrain(worlds::plane(0, 0, my)), spot(0, 0, yaw));
    REQUIRE(l.outcome == Outcome::level);
    double lowest = -kInfinity;
    for (const Wheel& w : m.chassis.wheels) {
      const double y = std::sin(yaw) * w.at.x() + std::cos(yaw) * w.at.y();
      lowest =
          std::max(lowest, my * y + w.radius * std::hypot(1, my * std::sin(yaw)) - w.at.z() + w.clearance);
    }
    CHECK(l.X_WC.p.z() == Approx(lowest).epsilon(1e-9));
  }
}

TEST_CASE("a peak under the belly bounds the height exactly, one in the notch of the outline does not") {
  const auto peaked = [](const Vec2& at, double height) {
    TriangleMesh ground = worlds::meshed(worlds::plane(0, 0, 0), worlds::square(5), 0.5);
    const double r = 0.05;
    return worlds::terrain(worlds::joined(
        ground,
        {{Vec3(at.x() - r, at.y() - r, 0), Vec3(at.x() + r, at.y() - r, 0), Vec3(at.x() + r, at.y() + r, 0),
          Vec3(at.x() - r, at.y() + r, 0), Vec3(at.x(), at.y(), height)},
         {{0, 1, 4}, {1, 2, 4}, {2, 3, 4}, {3, 0, 4}}}));
  };
  Machine m = rigs::dunlin_machine();
  const Belly& belly = *m.chassis.belly;
  const Levelling under = levelled(m, peaked({0.31, -0.17}, 0.5), spot(0, 0));
  REQUIRE(under.outcome == Outcome::level);
  CHECK(under.X_WC.p.z() == Approx(0.5 + belly.clearance - belly.height).epsilon(1e-12));
  CHECK(under.belly_clearance == Approx(belly.clearance).epsilon(1e-10));
  // An L: without its rear left quarter. Turned clockwise as well: the order of corners is the user's.
  m.chassis.belly->outline = {{0, 0.4}, {0.8, 0.4}, {0.8, -0.4}, {-0.8, -0.4}, {-0.8, 0}, {0, 0}};
  CHECK(levelled(m, peaked({-0.4, 0.2}, 0.5), spot(0, 0)).X_WC.p.z() == Approx(0.02).epsilon(1e-12));
  CHECK(levelled(m, peaked({-0.4, -0.2}, 0.5), spot(0, 0)).X_WC.p.z() == Approx(0.2).epsilon(1e-12));
  CHECK(levelled(m, peaked({0.4, 0.2}, 0.5), spot(0, 0)).X_WC.p.z() == Approx(0.2).epsilon(1e-12));
}

TEST_CASE("the greater of the machine's clearance and the criterion's counts") {
  const Machine m = rigs::dunlin_machine();
  const Terrain flat = worlds::terrain(worlds::plane(0, 0, 0));
  LevellingNeeds needs;
  needs.wheel_clearance = 0.01;
  CHECK(levelled(m, flat, spot(0, 0), needs).X_WC.p.z() == Approx(0.02).epsilon(1e-12));
  needs.wheel_clearance = 0.11;
  CHECK(levelled(m, flat, spot(0, 0), needs).X_WC.p.z() == Approx(0.11).epsilon(1e-12));
  needs.belly_clearance = 0.55;
  CHECK(levelled(m, flat, spot(0, 0), needs).X_WC.p.z() == Approx(0.55 - 0.35).epsilon(1e-12));
}

TEST_CASE("stroke is kept in hand at both ends where that is possible, else not at all") {
  const Machine m = legs_only();
  const double x = front_x(m);
  LevellingNeeds needs;
  needs.stroke_left = 0.1;
  const Levelling gentle = levelled(m, worlds::terrain(worlds::plane(0, 0.05, 0)), spot(0, 0), needs);
  REQUIRE(gentle.outcome == Outcome::level);
  CHECK(gentle.stroke[0] == Approx(0.1).epsilon(1e-12));  // uphill, lowest height
  const double slope = 0.5 / (2 * x);                     // takes 0.5 m of the 0.6: no 2 x 0.1 m left
  const Levelling steep = levelled(m, worlds::terrain(worlds::plane(0, slope, 0)), spot(0, 0), needs);
  REQUIRE(steep.outcome == Outcome::level);
  CHECK(steep.stroke[0] == Approx(0.0).margin(1e-12));
  CHECK(steep.height.width() == Approx(0.1).epsilon(1e-9));
}

TEST_CASE(
    "feet that will sink stand on strokes longer by the sinkage, and the body clears before and after") {
  const Machine m = legs_only();
  const Terrain flat = worlds::terrain(worlds::plane(0, 0, 0));
  const std::vector<double> sinkage{0.03, 0.01, 0.02, 0.04};
  const Levelling l = levelled(m, flat, spot(0, 0), {}, sinkage);
  REQUIRE(l.outcome == Outcome::level);
  for (std::size_t i = 0; i < 4; ++i)
    CHECK(l.stroke[i] == Approx(l.X_WC.p.z() - below_origin(m.outriggers[i]) + sinkage[i]).margin(1e-13));
  // One rear foot sinks and the chassis overhangs it: before, the front wheels stand lower than after by
  // what the plane through the feet (rear ones up by the sinkage) says at the wheels.
  Machine wheeled = rigs::dunlin_machine();
  wheeled.chassis.belly.reset();
  for (Wheel& w : wheeled.chassis.wheels) w.at.x() = std::copysign(3.0, w.at.x());
  const double deep = 0.05, x = front_x(wheeled), ahead = 3;
  const Levelling rear = levelled(wheeled, flat, spot(0, 0), {}, {0, 0, deep, deep});
  const double lower = deep * (1 - ahead / x) / 2;
  REQUIRE(lower < 0);
  CHECK(rear.X_WC.p.z() == Approx(0.02 - lower).epsilon(1e-9));
}

TEST_CASE("a slope steeper than the strokes allow leaves a tilt of the slope less what the strokes give") {
  // In the chassis' own frame the ground may slope by atan(stroke range / distance of the feet), no more.
  const Machine m = legs_only();
  const double x = front_x(m), y = foot(m.outriggers[0], m.outriggers[0].splay, 0).y();
  const double slope = radians(15), range = 0.6;
  for (const double turn : {0.0, 0.7, 2.0}) {
    for (const bool across : {false, true}) {
      const double give = std::atan(range / (2 * (across ? y : x)));
      const double uphill = turn + (across ? kPi / 2 : 0);
      const Terrain t = worlds::terrain(
          worlds::plane(0, std::tan(slope) * std::cos(uphill), std::tan(slope) * std::sin(uphill)));
      const Levelling l = levelled(m, t, spot(0.4, -0.3, turn));
      REQUIRE(l.outcome == Outcome::least_tilt);
      CHECK(tilt(l.X_WC.R) == Approx(slope - give).epsilon(1e-9));
      const YawPitchRoll a = yaw_pitch_roll(l.X_WC.R);
      CHECK(a.yaw == Approx(turn).margin(1e-12));
      CHECK(-std::sin(a.pitch) == Approx(across ? 0.0 : std::sin(slope - give)).margin(1e-9));  // nose up
      CHECK(std::sin(a.roll) == Approx(across ? std::sin(slope - give) : 0.0).margin(1e-9));  // left side up
      CHECK(l.X_WC.p.head<2>() == Vec2(0.4, -0.3));
      for (std::size_t i = 0; i < 4; ++i) {
        const Vec3 f = foot(m.outriggers[i], m.outriggers[i].splay, 0);
        CHECK(l.stroke[i] == Approx((across ? f.y() : f.x()) > 0 ? 0.0 : range).margin(1e-9));
        CHECK(l.stroke_left[i] == Approx(0).margin(1e-9));
      }
      check_feet_on_ground(m, t, l, spot(0.4, -0.3, turn), 1e-9);
      REQUIRE(l.blocked_by.size() == 4);
      CHECK(std::count(l.blocked_by.begin(), l.blocked_by.end(), "stroke of front-left at its shortest") ==
            1);
      CHECK(std::count(l.blocked_by.begin(), l.blocked_by.end(), "stroke of rear-right at its longest") == 1);
      // A level chassis misses the rise between the feet less the range, on the downhill legs.
      const double rise = 2 * (across ? y : x) * std::tan(slope);
      CHECK(l.height.lo - l.height.hi == Approx(rise - range).epsilon(1e-9));
      CHECK(l.stroke_missing[3] == Approx(rise - range).epsilon(1e-9));
      CHECK(l.stroke_missing[0] == 0);
    }
  }
}

TEST_CASE("no pose with less tilt keeps the strokes: random ground, random poses") {
  Machine m = legs_only();
  for (Outrigger& o : m.outriggers) o.stroke = {0, 0.15};
  int tilted = 0;
  for (int k = 0; k < cases(); ++k) {
    Draw draw{201, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const worlds::Formula z = worlds::plane(0, draw.in(-0.2, 0.2), draw.in(-0.2, 0.2));
    const Terrain t = worlds::terrain(z, 6, 1);
    const Spot s = spot(draw.in(-1, 1), draw.in(-1, 1), draw.in(-kPi, kPi));
    const Levelling l = levelled(m, t, s);
    if (l.outcome == Outcome::level) continue;
    REQUIRE(l.outcome == Outcome::least_tilt);
    ++tilted;
    check_feet_on_ground(m, t, l, s, 1e-8);
    for (std::size_t i = 0; i < 4; ++i) CHECK(l.stroke_left[i] >= -1e-9);
    for (int other = 0; other < 20; ++other) {
      const YawPitchRoll a = yaw_pitch_roll(l.X_WC.R);
      const Mat3 R = rotation(a.yaw, a.pitch * draw.in(0.9, 1.0), a.roll * draw.in(0.9, 1.0));
      if (!(tilt(R) < tilt(l.X_WC.R) - 1e-6)) continue;
      // The ground is a plane: the stroke at which a foot meets it is linear in the chassis' height.
      const Vec3 normal = Vec3(z({0, 0}) - z({1, 0}), z({0, 0}) - z({0, 1}), 1);
      double lo = -kInfinity, hi = kInfinity;
      for (const Outrigger& o : m.outriggers) {
        const Vec3 p = R * foot(o, o.splay, 0) + Vec3(s.at.x(), s.at.y(), 0);
        const double stroke = (normal.dot(p) - z({0, 0})) / normal.dot(R.col(2)),
                     per_height = 1 / normal.dot(R.col(2));
        lo = std::max(lo, (o.stroke.lo - stroke) / per_height);
        hi = std::min(hi, (o.stroke.hi - stroke) / per_height);
      }
      CHECK(lo > hi);
    }
  }
  CHECK(tilted > cases() / 10);
}

TEST_CASE("wheels that would touch block the level pose and bound the tilt") {
  Machine m = rigs::dunlin_machine();
  m.chassis.belly.reset();
  const double slope = radians(14), x = front_x(m);
  const Wheel& w = m.chassis.wheels[0];
  const Levelling l = levelled(m, worlds::terrain(worlds::plane(0, std::tan(slope), 0)), spot(0, 0));
  REQUIRE(l.outcome == Outcome::least_tilt);
  // In C the ground has slope s: it meets the rear feet at their longest, and the front rims clear it by
  // the clearance: s (w + x) + r sqrt(1 + s^2) = z_w - clearance - z_foot. Solved by bisection.
  double lo = 0, hi = 1;
  for (int k = 0; k < 100; ++k) {
    const double s = 0.5 * (lo + hi);
    const bool below = s * (w.at.x() + x) + w.radius * std::hypot(1, s) <
                       w.at.z() - w.clearance + below_origin(m.outriggers[0]) + m.outriggers[0].stroke.hi;
    (below ? lo : hi) = s;
  }
  CHECK(tilt(l.X_WC.R) == Approx(slope - std::atan(lo)).epsilon(1e-9));
  CHECK(l.wheel_clearance[0] == Approx(w.clearance).epsilon(1e-8));
  CHECK(l.stroke[2] == Approx(0.6).epsilon(1e-9));
  CHECK(std::count(l.blocked_by.begin(), l.blocked_by.end(), "clearance of wheel 1 of 4") == 1);
  CHECK(std::count(l.blocked_by.begin(), l.blocked_by.end(), "stroke of rear-left at its longest") == 1);
}

TEST_CASE("ground under the belly higher than the longest strokes lift it leaves no pose") {
  Machine m = rigs::dunlin_machine();
  m.chassis.wheels.clear();
  const double rock = 0.8;  // the belly comes to 0.25 + 0.6 - 0.25 + 0.35 - 0.05 = 0.65 above the feet
  const Terrain t = worlds::terrain(
      [=](const Vec2& p) { return std::max(std::abs(p.x()), std::abs(p.y())) < 0.3 ? rock : 0.0; }, 5, 0.25);
  const Levelling l = levelled(m, t, spot(0, 0));
  CHECK(l.outcome == Outcome::no_convergence);
  CHECK(std::count(l.blocked_by.begin(), l.blocked_by.end(), "clearance of the belly") == 1);
  CHECK(l.stroke_missing[0] == Approx(rock + 0.05 - 0.35 - (-0.25) - 0.6).epsilon(1e-9));
  CHECK(std::isnan(l.stroke[0]));
  CHECK(std::isnan(l.X_WC.p.z()));
}

TEST_CASE("ground twisted beyond the strokes leaves no pose") {
  const Machine m = legs_only();
  const Terrain t = worlds::terrain([](const Vec2& p) { return 0.15 * p.x() * p.y(); }, 4, 0.25);
  const Levelling l = levelled(m, t, spot(0, 0));
  CHECK(l.outcome == Outcome::no_convergence);
  CHECK(l.alternating.empty());
  CHECK(l.height.lo > l.height.hi);
  CHECK(l.blocked_by.back().find("no tilt") != std::string::npos);
}

TEST_CASE("feet that leave their step when the chassis tilts and return when it is level name both poses") {
  // Front feet on a step higher than the strokes give: level, they stand on it and ask for a tilt; tilted,
  // they are drawn back over its edge and ask for none.
  Machine m = legs_only();
  for (Outrigger& o : m.outriggers) o.pad_radius = 0.002;
  const double edge = front_x(m) - 0.012;
  const TriangleMesh low = worlds::meshed(worlds::plane(0, 0, 0), {Vec2(-4, -4), Vec2(edge, 4)}, 0.5),
                     high = worlds::meshed(worlds::plane(0.9, 0, 0), {Vec2(edge, -4), Vec2(4, 4)}, 0.5);
  const Levelling l = levelled(m, worlds::terrain(worlds::joined(low, high)), spot(0, 0));
  REQUIRE(l.outcome == Outcome::no_convergence);
  CHECK(l.iterations == 20);
  REQUIRE(l.alternating.size() == 2);
  const double a = tilt(l.alternating[0].R), b = tilt(l.alternating[1].R);
  CHECK(std::min(a, b) == Approx(0).margin(1e-12));
  CHECK(std::max(a, b) == Approx(std::asin((0.9 - 0.6) / (2 * front_x(m)))).epsilon(0.05));
  CHECK(l.blocked_by.back().find("alternates between") != std::string::npos);
}

TEST_CASE("a foot over a hole, the void or off the map is unsupported, with the reason and no height") {
  const Machine m = legs_only();
  const Vec2 f = foot(m.outriggers[0], m.outriggers[0].splay, 0).head<2>();
  HeightGrid holed = worlds::gridded(worlds::plane(0, 0, 0), worlds::square(4), 0.25);
  holed.heights[static_cast<std::size_t>(std::lround((f.y() + 4) / 0.25)) * holed.columns +
                static_cast<std::size_t>(std::lround((f.x() + 4) / 0.25))] = kUnset;
  Terrain hole = worlds::terrain(holed);
  hole.map_offset = Vec3(500000, 4300000, 100);
  Spot s = spot(500000, 4300000);
  Levelling l = levelled(m, hole, s);
  CHECK(l.outcome == Outcome::unsupported);
  CHECK(l.unsupported_reason[0].find("over a hole in the data at map (500001.926, 4300001.478)") == 0);
  CHECK(l.unsupported_reason[1].empty());
  CHECK(std::isnan(l.stroke[1]));
  CHECK(std::isnan(l.height.lo));
  const std::vector<Contact> feet = contacts(m, hole, l, splays(m), s.under);
  CHECK_FALSE(feet[0].supported);
  CHECK(feet[0].reason == l.unsupported_reason[0]);
  CHECK(std::isnan(feet[0].p_W.z()));
  CHECK(feet[1].supported);
  CHECK(feet[1].p_W.z() == Approx(0).margin(1e-12));

  const Terrain rim =
      worlds::terrain(worlds::meshed(worlds::plane(0, 0, 0), {Vec2(-4, -4), Vec2(1, 4)}, 0.5));
  l = levelled(m, rim, spot(0, 0));
  CHECK(l.outcome == Outcome::unsupported);
  CHECK(l.unsupported_reason[0].find("off the map") == 0);
  CHECK(l.unsupported_reason[2].empty());

  // A rim with a floor 10 m below, of which only the upper storey counts.
  const Terrain pit = worlds::terrain(worlds::overhang(1, 10, 0));
  Spot at_rim = spot(0, 0);
  const Levelling deep = levelled(m, pit, at_rim);
  CHECK(deep.outcome != Outcome::level);
  at_rim.at.x() = 8;
  at_rim.under = -11;
  l = levelled(m, pit, at_rim);
  CHECK(l.outcome == Outcome::unsupported);
  CHECK(l.unsupported_reason[0].find("over the void: no ground at or below -11.000 m") == 0);
}

TEST_CASE("of several storeys the ground is the highest at or below the spot's map height") {
  const Machine m = legs_only();
  Terrain t = worlds::terrain(worlds::overhang(30, 2, 50));  // a roof over everything
  t.map_offset = Vec3(0, 0, 700);
  Spot s = spot(0, 0);
  CHECK(levelled(m, t, s).X_WC.p.z() == Approx(below_origin(m.outriggers[0])).epsilon(1e-12));
  s.under = 699;  // map height: below the roof
  const Levelling l = levelled(m, t, s);
  CHECK(l.X_WC.p.z() == Approx(-2 + below_origin(m.outriggers[0])).epsilon(1e-12));
  CHECK(contacts(m, t, l, splays(m), s.under)[0].p_W.z() == Approx(-2).epsilon(1e-12));
}

TEST_CASE("a pad on ground steeper than its joint stands on its uphill edge at the limit angle") {
  Machine m = legs_only();
  const double slope = radians(12), limit = radians(7);
  const Terrain t = worlds::terrain(worlds::plane(0, std::tan(slope), 0));
  const Levelling free = levelled(m, t, spot(0, 0));
  for (Outrigger& o : m.outriggers) o.pad_tilt = limit;
  const Levelling held = levelled(m, t, spot(0, 0));
  const double lift = m.outriggers[0].pad_radius * (std::tan(slope) - std::tan(limit));
  REQUIRE(free.outcome == held.outcome);
  CHECK(held.height.lo == Approx(free.height.lo + lift).epsilon(1e-10));
  const std::vector<Contact> feet = contacts(m, t, held, splays(m), kInfinity);
  for (const Contact& c : feet) {
    CHECK(c.pad_tilt_exceeded);
    CHECK(c.normal_W.dot(Vec3(-std::sin(limit), 0, std::cos(limit))) == Approx(1).epsilon(1e-14));
  }
  CHECK_FALSE(contacts(legs_only(), t, free, splays(m), kInfinity)[0].pad_tilt_exceeded);
}

TEST_CASE("a held pad on rough ground rests on its highest point: against dense probing") {
  Machine m = legs_only();
  for (int k = 0; k < 20; ++k) {
    Draw draw{202, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const TriangleMesh mesh =
        worlds::meshed([&](const Vec2& p) { return 0.3 * p.x() + worlds::bumps(0.2, 0.03, 77)(p); },
                       worlds::square(3), 0.1, 0.3);
    const Terrain t = worlds::terrain(mesh);
    for (Outrigger& o : m.outriggers) o.pad_tilt = radians(4), o.pad_radius = 0.2;
    const Spot s = spot(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), draw.in(-3, 3));
    const Levelling l = levelled(m, t, s);
    const Contact c = contacts(m, t, l, splays(m), kInfinity)[0];
    REQUIRE(c.pad_tilt_exceeded);
    double highest = -kInfinity;
    for (int i = 0; i < 3000; ++i) {  // Vogel's spiral: even over a disc
      const double r = 0.2 * std::sqrt((i + 0.5) / 3000), a = i * kPi * (3 - std::sqrt(5.0));
      const Vec2 d(r * std::cos(a), r * std::sin(a));
      highest = std::max(
          highest, height(t, c.p_W.head<2>() + d, kInfinity) + c.normal_W.head<2>().dot(d) / c.normal_W.z());
    }
    CHECK(c.p_W.z() >= highest - 1e-12);
    CHECK(c.p_W.z() <= highest + 0.004);
  }
}

TEST_CASE("clearances of wheels and belly are the least along the chassis' z: against dense probing") {
  int tilted = 0;
  for (int k = 0; k < 5; ++k) {
    Draw draw{210, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const double mx = draw.in(-0.3, 0.3), my = draw.in(-0.1, 0.1);
    const worlds::Formula ground = [=](const Vec2& p) {
      return mx * p.x() + my * p.y() + worlds::bumps(0.6, 0.03, 78)(p);
    };
    const Terrain t = worlds::terrain(worlds::meshed(ground, worlds::square(3.2), 0.05));
    const Machine m = rigs::dunlin_machine();
    const Levelling l = levelled(m, t, spot(draw.in(-0.4, 0.4), draw.in(-0.4, 0.4), draw.in(-0.2, 0.2)));
    if (!std::isfinite(l.X_WC.p.z())) continue;
    tilted += l.outcome == Outcome::least_tilt;
    // Ground on C's vertical through (u, v), in C: the line is followed until it meets the ground.
    const auto below = [&](double u, double v) {
      double w = 0;
      for (int n = 0; n < 12; ++n) {
        const Vec3 p = l.X_WC * Vec3(u, v, w);
        w -= p.z() - height(t, p.head<2>(), kInfinity);
      }
      return w;
    };
    for (std::size_t i = 0; i < m.chassis.wheels.size(); ++i) {
      const Wheel& w = m.chassis.wheels[i];
      double least = kInfinity;
      for (int a = -40; a <= 40; ++a)
        for (int b = -4; b <= 4; ++b) {
          const double u = w.radius * a / 40, v = 0.5 * w.width * b / 4;
          const double rim = w.at.z() - std::sqrt(w.radius * w.radius - u * u);
          least = std::min(least, rim - below(w.at.x() + u, w.at.y() + v));
        }
      CHECK(l.wheel_clearance[i] <= least + 1e-9);
      CHECK(l.wheel_clearance[i] >= least - 0.002);
    }
    double least = kInfinity;
    for (int a = -40; a <= 40; ++a)
      for (int b = -20; b <= 20; ++b)
        least = std::min(least, m.chassis.belly->height - below(0.02 * a, 0.02 * b));
    CHECK(l.belly_clearance <= least + 1e-9);
    CHECK(l.belly_clearance >= least - 0.004);
  }
  CHECK(tilted > 0);
}

TEST_CASE("wheels over missing ground have no clearance to show") {
  const Machine m = rigs::dunlin_machine();
  HeightGrid grid = worlds::gridded(worlds::plane(0, 0, 0), worlds::square(4), 0.25);
  const auto post = [&](double x, double y) -> double& {
    return grid.heights[static_cast<std::size_t>(std::lround((y + 4) / 0.25)) * grid.columns +
                        static_cast<std::size_t>(std::lround((x + 4) / 0.25))];
  };
  post(1, 0.75) = kUnset;
  Levelling l = levelled(m, worlds::terrain(grid), spot(0, 0));
  REQUIRE(l.outcome == Outcome::level);
  CHECK(std::isnan(l.wheel_clearance[0]));
  CHECK(l.wheel_clearance[1] == Approx(0.02).epsilon(1e-12));
  CHECK(l.belly_clearance > 0);
  post(0, 0) = kUnset;
  CHECK(std::isnan(levelled(m, worlds::terrain(grid), spot(0, 0)).belly_clearance));
}

namespace {

/// Rough ground near the limits of the demo carrier, and a spot on it.
struct World {
  TriangleMesh mesh;
  Spot at;
};
World drawn_world(Draw& draw) {
  const double mx = draw.in(-0.2, 0.2), my = draw.in(-0.2, 0.2), amplitude = draw.in(0, 0.08);
  const auto seed = static_cast<std::uint64_t>(draw.in(0, 1e6));
  World w;
  w.mesh = worlds::meshed(
      [&](const Vec2& p) { return mx * p.x() + my * p.y() + worlds::bumps(1.3, amplitude, seed)(p); },
      worlds::square(4), 0.5, 0.3, seed);
  w.at = spot(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), draw.in(-kPi, kPi));
  return w;
}

void check_same(const Levelling& a, const Levelling& b, double tolerance) {
  REQUIRE(a.outcome == b.outcome);
  CHECK(a.blocked_by.size() == b.blocked_by.size());
  if (!std::isfinite(a.X_WC.p.z())) return;
  for (std::size_t i = 0; i < a.stroke.size(); ++i) CHECK(std::abs(a.stroke[i] - b.stroke[i]) <= tolerance);
  CHECK(std::abs(tilt(a.X_WC.R) - tilt(b.X_WC.R)) <= tolerance);
}

/// The machine seen in a mirror along its own x axis: names and order stay, left becomes right.
Machine mirrored(Machine m) {
  for (Outrigger& o : m.outriggers) o.pivot.y() = -o.pivot.y(), o.zero = -o.zero, o.sense = -o.sense;
  for (Wheel& w : m.chassis.wheels) w.at.y() = -w.at.y();
  for (Vec2& c : m.chassis.belly->outline) c.y() = -c.y();
  return m;
}

}  // namespace

TEST_CASE("levelling does not care where the world is and how it is turned about the vertical") {
  const Machine m = rigs::dunlin_machine();
  int level_ones = 0, tilted = 0;
  for (int k = 0; k < cases(); ++k) {
    Draw draw{203, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const World w = drawn_world(draw);
    const Levelling l = levelled(m, worlds::terrain(w.mesh), w.at);
    level_ones += l.outcome == Outcome::level;
    tilted += l.outcome == Outcome::least_tilt;
    CHECK(can_level(m, worlds::terrain(w.mesh), w.at, {}, splays(m), std::vector<double>(4)) ==
          (l.outcome == Outcome::level));
    const double turn = draw.in(-kPi, kPi);
    const Vec3 shift(draw.in(-1e3, 1e3), draw.in(-1e3, 1e3), draw.in(-1e3, 1e3));
    Spot turned = w.at;
    const Vec3 at = rotation(turn, 0, 0) * Vec3(w.at.at.x(), w.at.at.y(), 0) + shift;
    turned.at = at.head<2>();
    turned.yaw += turn;
    check_same(l, levelled(m, worlds::terrain(worlds::moved(w.mesh, rotation(turn, 0, 0), shift)), turned),
               1e-8);
  }
  CHECK(level_ones > cases() / 10);
  CHECK(tilted > cases() / 10);
}

TEST_CASE("a mirrored machine on mirrored ground has the same strokes") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{204, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    World w = drawn_world(draw);
    const Levelling l = levelled(rigs::dunlin_machine(), worlds::terrain(w.mesh), w.at);
    for (Vec3& v : w.mesh.vertices) v.y() = -v.y();
    w.at.at.y() = -w.at.at.y(), w.at.yaw = -w.at.yaw;
    const Levelling same = levelled(mirrored(rigs::dunlin_machine()), worlds::terrain(w.mesh), w.at);
    check_same(l, same, 1e-9);
    if (l.outcome == Outcome::least_tilt)
      CHECK(yaw_pitch_roll(same.X_WC.R).roll == Approx(-yaw_pitch_roll(l.X_WC.R).roll).margin(1e-9));
  }
}

TEST_CASE("a world k times as large has strokes k times as long") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{205, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    World w = drawn_world(draw);
    Machine m = rigs::dunlin_machine();
    const Levelling l = levelled(m, worlds::terrain(w.mesh), w.at);
    const double f = draw.in(0.3, 4);
    for (Vec3& v : w.mesh.vertices) v *= f;
    w.at.at *= f;
    for (Outrigger& o : m.outriggers)
      o.pivot *= f, o.arm *= f, o.drop *= f, o.stroke.lo *= f, o.stroke.hi *= f, o.pad_radius *= f;
    for (Wheel& wheel : m.chassis.wheels)
      wheel.at *= f, wheel.radius *= f, wheel.width *= f, wheel.clearance *= f;
    for (Vec2& c : m.chassis.belly->outline) c *= f;
    m.chassis.belly->height *= f, m.chassis.belly->clearance *= f;
    Levelling large = levelled(m, worlds::terrain(w.mesh), w.at);
    for (double& s : large.stroke) s /= f;
    check_same(l, large, 1e-8);
  }
}

TEST_CASE("triangles split, shuffled or cut away far off change no stroke") {
  const Machine m = rigs::dunlin_machine();
  for (int k = 0; k < cases(); ++k) {
    Draw draw{206, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const World w = drawn_world(draw);
    const Levelling l = levelled(m, worlds::terrain(w.mesh), w.at);
    check_same(l, levelled(m, worlds::terrain(worlds::split(w.mesh)), w.at), 1e-11);
    check_same(l, levelled(m, worlds::terrain(worlds::shuffled(w.mesh, static_cast<std::uint64_t>(k))), w.at),
               1e-11);
    // Feet reach 2.43 m from C's origin, pads 0.15 m more, triangles 0.8 m.
    const Box2 near{w.at.at - Vec2::Constant(3.4), w.at.at + Vec2::Constant(3.4)};
    check_same(l, levelled(m, worlds::terrain(worlds::cropped(w.mesh, near)), w.at), 0);
  }
}

TEST_CASE("a map offset of hundreds of kilometres moves strokes by less than its own rounding") {
  const Machine m = rigs::dunlin_machine();
  for (int k = 0; k < cases(); ++k) {
    Draw draw{207, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const World w = drawn_world(draw);
    Terrain far = worlds::terrain(w.mesh);
    const Levelling l = levelled(m, far, w.at);
    far.map_offset = Vec3(5e5, 4.3e6, 1e3);
    Spot s = w.at;
    s.at += far.map_offset.head<2>();
    check_same(l, levelled(m, far, s), 1e-8);
  }
}

TEST_CASE("what was levelled, levelled again, is the same") {
  const Machine m = rigs::dunlin_machine();
  for (int k = 0; k < cases(); ++k) {
    Draw draw{208, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const World w = drawn_world(draw);
    const Terrain t = worlds::terrain(w.mesh);
    const Levelling l = levelled(m, t, w.at);
    if (!std::isfinite(l.X_WC.p.z())) continue;
    check_feet_on_ground(m, t, l, w.at, 1e-8);
    // Level: legs that cannot move from the solved strokes. Tilted: legs that can move by 0.1 m only (where
    // the chassis starts, level, its feet stand elsewhere).
    Machine set = m;
    const double play = l.outcome == Outcome::level ? 0.0 : 0.1;
    for (std::size_t i = 0; i < 4; ++i) {
      Interval& s = set.outriggers[i].stroke;
      s = {std::max(s.lo, l.stroke[i] - play), std::min(s.hi, l.stroke[i] + play)};
    }
    const Levelling again = levelled(set, t, w.at);
    REQUIRE(std::isfinite(again.X_WC.p.z()));
    for (std::size_t i = 0; i < 4; ++i) CHECK(std::abs(again.stroke[i] - l.stroke[i]) <= 1e-9);
    CHECK(std::abs(tilt(again.X_WC.R) - tilt(l.X_WC.R)) <= 1e-8);
    // A length added to every drop comes off every stroke; the carrier rides as before.
    Machine longer = m;
    for (Outrigger& o : longer.outriggers) o.drop += 0.1, o.stroke.lo -= 0.1, o.stroke.hi -= 0.1;
    const Levelling same = levelled(longer, t, w.at);
    for (std::size_t i = 0; i < 4; ++i) CHECK(std::abs(same.stroke[i] + 0.1 - l.stroke[i]) <= 1e-9);
    CHECK(std::abs(same.X_WC.p.z() - l.X_WC.p.z()) <= 1e-9);
  }
}

TEST_CASE("data taken away never makes a spot better: same pose, or nobody knows") {
  const Machine m = rigs::dunlin_machine();
  int changed = 0;
  for (int k = 0; k < cases(); ++k) {
    Draw draw{209, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const double mx = draw.in(-0.15, 0.15), my = draw.in(-0.15, 0.15);
    HeightGrid grid = worlds::gridded(worlds::plane(0, mx, my), worlds::square(4), 0.25);
    const Spot s = spot(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), draw.in(-kPi, kPi));
    const Levelling before = levelled(m, worlds::terrain(grid), s);
    for (int n = 0; n < 3; ++n)
      grid.heights[static_cast<std::size_t>(draw.in(0, static_cast<double>(grid.heights.size())))] = kUnset;
    const Levelling after = levelled(m, worlds::terrain(grid), s);
    const bool unknown = after.outcome == Outcome::unsupported || std::isnan(after.belly_clearance) ||
                         std::any_of(after.wheel_clearance.begin(), after.wheel_clearance.end(),
                                     [](double c) { return std::isnan(c); });
    changed += unknown;
    if (!unknown) check_same(before, after, 1e-12);
  }
  CHECK(changed > 0);
}

TEST_CASE("outriggers and wheels in another order have the same strokes in that order") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{211, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    const World w = drawn_world(draw);
    const Terrain t = worlds::terrain(w.mesh);
    Machine m = rigs::dunlin_machine();
    const Levelling l = levelled(m, t, w.at);
    const std::ptrdiff_t by = static_cast<std::ptrdiff_t>(draw.in(1, 4));
    std::rotate(m.outriggers.begin(), m.outriggers.begin() + by, m.outriggers.end());
    std::rotate(m.chassis.wheels.begin(), m.chassis.wheels.begin() + by, m.chassis.wheels.end());
    Levelling turned = levelled(m, t, w.at);
    std::rotate(turned.stroke.begin(), turned.stroke.end() - by, turned.stroke.end());
    check_same(l, turned, 1e-10);
  }
}

TEST_CASE("a machine with three outriggers levels as well") {
  Machine m = legs_only();
  m.outriggers = {rigs::outrigger("front", {0.7, 0.1, 0.5}, radians(10)),
                  rigs::outrigger("rear-left", {-0.7, 0.45, 0.5}),
                  rigs::outrigger("rear-right", {-0.7, -0.45, 0.5})};
  const Terrain t = worlds::terrain(worlds::plane(0, 0.3, 0.1));
  const Levelling l = levelled(m, t, spot(0, 0));
  REQUIRE(l.outcome == Outcome::least_tilt);
  check_feet_on_ground(m, t, l, spot(0, 0), 1e-9);
}

TEST_CASE("a spot that is nowhere and lists that do not fit are the caller's mistake") {
  const Machine m = legs_only();
  const Terrain t = worlds::terrain(worlds::plane(0, 0, 0));
  CHECK_THROWS_AS(levelled(m, t, spot(kUnset, 0)), std::logic_error);
  CHECK_THROWS_AS(level(m, t, spot(0, 0), {}, std::vector<double>(3), std::vector<double>(3)),
                  std::logic_error);
}

}  // namespace rimstance
