#include "rimstance/statics/slew.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace rimstance {
namespace {

/// The representative of `angle` (mod 2 pi) that lies in the interval, or NaN.
double inside(double angle, const Interval& slew) {
  const double turns = std::ceil((slew.lo - angle) / (2 * kPi));
  const double x = angle + 2 * kPi * turns;
  return x <= slew.hi ? std::max(x, slew.lo) : kUnset;
}

/// Appends the roots of the wave that lie inside the interval.
void add_roots(const Wave& w, const Interval& slew, std::vector<double>& roots) {
  const double r = std::hypot(w.b, w.c);
  if (!(r > 0) || std::abs(w.a) >= r) return;
  const double crest = std::atan2(w.c, w.b), half = std::acos(-w.a / r);
  for (const double root : {crest - half, crest + half})
    if (const double x = inside(root, slew); x > slew.lo && x < slew.hi) roots.push_back(x);
}

}  // namespace

SlewLeast least(const Wave& w, const Interval& slew) {
  SlewLeast out{w.at(slew.lo), slew.lo};
  const auto consider = [&](double theta, double value) {
    if (value < out.value) out = {value, theta};
  };
  consider(slew.hi, w.at(slew.hi));
  const double r = std::hypot(w.b, w.c);
  if (w.a - r < out.value)
    if (const double trough = inside(std::atan2(w.c, w.b) + kPi, slew); std::isfinite(trough))
      consider(trough, w.a - r);
  return out;
}

std::vector<double> zeros(const Wave& w, const Interval& slew) {
  std::vector<double> out;
  add_roots(w, slew, out);
  std::sort(out.begin(), out.end());
  return out;
}

int sign_on(const Wave& w, const Interval& slew) {
  const double r = std::hypot(w.b, w.c);
  if (std::abs(w.a) >= r) return w.a >= 0 ? 1 : -1;
  if (least(w, slew).value >= 0) return 1;
  return least(-1.0 * w, slew).value >= 0 ? -1 : 0;
}

SlewLeast least(const Wave& smooth, std::span<const Kinked> kinked, const Interval& slew) {
  if (kinked.empty()) return least(smooth, slew);
  std::vector<double> cuts;
  for (const Kinked& k : kinked) add_roots(k.wave, slew, cuts);
  std::sort(cuts.begin(), cuts.end());
  cuts.push_back(slew.hi);
  SlewLeast out;
  double lo = slew.lo;
  for (const double hi : cuts) {
    Wave sum = smooth;
    const double middle = lo + (hi - lo) / 2;
    for (const Kinked& k : kinked) sum += (k.wave.at(middle) < 0 ? k.factor : 1.0) * k.wave;
    const SlewLeast piece = least(sum, {lo, hi});
    if (!(piece.value >= out.value)) out = piece;
    lo = hi;
  }
  return out;
}

}  // namespace rimstance
