#pragma once
#include <span>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// A scalar first harmonic of the slew angle: a + b cos(theta) + c sin(theta).
struct Wave {
  double a = 0, b = 0, c = 0;
  double at(double theta) const { return a + b * std::cos(theta) + c * std::sin(theta); }
  double at(const Vec2& direction) const { return a + b * direction.x() + c * direction.y(); }
  Wave& operator+=(const Wave& o) {
    a += o.a;
    b += o.b;
    c += o.c;
    return *this;
  }
  friend Wave operator+(Wave x, const Wave& y) { return x += y; }
  friend Wave operator*(double s, const Wave& w) { return {s * w.a, s * w.b, s * w.c}; }
};

/// A range of slew with the directions of its ends.
struct Sector {
  explicit Sector(const Interval& range);
  Interval slew;
  Vec2 lo, hi;  ///< unit vectors
};

/// Does the wave fall below zero on the sector? No trigonometry where the sector is at most half a turn.
bool falls_below_zero(const Wave&, const Sector&);
/// A bound below a wave on a sector, attained where that is at most half a turn.
double no_more_than(const Wave&, const Sector&);

struct SlewLeast {
  double value = kUnset;
  double slew = kUnset;  ///< in the interval asked
};

/// Exact least value on [lo, hi]: at an end or at atan2(c, b) + pi. No sampling.
SlewLeast least(const Wave&, const Interval& slew);
SlewLeast least(const Wave&, const Sector&);

/// Where the wave is zero strictly inside the interval, rising.
std::vector<double> zeros(const Wave&, const Interval& slew);

/// +1 where the wave is nowhere negative on the interval, -1 where nowhere positive, 0 otherwise.
int sign_on(const Wave&, const Interval& slew);
int sign_on(const Wave&, const Sector&);

/// A wave that counts as itself where positive and `factor` (> 0) times where negative.
struct Kinked {
  Wave wave;
  double factor = 1;
};

/// Least of smooth + sum(kinked) on the interval: split at the roots of the kinked waves; between two
/// roots the sum is a first harmonic, minimised in closed form.
SlewLeast least(const Wave& smooth, std::span<const Kinked> kinked, const Interval& slew);
SlewLeast least(const Wave& smooth, std::span<const Kinked> kinked, const Sector&);

}  // namespace rimstance
