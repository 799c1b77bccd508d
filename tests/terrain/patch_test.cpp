#include <catch2/catch.hpp>

#include "oracles.hpp"
#include "rimstance/terrain/terrain.hpp"
#include "worlds.hpp"

using namespace rimstance;
using Outcome = Patch::Outcome;

namespace {

double uniform(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  return lo + (hi - lo) * random_uniform(11, stream, k);
}

void check_plane(const Patch& p, double height, double gx, double gy) {
  REQUIRE(p.outcome == Outcome::full);
  CHECK(p.plane_height == Approx(height).margin(1e-12));
  CHECK(p.rest_height == Approx(height).margin(1e-12));
  CHECK(p.residual >= 0);
  CHECK(p.residual <= 1e-12);
  CHECK(p.rms <= 1e-12);
  CHECK(p.supported_share == Approx(1).margin(1e-12));
  CHECK((p.normal - Vec3(-gx, -gy, 1).normalized()).norm() <= 1e-12);
}

}  // namespace

TEST_CASE("patch: on a plane every pad takes the plane, wherever it stands and however fine the mesh") {
  for (std::uint64_t k = 0; k < 300; ++k) {
    const double a = uniform(0, k, -5, 5), b = uniform(1, k, -1, 1), c = uniform(2, k, -1, 1);
    const double spacing = uniform(3, k, 0.05, 2);
    const auto z = worlds::plane(a, b, c);
    const Terrain t = worlds::terrain(worlds::meshed(z, worlds::square(2), spacing, 0.3, k));
    const Vec2 at(uniform(4, k, -1.5, 1.5), uniform(5, k, -1.5, 1.5));
    const double radius = uniform(6, k, 0.02, 0.45);
    const Patch p = patch(t, at, radius, kInfinity);
    check_plane(p, z(at), b, c);
    CHECK(p.highest == Approx(z(at) + radius * std::hypot(b, c)).margin(1e-12));
  }
}

TEST_CASE("patch: a pad across a ridge rests on it, level, with mean and spread of |x| over a disc") {
  // over a disc of radius r: mean |x| = 4 r / (3 pi), mean x^2 = r^2 / 4
  const double r = 0.3, tangent = 0.4, mean = 4 * r / (3 * kPi);
  const Patch p = patch(worlds::terrain(worlds::ridge(tangent)), Vec2(0, 0.17), r, kInfinity);
  REQUIRE(p.outcome == Outcome::full);
  CHECK(p.plane_height == Approx(-tangent * mean).epsilon(1e-13));
  CHECK(p.rest_height == Approx(0).margin(1e-14));
  CHECK(p.residual == Approx(tangent * mean).epsilon(1e-13));
  CHECK(p.rms == Approx(tangent * std::sqrt(r * r / 4 - mean * mean)).epsilon(1e-13));
  CHECK(p.normal.head<2>().norm() <= 1e-14);
}

namespace {

/// z = t max(|x|, |y|): four facets about the origin.
TriangleMesh pyramid(double t) {
  return {{{0, 0, 0}, {1, -1, t}, {1, 1, t}, {-1, 1, t}, {-1, -1, t}},
          {{0, 1, 2}, {0, 2, 3}, {0, 3, 4}, {0, 4, 1}}};
}

}  // namespace

TEST_CASE("patch: on a pyramid the pad stands on the apex, in a pyramid's pit on its circle") {
  // over a disc of radius r: mean max(|x|, |y|) = 4 sqrt(2) r / (3 pi), mean of its square = r^2 (1/4 + 1/(2
  // pi))
  const double r = 0.25, t = 0.7, mean = 4 * std::sqrt(2.0) * r / (3 * kPi);
  const double rms = t * std::sqrt(r * r * (0.25 + 0.5 / kPi) - mean * mean);
  const Patch up = patch(worlds::terrain(pyramid(-t)), Vec2(0, 0), r, kInfinity);
  REQUIRE(up.outcome == Outcome::full);
  CHECK(up.plane_height == Approx(-t * mean).epsilon(1e-13));
  CHECK(up.rest_height == Approx(0).margin(1e-14));
  CHECK(up.rms == Approx(rms).epsilon(1e-12));
  const Patch pit = patch(worlds::terrain(pyramid(t)), Vec2(0, 0), r, kInfinity);
  REQUIRE(pit.outcome == Outcome::full);
  CHECK(pit.plane_height == Approx(t * mean).epsilon(1e-13));
  CHECK(pit.rest_height ==
        Approx(t * r).epsilon(1e-13));  // at (r, 0): no corner of a facet or of the circle's crossings
  CHECK(pit.highest == Approx(t * r).epsilon(1e-13));
  CHECK(pit.rms == Approx(rms).epsilon(1e-12));
}

