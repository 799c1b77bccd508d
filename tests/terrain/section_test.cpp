#include <catch2/catch.hpp>

#include "oracles.hpp"
#include "rimstance/terrain/terrain.hpp"
#include "worlds.hpp"

using namespace rimstance;

namespace {

double uniform(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  return lo + (hi - lo) * random_uniform(41, stream, k);
}

/// Height of the profile at a distance, NaN in a gap.
double at(const std::vector<std::vector<Vec2>>& profile, double t) {
  for (const auto& piece : profile)
    for (std::size_t k = 0; k + 1 < piece.size(); ++k)
      if (piece[k].x() <= t && t <= piece[k + 1].x() && piece[k].x() < piece[k + 1].x())
        return piece[k].y() +
               (t - piece[k].x()) / (piece[k + 1].x() - piece[k].x()) * (piece[k + 1].y() - piece[k].y());
  return kUnset;
}

}  // namespace

TEST_CASE("section: a plane is one straight piece from end to end, along sides of the mesh as well") {
  const auto z = worlds::plane(1, 0.3, -0.2);
  const Terrain t = worlds::terrain(z, 4);
  for (const Vec2& to :
       {Vec2(3, 1), Vec2(-2, 3), Vec2(3, 0), Vec2(0, -3), Vec2(3, 3)}) {  // east, south, and the diagonals
    const auto profile = section(t, Vec2(0, 0), to, kInfinity);
    REQUIRE(profile.size() == 1);
    CHECK(profile[0].front().x() == 0);
    CHECK(profile[0].back().x() == Approx(to.norm()).margin(1e-12));
    for (const Vec2& p : profile[0]) CHECK(p.y() == Approx(z(p.x() / to.norm() * to)).margin(1e-12));
  }
}

TEST_CASE("section: along a row of sides, rounded either way, the ground stays in one piece") {
  const TriangleMesh mesh = worlds::meshed(worlds::plane(0, 0, 0), worlds::square(4), 0.5);
  for (std::uint64_t k = 0; k < 100; ++k) {
    const Mat3 R = rotation(uniform(0, k, -kPi, kPi), 0, 0);
    const Terrain t = worlds::terrain(worlds::moved(mesh, R));
    for (const Vec3& end : {Vec3(3, 0, 0), Vec3(0, 3, 0), Vec3(3, 3, 0)}) {
      const Vec3 to = R * end;
      const auto profile = section(t, -to.head<2>(), to.head<2>(), kInfinity);
      REQUIRE(profile.size() == 1);
      CHECK(profile[0].front().x() == 0);
      CHECK(profile[0].back().x() == Approx(2 * end.norm()).margin(1e-12));
    }
  }
}

TEST_CASE("section: distances ascend, and each height is the ground's there") {
  const TriangleMesh mesh =
      worlds::joined(worlds::meshed(worlds::bumps(1, 0.5, 1), worlds::square(2), 0.3, 0.4, 2),
                     worlds::meshed(worlds::saddle(2), worlds::square(1.5), 0.2, 0.4, 3));
  const Terrain t = worlds::terrain(mesh);
  for (std::uint64_t k = 0; k < 60; ++k) {
    const Vec2 from(uniform(0, k, -2.5, 2.5), uniform(1, k, -2.5, 2.5)),
        to(uniform(2, k, -2.5, 2.5), uniform(3, k, -2.5, 2.5));
    const double under = k % 2 ? kInfinity : uniform(4, k, -0.3, 0.3);
    const auto profile = section(t, from, to, under);
    double last = -1;
    for (const auto& piece : profile) {
      CHECK(piece.front().x() > last);
      last = piece.front().x();
      for (const Vec2& p : piece) {
        CHECK(p.x() >= last);
        last = p.x();
      }
    }
    for (std::uint64_t i = 0; i < 100; ++i) {
      const double share = uniform(5, 100 * k + i, 0, 1);
      const double z = height(t, from + share * (to - from), under),
                   drawn = at(profile, share * (to - from).norm());
      REQUIRE(std::isnan(z) == std::isnan(drawn));
      if (!std::isnan(z)) CHECK(drawn == Approx(z).margin(1e-11));
    }
  }
}

TEST_CASE("section: an overhang's lip is a drop at one distance, and `under` picks the floor") {
  const Terrain t = worlds::terrain(worlds::overhang(0, 5, 2));
  const auto top = section(t, Vec2(-3, 0.1), Vec2(3, 0.1), kInfinity);
  REQUIRE(top.size() == 1);
  CHECK(at(top, 2.9) == 0);
  CHECK(at(top, 3.1) == -5);
  CHECK(std::count_if(top[0].begin(), top[0].end(),
                      [](const Vec2& p) { return std::abs(p.x() - 3) < 1e-12; }) == 2);
  const auto floor = section(t, Vec2(-3, 0.1), Vec2(3, 0.1), -1);
  REQUIRE(floor.size() == 1);
  CHECK(floor[0].front().x() == Approx(1));  // the floor begins 2 m in below the lip
  CHECK(at(floor, 2) == -5);
  const auto off = section(t, Vec2(-21, 0), Vec2(21, 0), -9);
  CHECK(off.empty());
  CHECK_THROWS_AS(section(t, Vec2(1, 1), Vec2(1, 1), 0), std::logic_error);
}

TEST_CASE("section: a missing stretch parts the profile in two") {
  const Terrain t = worlds::terrain(worlds::drawn("1 1 1 . 1 1\n1 1 1 . 1 1"));
  const auto profile = section(t, Vec2(0.5, 0.5), Vec2(4.5, 0.5), kInfinity);
  REQUIRE(profile.size() == 2);
  CHECK(profile[0].back().x() == Approx(1.5));
  CHECK(profile[1].front().x() == Approx(3.5));
}
