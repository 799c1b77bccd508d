#include "rimstance/terrain/clearance.hpp"

#include <catch2/catch.hpp>

#include "oracles.hpp"
#include "worlds.hpp"

using namespace rimstance;

namespace {

double uniform(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  return lo + (hi - lo) * random_uniform(53, stream, k);
}

}  // namespace

TEST_CASE("clearance: rays dropped on a mesh meet the heights that the bucket index gives") {
  const TriangleMesh mesh =
      worlds::joined(worlds::meshed(worlds::bumps(1, 0.5, 1), worlds::square(2), 0.3, 0.4, 2),
                     worlds::meshed(worlds::saddle(2), worlds::square(1.5), 0.2, 0.4, 3));
  const Terrain t = worlds::terrain(mesh);
  const Clearance c = clearance(t, worlds::square(3));
  for (std::uint64_t k = 0; k < 2000; ++k) {
    const Vec3 from(uniform(0, k, -2.2, 2.2), uniform(1, k, -2.2, 2.2), uniform(2, k, -1, 1));
    const auto hit = c.ray(from, Vec3(0, 0, -3));
    const double z = height(t, from.head<2>(), from.z());
    REQUIRE(hit.has_value() == !std::isnan(z));
    if (hit) CHECK(from.z() - *hit == Approx(z).margin(1e-12));
  }
}

TEST_CASE("clearance: from above a plane every ray and the nearest point are where geometry puts them") {
  const Vec3 n = Vec3(-0.3, 0.2, 1).normalized();
  const Terrain t = worlds::terrain(worlds::plane(1, 0.3, -0.2), 20);
  const Clearance c = clearance(t, worlds::square(20));
  for (std::uint64_t k = 0; k < 300; ++k) {
    const Vec3 p(uniform(0, k, -3, 3), uniform(1, k, -3, 3), uniform(2, k, 2.5, 5));
    const double off = n.dot(p - Vec3(0, 0, 1));
    const auto near = c.nearest(p);
    REQUIRE(near.has_value());
    CHECK(near->distance == Approx(off).epsilon(1e-12));
    CHECK((near->point_W - (p - off * n)).norm() <= 1e-11);
    const Vec3 along(uniform(3, k, -1, 1), uniform(4, k, -1, 1), uniform(5, k, -2, -1));
    const auto hit = c.ray(p, along);
    REQUIRE(hit.has_value());
    CHECK(*hit == Approx(-off / n.dot(along.normalized())).epsilon(1e-11));
    CHECK_FALSE(c.ray(p, -along).has_value());
  }
}

TEST_CASE("clearance: a wall, which is no ground, stands in the way of a level ray") {
  const TriangleMesh wall{{{2, -1, 0}, {2, 1, 0}, {2, 1, 3}, {2, -1, 3}}, {{0, 1, 2}, {0, 2, 3}}};
  const Terrain t =
      worlds::terrain(worlds::joined(worlds::meshed(worlds::plane(0, 0, 0), worlds::square(3), 1), wall));
  const Clearance c = clearance(t, worlds::square(3));
  CHECK(c.ray(Vec3(0, 0.2, 1), Vec3(1, 0, 0)).value() == Approx(2));
  CHECK_FALSE(c.ray(Vec3(0, 0.2, 1), Vec3(-1, 0, 0)).has_value());
  CHECK(c.nearest(Vec3(1.5, 0.2, 2)).value().distance == Approx(0.5));
  CHECK(c.ray(Vec3(2, -2, 1), Vec3(0, 1, 0)).value() == Approx(1));  // within the wall's own plane
}

TEST_CASE("clearance: only the box counts, and over no facet there is nothing to meet") {
  const Terrain t = worlds::terrain(worlds::plane(0, 0, 0), 5);
  const Clearance none = clearance(t, {Vec2(7, 7), Vec2(8, 8)});
  CHECK_FALSE(none.nearest(Vec3(0, 0, 1)).has_value());
  CHECK_FALSE(none.ray(Vec3(0, 0, 1), Vec3(0, 0, -1)).has_value());
  const Clearance corner = clearance(t, {Vec2(3, 3), Vec2(4, 4)});
  CHECK_FALSE(corner.ray(Vec3(0, 0, 1), Vec3(0, 0, -1)).has_value());
  CHECK(corner.ray(Vec3(3.5, 3.5, 1), Vec3(0, 0, -1)).value() == 1);
  CHECK_THROWS_AS(none.ray(Vec3(0, 0, 1), Vec3::Zero()), std::logic_error);
}
