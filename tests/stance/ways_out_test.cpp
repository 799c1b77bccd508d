#include "rimstance/stance/ways_out.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "rigs.hpp"
#include "worlds.hpp"

namespace rimstance {
namespace {

Machine legs_only() {
  Machine m = rigs::dunlin_machine();
  m.chassis.wheels.clear();
  m.chassis.belly.reset();
  return m;
}

std::vector<WayOut> found(const Machine& m, const Terrain& t, double yaw) {
  Spot s;
  s.at = Vec2(0, 0);
  s.yaw = yaw;
  std::vector<double> splay;
  for (const Outrigger& o : m.outriggers) splay.push_back(o.splay);
  return ways_out(m, t, s, {}, splay, std::vector<double>(splay.size(), 0.0));
}

/// Rise between highest and lowest foot of a rectangle (+-x, +-y) on a slope of tangent m whose uphill
/// direction lies at angle a to the chassis: 2 m (x |cos a| + y |sin a|).
double rise(double m, double x, double y, double a) {
  return 2 * m * (x * std::abs(std::cos(a)) + y * std::abs(std::sin(a)));
}

}  // namespace

TEST_CASE("a level spot needs no way out") {
  CHECK(found(legs_only(), worlds::terrain(worlds::plane(0, 0.05, 0)), 0.3).empty());
}

TEST_CASE("turning towards the short side across the slope levels a spot, by the smallest angle") {
  const Machine m = legs_only();
  const Vec3 f = foot(m.outriggers[0], m.outriggers[0].splay, 0);
  const double x = f.x(), y = f.y(), range = 0.6, yaw = radians(6);
  const double slope = range / rise(1, x, y, radians(2));  // levels up to 2 deg off the fall line
  const Terrain t = worlds::terrain(worlds::plane(0, slope, 0));
  const std::vector<WayOut> ways = found(m, t, yaw);
  REQUIRE(!ways.empty());
  CHECK(ways[0].kind == WayOut::Kind::yaw);
  CHECK(ways[0].value == Approx(radians(-4)).margin(radians(2e-3)));
  CHECK(ways[0].value <= radians(-4) + 1e-6);
  if (ways.size() > 1) CHECK(ways[1].kind == WayOut::Kind::splay);
}

TEST_CASE("opening the outriggers alike shortens the stance along the slope until it levels") {
  Machine m = legs_only();
  const double range = 0.6, needed = radians(55);
  // Uphill along x: levels where 2 slope x <= range, x = 0.7 + 1.6 cos(splay).
  const double slope = range / (2 * (0.7 + 1.6 * std::cos(needed)));
  const Terrain t = worlds::terrain(worlds::plane(0, slope, 0));
  const std::vector<WayOut> ways = found(m, t, 0);
  REQUIRE(!ways.empty());
  CHECK(ways.back().kind == WayOut::Kind::splay);
  CHECK(ways.back().value == Approx(needed - radians(40)).margin(radians(2e-3)));
  for (Outrigger& o : m.outriggers) o.splay_range = {radians(30), radians(50)};  // cannot open so far
  for (const WayOut& w : found(m, t, 0)) CHECK(w.kind != WayOut::Kind::splay);
}

TEST_CASE("a way out leaves the stroke in hand that the criteria ask for") {
  const Machine m = legs_only();
  const Vec3 f = foot(m.outriggers[0], m.outriggers[0].splay, 0);
  const double in_hand = 0.05, yaw = radians(6);
  const double range = m.outriggers[0].stroke.hi - m.outriggers[0].stroke.lo - 2 * in_hand;
  const double slope = range / rise(1, f.x(), f.y(), radians(2));  // keeps it up to 2 deg off the fall line
  const Terrain t = worlds::terrain(worlds::plane(0, slope, 0));
  Spot s;
  s.at = Vec2(0, 0);
  s.yaw = yaw;
  std::vector<double> splay;
  for (const Outrigger& o : m.outriggers) splay.push_back(o.splay);
  const std::vector<double> no_sinkage(splay.size(), 0.0);
  const LevellingNeeds needs{in_hand, 0, 0};
  const std::vector<WayOut> ways = ways_out(m, t, s, needs, splay, no_sinkage);
  REQUIRE(!ways.empty());
  REQUIRE(ways[0].kind == WayOut::Kind::yaw);
  CHECK(ways[0].value == Approx(radians(-4)).margin(radians(2e-3)));
  s.yaw += ways[0].value;
  for (const double left : level(m, t, s, needs, splay, no_sinkage).stroke_left)
    CHECK(left >= in_hand - 1e-9);
}

TEST_CASE("where nothing small helps nothing is offered") {
  CHECK(found(legs_only(), worlds::terrain(worlds::plane(0, 1.5, 1.5)), 0).empty());
}

}  // namespace rimstance
