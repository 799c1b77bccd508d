#include <algorithm>
#include <cmath>
#include <functional>

#include "plan.hpp"

namespace rimstance {
namespace {

/// Facets closer than this at a point are one layer [m]: rounding of a shared corner or side.
constexpr double kSameLayer = 1e-9;

/// Below this slope [rad] a normal shows no direction: rounding of heights is larger.
constexpr double kLevel = 1e-12;

}  // namespace

std::vector<double> layers(const Terrain& terrain, const Vec2& p) {
  expects(p.allFinite(), "layers: finite point");
  std::vector<Facet> near;
  terrain.ground->facets({p, p}, near);
  std::vector<double> heights;
  for (const Facet& f : near)
    if (plan::holds(f, p)) heights.push_back(plan::height_on(f, p));
  std::sort(heights.begin(), heights.end(), std::greater<>());
  heights.erase(
      std::unique(heights.begin(), heights.end(), [](double a, double b) { return a - b <= kSameLayer; }),
      heights.end());
  return heights;
}

double height(const Terrain& terrain, const Vec2& p, double under) {
  expects(p.allFinite() && !std::isnan(under), "height: finite point, under a height or infinite");
  std::vector<Facet> near;
  terrain.ground->facets({p, p}, near);
  double best = -kInfinity;
  for (const Facet& f : near) {
    if (!plan::holds(f, p)) continue;
    const double z = plan::height_on(f, p);
    if (z <= under) best = std::max(best, z);
  }
  return std::isfinite(best) ? best : kUnset;
}

SlopeAspect slope_aspect(const Vec3& normal) {
  expects(normal.allFinite() && normal.z() > 0, "slope_aspect: an upward normal");
  const double slope = std::atan2(std::hypot(normal.x(), normal.y()), normal.z());
  return {slope, slope < kLevel ? kUnset : wrapped(std::atan2(normal.y(), normal.x()))};
}

}  // namespace rimstance
