// What would help a machine that does not stand: against formulas of simple ground, and by changing the
// scenario by hand and asking again.
#include "rimstance/study/remedies.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "rigs.hpp"
#include "rimstance/model/quantity.hpp"
#include "worlds.hpp"

namespace rimstance {
namespace {

/// The rig on its legs alone, every leg as long as it needs to be, no slope of a pad too steep; one forward
/// case.
Scenario plain() {
  Scenario s = rigs::dunlin();
  s.machine.chassis.wheels.clear();
  s.machine.chassis.belly.reset();
  s.machine.boom.limit.reset();
  s.machine.hoist.line_pull = kInfinity;
  s.transit.reset();
  LoadCase forward;
  forward.name = "forward";
  forward.load_factor = 1.25;
  s.criteria = Criteria{};
  s.criteria.allowed_tilt = radians(1e-6);
  s.criteria.load_cases = {forward};
  return s;
}

Standing stood(const Scenario& s, const Terrain& ground, Question question = Question::extremes) {
  return stand(prepare(std::make_shared<const Scenario>(s)), ground, s.spot, question, {});
}

std::vector<Remedy> found(const Scenario& s, const Terrain& ground) {
  const Prepared prepared = prepare(std::make_shared<const Scenario>(s));
  return remedies(prepared, ground, stand(prepared, ground, s.spot, Question::extremes, {}), {});
}

const Remedy& of(const std::vector<Remedy>& all, Change change) {
  REQUIRE(all.size() == 7);
  return all[static_cast<std::size_t>(change)];
}

/// A value like "[1, 2] m", quotes and all.
std::pair<double, double> two_lengths(const Setting& s) {
  const auto read = read_quantities(s.value.substr(1, s.value.size() - 2), Dimension::length);
  REQUIRE(read.value);
  return {read.value->at(0), read.value->at(1)};
}

/// The change made by hand, `by` in SI; of a position along the way that the remedy went.
Scenario changed(Scenario s, const Remedy& remedy, double by) {
  switch (remedy.change) {
    case Change::yaw:
      s.spot.yaw += by;
      break;
    case Change::position: {
      const auto [x, y] = two_lengths(remedy.settings[0]);
      s.spot.at += by * (Vec2(x, y) - s.spot.at).normalized();
      break;
    }
    case Change::splay:
      for (Outrigger& o : s.machine.outriggers) o.splay += by;
      break;
    case Change::stroke:
      for (Outrigger& o : s.machine.outriggers) o.stroke.hi += by;
      break;
    case Change::travel:
      s.operation.travel = {s.operation.travel.lo + by, s.operation.travel.hi + by};
      break;
    case Change::payload:
      s.payload.mass += by;
      break;
    case Change::reach:
      s.operation.reach.hi += by;
      break;
  }
  return s;
}

/// Everything offered holds, and two fine steps less of it does not.
void check_smallest(const Scenario& s, const Terrain& ground, const std::vector<Remedy>& all) {
  const std::map<Change, double> fine{{Change::yaw, radians(0.01)},   {Change::position, 1e-3},
                                      {Change::splay, radians(0.01)}, {Change::stroke, 1e-3},
                                      {Change::travel, 1e-3},         {Change::payload, 0.01},
                                      {Change::reach, 1e-3}};
  for (const Remedy& remedy : all) {
    if (!remedy.verified) continue;
    CAPTURE(path_of(remedy.change), remedy.by);
    // Millimetres of a place are rounded once more than the distance.
    const double slack = remedy.change == Change::position ? 1e-3 : 1e-9;
    const double more = remedy.by + std::copysign(slack, remedy.by);
    CHECK(stood(changed(s, remedy, more), ground).ok());
    const double less = remedy.by - std::copysign(2 * fine.at(remedy.change), remedy.by);
    CHECK(!stood(changed(s, remedy, less), ground).ok());
  }
}

/// Rise between highest and lowest foot of a rectangle (+-x, +-y) on a slope of tangent m whose uphill
/// direction lies at angle a to the chassis: 2 m (x |cos a| + y |sin a|).
double rise(double m, double x, double y, double a) {
  return 2 * m * (x * std::abs(std::cos(a)) + y * std::abs(std::sin(a)));
}

Terrain level_ground() { return worlds::terrain(worlds::plane(0, 0, 0), 8); }

}  // namespace

TEST_CASE("remedies: where nothing is violated nothing is offered") {
  CHECK(found(plain(), level_ground()).empty());
}

TEST_CASE("remedies: a slope too steep for the legs is met by a turn, longer legs or another splay") {
  Scenario s = plain();
  s.spot.yaw = radians(6);
  const Vec3 f = foot(s.machine.outriggers[0], s.machine.outriggers[0].splay, 0);
  const double range = 0.6, slope = range / rise(1, f.x(), f.y(), radians(2));
  const Terrain ground = worlds::terrain(worlds::plane(0, slope, 0), 8);
  const std::vector<Remedy> all = found(s, ground);

  const Remedy& turn = of(all, Change::yaw);  // levels up to 2 deg off the fall line
  CHECK(turn.verified);
  CHECK(degrees(turn.by) <= -4);
  CHECK(degrees(turn.by) > -4.02);
  REQUIRE(turn.settings.size() == 1);
  CHECK(turn.settings[0].path == "spot.yaw");
  CHECK(*read_quantity(turn.settings[0].value, Dimension::angle).value == Approx(s.spot.yaw + turn.by));

  const Remedy& legs = of(all, Change::stroke);
  const double missing = rise(slope, f.x(), f.y(), radians(6)) - range;
  CHECK(legs.verified);
  CHECK(legs.by >= missing);
  CHECK(legs.by < missing + 1.001e-3);
  REQUIRE(legs.settings.size() == 1);
  CHECK(legs.settings[0].path == "machine.outriggers.*.stroke");

  CHECK(of(all, Change::splay).verified);
  CHECK(!of(all, Change::position).verified);  // the same slope everywhere
  CHECK(of(all, Change::position).settings.empty());
  CHECK(of(all, Change::position).remark == "not within 2 m, looked for in 16 directions");
  check_smallest(s, ground, all);
}

TEST_CASE("remedies: the nearest place is found whose feet all have ground") {
  Scenario s = plain();
  s.spot.at = Vec2(1.5, 0);
  const Terrain ground = worlds::terrain(
      worlds::meshed(worlds::plane(0, 0, 0), {Vec2(0, -6), Vec2(12, 6)}, 0.5));  // nothing west of x = 0
  const Outrigger& rear = s.machine.outriggers[2];
  const double needed = rear.pad_radius - foot(rear, rear.splay, 0).x() - s.spot.at.x();
  const std::vector<Remedy> all = found(s, ground);
  const Remedy& move = of(all, Change::position);
  CHECK(move.verified);
  CHECK(move.by >= needed);
  CHECK(move.by < needed + 1.001e-3);
  REQUIRE(move.settings.size() == 1);
  CHECK(move.settings[0].path == "spot.at");
  check_smallest(s, ground, all);
}

TEST_CASE("remedies: too much payload is met by less of it, less reach, or the counterweight farther out") {
  Scenario s = plain();
  s.operation.slew = {0, 0};
  s.operation.travel = {0, 0.2};
  s.machine.guide->travel = {0, 3};
  s.payload.mass = 14;
  while (stood(s, level_ground(), Question::verdict).ok()) s.payload.mass += 5;
  const std::vector<Remedy> all = found(s, level_ground());
  CHECK(of(all, Change::payload).verified);
  CHECK(of(all, Change::reach).verified);
  const Remedy& travel = of(all, Change::travel);
  REQUIRE(travel.verified);
  const auto [lo, hi] = two_lengths(travel.settings[0]);
  CHECK(lo == Approx(travel.by));
  CHECK(hi - lo == Approx(0.2));  // as wide as it was
  CHECK(of(all, Change::stroke).remark == "what fails does not depend on it");
  check_smallest(s, level_ground(), all);
}

TEST_CASE("remedies: a reach shorter than the job's says so") {
  Scenario s = plain();
  while (stood(s, level_ground(), Question::verdict).ok()) s.payload.mass += 20;
  s.payload.reach = 5.7;
  const Remedy shorter = of(found(s, level_ground()), Change::reach);
  REQUIRE(shorter.verified);
  CHECK(shorter.remark == "short of the payload's reach of 5.7 m");
}

TEST_CASE("remedies: legs that carry too much are asked with their forces") {
  Scenario s = plain();
  s.criteria.foot_limits = true;
  s.payload.mass = 80;
  const std::vector<FootLoad> feet = stood(s, level_ground()).stability.feet;
  for (const std::size_t front : {0u, 1u})
    s.machine.outriggers[front].leg_limit = 0.99 * feet[front].greatest;
  const Standing standing = stood(s, level_ground());
  REQUIRE(!standing.ok());
  CHECK(standing.violations[0].criterion == "leg_limit");
  const std::vector<Remedy> all = found(s, level_ground());
  CHECK(of(all, Change::payload).verified);
  check_smallest(s, level_ground(), all);
}

TEST_CASE("remedies: a boom that is too weak is not helped by standing elsewhere") {
  Scenario s = plain();
  s.machine.hoist.line_pull = s.gravity * (s.payload.mass + s.machine.hoist.head_mass + 0.05 * 40) - 1;
  const std::vector<Remedy> all = found(s, level_ground());
  for (const Change change : {Change::yaw, Change::position, Change::splay, Change::stroke, Change::travel}) {
    CHECK(of(all, change).settings.empty());
    CHECK(of(all, change).remark == "what fails does not depend on it");
  }
  // The pull in excess is 1 N, and weighs as much as this.
  CHECK(of(all, Change::payload).verified);
  CHECK(of(all, Change::payload).by == Approx(-1 / s.gravity).margin(0.01));
  check_smallest(s, level_ground(), all);
}

TEST_CASE("remedies: a turn that levels and tips is offered unverified") {
  Scenario s = plain();
  s.spot.yaw = radians(6);
  const Vec3 f = foot(s.machine.outriggers[0], s.machine.outriggers[0].splay, 0);
  const double slope = 0.6 / rise(1, f.x(), f.y(), radians(2));
  s.payload.mass = 5000;
  const Remedy turn = of(found(s, worlds::terrain(worlds::plane(0, slope, 0), 8)), Change::yaw);
  CHECK(!turn.verified);
  CHECK(degrees(turn.by) == Approx(-4).margin(0.02));
  CHECK(!turn.settings.empty());
  CHECK(turn.remark == "levels there, but not every criterion holds");
}

TEST_CASE("remedies: outriggers that differ are written one by one") {
  Scenario s = plain();
  s.machine.outriggers[1].stroke.hi = 0.7;
  s.spot.yaw = radians(6);
  const Vec3 f = foot(s.machine.outriggers[0], s.machine.outriggers[0].splay, 0);
  const Terrain ground = worlds::terrain(worlds::plane(0, 0.66 / rise(1, f.x(), f.y(), radians(2)), 0), 8);
  const Remedy legs = of(found(s, ground), Change::stroke);
  REQUIRE(legs.verified);
  REQUIRE(legs.settings.size() == 4);
  CHECK(legs.settings[0].path == "machine.outriggers.front-left.stroke");
  CHECK(legs.settings[1].path == "machine.outriggers.front-right.stroke");
  CHECK(legs.settings[0].value != legs.settings[1].value);
}

TEST_CASE("remedies: the spot and splay that were asked count, not those of the scenario") {
  Scenario s = plain();
  s.spot.yaw = radians(6);
  const Vec3 f = foot(s.machine.outriggers[0], s.machine.outriggers[0].splay, 0);
  const Terrain ground = worlds::terrain(worlds::plane(0, 0.6 / rise(1, f.x(), f.y(), radians(2)), 0), 8);
  const std::vector<Remedy> asked = found(s, ground);
  Scenario other = s;
  other.spot.yaw = 1;
  for (Outrigger& o : other.machine.outriggers) o.splay = radians(80);
  const std::vector<double> splay(4, radians(40));
  const Prepared prepared = prepare(std::make_shared<const Scenario>(other), splay);
  const auto all = remedies(prepared, ground, stand(prepared, ground, s.spot, Question::extremes, {}), {});
  REQUIRE(all.size() == asked.size());
  for (std::size_t k = 0; k < all.size(); ++k) {
    REQUIRE(all[k].settings.size() == asked[k].settings.size());
    for (std::size_t i = 0; i < all[k].settings.size(); ++i)
      CHECK(all[k].settings[i].value == asked[k].settings[i].value);
  }
}

TEST_CASE("remedies: the search stops when asked to") {
  Scenario s = plain();
  s.payload.mass = 5000;
  const Terrain ground = level_ground();
  const Prepared prepared = prepare(std::make_shared<const Scenario>(s));
  const Standing standing = stand(prepared, ground, s.spot, Question::extremes, {});
  std::stop_source source;
  Control control;
  control.stop = source.get_token();
  source.request_stop();
  CHECK_THROWS_AS(remedies(prepared, ground, standing, control), Interrupted);
}

}  // namespace rimstance
