// Lifting a load off: factors against closed forms and the standard's table.
#include "rimstance/loads/hoisting.hpp"

#include <Eigen/LU>
#include <array>
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rigs.hpp"
#include "rimstance/loads/load_case.hpp"
#include "stance/draw.hpp"

namespace rimstance {
namespace {

constexpr double kMoon = 1.62, kEarth = 9.80665;

TEST_CASE("a load taken up at v by a spring k swings by v sqrt(m / k): phi = 1 + v / g sqrt(k / m)") {
  // k = 50 kN/m, m = 300 kg: omega = 12.90994 rad/s; m x'' = m g - k x from rest length at speed v has the
  // greatest force m g + v sqrt(k m).
  const double k = 50e3, m = 300, v = 0.05;
  CHECK(std::sqrt(k / m) == Approx(12.90994).epsilon(1e-6));
  for (const double g : {kMoon, kEarth})
    CHECK(hoisting_factor(v, g, k, m) * m * g == Approx(m * g + v * std::sqrt(k * m)).epsilon(1e-14));
  CHECK(hoisting_factor(v, kEarth, k, m) == Approx(1.065822).margin(5e-7));
  CHECK(hoisting_factor(v, kMoon, k, m) == Approx(1.398455).margin(5e-7));
}

TEST_CASE("the swing of a load being lifted, integrated, has the greatest force that phi says") {
  const double k = 20e3, m = 80, v = 0.12;
  for (const double g : {kMoon, kEarth}) {
    // Stretch x of the spring while the hoist runs in: m x'' = v-driven; leapfrog from the moment of
    // lift-off.
    double x = m * g / k, speed = v, greatest = 0;
    const double dt = 1e-6;
    for (int step = 0; step < 400000; ++step) {
      speed += (g - k * x / m) * dt;
      x += speed * dt;
      greatest = std::max(greatest, k * x);
    }
    CHECK(greatest / (m * g) == Approx(hoisting_factor(v, g, k, m)).epsilon(1e-4));
  }
}

TEST_CASE("phi - 1 on the Moon is 6.05 times that on Earth, and more force in newtons on neither") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{91, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const double v = draw.in(0.01, 0.5), k = draw.in(1e3, 1e6), m = draw.in(1, 1000);
    const double moon = hoisting_factor(v, kMoon, k, m) - 1, earth = hoisting_factor(v, kEarth, k, m) - 1;
    CHECK(moon / earth == Approx(kEarth / kMoon).epsilon(1e-12));
    CHECK(moon * kMoon == Approx(earth * kEarth).epsilon(1e-12));
  }
  CHECK(kEarth / kMoon == Approx(6.05).margin(5e-3));
  CHECK(hoisting_factor(0.05, kMoon, 50e3, 0) == 1);
}

TEST_CASE("the factor of physics on Earth grows with speed as the standard's phi_2 = phi_2,min + beta_2 v") {
  // ISO 8686-1 / EN 13001-2: HC1 beta_2 = 0.17 s/m ... HC4 0.68 s/m (two public code bases give these, the
  // standard itself from memory). beta_2 = sqrt(k / m) / g: the classes are frequencies of 1.7 to 6.7 rad/s.
  for (const double beta : {0.17, 0.34, 0.51, 0.68}) {
    const double m = 500, k = m * std::pow(beta * kEarth, 2);
    for (const double v : {0.05, 0.10, 0.25, 0.50})
      CHECK(hoisting_factor(v, kEarth, k, m) == Approx(1 + beta * v).epsilon(1e-14));
  }
}

TEST_CASE("the line's spring is EA / l; without line or EA it is rigid and leaves the series") {
  Hoist h;
  CHECK(line_stiffness(h, 40) == kInfinity);
  h.line_EA = 80e3;
  CHECK(line_stiffness(h, 40) == 2e3);
  CHECK(line_stiffness(h, 0) == kInfinity);
  const std::array springs{2e3, kInfinity, 3e3};
  CHECK(in_series(springs) == Approx(1 / (1 / 2e3 + 1 / 3e3)).epsilon(1e-15));
  CHECK(in_series(std::array{kInfinity, kInfinity}) == kInfinity);
}

TEST_CASE("no load on the chassis meets outriggers stiffer than their sum; amidst them it meets just that") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{92, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Machine m;
    Mat3 S = Mat3::Zero();
    Vec3 centre = Vec3::Zero();
    for (int k = 0; k < 4; ++k) {
      Outrigger o;
      o.stiffness = draw.in(10e3, 100e3);
      const Vec3 u(1, draw.in(-3, 3), draw.in(-3, 3));
      S += o.stiffness * u * u.transpose();
      centre += o.stiffness * u;
      m.outriggers.push_back(o);
    }
    const double sum = outrigger_stiffness(m);
    centre /= sum;
    const auto at = [&](const Vec3& u) { return 1 / u.dot(S.inverse() * u); };
    CHECK(at(centre) == Approx(sum).epsilon(1e-9));
    CHECK(at({1, draw.in(-6, 6), draw.in(-6, 6)}) <= sum * (1 + 1e-9));
  }
}

