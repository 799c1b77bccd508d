// A pad set on the ground exactly, against the same pad set by dropping rays on a tree of boxes.
// The rays are as many as it takes to find the height of rest to a millimetre at every place tried.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

#include "rimstance/terrain/clearance.hpp"
#include "worlds.hpp"

namespace {

using namespace rimstance;

constexpr double kRadius = 0.15;
constexpr double kAccuracy = 1e-3;
constexpr double kWanted = 20;  ///< times faster

struct Site {
  Terrain terrain = worlds::terrain(worlds::meshed(worlds::bumps(0.8, 0.15, 3), worlds::square(20), 0.16, 0.3,
                                                   4));  // sides of about 0.1 to 0.25 m
  Clearance rays = clearance(terrain, worlds::square(20));
  std::vector<Vec2> places;
  Site() {
    for (std::uint64_t k = 0; k < 400; ++k)
      places.emplace_back(38 * random_uniform(1, 0, k) - 19, 38 * random_uniform(1, 1, k) - 19);
  }
};

const Site& site() {
  static const Site the_site;
  return the_site;
}

/// Height of rest by n x n rays over the square of the disc.
double rest_by_rays(const Vec2& centre, int n) {
  Mat3 A = Mat3::Zero();
  Vec3 b = Vec3::Zero();
  std::vector<std::pair<Vec3, double>> samples;
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) {
      const Vec2 u((2 * i + 1.0) / n - 1, (2 * j + 1.0) / n - 1);
      if (u.squaredNorm() > 1) continue;
      const Vec2 p = centre + kRadius * u;
      const auto hit = site().rays.ray(Vec3(p.x(), p.y(), 10), Vec3(0, 0, -1));
      if (!hit) return kUnset;
      const Vec3 row(1, u.x(), u.y());
      A += row * row.transpose();
      b += (10 - *hit) * row;
      samples.emplace_back(row, 10 - *hit);
    }
  const Vec3 plane = A.inverse() * b;
  double residual = 0;
  for (const auto& [row, z] : samples) residual = std::max(residual, z - row.dot(plane));
  return plane.x() + residual;
}

/// Least n that finds the height of rest to a millimetre at nine places of ten.
int rays_needed() {
  static const int needed = [] {
    for (int n = 4;; n += 2) {
      std::size_t good = 0;
      for (std::size_t k = 0; k < 100; ++k) {
        const double exact = patch(site().terrain, site().places[k], kRadius, kInfinity).rest_height;
        good += std::abs(rest_by_rays(site().places[k], n) - exact) <= kAccuracy;
      }
      if (good >= 90) return n;
    }
  }();
  return needed;
}

void exact_patch(benchmark::State& state) {
  std::vector<Facet> scratch;
  std::size_t k = 0;
  for (auto _ : state)
    benchmark::DoNotOptimize(
        patch(site().terrain, site().places[k++ % site().places.size()], kRadius, kInfinity, scratch));
}
BENCHMARK(exact_patch)->Unit(benchmark::kMicrosecond);

void dropped_rays(benchmark::State& state) {
  const int n = rays_needed();
  std::size_t k = 0;
  for (auto _ : state) benchmark::DoNotOptimize(rest_by_rays(site().places[k++ % site().places.size()], n));
  state.counters["rays"] = n * n * kPi / 4;
}
BENCHMARK(dropped_rays)->Unit(benchmark::kMicrosecond);

void point_height(benchmark::State& state) {
  std::size_t k = 0;
  for (auto _ : state)
    benchmark::DoNotOptimize(height(site().terrain, site().places[k++ % site().places.size()], kInfinity));
}
BENCHMARK(point_height)->Unit(benchmark::kMicrosecond);

/// Seconds a place, the least of five rounds.
template <class Work>
double seconds(std::size_t places, const Work& work) {
  double least = kInfinity;
  for (int round = 0; round < 5; ++round) {
    const auto start = std::chrono::steady_clock::now();
    for (std::size_t k = 0; k < places; ++k) work(site().places[k]);
    const std::chrono::duration<double> spent = std::chrono::steady_clock::now() - start;
    least = std::min(least, spent.count() / static_cast<double>(places));
  }
  return least;
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  std::vector<Facet> scratch;
  const int n = rays_needed();
  const double exact = seconds(400, [&](const Vec2& p) {
    benchmark::DoNotOptimize(patch(site().terrain, p, kRadius, kInfinity, scratch));
  });
  const double rays = seconds(40, [&](const Vec2& p) { benchmark::DoNotOptimize(rest_by_rays(p, n)); });
  std::printf("patch %.2f us, %d rays %.1f us: %.0f times faster (wanted: %.0f)\n", 1e6 * exact,
              static_cast<int>(n * n * kPi / 4), 1e6 * rays, rays / exact, kWanted);
  return rays / exact >= kWanted ? 0 : 1;
}
