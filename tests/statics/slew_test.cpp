// The least of a first harmonic of the slew angle, in closed form, against dense sampling.
#include "rimstance/statics/slew.hpp"

#include <catch2/catch.hpp>
#include <vector>

#include "cases.hpp"
#include "stance/draw.hpp"

namespace rimstance {
namespace {

/// Samples per interval; between two of them a wave of amplitude r moves by at most r (width / n)^2 / 8 below
/// the lower one, for the slope is zero at an inner least.
constexpr int kSamples = 2000;

template <class F>
double sampled(const F& f, const Interval& slew) {
  double least = kInfinity;
  for (int k = 0; k <= kSamples; ++k) least = std::min(least, f(slew.lo + slew.width() * k / kSamples));
  return least;
}

Wave drawn_wave(Draw& draw) { return {draw.in(-3, 3), draw.in(-2, 2), draw.in(-2, 2)}; }
Interval drawn_slew(Draw& draw) {
  const double lo = draw.in(-9, 9);
  return {lo, lo + draw.in(0, 2 * kPi)};
}
double bend(const Wave& w, const Interval& slew) {
  return std::hypot(w.b, w.c) * std::pow(slew.width() / kSamples, 2);
}

}  // namespace

TEST_CASE("the least of a wave in closed form is never above, and never far below, its samples") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{411, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Wave w = drawn_wave(draw);
    const Interval slew = drawn_slew(draw);
    const SlewLeast found = least(w, slew);
    const double dense = sampled([&](double t) { return w.at(t); }, slew);
    CHECK(found.value <= dense + 1e-14);
    CHECK(found.value >= dense - bend(w, slew) - 1e-14);
    CHECK(slew.contains(found.slew));
    CHECK(w.at(found.slew) == Approx(found.value).margin(1e-13));
  }
}

TEST_CASE("over a whole turn the least of a wave is its mean less its amplitude") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{412, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Wave w = drawn_wave(draw);
    const double lo = draw.in(-9, 9);
    CHECK(least(w, {lo, lo + 2 * kPi}).value == Approx(w.a - std::hypot(w.b, w.c)).margin(1e-13));
  }
}

TEST_CASE("at a single angle the least is the value there") {
  const Wave w{0.3, -1.2, 0.7};
  CHECK(least(w, {1.1, 1.1}).value == w.at(1.1));
  CHECK(least(w, {1.1, 1.1}).slew == 1.1);
}

TEST_CASE("the sign over a sector is what the samples show") {
  int definite = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{413, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Wave w = drawn_wave(draw);
    const Interval slew = drawn_slew(draw);
    const double lowest = sampled([&](double t) { return w.at(t); }, slew);
    const double highest = -sampled([&](double t) { return -w.at(t); }, slew);
    const double doubt = bend(w, slew);
    if (std::abs(lowest) <= doubt || std::abs(highest) <= doubt) continue;
    const int expected = lowest > 0 ? 1 : highest < 0 ? -1 : 0;
    CHECK(sign_on(w, slew) == expected);
    definite += expected != 0;
  }
  CHECK(definite > cases() / 10);
}

TEST_CASE("waves that count more where negative are split at their roots: exact against dense sampling") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{414, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Wave smooth = drawn_wave(draw);
    std::vector<Kinked> kinked;
    double amplitude = bend(smooth, {0, 1});
    for (int k = static_cast<int>(draw.in(0, 4)); k > 0; --k) {
      kinked.push_back({drawn_wave(draw), 1 + draw.in(0, 0.5)});
      amplitude += kinked.back().factor * bend(kinked.back().wave, {0, 1});
    }
    const auto value = [&](double t) {
      double sum = smooth.at(t);
      for (const Kinked& k : kinked) sum += std::min(k.wave.at(t), k.factor * k.wave.at(t));
      return sum;
    };
    const Interval slew = drawn_slew(draw);
    const SlewLeast found = least(smooth, kinked, slew);
    const double dense = sampled(value, slew);
    CHECK(found.value <= dense + 1e-12);
    // A sum of minima has no kink that points down, so the bend bounds its least between samples.
    CHECK(found.value >= dense - amplitude * slew.width() * slew.width() - 1e-12);
    CHECK(value(found.slew) == Approx(found.value).margin(1e-12));
  }
}

}  // namespace rimstance