TEST_CASE("patch: folded and stepped ground, turned any way, agrees with quadrature across the folds") {
  for (std::uint64_t k = 0; k < 200; ++k) {
    const double fold = uniform(0, k, -0.1, 0.1), step = uniform(1, k, -0.15, 0.15);
    const double before = uniform(2, k, -1, 1), after = uniform(3, k, -1, 1), jump = uniform(4, k, -0.2, 0.2);
    const auto z = [&](double x, bool right_of_step) {
      return (x < fold ? before : after) * (x - fold) + (right_of_step ? jump : 0);
    };
    TriangleMesh mesh;
    std::vector<double> lines{-1, fold, step, step, 1};
    std::sort(lines.begin(), lines.end());
    for (std::size_t i = 0; i + 1 < lines.size();
         ++i) {  // strips along y, a wall of no plan area at the step
      const bool right = 0.5 * (lines[i] + lines[i + 1]) > step, wall = lines[i] == lines[i + 1];
      const double x0 = lines[i], x1 = lines[i + 1];
      const double z0 = z(x0, right && !wall), z1 = z(x1, right || wall);
      mesh = worlds::joined(mesh,
                            {{{x0, -1, z0}, {x1, -1, z1}, {x1, 1, z1}, {x0, 1, z0}}, {{0, 1, 2}, {0, 2, 3}}});
    }
    const double r = uniform(5, k, 0.05, 0.5), turn = uniform(6, k, -kPi, kPi);
    const Vec3 shift(uniform(7, k, -9, 9), uniform(8, k, -9, 9), uniform(9, k, -9, 9));
    const Mat3 R = rotation(turn, 0, 0);
    const Patch p = patch(worlds::terrain(worlds::moved(mesh, R, shift)), shift.head<2>(), r, kInfinity);
    const auto fit = oracles::cylinder_fit([&](double x) { return z(x, x > step); }, {fold, step}, r);
    REQUIRE(p.outcome == Outcome::full);
    CHECK(p.plane_height == Approx(shift.z() + fit.height).margin(1e-12));
    CHECK(p.rms == Approx(fit.rms).margin(1e-11));
    CHECK(p.residual == Approx(fit.residual).margin(1e-11));
    CHECK((p.normal - R * Vec3(-fit.slope, 0, 1).normalized()).norm() <= 1e-11);
  }
}

TEST_CASE("patch: a wall may be as thin as it likes, its plan area is what counts") {
  for (std::uint64_t k = 0; k < 120; ++k) {
    const double width = std::pow(10.0, -1 - static_cast<double>(k % 15)), height = 2,
                 at = uniform(0, k, -0.1, 0.1);
    const TriangleMesh mesh{{{-1, -1, 0},
                             {at, -1, 0},
                             {at + width, -1, height},
                             {1, -1, height},
                             {-1, 1, 0},
                             {at, 1, 0},
                             {at + width, 1, height},
                             {1, 1, height}},
                            {{0, 1, 5}, {0, 5, 4}, {1, 2, 6}, {1, 6, 5}, {2, 3, 7}, {2, 7, 6}}};
    const Mat3 R = rotation(uniform(1, k, -kPi, kPi), 0, 0);
    const Patch p = patch(worlds::terrain(worlds::moved(mesh, R)), Vec2(0, 0), 0.3, kInfinity);
    const auto z = [&](double x) { return height * std::clamp((x - at) / width, 0.0, 1.0); };
    const auto fit = oracles::cylinder_fit(z, {at, at + width}, 0.3);
    REQUIRE(p.outcome == Outcome::full);
    CHECK(p.plane_height == Approx(fit.height).margin(1e-12));
    CHECK(p.rms == Approx(fit.rms).margin(1e-10));
    CHECK(p.residual == Approx(fit.residual).margin(1e-11));
  }
}

