#include "rimstance/statics/curves.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

constexpr double kSlack = 1e-9;  ///< of cuts and lengths [m]

/// An interval that may be empty by rounding only is a point.
bool closed(Interval& i) {
  if (i.lo > i.hi && i.lo <= i.hi + kSlack) i = {i.middle(), i.middle()};
  return i.lo <= i.hi;
}

Interval meet(const Interval& x, const Interval& y) { return {std::max(x.lo, y.lo), std::min(x.hi, y.hi)}; }

double height_of_foot(const Machine& machine) { return machine.platform.axis.z() + machine.boom.foot.z(); }

/// Tip heights above the pin that the luff allows at a distance ahead of it.
Interval heights_by_luff(const Interval& luff, double ahead) {
  const auto rise = [&](double a) { return a >= kPi / 2 ? kInfinity : ahead * std::tan(a); };
  return {rise(luff.lo), rise(luff.hi)};
}

/// Heights of one sign (+1 above the pin, -1 below) that the lengths allow, as magnitudes. A length that is
/// the distance ahead but for rounding reaches level: the root would turn 1e-16 m into 1e-8.
Interval magnitudes(const Interval& length, double ahead) {
  const auto leg = [&](double l) { return std::sqrt(std::max(0.0, (l - ahead) * (l + ahead))); };
  return {length.lo - ahead > kSlack ? leg(length.lo) : 0, leg(length.hi)};
}

}  // namespace

std::vector<CurvePiece> curve_at_reach(const MachineLoads& loads, const Domain& domain, double reach) {
  const Boom& boom = loads.machine.boom;
  const BoomShape& shape = *loads.boom;
  std::vector<CurvePiece> out;
  if (reach < domain.reach.lo - kSlack || reach > domain.reach.hi + kSlack) return out;
  const double ahead = ahead_of_foot(boom, reach);
  if (!(ahead >= -kSlack)) return out;
  const double x = std::max(ahead, 0.0), base = height_of_foot(loads.machine);
  const Interval length{shape.length(domain.extension.lo), shape.length(domain.extension.hi)};
  if (length.hi < x - kSlack) return out;
  const Interval allowed =
      meet(heights_by_luff(domain.luff, x), {domain.tip_height.lo - base, domain.tip_height.hi - base});
  std::vector<double> knots{std::max(length.lo, x)};
  for (const double e : shape.breakpoints())
    if (const double l = shape.length(e); l > knots.front() && l < length.hi) knots.push_back(l);
  knots.push_back(std::max(length.hi, x));
  for (const int side : {-1, 1})
    for (std::size_t k = 0; k + 1 < knots.size(); ++k) {
      Interval z = magnitudes({knots[k], knots[k + 1]}, x);
      if (side < 0 && z.hi == 0) continue;  // the same as above the pin
      z = side > 0 ? z : Interval{-z.hi, -z.lo};
      z = meet(z, allowed);
      if (!closed(z)) continue;
      const auto at = [&](double height) {
        return CurveEnd{std::clamp(std::hypot(x, height), length.lo, std::max(length.lo, length.hi)), height};
      };
      out.push_back({x, {at(z.lo), at(z.hi)}});
    }
  return out;
}

Interval reaches(const MachineLoads& loads, const Domain& domain) {
  const Machine& machine = loads.machine;
  const double base = height_of_foot(machine);
  const Interval length{loads.boom->length(domain.extension.lo), loads.boom->length(domain.extension.hi)};
  const Interval height{domain.tip_height.lo - base, domain.tip_height.hi - base};
  Interval ahead{kInfinity, -kInfinity};
  const auto offer = [&](double luff, double l) {
    const double z = l * std::sin(luff);
    const bool holds = luff >= domain.luff.lo - kSlack && luff <= domain.luff.hi + kSlack &&
                       l >= length.lo - kSlack && l <= length.hi + kSlack && z >= height.lo - kSlack &&
                       z <= height.hi + kSlack;
    if (!holds) return;
    ahead.lo = std::min(ahead.lo, l * std::cos(luff));
    ahead.hi = std::max(ahead.hi, l * std::cos(luff));
  };
  // The tip's distance ahead is least and greatest at a corner of the three intervals, or level.
  for (const double l : {length.lo, length.hi}) {
    for (const double luff : {domain.luff.lo, domain.luff.hi, 0.0}) offer(luff, l);
    for (const double z : {height.lo, height.hi})
      if (std::abs(z) <= l) offer(std::asin(z / l), l);
  }
  for (const double luff : {domain.luff.lo, domain.luff.hi})
    for (const double z : {height.lo, height.hi})
      if (std::isfinite(z) && std::sin(luff) != 0) offer(luff, z / std::sin(luff));
  if (!(ahead.lo <= ahead.hi)) return {};
  const auto reach_of = [&](double x) {
    return std::hypot(machine.boom.foot.x() + x, machine.boom.foot.y());
  };
  Interval out = meet({reach_of(ahead.lo), reach_of(ahead.hi)}, domain.reach);
  return closed(out) ? out : Interval{};
}

BoomSetting setting_of(const MachineLoads& loads, double ahead, const CurveEnd& end) {
  return {std::atan2(end.height, ahead), end.length - loads.boom->length(0)};
}

}  // namespace rimstance
