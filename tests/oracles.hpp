#pragma once
// Slow ways to the same answers, sharing no code with the fast ones.
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <utility>
#include <vector>

#include "rimstance/terrain/ground.hpp"

namespace oracles {

using rimstance::Vec2;
using rimstance::Vec3;

/// Heights of a mesh over a plan point by trying every triangle; rounding at borders is not cared for.
inline std::vector<double> heights(const rimstance::TriangleMesh& mesh, const Vec2& p) {
  std::vector<double> found;
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    rimstance::Mat3 M;
    M << a.x(), b.x(), c.x(), a.y(), b.y(), c.y(), 1, 1, 1;
    if (std::abs(M.determinant()) < 1e-14) continue;
    const Vec3 weight = M.inverse() * Vec3(p.x(), p.y(), 1);
    if (weight.minCoeff() >= 0) found.push_back(weight.dot(Vec3(a.z(), b.z(), c.z())));
  }
  std::sort(found.rbegin(), found.rend());
  return found;
}

inline double height(const rimstance::TriangleMesh& mesh, const Vec2& p, double under) {
  for (const double z : heights(mesh, p))
    if (z <= under) return z;
  return rimstance::kUnset;
}

/// Integral of f over [a, b] by Gauss's rule of eight points (Abramowitz & Stegun 1964, table 25.4) on
/// `parts` equal parts.
inline double integral(const std::function<double(double)>& f, double a, double b, int parts) {
  static constexpr double x[] = {0.1834346424956498, 0.5255324099163290, 0.7966664774136267,
                                 0.9602898564975363};
  static constexpr double w[] = {0.3626837833783620, 0.3137066458778873, 0.2223810344533745,
                                 0.1012285362903763};
  double sum = 0;
  for (int k = 0; k < parts; ++k) {
    const double half = 0.5 * (b - a) / parts, middle = a + (2 * k + 1) * half;
    for (int i = 0; i < 4; ++i) sum += half * w[i] * (f(middle - half * x[i]) + f(middle + half * x[i]));
  }
  return sum;
}

/// Rest of a disc on ground that depends on x alone, piecewise linear with kinks or jumps at `kinks`:
/// plane a + b x of least squares over the disc about the origin, by quadrature along the angle.
struct CylinderFit {
  double height, slope, rms, residual;
};
inline CylinderFit cylinder_fit(const std::function<double(double)>& z, std::vector<double> kinks,
                                double radius) {
  std::vector<double> stops{-radius, radius};
  for (const double k : kinks)
    if (std::abs(k) < radius) stops.push_back(k);
  std::sort(stops.begin(), stops.end());
  // x = r sin(u): the chord 2 r cos(u) times dx = r cos(u) du is smooth at the ends
  const auto over_disc = [&](const std::function<double(double)>& f) {
    double sum = 0;
    for (std::size_t k = 0; k + 1 < stops.size(); ++k)
      sum += integral(
          [&](double u) { return f(radius * std::sin(u)) * 2 * radius * radius * std::cos(u) * std::cos(u); },
          std::asin(stops[k] / radius), std::asin(stops[k + 1] / radius), 8);
    return sum;
  };
  const double area = rimstance::kPi * radius * radius;
  CylinderFit fit{};
  fit.height = over_disc(z) / area;
  fit.slope = over_disc([&](double x) { return x * z(x); }) / (area * radius * radius / 4);
  const auto off = [&](double x) { return z(x) - fit.height - fit.slope * x; };
  fit.rms = std::sqrt(over_disc([&](double x) { return off(x) * off(x); }) / area);
  for (std::size_t k = 0; k + 1 < stops.size(); ++k) {
    const double inset = 1e-13 * radius;  // both sides of a jump
    fit.residual = std::max({fit.residual, off(stops[k] + inset), off(stops[k + 1] - inset)});
  }
  return fit;
}

/// A disc set on sampled ground: least squares over n x n points of its square, rest on the highest.
/// Samples miss peaks, so the rest height comes out low, never high by more than the fit's error.
struct SampledRest {
  double height, rest;
};
inline SampledRest sampled_rest(const std::function<double(const Vec2&)>& z, const Vec2& centre,
                                double radius, int n) {
  rimstance::Mat3 A = rimstance::Mat3::Zero();
  Vec3 b = Vec3::Zero();
  std::vector<std::pair<Vec3, double>> samples;
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) {
      const Vec2 u((2 * i + 1.0) / n - 1, (2 * j + 1.0) / n - 1);
      if (u.squaredNorm() > 1) continue;
      const double height = z(centre + radius * u);
      const Vec3 row(1, u.x(), u.y());
      A += row * row.transpose();
      b += height * row;
      samples.emplace_back(row, height);
    }
  const Vec3 plane = A.inverse() * b;
  SampledRest rest{plane.x(), plane.x()};
  for (const auto& [row, height] : samples)
    rest.rest = std::max(rest.rest, plane.x() + height - row.dot(plane));
  return rest;
}

}  // namespace oracles
