// What a boom kind must answer: positions worked by hand, and the laws that the search for the worst state
// stands on (boom.hpp).
#include "rimstance/loads/boom.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "drawn.hpp"

namespace rimstance {
namespace {

/// Sections of 3.2, 3.0 and 2.8 m; the outer two run out by 2.7 and 2.0 m.
Boom three_sections(Boom::Order order) {
  Boom boom;
  boom.foot = Vec3::Zero();
  boom.order = order;
  for (const auto& [length, stroke, mass] : {std::tuple{3.2, 0.0, 18.0}, {3.0, 2.7, 12.0}, {2.8, 2.0, 7.0}}) {
    BoomSection s;
    s.length = length;
    s.stroke = stroke;
    s.mass = mass;
    boom.sections.push_back(s);
  }
  return boom;
}

double centre(const BoomShape& boom, int k, double e) {
  return boom.part(k, e).moment / boom.part(k, e).mass;
}

/// Extensions from 0 to the greatest, the breakpoints among them.
std::vector<double> extensions(const BoomShape& boom) {
  std::vector<double> out = boom.breakpoints();
  for (int i = 0; i <= 60; ++i) out.push_back(boom.greatest_extension() * i / 60);
  std::sort(out.begin(), out.end());
  return out;
}

/// Every three neighbouring values go the same way, within rounding.
bool monotone(const std::vector<double>& v) {
  double least = 0, greatest = 0;
  for (std::size_t i = 1; i < v.size(); ++i) {
    least = std::min(least, v[i] - v[i - 1]);
    greatest = std::max(greatest, v[i] - v[i - 1]);
  }
  return !(least < -1e-12 && greatest > 1e-12);
}

TEST_CASE("structural rows of one moment: the next row's load, or the moment itself") {
  StructuralLimit limit;
  limit.rows = {{2, 260}, {8, 65}};
  CHECK(structural_load(limit, 1) == 260);
  CHECK(structural_load(limit, 2) == 260);
  CHECK(structural_load(limit, 4) == 65);
  limit.between = StructuralLimit::Between::moment;
  CHECK(structural_load(limit, 4) == Approx(520.0 / 4));
  CHECK(structural_load(limit, 8.001) == 0);
}

}  // namespace

TEST_CASE("a telescope whose sections run together shares the extension by their strokes") {
  // Extension 2.35 = half of 2.7 + 2.0: tips at 3.2 + 1.35 = 4.55 and 4.55 + 1.0 = 5.55, centres half a
  // section further in.
  const auto boom = boom_shape(three_sections(Boom::Order::together));
  REQUIRE(boom->parts() == 3);
  CHECK(boom->greatest_extension() == Approx(4.7));
  CHECK(boom->length(2.35) == Approx(5.55));
  CHECK(centre(*boom, 0, 2.35) == Approx(1.6));
  CHECK(centre(*boom, 1, 2.35) == Approx(4.55 - 1.5));
  CHECK(centre(*boom, 2, 2.35) == Approx(5.55 - 1.4));
  CHECK(boom->breakpoints().empty());
}

TEST_CASE("a telescope whose sections run in order moves section 1 first, carrying the inner ones") {
  const auto boom = boom_shape(three_sections(Boom::Order::in_order));
  // 1.7 of 2.7 m: section 2 still sits fully inside section 1, tips together at 4.9.
  CHECK(centre(*boom, 1, 1.7) == Approx(4.9 - 1.5));
  CHECK(centre(*boom, 2, 1.7) == Approx(4.9 - 1.4));
  // 3.7 m: section 1 is out by 2.7, section 2 by the 1.0 that is left.
  CHECK(centre(*boom, 1, 3.7) == Approx(5.9 - 1.5));
  CHECK(centre(*boom, 2, 3.7) == Approx(6.9 - 1.4));
  CHECK(boom->length(3.7) == Approx(6.9));
  REQUIRE(boom->breakpoints().size() == 1);
  CHECK(boom->breakpoints()[0] == Approx(2.7));
}

TEST_CASE("both orders agree when everything is in and when everything is out") {
  const auto together = boom_shape(three_sections(Boom::Order::together));
  const auto in_order = boom_shape(three_sections(Boom::Order::in_order));
  for (const double e : {0.0, 4.7})
    for (int k = 0; k < 3; ++k)
      CHECK(centre(*together, k, e) == Approx(centre(*in_order, k, e)).epsilon(1e-14));
}

TEST_CASE("a section's centre of mass may be declared anywhere along it") {
  Boom boom = three_sections(Boom::Order::together);
  boom.sections[1].centre_at = 0.2;
  // Retracted: section 1 covers [0.2, 3.2].
  CHECK(centre(*boom_shape(boom), 1, 0) == Approx(0.2 + 0.2 * 3.0));
}

TEST_CASE("a scissor boom keeps its centre at half its length and cannot pass cells times bar") {
  Boom b;
  b.kind = Boom::Kind::scissor;
  b.foot = Vec3::Zero();
  b.cells = 8;
  b.bar = 0.5;
  b.retracted = 0.8;
  b.mass = 24;
  const auto boom = boom_shape(b);
  CHECK(boom->greatest_extension() == Approx(8 * 0.5 - 0.8));
  CHECK(boom->length(1.2) == Approx(2.0));
  CHECK(boom->part(0, 1.2).mass == 24);
  CHECK(centre(*boom, 0, 1.2) == Approx(1.0));
}

TEST_CASE("a rigid chain weighs outboard by its length; the magazine keeps the rest") {
  Boom b;
  b.kind = Boom::Kind::rigid_chain;
  b.foot = Vec3::Zero();
  b.retracted = 0.5;
  b.chain_mass = 6;
  b.chain_length = 5;
  b.magazine = Vec3(-0.2, 0, 0.1);
  const auto boom = boom_shape(b);
  CHECK(boom->greatest_extension() == Approx(4.5));
  CHECK(boom->part(0, 2.5).mass == Approx(6 * 3.0));
  CHECK(centre(*boom, 0, 2.5) == Approx(1.5));
  CHECK(boom->in_magazine(2.5) == Approx(6 * 2.0));
  for (double e = 0; e <= 4.5; e += 0.5)
    CHECK(boom->part(0, e).mass + boom->in_magazine(e) == Approx(30).epsilon(1e-14));
  CHECK(boom->in_magazine(4.5) == Approx(0).margin(1e-12));
}

namespace {

/// Restoring moment of all weights about an upright edge plane at x = d with the machine behind it [N m].
double about_front_edge(const Scenario& s, const CraneState& at, double d) {
  const MachineLoads loads = machine_loads(s, drawn::splay(s.machine));
  LoadCase plain;
  plain.mass_margin = false;
  Vec6 w = Vec6::Zero();
  for (const Part& part : parts(loads, at, plain, true, false))
    w += weight(part, {0, 0, -s.gravity}).at(at.slew);
  return -d * w[2] - w[4];
}

/// A crane of one body of 2000 kg, 0.3 m behind its slew axis, and a boom from the axis; nothing else weighs.
Scenario bare_crane() {
  Scenario s = rigs::dunlin();
  Machine& m = s.machine;
  m.chassis.bodies = {rigs::body("machine", 2000, {-0.3, 0, 0.9})};
  m.outriggers.clear();
  m.platform.axis = Vec3(0, 0, 0.8);
  m.platform.bodies.clear();
  m.container.reset();
  m.guide.reset();
  m.hoist = Hoist{};
  m.boom = Boom{};
  m.boom.foot = Vec3::Zero();
  return s;
}

}  // namespace

TEST_CASE("a scissor crane tips over its front edge at the load that the balance of moments gives") {
  // m_t = (M (d - x_M) - m_b (r_b - d)) / (R - d): M 2000 kg at -0.3 m, boom 150 kg with its middle at 3 m,
  // reach 6 m, edge at 2 m: 1112.5 kg (the balance point of SAE J765).
  Scenario s = bare_crane();
  Boom& boom = s.machine.boom;
  boom.kind = Boom::Kind::scissor;
  boom.retracted = 1;
  boom.cells = 16;
  boom.bar = 0.5;
  boom.mass = 150;
  CraneState at;
  at.extension = 5;
  s.payload.mass = (2000 * (2.0 + 0.3) - 150 * (3.0 - 2)) / (6.0 - 2);
  CHECK(s.payload.mass == 1112.5);
  CHECK(about_front_edge(s, at, 2) == Approx(0).margin(1e-9));
  // Luffed by 50 deg, 4 m long: half and whole of 4 cos(50).
  at.luff = radians(50);
  at.extension = 3;
  const double ahead = 4 * std::cos(radians(50));
  CHECK(about_front_edge(s, at, 2) ==
        Approx(1.62 * (2000 * 2.3 - 150 * (ahead / 2 - 2) - 1112.5 * (ahead - 2))).epsilon(1e-12));
}

TEST_CASE("a chain crane: what runs out overturns, what is left in the magazine holds down") {
  Scenario s = bare_crane();
  Boom& boom = s.machine.boom;
  boom.kind = Boom::Kind::rigid_chain;
  boom.retracted = 1;
  boom.chain_mass = 25;
  boom.chain_length = 10;
  boom.magazine = Vec3(-0.5, 0, 0.2);
  s.payload.mass = 300;
  for (const double length : {1.0, 3.0, 6.0, 10.0}) {
    CraneState at;
    at.extension = length - 1;
    // Outboard 25 kg/m with its middle at half the length, the rest at -0.5 m.
    const double by_hand =
        2000 * 2.3 - 25 * length * (length / 2 - 2) + 25 * (10 - length) * (2 + 0.5) - 300 * (length - 2);
    CHECK(about_front_edge(s, at, 2) == Approx(1.62 * by_hand).epsilon(1e-12));
    // Turned to the rear, every lever of boom and magazine changes its side.
    at.slew = kPi;
    const double turned =
        2000 * 2.3 + 25 * length * (length / 2 + 2) + 25 * (10 - length) * (2 - 0.5) + 300 * (length + 2);
    CHECK(about_front_edge(s, at, 2) == Approx(1.62 * turned).epsilon(1e-12));
  }
}

TEST_CASE("F is the boom's first moment over its length") {
  // Centres at 1.6, 3.05 and 4.15 of 5.55 m (see above): (18 * 1.6 + 12 * 3.05 + 7 * 4.15) / 5.55 kg.
  const auto boom = boom_shape(three_sections(Boom::Order::together));
  CHECK(boom_equivalent(*boom, 2.35) == Approx((18 * 1.6 + 12 * 3.05 + 7 * 4.15) / 5.55).epsilon(1e-14));
}

TEST_CASE("the laws of every boom kind hold: nothing comes in while it runs out, and no hidden bends") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{101, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const auto boom = boom_shape(drawn::boom(draw, rigs::dunlin_boom()));
    const std::vector<double> all = extensions(*boom);
    std::vector<double> stops{0};
    for (const double at : boom->breakpoints()) stops.push_back(at);
    stops.push_back(boom->greatest_extension());
    for (std::size_t j = 1; j < all.size(); ++j) {
      CHECK(boom->length(all[j]) >= boom->length(all[j - 1]));
      for (int k = 0; k < boom->parts(); ++k)
        CHECK(boom->part(k, all[j]).moment >= boom->part(k, all[j - 1]).moment - 1e-12);
    }
    for (std::size_t j = 1; j < stops.size(); ++j) {
      const double lo = stops[j - 1], hi = stops[j], middle = lo + (hi - lo) * draw.in(0, 1);
      const double share = hi > lo ? (middle - lo) / (hi - lo) : 0;
      CHECK(boom->length(middle) ==
            Approx((1 - share) * boom->length(lo) + share * boom->length(hi)).epsilon(1e-13));
      for (int k = 0; k < boom->parts(); ++k) {
        std::vector<double> lever, mass;
        for (int s = 0; s <= 20; ++s) {
          const double e = lo + (hi - lo) * s / 20;
          lever.push_back(boom->part(k, e).moment / boom->length(e));
          mass.push_back(boom->part(k, e).mass);
        }
        CHECK(monotone(lever));
        CHECK(monotone(mass));
        // Linear masses, quadratic moments: third and second differences vanish.
        const auto moment = [&](int at) { return boom->part(k, lo + (hi - lo) * at / 20).moment; };
        CHECK(mass[20] - 2 * mass[10] + mass[0] == Approx(0).margin(1e-12 * (1 + mass[20])));
        CHECK(moment(18) - 3 * moment(12) + 3 * moment(6) - moment(0) ==
              Approx(0).margin(1e-12 * (1 + std::abs(moment(18)))));
      }
    }
  }
}

TEST_CASE("a boom's mass does not change as it runs out") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{102, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const auto boom = boom_shape(drawn::boom(draw, rigs::dunlin_boom()));
    const auto total = [&](double e) {
      double sum = boom->in_magazine(e);
      for (int k = 0; k < boom->parts(); ++k) sum += boom->part(k, e).mass;
      return sum;
    };
    const double e = draw.in(0, boom->greatest_extension());
    CHECK(total(e) == Approx(total(0)).epsilon(1e-13));
  }
}

TEST_CASE("sections stand where walking along the telescope finds them") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{103, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Boom b = drawn::telescope(draw, rigs::dunlin_boom());
    const auto boom = boom_shape(b);
    const double e = draw.in(0, boom->greatest_extension());
    const auto by_hand = drawn::sections_by_hand(b, e);
    for (int k = 0; k < boom->parts(); ++k)
      CHECK(centre(*boom, k, e) ==
            Approx(by_hand[static_cast<std::size_t>(k)].second).epsilon(1e-12).margin(1e-12));
    CHECK(boom->length(e) == Approx(by_hand.back().first).epsilon(1e-13));
  }
}

}  // namespace rimstance