TEST_CASE("patch: nothing under a rested pad stands out of it, and it touches") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.4, 0.1, 3), worlds::square(1.5), 0.1, 0.35, 5);
  const Terrain t = worlds::terrain(mesh);
  for (std::uint64_t k = 0; k < 60; ++k) {
    const Vec2 at(uniform(0, k, -1, 1), uniform(1, k, -1, 1));
    const double r = uniform(2, k, 0.05, 0.4);
    const Patch p = patch(t, at, r, kInfinity);
    REQUIRE(p.outcome == Outcome::full);
    double least_gap = kInfinity;
    const auto gap = [&](const Vec2& q) {
      const Vec2 d = q - at;
      return p.rest_height - p.normal.head<2>().dot(d) / p.normal.z() - height(t, q, kInfinity);
    };
    for (int i = 0; i < 400; ++i) {
      const double a = uniform(3, k * 1000 + static_cast<std::uint64_t>(i), -kPi, kPi);
      const double s = i % 2 ? 1 : std::sqrt(uniform(4, k * 1000 + static_cast<std::uint64_t>(i), 0, 1));
      least_gap = std::min(least_gap, gap(at + (1 - 1e-12) * r * s * Vec2(std::cos(a), std::sin(a))));
    }
    for (const Vec3& v : mesh.vertices)
      if ((v.head<2>() - at).norm() < r) least_gap = std::min(least_gap, gap(v.head<2>()));
    CHECK(least_gap >= -1e-12);
    CHECK(least_gap <= 2e-3);  // 400 samples and all vertices come near the point of contact
  }
}

TEST_CASE("patch: dense sampling comes to the same plane, and never to a higher rest") {
  const Terrain t =
      worlds::terrain(worlds::meshed(worlds::bumps(0.5, 0.1, 9), worlds::square(1.5), 0.15, 0.35, 8));
  for (std::uint64_t k = 0; k < 12; ++k) {
    const Vec2 at(uniform(0, k, -1, 1), uniform(1, k, -1, 1));
    const Patch p = patch(t, at, 0.2, kInfinity);
    const auto slow =
        oracles::sampled_rest([&](const Vec2& q) { return height(t, q, kInfinity); }, at, 0.2, 160);
    CHECK(p.plane_height == Approx(slow.height).margin(1e-4));
    CHECK(slow.rest <= p.rest_height + 2e-4);
    CHECK(slow.rest >= p.rest_height - 2e-3);
  }
}

