// Lifting a unit out of the machine's own container: where the tip has to go, and whether the machine is held
// down there.
#include "rimstance/study/unloading.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "statics/stances.hpp"
#include "study/studies.hpp"

namespace rimstance {
namespace {

Unloading asked(const Scenario& s, const Pose& X_WC = {}) {
  const studies::Ready r = studies::ready(s, X_WC);
  const auto found = unloading(r.prepared, r.levelling, r.contacts, {});
  REQUIRE(found);
  return *found;
}

Scenario with_container(Mount mount, const Vec3& at) {
  Scenario s = rigs::dunlin();
  s.machine.container->mount = mount;
  s.machine.container->at = at;
  return s;
}

Vec3 tip_C(const Scenario& s, double slew, double luff, double extension) {
  const auto shape = boom_shape(s.machine.boom);
  return on_platform(s.machine.platform, tip_S(s.machine.boom, *shape, luff, extension), slew);
}

}  // namespace

TEST_CASE("unloading: a machine without container or without units has nothing to lift out") {
  Scenario s = rigs::dunlin();
  s.machine.container->units = 0;
  studies::Ready r = studies::ready(s);
  CHECK(!unloading(r.prepared, r.levelling, r.contacts, {}));
  s.machine.container.reset();
  r = studies::ready(s);
  CHECK(!unloading(r.prepared, r.levelling, r.contacts, {}));
}

TEST_CASE("unloading: a container on the platform turns along, so only one under the boom is reached") {
  const Unloading behind = asked(with_container(Mount::platform, {-0.5, 0, 0.45}));
  CHECK(!behind.reachable);
  CHECK(behind.reason == "it turns with the platform, behind the boom");
  const Unloading beside = asked(with_container(Mount::platform, {2.5, 0.4, 0.45}));
  CHECK(!beside.reachable);
  CHECK(beside.reason == "it turns with the platform, beside the plane of the boom");
  const Unloading ahead = asked(with_container(Mount::platform, {2.5, 0, 0}));
  CHECK(ahead.reachable);
  CHECK(std::isnan(ahead.slew));
  CHECK(ahead.reach == Approx(2.5));
}

TEST_CASE("unloading: the tip stands over the container at the slew, luff and extension given") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{2311, static_cast<std::uint64_t>(i)};
    const double angle = draw.in(-kPi, kPi), away = draw.in(1.2, 5.5);
    const Vec3 axis = rigs::dunlin().machine.platform.axis;
    const Vec3 at(axis.x() + away * std::cos(angle), axis.y() + away * std::sin(angle), draw.in(0, 1.5));
    Scenario s = with_container(Mount::chassis, at);
    s.machine.boom.foot.y() = draw.in(0, 1) < 0.5 ? 0 : draw.in(-0.2, 0.2);
    CAPTURE(draw.text(), at.transpose());
    const Unloading found = asked(s);
    REQUIRE(found.reachable);
    const Vec3 tip = tip_C(s, found.slew, found.luff, found.extension);
    CHECK((tip - at).head<2>().norm() < 1e-9);
    CHECK(tip.z() - at.z() == Approx(found.height).margin(1e-9));
    CHECK(found.height >= -1e-9);
    // No lower tip over it: extension and luff rise together there.
    const bool least =
        found.extension < 1e-9 || found.luff < s.machine.boom.luff_range.lo + 1e-9 || found.height < 1e-9;
    if (!found.in_operation) CHECK(least);
  }
}

TEST_CASE("unloading: too near, too far and out of the slew range are told apart") {
  CHECK(asked(with_container(Mount::chassis, {0.1, 0, 0.5})).reason ==
        "it is nearer to the slew axis than the boom's foot");
  CHECK(asked(with_container(Mount::chassis, {0.8, 0, 0.5})).reason ==
        "no luff and extension of the boom brings the tip over it, at reach 0.80 m");
  CHECK(asked(with_container(Mount::chassis, {8, 0, 0.5})).reason ==
        "no luff and extension of the boom brings the tip over it, at reach 8.00 m");
  Scenario s = with_container(Mount::chassis, {-1.5, 0, 0.5});
  CHECK(asked(s).reachable);
  s.machine.platform.slew_range = {radians(-170), radians(170)};
  CHECK(asked(s).reason == "the platform does not turn to 180.0 deg");
  s.machine.platform.slew_range = {radians(170), radians(200)};  // 180 deg is among them
  s.operation.slew = s.transit->slew = {radians(170), radians(190)};
  CHECK(asked(s).reachable);
  s.machine.hoist.line_length = 1;  // the tip is higher over it than the line is long
  s.operation.line = {0, 1};
  CHECK(!asked(s).reachable);
}

