// Bending along a boom: free bodies worked by hand, slices added up, and
// textbook cantilevers.
#include "rimstance/loads/boom_bending.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "drawn.hpp"

namespace rimstance {
namespace {

constexpr double kGravity = 1.62;

/// One section of a length and mass; `stiffness` E I.
Boom plain(double length, double mass, double stiffness) {
  Boom boom;
  boom.sections.resize(1);
  boom.sections[0].length = length;
  boom.sections[0].mass = mass;
  boom.sections[0].bending_stiffness = stiffness;
  return boom;
}

BoomLoad load_of(const Boom& boom, double extension, double at_tip) {
  const auto shape = boom_shape(boom);
  BoomLoad load;
  load.own = stretches(boom, *shape, extension);
  load.length = shape->length(extension);
  load.at_tip = at_tip;
  load.across = kGravity;
  load.lengthwise = 0;
  return load;
}

/// The same cut, the boom sawn into a thousand slices a stretch.
BoomCut sawn(const BoomLoad& load, double at) {
  constexpr int kSlices = 1000;
  double mass = load.at_tip, moment = load.at_tip * (load.length - at);
  for (const Stretch& s : load.own)
    for (int i = 0; i < kSlices; ++i) {
      const double place = s.lo + (s.hi - s.lo) * (i + 0.5) / kSlices;
      if (place < at) continue;
      mass += s.mass / kSlices;
      moment += s.mass / kSlices * (place - at);
    }
  return {at, load.across * moment, load.across * mass, load.lengthwise * mass};
}

}  // namespace

TEST_CASE(
    "bending: a retracted and a run-out telescope, moments at the root "
    "and where section 1 leaves") {
  Boom boom = plain(4, 24, kUnset);
  BoomSection inner;
  inner.length = 4;
  inner.stroke = 3;
  inner.mass = 16;
  boom.sections.push_back(inner);
  // Run out by 3: section 1 covers [3, 7], section 0 [0, 4]; 50 kg hang at 7.
  const BoomLoad load = load_of(boom, 3, 50);
  CHECK(section_ends(boom, *boom_shape(boom), 3) == std::vector<double>{4, 7});
  const BoomCut root = cut(load, 0), leaves = cut(load, 4);
  CHECK(root.moment == Approx(kGravity * (24 * 2 + 16 * 5 + 50 * 7)));
  CHECK(root.shear == Approx(kGravity * (24 + 16 + 50)));
  // Outboard of 4: three quarters of section 1, its middle 1.5 on.
  CHECK(leaves.moment == Approx(kGravity * (12 * 1.5 + 50 * 3)));
  CHECK(leaves.shear == Approx(kGravity * (12 + 50)));
  // Retracted: everything ends at 4, and the tip carries nothing but its load.
  CHECK(cut(load_of(boom, 0, 50), 0).moment == Approx(kGravity * (24 * 2 + 16 * 2 + 50 * 4)));
  CHECK(cut(load_of(boom, 0, 50), 4).moment == Approx(0).margin(1e-9));
  CHECK(cut(load_of(boom, 0, 50), 4).shear == Approx(kGravity * 50));
}

TEST_CASE("bending: a scissor spreads over what is out, a chain by its length") {
  Boom scissor;
  scissor.kind = Boom::Kind::scissor;
  scissor.cells = 8;
  scissor.bar = 0.5;
  scissor.retracted = 0.8;
  scissor.mass = 24;
  // 2 m out: 12 kg/m. Outboard of 0.5: 18 kg, middle 0.75 on.
  CHECK(cut(load_of(scissor, 1.2, 10), 0).moment == Approx(kGravity * (24 * 1 + 10 * 2)));
  CHECK(cut(load_of(scissor, 1.2, 10), 0.5).moment == Approx(kGravity * (18 * 0.75 + 10 * 1.5)));
  Boom chain;
  chain.kind = Boom::Kind::rigid_chain;
  chain.retracted = 0.5;
  chain.chain_mass = 6;
  chain.chain_length = 5;
  chain.magazine = Vec3(-0.2, 0, 0.1);
  CHECK(cut(load_of(chain, 2.5, 10), 0).moment == Approx(kGravity * (18 * 1.5 + 10 * 3)));
  CHECK(cut(load_of(chain, 2.5, 10), 2).moment == Approx(kGravity * (6 * 0.5 + 10 * 1)));
}

TEST_CASE(
    "bending: any boom, any cut, as if it were sawn into slices; beyond "
    "the tip nothing is left") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{501, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Boom boom = drawn::boom(draw, rigs::dunlin_boom());
    BoomLoad load = load_of(boom, draw.in(0, boom_shape(boom)->greatest_extension()), draw.in(0, 50));
    load.lengthwise = draw.in(-1, 1);
    const double at = draw.in(0.01, load.length);
    const BoomCut exact = cut(load, at), slices = sawn(load, at);
    double own = 0;
    for (const Stretch& s : load.own) own += s.mass;
    // A slice that the cut meets counts whole or not at all.
    CHECK(exact.shear == Approx(slices.shear).margin(kGravity * own / 1000));
    CHECK(exact.moment == Approx(slices.moment).margin(kGravity * own * load.length / 1e6));
    CHECK(exact.axial == Approx(exact.shear * load.lengthwise / load.across).margin(1e-12));
    CHECK(cut(load, load.length + 0.01).shear == 0);
  }
}

