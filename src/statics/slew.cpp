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

Vec2 direction_of(double angle) { return {std::cos(angle), std::sin(angle)}; }

/// Appends the roots of the wave that lie inside the interval.
void add_roots(const Wave& w, const Interval& slew, std::vector<double>& roots) {
  const double r = std::sqrt(w.b * w.b + w.c * w.c);
  if (!(r > 0) || std::abs(w.a) >= r) return;
  const double crest = std::atan2(w.c, w.b), half = std::acos(-w.a / r);
  for (const double root : {crest - half, crest + half})
    if (const double x = inside(root, slew); x > slew.lo && x < slew.hi) roots.push_back(x);
}

}  // namespace

Sector::Sector(const Interval& range) : slew(range), lo(direction_of(range.lo)), hi(direction_of(range.hi)) {}

bool falls_below_zero(const Wave& w, const Sector& sector) {
  const double square = w.b * w.b + w.c * w.c;
  if (w.a >= 0 && w.a * w.a >= square) return false;
  const Vec2 bc(w.b, w.c);
  if (w.a + bc.dot(sector.lo) < 0 || w.a + bc.dot(sector.hi) < 0) return true;
  if (sector.slew.width() > 3.1) return least(w, sector).value < 0;
  // The trough, where the wave is below zero, lies against (b, c).
  return cross2(sector.lo, -bc) >= 0 && cross2(-bc, sector.hi) >= 0;
}

double no_more_than(const Wave& w, const Sector& sector) {
  const Vec2 bc(w.b, w.c);
  const bool trough =
      sector.slew.width() > 3.1 || (cross2(sector.lo, -bc) >= 0 && cross2(-bc, sector.hi) >= 0);
  if (trough) return w.a - std::sqrt(w.b * w.b + w.c * w.c);
  return w.a + std::min(bc.dot(sector.lo), bc.dot(sector.hi));
}

SlewLeast least(const Wave& w, const Interval& slew) { return least(w, Sector(slew)); }

SlewLeast least(const Wave& w, const Sector& sector) {
  const Interval& slew = sector.slew;
  SlewLeast out{w.at(sector.lo), slew.lo};
  if (const double there = w.at(sector.hi); there < out.value) out = {there, slew.hi};
  const double square = w.b * w.b + w.c * w.c, below = w.a - out.value;
  if (below > 0 && square <= below * below) return out;
  const double bottom = w.a - std::sqrt(square);
  if (!(bottom < out.value)) return out;
  const Vec2 trough(-w.b, -w.c);
  const bool narrow = slew.width() <= 3.1;
  if (narrow && (cross2(sector.lo, trough) < 0 || cross2(trough, sector.hi) < 0)) return out;
  if (const double angle = inside(std::atan2(w.c, w.b) + kPi, slew); std::isfinite(angle))
    out = {bottom, angle};
  return out;
}

std::vector<double> zeros(const Wave& w, const Interval& slew) {
  std::vector<double> out;
  add_roots(w, slew, out);
  std::sort(out.begin(), out.end());
  return out;
}

int sign_on(const Wave& w, const Interval& slew) { return sign_on(w, Sector(slew)); }

int sign_on(const Wave& w, const Sector& sector) {
  if (w.a * w.a >= w.b * w.b + w.c * w.c) return w.a >= 0 ? 1 : -1;
  if (!falls_below_zero(w, sector)) return 1;
  return falls_below_zero(-1.0 * w, sector) ? 0 : -1;
}

SlewLeast least(const Wave& smooth, std::span<const Kinked> kinked, const Interval& slew) {
  return least(smooth, kinked, Sector(slew));
}

SlewLeast least(const Wave& smooth, std::span<const Kinked> kinked, const Sector& sector) {
  if (kinked.empty()) return least(smooth, sector);
  const Interval& slew = sector.slew;
  std::vector<double> cuts;
  cuts.reserve(2 * kinked.size() + 1);
  for (const Kinked& k : kinked) add_roots(k.wave, slew, cuts);
  std::sort(cuts.begin(), cuts.end());
  cuts.push_back(slew.hi);
  SlewLeast out;
  Sector piece = sector;
  for (const double hi : cuts) {
    piece.slew.hi = hi;
    piece.hi = hi == slew.hi ? sector.hi : direction_of(hi);
    Wave sum = smooth;
    const Vec2 middle = direction_of(piece.slew.middle());
    for (const Kinked& k : kinked) sum += (k.wave.at(middle) < 0 ? k.factor : 1.0) * k.wave;
    const SlewLeast there = least(sum, piece);
    if (!(there.value >= out.value)) out = there;
    piece.slew.lo = hi;
    piece.lo = piece.hi;
  }
  return out;
}

}  // namespace rimstance
