#include <catch2/catch.hpp>

#include "oracles.hpp"
#include "rimstance/terrain/terrain.hpp"
#include "worlds.hpp"

using namespace rimstance;

namespace {

double uniform(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  return lo + (hi - lo) * random_uniform(31, stream, k);
}

}  // namespace

TEST_CASE("layers: below an overhanging rim two floors, from top to bottom, and a step's wall is none") {
  const Terrain t = worlds::terrain(worlds::overhang(0, 5, 2));
  CHECK(layers(t, Vec2(-1, 0.3)) == std::vector<double>{0, -5});
  CHECK(layers(t, Vec2(0, 0.3)) == std::vector<double>{0, -5});  // the lip itself belongs to the upper one
  CHECK(layers(t, Vec2(1, 0.3)) == std::vector<double>{-5});
  CHECK(layers(t, Vec2(-3, 0.3)) == std::vector<double>{0});
  CHECK(layers(t, Vec2(99, 0)).empty());
}

TEST_CASE("height: the highest layer at or below `under`, and not a number where there is none") {
  const Terrain t = worlds::terrain(worlds::overhang(0, 5, 2));
  CHECK(height(t, Vec2(-1, 0), kInfinity) == 0);
  CHECK(height(t, Vec2(-1, 0), 0) == 0);
  CHECK(height(t, Vec2(-1, 0), -0.001) == -5);
  CHECK(std::isnan(height(t, Vec2(-1, 0), -5.001)));
  CHECK(std::isnan(height(t, Vec2(-3, 0), -0.001)));
  CHECK(std::isnan(height(t, Vec2(21, 0), kInfinity)));
}

TEST_CASE("layers: trying every triangle finds the same") {
  const TriangleMesh mesh =
      worlds::joined(worlds::meshed(worlds::bumps(1, 0.5, 1), worlds::square(2), 0.3, 0.4, 2),
                     worlds::meshed(worlds::saddle(2), worlds::square(1.5), 0.2, 0.4, 3));
  const Terrain t = worlds::terrain(mesh);
  for (std::uint64_t k = 0; k < 1000; ++k) {
    const Vec2 p(uniform(0, k, -2.2, 2.2), uniform(1, k, -2.2, 2.2));
    const auto fast = layers(t, p), slow = oracles::heights(mesh, p);
    REQUIRE(fast.size() == slow.size());
    for (std::size_t i = 0; i < fast.size(); ++i) CHECK(fast[i] == Approx(slow[i]).margin(1e-12));
  }
}

TEST_CASE("height: splitting, shuffling and moving a mesh moves its heights with it") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 2), worlds::square(1), 0.2, 0.3, 3);
  const Vec3 shift(3, -2, 7);
  const Terrain given = worlds::terrain(mesh), fine = worlds::terrain(worlds::split(mesh)),
                mixed = worlds::terrain(worlds::shuffled(mesh, 5)),
                moved = worlds::terrain(worlds::moved(mesh, rotation(0.8, 0, 0), shift));
  for (std::uint64_t k = 0; k < 500; ++k) {
    const Vec2 p(uniform(0, k, -0.95, 0.95), uniform(1, k, -0.95, 0.95));
    const double z = height(given, p, kInfinity);
    CHECK(height(fine, p, kInfinity) == Approx(z).margin(1e-12));
    CHECK(height(mixed, p, kInfinity) == Approx(z).margin(1e-12));
    const Vec3 q = rotation(0.8, 0, 0) * Vec3(p.x(), p.y(), z) + shift;
    CHECK(height(moved, q.head<2>(), kInfinity) == Approx(q.z()).margin(1e-12));
  }
}

TEST_CASE("highest under: on a plane the highest corner, on bumps never less than any sample") {
  const auto z = worlds::plane(1, 0.3, -0.2);
  const Terrain plane = worlds::terrain(z);
  const std::vector<Vec2> outline{{-1, -0.5}, {1.1, -0.6}, {1, 0.7}, {-0.9, 0.5}};
  double corner = -kInfinity;
  for (const Vec2& p : outline) corner = std::max(corner, z(p));
  CHECK(highest_under(plane, outline, kInfinity) == Approx(corner).margin(1e-13));

  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.2, 2), worlds::square(2), 0.2, 0.3, 3);
  const Terrain t = worlds::terrain(mesh);
  for (std::uint64_t k = 0; k < 50; ++k) {
    const Mat3 R = rotation(uniform(0, k, -kPi, kPi), 0, 0);
    std::vector<Vec2> turned;
    for (const Vec2& p : outline) turned.push_back((R * Vec3(p.x(), p.y(), 0)).head<2>());
    const double top = highest_under(t, turned, kInfinity);
    double sampled = -kInfinity;
    for (std::uint64_t i = 0; i < 3000; ++i) {  // by barycentric halves of the quadrangle
      const std::size_t half = i % 2 ? 1 : 2;
      double u = uniform(1, 3000 * k + i, 0, 1), v = uniform(2, 3000 * k + i, 0, 1);
      if (u + v > 1) u = 1 - u, v = 1 - v;
      sampled = std::max(
          sampled, height(t, turned[0] + u * (turned[half] - turned[0]) + v * (turned[half + 1] - turned[0]),
                          kInfinity));
    }
    CHECK(top >= sampled - 1e-12);
    CHECK(top <= sampled + 0.02);
    // of another meshing, or the outline the other way round, the same
    CHECK(highest_under(worlds::terrain(worlds::split(mesh)), turned, kInfinity) ==
          Approx(top).margin(1e-12));
    std::reverse(turned.begin(), turned.end());
    CHECK(highest_under(t, turned, kInfinity) == Approx(top).margin(1e-12));
  }
}

TEST_CASE("highest under: an outline does not see the bump in its notch, nor what is above `under`") {
  const Terrain t = worlds::terrain([](const Vec2& p) { return std::max(0.0, 1 - 2 * p.norm()); }, 3, 0.25);
  const std::vector<Vec2> hollow{
      {-1, -1}, {1, -1}, {1, 1}, {0, -0.75}, {-1, 1}};  // a notch down to (0, -0.75)
  const std::vector<Vec2> around{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
  CHECK(highest_under(t, around, kInfinity) == 1);
  CHECK(highest_under(t, hollow, kInfinity) < 0.4);
  CHECK(highest_under(t, around, 0.6) == 0.6);  // the slope up to there
  CHECK(highest_under(t, around, -0.1) == -kInfinity);
  CHECK(highest_under(t, {{9, 9}, {10, 9}, {9, 10}}, kInfinity) == -kInfinity);
}

TEST_CASE("slope and aspect: a normal leans downslope; level ground has no direction") {
  for (std::uint64_t k = 0; k < 100; ++k) {
    const double slope = uniform(0, k, 0.001, 1.5), down = uniform(1, k, -kPi, kPi);
    const SlopeAspect found =
        slope_aspect(uniform(2, k, 0.1, 9) * Vec3(std::sin(slope) * std::cos(down),
                                                  std::sin(slope) * std::sin(down), std::cos(slope)));
    CHECK(found.slope == Approx(slope).epsilon(1e-12));
    CHECK(found.downslope == Approx(down).margin(1e-12));
  }
  CHECK(slope_aspect(Vec3(0, 0, 1)).slope == 0);
  CHECK(std::isnan(slope_aspect(Vec3(0, 0, 1)).downslope));
  CHECK_THROWS_AS(slope_aspect(Vec3(1, 0, 0)), std::logic_error);
}