TEST_CASE(
    "bending: the moment falls along the boom by the shear, and starts "
    "as the parts' first moment") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{502, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Boom boom = drawn::boom(draw, rigs::dunlin_boom());
    const auto shape = boom_shape(boom);
    const double extension = draw.in(0, shape->greatest_extension());
    const BoomLoad load = load_of(boom, extension, draw.in(0, 50));
    bool behind_pin = false;
    double first = load.at_tip * load.length;
    for (const Stretch& s : load.own) behind_pin = behind_pin || s.lo < -1e-12;
    for (int k = 0; k < shape->parts(); ++k) first += shape->part(k, extension).moment;
    if (!behind_pin) CHECK(cut(load, 0).moment == Approx(kGravity * first).epsilon(1e-12));
    // Shear is piecewise linear: between two cuts without an end of a stretch
    // its mean is the two ends'.
    const double a = draw.in(0, load.length * 0.998), b = a + load.length * 1e-3;
    const auto between = [&](double x) { return x > a && x < b; };
    if (std::any_of(load.own.begin(), load.own.end(),
                    [&](const Stretch& s) { return between(s.lo) || between(s.hi); }))
      continue;
    CHECK(cut(load, a).moment - cut(load, b).moment ==
          Approx((b - a) * (cut(load, a).shear + cut(load, b).shear) / 2).margin(1e-9));
  }
}

TEST_CASE(
    "deflection: an even cantilever with a load at its tip, w L^4 / 8 E "
    "I + P L^3 / 3 E I") {
  // Any textbook of strength of materials, for instance Timoshenko 1955, table
  // of beams.
  const double length = 5, mass = 20, tip = 30, stiffness = 4e4;
  const Boom boom = plain(length, mass, stiffness);
  const double w = kGravity * mass / length, p = kGravity * tip;
  CHECK(tip_deflection(boom, *boom_shape(boom), 0, load_of(boom, 0, tip)) ==
        Approx(w * std::pow(length, 4) / (8 * stiffness) + p * std::pow(length, 3) / (3 * stiffness))
            .epsilon(1e-12));
}

TEST_CASE(
    "deflection: each section bends over the piece between the one "
    "before and its own end") {
  // Without weight of its own, load P at L, E I_1 up to a and E I_2 beyond:
  // P / 3 ((L^3 - (L - a)^3) / E I_1 + (L - a)^3 / E I_2).
  Boom boom = plain(4, 1e-9, 6e4);
  BoomSection inner;
  inner.length = 4;
  inner.stroke = 3;
  inner.mass = 1e-9;
  inner.bending_stiffness = 2e4;
  boom.sections.push_back(inner);
  const double tip = 50, out = 2.5, L = 6.5, a = 4;
  const double expected =
      kGravity * tip / 3 * ((std::pow(L, 3) - std::pow(L - a, 3)) / 6e4 + std::pow(L - a, 3) / 2e4);
  CHECK(tip_deflection(boom, *boom_shape(boom), out, load_of(boom, out, tip)) ==
        Approx(expected).epsilon(1e-9));
}

TEST_CASE(
    "deflection: unknown where a section that bends has no stiffness, "
    "and for scissors") {
  Boom boom = plain(4, 24, 6e4);
  BoomSection inner;
  inner.length = 4;
  inner.stroke = 3;
  inner.mass = 16;
  boom.sections.push_back(inner);
  CHECK(std::isnan(tip_deflection(boom, *boom_shape(boom), 1, load_of(boom, 1, 10))));
  Boom scissor;
  scissor.kind = Boom::Kind::scissor;
  scissor.cells = 8;
  scissor.bar = 0.5;
  scissor.retracted = 0.8;
  scissor.mass = 24;
  CHECK(std::isnan(tip_deflection(scissor, *boom_shape(scissor), 1, load_of(scissor, 1, 10))));
}

}  // namespace rimstance
