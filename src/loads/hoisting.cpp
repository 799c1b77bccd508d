#include "rimstance/loads/hoisting.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "rimstance/loads/boom_bending.hpp"

namespace rimstance {
namespace {

struct Covering {
  double inner, outer;  ///< along the boom from the foot pin [m]
  double stiffness;     ///< E I [N m2]
};

std::vector<Covering> coverings(const Boom& boom, const BoomShape& shape, double extension) {
  std::vector<Covering> out;
  const std::vector<double> ends = section_ends(boom, shape, extension);
  for (std::size_t k = 0; k < boom.sections.size(); ++k) {
    const BoomSection& s = boom.sections[k];
    out.push_back({std::max(0.0, ends[k] - s.length), ends[k], s.bending_stiffness});
  }
  return out;
}

PickUp pick_up(const Scenario& s, double line, double luff, double extension) {
  const Machine& m = s.machine;
  const auto shape = boom_shape(m.boom);
  const std::array springs{line_stiffness(m.hoist, line), outrigger_stiffness(m),
                           boom_stiffness(m.boom, *shape, luff, extension)};
  return {in_series(springs), line};
}

}  // namespace

double hoisting_factor(double speed, double gravity, double stiffness, double mass) {
  return mass > 0 ? 1 + speed / gravity * std::sqrt(stiffness / mass) : 1;
}

double line_stiffness(const Hoist& hoist, double line) {
  return hoist.line_EA > 0 && line > 0 ? hoist.line_EA / line : kInfinity;
}

double outrigger_stiffness(const Machine& machine) {
  double sum = 0;
  for (const Outrigger& o : machine.outriggers) sum += o.stiffness;
  return sum;
}

bool bends(const Boom& boom) {
  return boom.kind == Boom::Kind::telescopic &&
         std::all_of(boom.sections.begin(), boom.sections.end(),
                     [](const BoomSection& s) { return s.bending_stiffness > 0; });
}

/// The tip gives way by the integral of (L - x)^2 / (E I) along the boom for a unit force across it, of which
/// a vertical force has the share cos(luff), and so has the vertical part of the way.
double boom_stiffness(const Boom& boom, const BoomShape& shape, double luff, double extension) {
  if (!bends(boom)) return kInfinity;
  const double length = shape.length(extension), across = std::cos(luff);
  const std::vector<Covering> all = coverings(boom, shape, extension);
  std::vector<double> knots{0, length};
  for (const Covering& c : all)
    for (const double x : {c.inner, c.outer})
      if (x > 0 && x < length) knots.push_back(x);
  std::sort(knots.begin(), knots.end());
  double way = 0;
  for (std::size_t i = 0; i + 1 < knots.size(); ++i) {
    const double lo = knots[i], hi = knots[i + 1], middle = lo + (hi - lo) / 2;
    double stiffness = 0;
    for (const Covering& c : all)
      if (c.inner <= middle && middle <= c.outer) stiffness += c.stiffness;
    const double a = length - lo, b = length - hi;
    if (stiffness > 0) way += (a * a * a - b * b * b) / (3 * stiffness);
  }
  const double give = way * across * across;
  return give > 0 ? 1 / give : kInfinity;
}

double in_series(std::span<const double> stiffnesses) {
  double way = 0;
  for (const double k : stiffnesses) way += 1 / k;
  return way > 0 ? 1 / way : kInfinity;
}

PickUp stiffest_pick_up(const Scenario& s) {
  const Operation& o = s.operation;
  const double steepest = std::abs(o.luff.lo) > std::abs(o.luff.hi) ? o.luff.lo : o.luff.hi;
  return pick_up(s, o.line.lo, steepest, o.extension.lo);
}

PickUp softest_pick_up(const Scenario& s) {
  const Operation& o = s.operation;
  const double flattest = std::clamp(0.0, o.luff.lo, o.luff.hi);
  return pick_up(s, o.line.hi, flattest, o.extension.hi);
}

double Lift::mass(double payload) const {
  const double picked = payload + lightest;
  return (picked > 0 ? 1 + rate / std::sqrt(picked) : 1) * (payload + here);
}

double Lift::turn() const {
  const double more = here - lightest;
  if (!(more > 0)) return 0;
  // m'(s) = 2 s + rate - more rate / s^2 = 0; Newton's steps from above on a convex function.
  double s = std::sqrt(more);
  for (int step = 0; step < 100; ++step) {
    const double next = s - ((2 * s + rate) * s * s - more * rate) / ((6 * s + 2 * rate) * s);
    if (!(next < s)) break;
    s = next;
  }
  return std::max(0.0, s * s - lightest);
}

double Lift::rising_to(double mass) const {
  const double more = std::max(0.0, here - lightest);
  // As if nothing more hung: beyond the root, from where Newton's steps on a convex function come down to it.
  double s = 2 * mass / (rate + std::sqrt(rate * rate + 4 * mass));
  for (int step = 0; more > 0 && step < 100; ++step) {
    const double value = (s + rate) * s + more + more * rate / s,
                 slope = 2 * s + rate - more * rate / (s * s);
    const double next = s - (value - mass) / slope;
    if (!(slope > 0) || !(next < s)) break;
    s = next;
  }
  return std::max(0.0, s * s - lightest);
}

double Lift::falling_to(double mass) const {
  const double more = here - lightest;
  double s = std::sqrt(lightest);
  for (int step = 0; step < 100; ++step) {
    const double value = (s + rate) * s + more + more * rate / s,
                 slope = 2 * s + rate - more * rate / (s * s);
    const double next = s - (value - mass) / slope;
    if (!(slope < 0) || !(next > s)) break;
    s = next;
  }
  return std::max(0.0, s * s - lightest);
}

}  // namespace rimstance