TEST_CASE("patch: over a hole, the map's border or the void a pad is unsupported, with the reason") {
  const Terrain grid = worlds::terrain(worlds::drawn(R"( 2 2 2 2 2
                                                         2 2 . 2 2
                                                         2 2 2 2 2
                                                         2 2 2 2 2 )"));
  CHECK(patch(grid, Vec2(0.5, 0.5), 0.3, kInfinity).outcome == Outcome::full);
  CHECK(patch(grid, Vec2(2, 2), 0.3, kInfinity).outcome == Outcome::hole);
  CHECK(patch(grid, Vec2(2, 0.9), 0.11, kInfinity).outcome ==
        Outcome::hole);  // a corner of the hole's facets reaches in
  CHECK(patch(grid, Vec2(0.2, 0.5), 0.3, kInfinity).outcome == Outcome::off_map);
  CHECK(patch(grid, Vec2(-9, 0), 0.3, kInfinity).outcome == Outcome::off_map);
  CHECK(patch(grid, Vec2(0.5, 0.5), 0.3, 1.0).outcome == Outcome::no_facet);  // all ground lies higher

  const Terrain mesh = worlds::terrain(worlds::cropped(
      worlds::meshed(worlds::plane(0, 0, 0), worlds::square(3), 1), {Vec2(-9, -9), Vec2(9, 1.9)}));
  TriangleMesh holed = worlds::meshed(worlds::plane(0, 0, 0), worlds::square(3), 1);
  std::erase_if(holed.triangles, [&](const auto& t) {  // the cells of [0, 1] x [0, 1]
    const Vec3 m = (holed.vertices[t[0]] + holed.vertices[t[1]] + holed.vertices[t[2]]) / 3;
    return m.x() > 0 && m.x() < 1 && m.y() > 0 && m.y() < 1;
  });
  const Terrain pit = worlds::terrain(holed);
  CHECK(patch(mesh, Vec2(0, 1.9), 0.3, kInfinity).outcome == Outcome::off_map);
  const Patch half = patch(pit, Vec2(0, 0.5), 0.3, kInfinity);
  CHECK(half.outcome == Outcome::no_facet);
  CHECK(half.supported_share == Approx(0.5).epsilon(1e-12));
  CHECK(std::isnan(half.rest_height));
  const Patch none = patch(pit, Vec2(0.5, 0.5), 0.3, kInfinity);
  CHECK(none.outcome == Outcome::no_facet);
  CHECK(none.supported_share == 0);
}

TEST_CASE("patch: less than 1e-9 of the disc may be missing, more may not") {
  // a chord at distance h cuts off (acos h - h sqrt(1 - h^2)) / pi of the disc (h in radii)
  const TriangleMesh half = worlds::meshed(worlds::plane(1, 0, 0), {Vec2(-2, -2), Vec2(0, 2)}, 1);
  const Terrain t = worlds::terrain(
      worlds::joined(half, worlds::meshed(worlds::plane(1, 0, 0), {Vec2(1, -2), Vec2(2, 2)}, 1)));
  for (const double h : {0.9999, 0.99999, 0.9999999, 0.0, -0.5, 0.3}) {
    const double missing = (std::acos(h) - h * std::sqrt(1 - h * h)) / kPi;
    const Patch p = patch(t, Vec2(-0.2 * h, 0.3), 0.2, kInfinity);
    CHECK(p.supported_share == Approx(1 - missing).margin(1e-12));
    CHECK((p.outcome == Outcome::full) == (missing < 1e-9));
  }
}

TEST_CASE("patch: below an overhang the ground is the layer that `under` picks, and its lip is a step") {
  const Terrain t = worlds::terrain(worlds::overhang(0, 5, 2));
  check_plane(patch(t, Vec2(-1, 0), 0.3, kInfinity), 0, 0, 0);
  check_plane(patch(t, Vec2(-1, 0), 0.3, -1), -5, 0, 0);
  check_plane(patch(t, Vec2(1, 0), 0.3, kInfinity), -5, 0, 0);
  CHECK(patch(t, Vec2(-3, 0), 0.3, -1).outcome == Outcome::no_facet);
  const Patch lip = patch(t, Vec2(0, 0.1), 0.3, kInfinity);
  const auto fit = oracles::cylinder_fit([](double x) { return x < 0 ? 0.0 : -5.0; }, {0.0}, 0.3);
  REQUIRE(lip.outcome == Outcome::full);
  CHECK(lip.plane_height == Approx(fit.height).epsilon(1e-12));
  CHECK(lip.residual == Approx(fit.residual).epsilon(1e-11));
  CHECK(lip.rms == Approx(fit.rms).epsilon(1e-12));
  CHECK(lip.highest == 0);
}

TEST_CASE("patch: of sheets that pass through each other the upper parts count, cut where they cross") {
  for (std::uint64_t k = 0; k < 100; ++k) {
    const double fold = uniform(0, k, -0.2, 0.2), down = uniform(1, k, -1, 0.2),
                 up = down + uniform(2, k, 0.1, 1);
    const auto first = [&](const Vec2& p) { return down * (p.x() - fold); };
    const auto second = [&](const Vec2& p) { return up * (p.x() - fold); };
    const TriangleMesh mesh = worlds::joined(worlds::meshed(first, worlds::square(1), 0.25, 0.3, k),
                                             worlds::meshed(second, worlds::square(1), 0.2, 0.3, k + 1));
    const double r = uniform(3, k, 0.1, 0.4);
    const Mat3 R = rotation(uniform(4, k, -kPi, kPi), 0, 0);
    const Patch p = patch(worlds::terrain(worlds::moved(mesh, R)), Vec2(0, 0), r, kInfinity);
    const auto fit = oracles::cylinder_fit(
        [&](double x) { return std::max(down * (x - fold), up * (x - fold)); }, {fold}, r);
    REQUIRE(p.outcome == Outcome::full);
    CHECK(p.supported_share == Approx(1).margin(1e-11));
    CHECK(p.plane_height == Approx(fit.height).margin(1e-11));
    CHECK(p.rms == Approx(fit.rms).margin(1e-8));  // a sliver of 1e-16 of the disc may show the lower sheet
    CHECK(p.residual == Approx(fit.residual).margin(1e-10));
    // and up to a height: a slope ends where it passes it, the rest of the disc is bare or the lower sheet
    const double under = uniform(5, k, -0.1, 0.1);
    const Patch cut = patch(worlds::terrain(worlds::moved(mesh, R)), Vec2(0, 0), r, under);
    double covered = 0;
    const int n = 4000;
    for (int i = 0; i < n; ++i) {  // midpoints in the angle of x = r sin(u)
      const double u = (i + 0.5) / n * kPi - kPi / 2, x = r * std::sin(u);
      if (std::min(down * (x - fold), up * (x - fold)) <= under)
        covered += 2 / kPi * std::cos(u) * std::cos(u) * kPi / n;
    }
    CHECK(cut.supported_share == Approx(covered).margin(2e-3));
  }
}

TEST_CASE("patch: ground that lies double beside a void does not make up for it") {
  const auto half = worlds::meshed(worlds::plane(0, 0, 0), {Vec2(-1, -1), Vec2(0, 1)}, 0.25);
  const auto rest = worlds::meshed(worlds::plane(0, 0, 0), {Vec2(0.5, -1), Vec2(1, 1)}, 0.25);
  const Mat3 same = Mat3::Identity();
  for (const double apart : {0.0, -0.5}) {
    const Terrain t = worlds::terrain(
        worlds::joined(worlds::joined(half, rest), worlds::moved(half, same, Vec3(0, 0, apart))));
    const Patch p = patch(t, Vec2(0, 0.1), 0.3, kInfinity);
    CHECK(p.outcome == Outcome::no_facet);
    CHECK(p.supported_share == Approx(0.5).margin(1e-12));
  }
}

TEST_CASE("patch: ground given twice, in part twice, or once more under itself, is the same ground") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 4), worlds::square(1), 0.2, 0.3, 6);
  const TriangleMesh twice = worlds::joined(mesh, worlds::split(mesh));
  const TriangleMesh half =
      worlds::joined(mesh, worlds::cropped(worlds::split(mesh), {Vec2(-2, -2), Vec2(0.05, 2)}));
  const TriangleMesh cellar =
      worlds::joined(mesh, worlds::moved(mesh, Mat3::Identity(), Vec3(0.03, 0.01, -1)));
  for (std::uint64_t k = 0; k < 40; ++k) {
    const Vec2 at(uniform(0, k, -0.6, 0.6), uniform(1, k, -0.6, 0.6));
    const Patch one = patch(worlds::terrain(mesh), at, 0.2, kInfinity);
    for (const TriangleMesh* other : {&twice, &half, &cellar}) {
      const Patch two = patch(worlds::terrain(*other), at, 0.2, kInfinity);
      REQUIRE(two.outcome == Outcome::full);
      CHECK(two.plane_height == Approx(one.plane_height).margin(1e-11));
      CHECK(two.rest_height == Approx(one.rest_height).margin(1e-11));
      CHECK(two.rms == Approx(one.rms).margin(1e-10));
    }
  }
}

