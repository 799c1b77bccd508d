// The machine folded up on its wheels: box, centre of mass, and the tilt at which it tips.
#include "rimstance/statics/stowed.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "drawn.hpp"

namespace rimstance {
namespace {

/// Wheels that touch the ground at these points.
Chassis on_wheels(std::initializer_list<Vec2> points, double ground = 0) {
  Chassis out;
  for (const Vec2& p : points) {
    Wheel w;
    w.radius = 0.25;
    w.at = Vec3(p.x(), p.y(), ground + w.radius);
    out.wheels.push_back(w);
  }
  return out;
}

/// Track 3 m, wheelbase 4 m.
Chassis rectangle() { return on_wheels({{2, 1.5}, {-2, 1.5}, {-2, -1.5}, {2, -1.5}}); }

}  // namespace

TEST_CASE(
    "tips on wheels: the static stability factor T / 2h of a road vehicle is the tangent of the side tip") {
  // NHTSA, New Car Assessment Program: SSF = T / (2 h). T 3.0 m, h 1.2 m: SSF 1.25, 51.34019 deg.
  const TipAngles tips = tips_on_wheels(rectangle(), {0, 0, 1.2});
  CHECK(std::tan(tips.left) == Approx(3.0 / (2 * 1.2)).epsilon(1e-12));
  CHECK(degrees(tips.left) == Approx(51.34019).epsilon(1e-7));
  CHECK(tips.right == Approx(tips.left).epsilon(1e-12));
  CHECK(std::tan(tips.forward) == Approx(2 / 1.2).epsilon(1e-12));
  CHECK(tips.backward == Approx(tips.forward).epsilon(1e-12));
}

TEST_CASE("tips on wheels: off the middle each side has its own distance, d / h") {
  const TipAngles tips = tips_on_wheels(rectangle(), {0.5, 0.2, 1.2});
  CHECK(std::tan(tips.forward) == Approx((2 - 0.5) / 1.2));
  CHECK(std::tan(tips.backward) == Approx((2 + 0.5) / 1.2));
  CHECK(std::tan(tips.left) == Approx((1.5 - 0.2) / 1.2));
  CHECK(std::tan(tips.right) == Approx((1.5 + 0.2) / 1.2));
}

TEST_CASE("tips on wheels: over a slanting edge the tangent is d / (h cos(gamma)), the least of the edges") {
  // One wheel ahead, two behind: the front edges run from (2, 0) to (-2, +-1.5).
  const Chassis tricycle = on_wheels({{2, 0}, {-2, 1.5}, {-2, -1.5}});
  const double h = 0.8;
  const TipAngles tips = tips_on_wheels(tricycle, {-0.6, 0, h});
  const Vec2 outward = Vec2(1.5, 4).normalized();  // normal of (-4, 1.5)
  const double d = outward.dot(Vec2(2, 0) - Vec2(-0.6, 0));
  CHECK(std::tan(tips.left) == Approx(d / (h * outward.y())));
  CHECK(std::tan(tips.forward) == Approx(d / (h * outward.x())));
  CHECK(std::tan(tips.backward) == Approx((2 - 0.6) / h));
}

TEST_CASE("tips on wheels: the tilt at which the centre of mass stands over an edge, found by tilting") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{511, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const double ground = draw.in(-0.3, 0.3);
    const Chassis chassis = on_wheels({{draw.in(0.5, 2), draw.in(0.4, 1.5)},
                                       {draw.in(-2, -0.5), draw.in(0.4, 1.5)},
                                       {draw.in(-2, -0.5), draw.in(-1.5, -0.4)},
                                       {draw.in(0.5, 2), draw.in(-1.5, -0.4)}},
                                      ground);
    const Vec3 centre(draw.in(-0.4, 0.4), draw.in(-0.3, 0.3), ground + draw.in(0.3, 1.5));
    const double tip = tips_on_wheels(chassis, centre).left;
    // Raising the right side by an angle, the weight's line meets the ground at y + h tan(angle).
    const auto meets = [&](double angle) -> Vec2 {
      return centre.head<2>() + Vec2(0, (centre.z() - ground) * std::tan(angle));
    };
    const auto inside = [&](const Vec2& p) {
      for (std::size_t k = 0; k < 4; ++k) {
        const Vec2 a = chassis.wheels[k].at.head<2>(), b = chassis.wheels[(k + 1) % 4].at.head<2>();
        if (cross2(b - a, p - a) < 0) return false;
      }
      return true;
    };
    CHECK(inside(meets(tip - 1e-7)));
    CHECK_FALSE(inside(meets(tip + 1e-7)));
  }
}

TEST_CASE("stowed: without three wheels apart there is no tip, and it says why") {
  Scenario s = rigs::dunlin();
  CHECK(stowed(s).no_tips.empty());
  for (Wheel& w : s.machine.chassis.wheels) w.at.y() = 0;
  CHECK(stowed(s).no_tips == "the wheels stand on one line");
  s.machine.chassis.wheels.clear();
  CHECK(stowed(s).no_tips == "no wheels");
  CHECK(std::isnan(stowed(s).tips.left));
}

TEST_CASE("stowed: the box spans what sticks out farthest on each side") {
  const Scenario s = rigs::dunlin();
  const Machine& m = s.machine;
  const Stowed box = stowed(s);
  // Ahead the boom: foot pin at 0.2, 3.2 m long and level, a head of 0.35 m at its tip. Behind the guide:
  // from -0.4 by 1.4. (The arms, at splay 0 along x, reach 0.7 + 1.6 and their pads 0.15 m more.)
  const double ahead = std::max(0.2 + 3.2 + 0.35, 0.7 + 1.6 + 0.15),
               behind = std::max(0.4 + 1.4, 0.7 + 1.6 + 0.15);
  CHECK(box.length == Approx(ahead + behind));
  // Sideways the wheels: 0.75 and half of 0.2 m; the pads end at 0.45 + 0.15.
  CHECK(box.width == Approx(2 * (0.75 + 0.1)));
  // From under the wheels up to the head at the tip.
  CHECK(box.height == Approx(m.platform.axis.z() + m.boom.foot.z() + 0.35));
}

TEST_CASE("stowed: mass and centre are those of every body at slew 0, boom in and low, the container full") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{512, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Scenario s = drawn::scenario(draw);
    s.machine.boom.luff_range = {draw.in(0, 0.3), 1.3};
    for (Outrigger& o : s.machine.outriggers) o.splay = o.splay_range.lo;
    CraneState at;
    at.luff = s.machine.boom.luff_range.lo;
    at.travel = s.machine.guide->travel.lo;
    at.units_left = s.machine.container->units;
    double mass = 0;
    Vec3 moment = Vec3::Zero();
    for (const drawn::PointMass& p : drawn::by_hand(s, at, 1, false, true)) {
      mass += p.mass;
      moment += p.mass * p.at_C;
    }
    const Stowed found = stowed(s);
    CHECK(found.mass == Approx(mass).epsilon(1e-12));
    CHECK((found.centre_C - moment / mass).norm() < 1e-10);
  }
}

}  // namespace rimstance