/// A telescope of two sections with E I, its inner one longer than it runs out.
Boom telescope(double base, double inner) {
  Boom b = rigs::dunlin_boom();
  b.sections[0].bending_stiffness = base;
  b.sections[1].bending_stiffness = inner;
  return b;
}

TEST_CASE("a boom of one bending stiffness is the cantilever: k = 3 E I / L^3, over cos^2 of its luff") {
  Boom b = telescope(2e4, 2e4);
  b.sections.resize(1);
  const auto shape = boom_shape(b);
  const double k = 3 * 2e4 / std::pow(3.2, 3);
  CHECK(boom_stiffness(b, *shape, 0, 0) == Approx(k).epsilon(1e-13));
  CHECK(boom_stiffness(b, *shape, radians(60), 0) == Approx(4 * k).epsilon(1e-13));
}

TEST_CASE("sections that overlap bend as one: the tip's way is the integral of (L - x)^2 / (E I)") {
  const Boom b = telescope(3e4, 1e4);
  const auto shape = boom_shape(b);
  for (const double e : {0.0, 0.7, 2.7}) {
    const double L = 3.2 + e;
    double way = 0;
    const int n = 200000;
    for (int i = 0; i < n; ++i) {
      const double x = (i + 0.5) * L / n;
      const double stiffness = (x < 3.2 ? 3e4 : 0) + (x > L - 3.0 ? 1e4 : 0);
      way += (L - x) * (L - x) / stiffness * L / n;
    }
    CHECK(boom_stiffness(b, *shape, 0, e) == Approx(1 / way).epsilon(1e-4));
  }
  Boom half = b;
  half.sections[1].bending_stiffness = kUnset;
  CHECK(!bends(half));
  CHECK(boom_stiffness(half, *shape, 0, 1) == kInfinity);
}

TEST_CASE("the factor of a case is that of the stiffest and lightest pick-up of its operation") {
  Scenario s = rigs::dunlin();
  s.operation.line = {2, 40};
  LoadCase c;
  c.hoisting_computed = true;
  const LoadCase r = resolved(c, s);
  // Line of 2 m in series with four outriggers of 55 kN/m; payload, head and those 2 m hang.
  const double k = 1 / (2 / 80e3 + 1 / (4 * 55e3)), m = 14 + 6 + 0.05 * 2;
  const double phi = 1 + 0.05 / 1.62 * std::sqrt(k / m);
  CHECK(r.hoisting == Approx(phi).epsilon(1e-13));
  const Hung h = hung(r, s.machine.hoist, 14, true);
  CHECK(h.fixed == Approx(phi * 20).epsilon(1e-13));
  CHECK(h.per_line == Approx(phi * 0.05).epsilon(1e-13));
  // Another payload has a factor of its own; without one the head alone is lifted.
  CHECK(hung(r, s.machine.hoist, 94, true).fixed ==
        Approx(100 * (1 + 0.05 / 1.62 * std::sqrt(k / 100.1))).epsilon(1e-13));
  c.payload = false;
  CHECK(resolved(c, s).hoisting == Approx(1 + 0.05 / 1.62 * std::sqrt(k / 6.1)).epsilon(1e-13));
  // No pick-up of the operation has more.
  for (const double line : {2.0, 10.0, 40.0}) {
    const std::array springs{line_stiffness(s.machine.hoist, line), outrigger_stiffness(s.machine)};
    CHECK(hoisting_factor(0.05, 1.62, in_series(springs), 20 + 0.05 * line) <= phi + 1e-12);
  }
}

TEST_CASE("what hangs under the factor of physics: its inverses, its least, and the quadratic in sqrt(P)") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{471, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const double lightest = draw.in(0.5, 20);
    const Lift lift{draw.in(0.1, 40), lightest, lightest + (draw.in(0, 1) < 0.3 ? 0 : draw.in(0, 60))};
    const double turn = lift.turn(), payload = draw.in(0, 300);
    for (int k = 0; k < 50; ++k) CHECK(lift.mass(draw.in(0, 100)) >= lift.mass(turn) * (1 - 1e-14));
    CHECK(lift.rising_to(lift.mass(turn + payload)) == Approx(turn + payload).epsilon(1e-7).margin(1e-5));
    const double before = draw.in(0, 1) * turn;
    CHECK(lift.falling_to(lift.mass(before)) == Approx(before).margin(1e-4 * (1 + turn)));
    // Where no more line is out than at the pick-up: P + C sqrt(P) = x, so sqrt(P) = (sqrt(C^2 + 4 x) - C)
    // / 2.
    const Lift plain{lift.rate, lightest, lightest};
    const double x = plain.mass(payload);
    const double root = (std::sqrt(lift.rate * lift.rate + 4 * x) - lift.rate) / 2;
    CHECK(plain.rising_to(x) == Approx(root * root - lightest).margin(1e-9));
    CHECK(plain.turn() == 0);
  }
}

}  // namespace
}  // namespace rimstance