namespace {

void check_equal(const Patch& a, const Patch& b, double margin) {
  REQUIRE(a.outcome == b.outcome);
  CHECK(a.supported_share == Approx(b.supported_share).margin(margin));
  if (a.outcome != Outcome::full) return;
  CHECK(a.plane_height == Approx(b.plane_height).margin(margin));
  CHECK(a.rest_height == Approx(b.rest_height).margin(margin));
  CHECK(a.highest == Approx(b.highest).margin(margin));
  CHECK(a.rms == Approx(b.rms).margin(margin));
  CHECK((a.normal - b.normal).norm() <= 10 * margin);
}

}  // namespace

TEST_CASE("patch: another meshing of the same surface gives the same pad") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 2), worlds::square(1), 0.2, 0.3, 3);
  // coplanar cells: each quad of a plane's mesh may be cut along either diagonal
  const TriangleMesh flat = worlds::meshed(worlds::plane(0.2, 0.3, -0.4), worlds::square(1), 0.2);
  TriangleMesh flipped = flat;
  for (std::size_t k = 0; k + 1 < flipped.triangles.size(); k += 2) {
    const auto [sw, se, ne] = flipped.triangles[k];
    const std::uint32_t nw = flipped.triangles[k + 1][2];
    if (random_bits(5, 0, k) % 2)
      flipped.triangles[k] = {sw, se, nw}, flipped.triangles[k + 1] = {se, ne, nw};
  }
  const Terrain given = worlds::terrain(mesh), fine = worlds::terrain(worlds::split(mesh)),
                finer = worlds::terrain(worlds::split(worlds::split(mesh))),
                mixed = worlds::terrain(worlds::shuffled(mesh, 7)), plain = worlds::terrain(flat),
                crossed = worlds::terrain(flipped);
  for (std::uint64_t k = 0; k < 200; ++k) {
    const Vec2 at(uniform(0, k, -0.7, 0.7), uniform(1, k, -0.7, 0.7));
    const double r = uniform(2, k, 0.03, 0.3);
    const Patch p = patch(given, at, r, kInfinity);
    check_equal(patch(fine, at, r, kInfinity), p, 1e-12);
    check_equal(patch(finer, at, r, kInfinity), p, 1e-12);
    check_equal(patch(mixed, at, r, kInfinity), p, 1e-12);
    check_equal(patch(crossed, at, r, kInfinity), patch(plain, at, r, kInfinity), 1e-12);
  }
}