TEST_CASE("unloading: what the operation holds is left to its load cases") {
  const Unloading inside = asked(with_container(Mount::chassis, {3, 0.5, 0.5}));
  CHECK(inside.in_operation);
  CHECK(!inside.stability);
  CHECK(inside.fails.empty());
  const Unloading behind = asked(with_container(Mount::chassis, {-3, 0.5, 0.5}));
  CHECK(!behind.in_operation);
  CHECK(behind.stability);
}

TEST_CASE("unloading: the least margin over the container is that of every state there, unit by unit") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{2312, static_cast<std::uint64_t>(i)};
    const double angle = draw.in(1, 5), away = draw.in(1.4, 3);
    Scenario s =
        with_container(Mount::chassis, {away * std::cos(angle), away * std::sin(angle), draw.in(0.2, 0.8)});
    s.machine.container->unit_mass = s.payload.mass = draw.in(5, 40);
    s.criteria.load_cases.resize(3);  // forward, unloaded, released
    const studies::Ready r = studies::ready(s);
    const auto found = unloading(r.prepared, r.levelling, r.contacts, {});
    REQUIRE(found);
    REQUIRE(found->stability);
    CAPTURE(draw.text());
    const auto edges = support_polygon(r.contacts, r.levelling.X_WC);
    double least = kInfinity;
    const double ahead = ahead_of_foot(s.machine.boom, found->reach);
    const double shortest = r.prepared.loads.boom->length(0), longest = r.prepared.loads.boom->length(2.7);
    for (int k = 0; k <= 40; ++k)
      for (std::size_t c = 0; c < r.prepared.load_cases.size(); ++c)
        for (int units = 0; units <= s.machine.container->units; ++units)
          for (const double share : {0.0, 1.0}) {
            const LoadCase& load_case = r.prepared.load_cases[c];
            if (load_case.payload && units == s.machine.container->units) continue;  // it hangs on the hook
            CraneState at;
            const double length = std::max(shortest, ahead) + (longest - std::max(shortest, ahead)) * k / 40;
            at.luff = std::acos(std::min(1.0, ahead / length));
            at.extension = length - shortest;
            if (at.luff > s.machine.boom.luff_range.hi) continue;
            at.slew = found->slew;
            at.travel = 1.1;
            const Vec3 highest =
                tip_C(s, found->slew,
                      std::min(s.machine.boom.luff_range.hi, std::acos(std::min(1.0, ahead / longest))),
                      ahead / std::cos(std::min(s.machine.boom.luff_range.hi,
                                                std::acos(std::min(1.0, ahead / longest)))) -
                          shortest);
            at.line = share * (highest.z() - s.machine.container->at.z());
            at.units_left = units;
            const auto all = parts(r.prepared.loads, at, load_case, true, true);
            for (const Edge& e : edges) {
              const TippingAxis axis = tipping_axis(e, gravity_C(s, r.levelling.X_WC));
              least = std::min(least, measures(all, axis, at.slew).moment);
            }
          }
    const Worst& worst = found->stability->worst;
    CHECK(worst.measures.moment <= least + 1e-6);
    CHECK(worst.measures.moment >= least - 1e-3 * std::abs(least));  // between the samples, hardly lower
  }
}

TEST_CASE("unloading: a container far off on a light machine tips it, and the cases say so") {
  Scenario s = with_container(Mount::chassis, {-4.5, 0, 0.5});
  s.payload.mass = s.machine.container->unit_mass = 150;
  s.machine.hoist.line_pull = kInfinity;
  s.machine.boom.limit.reset();
  const Unloading found = asked(s);
  REQUIRE(found.reachable);
  CHECK(!found.ok());
  CHECK(std::find(found.fails.begin(), found.fails.end(), "load_case:forward") != found.fails.end());
  s.machine.hoist.line_pull = 200;
  const Unloading weak = asked(s);
  CHECK(std::find(weak.fails.begin(), weak.fails.end(), "hoist") != weak.fails.end());
}

}  // namespace rimstance