TEST_CASE("patch: ground beyond the pad does not count, bit for bit") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 2), worlds::square(3), 0.2, 0.3, 3);
  for (std::uint64_t k = 0; k < 100; ++k) {
    const Vec2 at(uniform(0, k, -2, 2), uniform(1, k, -2, 2));
    const Box2 near{at - Vec2(0.7, 0.7), at + Vec2(0.7, 0.7)};
    const Patch whole = patch(worlds::terrain(mesh), at, 0.25, kInfinity);
    const Patch part = patch(worlds::terrain(worlds::cropped(mesh, near)), at, 0.25, kInfinity);
    CHECK(whole.plane_height == part.plane_height);
    CHECK(whole.rest_height == part.rest_height);
    CHECK(whole.rms == part.rms);
    CHECK(whole.normal == part.normal);
  }
}

TEST_CASE("patch: far from the origin of the coordinates the same pad stands as well") {
  const TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 2), worlds::square(1), 0.2, 0.3, 3);
  const Vec3 far(5e5, 4.3e6, 1e3);
  const Terrain here = worlds::terrain(mesh),
                there = worlds::terrain(worlds::moved(mesh, Mat3::Identity(), far));
  for (std::uint64_t k = 0; k < 200; ++k) {
    const Vec2 at(uniform(0, k, -0.7, 0.7), uniform(1, k, -0.7, 0.7));
    const Patch a = patch(here, at, 0.2, kInfinity), b = patch(there, at + far.head<2>(), 0.2, kInfinity);
    REQUIRE(b.outcome == Outcome::full);
    CHECK(b.rest_height - far.z() == Approx(a.rest_height).margin(1e-8));
    CHECK((a.normal - b.normal).norm() <= 1e-7);
  }
}

TEST_CASE("patch: taking ground away never supports a pad") {
  TriangleMesh mesh = worlds::meshed(worlds::bumps(0.6, 0.1, 2), worlds::square(1), 0.2, 0.3, 3);
  std::vector<Patch> before;
  const auto patches = [&](const Terrain& t) {
    std::vector<Patch> found;
    for (std::uint64_t k = 0; k < 150; ++k)
      found.push_back(patch(t, Vec2(uniform(0, k, -0.8, 0.8), uniform(1, k, -0.8, 0.8)), 0.15, kInfinity));
    return found;
  };
  before = patches(worlds::terrain(mesh));
  for (std::uint64_t round = 0; round < 8; ++round) {
    for (int k = 0; k < 6; ++k)
      mesh.triangles.erase(mesh.triangles.begin() +
                           static_cast<std::ptrdiff_t>(random_bits(3, round, static_cast<std::uint64_t>(k)) %
                                                       mesh.triangles.size()));
    const std::vector<Patch> after = patches(worlds::terrain(mesh));
    for (std::size_t k = 0; k < after.size(); ++k) {
      CHECK(after[k].supported_share <= before[k].supported_share + 1e-12);
      if (after[k].outcome == Outcome::full) CHECK(before[k].outcome == Outcome::full);
    }
    before = after;
  }
}

TEST_CASE("patch: a pad, a height or a radius that is not a number is the caller's error") {
  const Terrain t = worlds::terrain(worlds::plane(0, 0, 0));
  CHECK_THROWS_AS((void)patch(t, Vec2(kUnset, 0), 0.1, 0), std::logic_error);
  CHECK_THROWS_AS((void)patch(t, Vec2(0, 0), 0, 0), std::logic_error);
  CHECK_THROWS_AS((void)patch(t, Vec2(0, 0), kUnset, 0), std::logic_error);
  CHECK_THROWS_AS((void)patch(t, Vec2(0, 0), 0.1, kUnset), std::logic_error);
}
