// What must not change, or must change in a known way, when world, machine or numbers are changed.
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/stance/reactions.hpp"
#include "rimstance/statics/envelope.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using drawn::all_measures;
using drawn::kMeasures;
using drawn::near;
using drawn::size_of;
using drawn::Stance;

constexpr double kRelative = 1e-9;

/// Runs a property on drawn stances.
template <class Property>
void for_stances(std::uint64_t seed, bool margins, const Property& property) {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{seed, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Stance s = drawn::stance(draw, margins);
    property(draw, s);
  }
}

/// Every measure of `after` equals `factor(kind)` times that of `before`, edge by edge.
template <class Factor>
void check_scaled(const std::vector<Measures>& before, const std::vector<Measures>& after,
                  const Factor& factor, double relative = kRelative) {
  REQUIRE(before.size() == after.size());
  for (std::size_t e = 0; e < before.size(); ++e)
    for (const MarginKind kind : kMeasures) {
      const double k = factor(kind);
      double was = before[e].of(kind), is = after[e].of(kind);
      if (kind == MarginKind::moment_ratio) {  // what overturns may be nearly nothing, or nothing
        was = std::isnan(was) ? 0 : 1 / was;
        is = std::isnan(is) ? 0 : 1 / is;
      }
      CAPTURE(e, static_cast<int>(kind), was, is);
      CHECK(near(k * was, is, relative, k * size_of(kind)));
    }
}
void check_same(const std::vector<Measures>& before, const std::vector<Measures>& after,
                double relative = kRelative) {
  check_scaled(
      before, after, [](MarginKind) { return 1.0; }, relative);
}

Part turned(Part p, const Mat3& Q, const Vec3& shift) {
  p.fixed = Q * p.fixed + shift;
  p.cosine = Q * p.cosine;
  p.sine = Q * p.sine;
  return p;
}

/// The machine in a mirror: left and right change places.
Machine mirrored(Machine m) {
  const auto flip = [](Vec3& v) { v.y() = -v.y(); };
  for (Body& b : m.chassis.bodies) flip(b.at);
  for (Outrigger& o : m.outriggers) flip(o.pivot), o.zero = -o.zero, o.sense = -o.sense;
  flip(m.platform.axis);
  for (Body& b : m.platform.bodies) flip(b.at);
  flip(m.container->at);
  flip(m.boom.foot);
  if (m.boom.kind == Boom::Kind::rigid_chain) flip(m.boom.magazine);
  flip(m.guide->start);
  flip(m.guide->direction);
  for (Body& b : m.guide->bodies) flip(b.at);
  flip(m.hoist.drum);
  return m;
}

/// All lengths times k, all masses as they were.
void stretch(Stance& s, double k) {
  Machine& m = s.scenario.machine;
  for (Body& b : m.chassis.bodies) b.at *= k;
  for (Outrigger& o : m.outriggers) o.pivot *= k, o.arm *= k, o.drop *= k;
  for (double& stroke : s.stroke) stroke *= k;
  m.platform.axis *= k;
  for (Body& b : m.platform.bodies) b.at *= k;
  m.container->at *= k;
  Boom& boom = m.boom;
  boom.foot *= k;
  for (BoomSection& section : boom.sections) section.length *= k, section.stroke *= k;
  boom.retracted *= k, boom.bar *= k, boom.chain_length *= k, boom.chain_mass /= k, boom.magazine *= k;
  m.guide->start *= k;
  for (Body& b : m.guide->bodies) b.at *= k;
  m.hoist.drum *= k, m.hoist.line_length *= k, m.hoist.line_mass /= k;
  s.state.extension *= k, s.state.travel *= k, s.state.line *= k;
  s.X_WC.p *= k;
}

/// All masses times k.
void weigh(Scenario& s, double k) {
  Machine& m = s.machine;
  for (Body& b : m.chassis.bodies) b.mass *= k;
  for (Outrigger& o : m.outriggers) o.mass *= k;
  for (Body& b : m.platform.bodies) b.mass *= k;
  m.container->empty *= k, m.container->unit_mass *= k;
  for (BoomSection& section : m.boom.sections) section.mass *= k;
  m.boom.mass *= k, m.boom.chain_mass *= k;
  for (Body& b : m.guide->bodies) b.mass *= k;
  m.hoist.line_mass *= k, m.hoist.head_mass *= k;
  s.payload.mass *= k;
}

/// Basic masses without anything factored, the wrench in W about the first contact, and the foot forces.
Reactions feet(const Stance& s, const std::vector<Part>& all) {
  std::vector<Vec3> points;
  for (const Contact& c : s.contacts) points.push_back(c.p_W - s.contacts[0].p_W);
  Vec6 w = Vec6::Zero();
  for (const Part& p : all)
    w += wrench(p.mass * Vec3(0, 0, -s.scenario.gravity), s.X_WC * p.at(s.state.slew) - s.contacts[0].p_W);
  return reactions(points, supports(s.scenario.machine), w);
}
std::vector<Part> basic(const Stance& s) { return parts(s.loads, s.state, LoadCase{}, true, false); }

/// A centre of mass over the polygon: more frame in its middle.
void settle_down(Stance& s) {
  s.scenario.machine.chassis.bodies.push_back(rigs::body("ballast", 3000, Vec3(0, 0, 0.3)));
  s.scenario.payload.mass = 5;
  drawn::refresh(s);
}

}  // namespace

TEST_CASE("turning the whole world, gravity included, by any rotation and shift changes no measure") {
  for_stances(501, true, [](Draw& draw, Stance& s) {
    const Mat3 Q = drawn::any_rotation(draw);
    const Vec3 shift(draw.in(-1e3, 1e3), draw.in(-1e3, 1e3), draw.in(-1e3, 1e3));
    std::vector<Part> all = parts(s.loads, s.state, s.load_case, true, true), moved = all;
    for (Part& p : moved) p = turned(p, Q, shift);
    std::vector<Measures> before, after;
    for (const Edge& e : s.edges) {
      Edge there = e;
      there.p_C = Q * e.p_C + shift;
      there.a_C = Q * e.a_C;
      before.push_back(measures(all, tipping_axis(e, s.gravity_C, 0.02), s.state.slew));
      after.push_back(measures(moved, tipping_axis(there, Q * s.gravity_C, 0.02), s.state.slew));
    }
    check_same(before, after);
  });
}

TEST_CASE(
    "turning the world about the vertical and moving it changes no measure; the boom points elsewhere by "
    "that turn") {
  for_stances(502, true, [](Draw& draw, Stance& s) {
    const auto before = all_measures(s);
    const double psi = draw.in(-kPi, kPi);
    const Mat3 turn = rotation(psi, 0, 0);
    const auto towards = [&] {
      const Vec3 tip = s.X_WC * on_platform(s.scenario.machine.platform, Vec3(5, 0, 0), s.state.slew) -
                       s.X_WC * s.scenario.machine.platform.axis;
      return std::atan2(tip.y(), tip.x());
    };
    const double azimuth = towards();
    s.X_WC.R = turn * s.X_WC.R;
    s.X_WC.p = turn * s.X_WC.p + Vec3(draw.in(-1e3, 1e3), draw.in(-1e3, 1e3), draw.in(-1e3, 1e3));
    drawn::refresh(s);
    check_same(before, all_measures(s));
    CHECK(wrapped(towards() - azimuth - psi) == Approx(0).margin(1e-12));
  });
}

TEST_CASE("in a mirror, slewed the other way, the machine keeps what it keeps") {
  for_stances(503, true, [](Draw&, Stance& s) {
    const auto before = all_measures(s);
    const std::vector<Edge> edges = s.edges;
    const Mat3 mirror = Vec3(1, -1, 1).asDiagonal();
    s.scenario.machine = mirrored(s.scenario.machine);
    s.state.slew = -s.state.slew;
    s.X_WC.R = mirror * s.X_WC.R * mirror;
    s.X_WC.p = mirror * s.X_WC.p;
    drawn::refresh(s);
    // The walk goes round the other way: match edges by their two feet.
    const auto after = all_measures(s);
    std::vector<Measures> matched;
    for (const Edge& e : edges)
      for (std::size_t k = 0; k < s.edges.size(); ++k)
        if (s.edges[k].from == e.to && s.edges[k].to == e.from) matched.push_back(after[k]);
    check_same(before, matched);
  });
}

TEST_CASE("gravity times k: distances, shares, ratios and angles stay, moments and energies grow k times") {
  for_stances(504, true, [](Draw& draw, Stance& s) {
    const auto before = all_measures(s);
    const double k = draw.in(0.3, 7);
    s.scenario.gravity *= k;
    drawn::refresh(s);
    check_scaled(before, all_measures(s), [&](MarginKind kind) { return size_of(kind) > 1 ? k : 1.0; });
  });
}

TEST_CASE(
    "all masses times k: distances, shares, ratios and angles stay, moments, energies and feet grow k "
    "times") {
  for_stances(505, true, [](Draw& draw, Stance& s) {
    settle_down(s);
    const auto before = all_measures(s);
    const Reactions light = feet(s, basic(s));
    const double k = draw.in(0.3, 7);
    weigh(s.scenario, k);
    drawn::refresh(s);
    check_scaled(before, all_measures(s), [&](MarginKind kind) { return size_of(kind) > 1 ? k : 1.0; });
    const Reactions heavy = feet(s, basic(s));
    REQUIRE(heavy.normal.size() == light.normal.size());
    for (std::size_t i = 0; i < light.normal.size(); ++i)
      CHECK(near(heavy.normal[i], k * light.normal[i], kRelative, 1000 * k));
  });
}

TEST_CASE(
    "all lengths times k: distances, moments and energies grow k times, shares, ratios, angles and feet "
    "stay") {
  for_stances(506, true, [](Draw& draw, Stance& s) {
    settle_down(s);
    const auto before = all_measures(s);
    const Reactions small = feet(s, basic(s));
    const double k = draw.in(0.3, 7);
    stretch(s, k);
    drawn::refresh(s);
    check_scaled(before, all_measures(s), [&](MarginKind kind) {
      return size_of(kind) > 1 || kind == MarginKind::clearance ? k : 1.0;
    });
    const Reactions large = feet(s, basic(s));
    REQUIRE(large.normal.size() == small.normal.size());
    for (std::size_t i = 0; i < small.normal.size(); ++i)
      CHECK(near(large.normal[i], small.normal[i], kRelative, 1000));
  });
}

TEST_CASE("the order in which feet and bodies are written changes nothing but the last digit") {
  for_stances(507, true, [](Draw& draw, Stance& s) {
    const auto before = all_measures(s);
    const std::vector<Edge> edges = s.edges;
    Machine& m = s.scenario.machine;
    const std::size_t n = m.outriggers.size(), shift = 1 + static_cast<std::size_t>(draw.in(0, 3));
    std::rotate(m.outriggers.begin(), m.outriggers.begin() + static_cast<std::ptrdiff_t>(shift),
                m.outriggers.end());
    std::rotate(s.stroke.begin(), s.stroke.begin() + static_cast<std::ptrdiff_t>(shift), s.stroke.end());
    std::swap(m.outriggers[0], m.outriggers[2]);
    std::swap(s.stroke[0], s.stroke[2]);
    std::reverse(m.chassis.bodies.begin(), m.chassis.bodies.end());
    std::reverse(m.platform.bodies.begin(), m.platform.bodies.end());
    std::reverse(m.guide->bodies.begin(), m.guide->bodies.end());
    drawn::refresh(s);
    const auto after = all_measures(s);
    std::vector<Measures> matched;
    REQUIRE(edges.size() == s.edges.size());
    for (const Edge& e : edges)
      for (std::size_t k = 0; k < n; ++k)
        if ((s.edges[k].p_W - e.p_W).norm() == 0) matched.push_back(after[k]);
    check_same(before, matched, 1e-12);
  });
}

TEST_CASE("a further mass moves every clearance to the mean, weighted by mass, of the two") {
  for_stances(508, false, [](Draw& draw, Stance& s) {
    s.load_case = LoadCase{};
    s.load_case.mass_margin = false;
    const auto before = all_measures(s);
    double M = 0;
    for (const Part& p : parts(s.loads, s.state, s.load_case, true, true)) M += p.mass;
    const double m = draw.in(1, 500);
    const Vec3 q = drawn::point(draw, 4, 4);
    s.scenario.machine.chassis.bodies.push_back(rigs::body("more", m, q));
    drawn::refresh(s);
    const auto after = all_measures(s);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      const Vec2 along = s.edges[e].a_W.head<2>().normalized();
      const double d = cross2(along, (s.X_WC * q - s.edges[e].p_W).head<2>());
      CHECK(after[e].clearance == Approx((M * before[e].clearance + m * d) / (M + m)).margin(1e-10));
    }
  });
}

TEST_CASE("a further mass on the plumb line of the centre moves no clearance and presses every foot alike") {
  for_stances(509, false, [](Draw& draw, Stance& s) {
    settle_down(s);
    s.load_case = LoadCase{};
    s.load_case.mass_margin = false;
    const auto before = all_measures(s);
    const Reactions light = feet(s, basic(s));
    double M = 0;
    Vec3 moment = Vec3::Zero();
    for (const Part& p : basic(s)) M += p.mass, moment += p.mass * p.at(s.state.slew);
    const double m = draw.in(1, 500);
    const Vec3 q = moment / M + draw.in(-2, 2) * s.gravity_C.normalized();
    s.scenario.machine.chassis.bodies.push_back(rigs::body("more", m, q));
    drawn::refresh(s);
    const auto after = all_measures(s);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      CHECK(near(after[e].clearance, before[e].clearance, kRelative));
      CHECK(near(after[e].moment, (M + m) / M * before[e].moment, kRelative, 1000));
    }
    const Reactions heavy = feet(s, basic(s));
    REQUIRE(heavy.normal.size() == light.normal.size());
    for (std::size_t i = 0; i < light.normal.size(); ++i)
      CHECK(near(heavy.normal[i], (M + m) / M * light.normal[i], kRelative, 1000));
  });
}

TEST_CASE("moment and clearance are linear in the travel of the counterweight") {
  for_stances(510, false, [](Draw& draw, Stance& s) {
    const auto at = [&](double travel) {
      CraneState state = s.state;
      state.travel = travel;
      return all_measures(s, state);
    };
    const double share = draw.in(0, 1);
    const auto in = at(0), out = at(1.4), between = at(1.4 * share);
    for (std::size_t e = 0; e < in.size(); ++e)
      for (const MarginKind kind : {MarginKind::moment, MarginKind::clearance}) {
        const double mean = (1 - share) * in[e].of(kind) + share * out[e].of(kind);
        CHECK(near(between[e].of(kind), mean, kRelative, size_of(kind)));
      }
  });
}

TEST_CASE("the travel that balances is where the straight line between the two ends says") {
  for_stances(511, false, [](Draw&, Stance& s) {
    const auto at = [&](double travel) {
      CraneState state = s.state;
      state.travel = travel;
      return all_measures(s, state);
    };
    const auto in = at(0), out = at(1.4);
    for (std::size_t e = 0; e < in.size(); ++e) {
      const double slope = (out[e].moment - in[e].moment) / 1.4;
      if (std::abs(slope) < 1) continue;
      const double balance = -in[e].moment / slope;
      CHECK(std::abs(at(balance)[e].moment) <= 1e-9 * (1000 + std::abs(slope * balance)));
    }
  });
}

TEST_CASE("the feet carry the weight and its moments, and none of them pulls") {
  for_stances(512, true, [](Draw& draw, Stance& s) {
    settle_down(s);
    const std::vector<Part> all = basic(s);
    const Reactions r = feet(s, all);
    REQUIRE(r.outcome != Reactions::Outcome::tips);
    const Vec3 about(draw.in(-3, 3), draw.in(-3, 3), draw.in(-3, 3));
    double weight = 0;
    Vec3 force = Vec3::Zero(), moment = Vec3::Zero();
    for (const Part& p : all) {
      const Vec3 F(0, 0, -p.mass * s.scenario.gravity);
      weight -= F.z();
      force += F;
      moment += (s.X_WC * p.at(s.state.slew) - about).cross(F);
    }
    for (std::size_t i = 0; i < r.normal.size(); ++i) {
      CHECK(r.normal[i] >= 0);
      force.z() += r.normal[i];
      moment += (s.contacts[i].p_W - about).cross(Vec3(0, 0, r.normal[i]));
    }
    CHECK(force.norm() <= 1e-11 * weight);
    CHECK(moment.norm() <= 1e-11 * weight * 3);
  });
}

TEST_CASE("tilting the machine under a fixed gravity is turning gravity over a fixed machine") {
  for_stances(513, false, [](Draw&, Stance& s) {
    s.load_case = LoadCase{};
    s.load_case.mass_margin = false;
    const auto found = all_measures(s);
    const auto masses = drawn::by_hand(s.scenario, s.state, 1, true, true);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      double tilted = 0, fixed = 0;
      for (const auto& [m, at] : masses) {
        tilted -=
            (s.X_WC * at - s.edges[e].p_W).cross(Vec3(0, 0, -m * s.scenario.gravity)).dot(s.edges[e].a_W);
        fixed -= (at - s.contacts[static_cast<std::size_t>(s.edges[e].from)].p_C)
                     .cross(m * s.gravity_C)
                     .dot(s.edges[e].a_C);
      }
      CHECK(near(found[e].moment, tilted, kRelative, 1000));
      CHECK(near(found[e].moment, fixed, kRelative, 1000));
    }
  });
}

TEST_CASE("whole turns of the slew change nothing, and the way to a state leaves no trace") {
  for_stances(514, true, [](Draw& draw, Stance& s) {
    const auto before = all_measures(s);
    for (int turns = -3; turns <= 3; ++turns) {
      CraneState state = s.state;
      state.slew += 2 * kPi * turns;
      check_same(before, all_measures(s, state), 1e-12);
    }
    CraneState away = s.state;
    away.luff += draw.in(-0.5, 0.5);
    const auto elsewhere = all_measures(s, away);
    away.luff = s.state.luff;
    const auto back = all_measures(s, away);
    for (std::size_t e = 0; e < back.size(); ++e) CHECK(back[e].moment == before[e].moment);
  });
}

TEST_CASE("at map coordinates of (5e5, 4.3e6, 1e3) m clearances agree to 1e-8 m and signs exactly") {
  for_stances(515, true, [](Draw&, Stance& s) {
    const auto before = all_measures(s);
    s.X_WC.p += Vec3(5e5, 4.3e6, 1e3);
    s.contacts = stands::feet(s.scenario.machine, s.stroke, s.X_WC);
    s.edges = support_polygon(s.contacts, s.X_WC);
    const auto after = all_measures(s);
    REQUIRE(after.size() == before.size());
    for (std::size_t e = 0; e < before.size(); ++e) {
      CHECK(after[e].clearance == Approx(before[e].clearance).margin(1e-8));
      if (std::abs(before[e].clearance) > 1e-8) CHECK((after[e].moment > 0) == (before[e].moment > 0));
    }
  });
}

TEST_CASE("the least over an envelope takes part in gravity's and the turn's invariances") {
  for (int i = 0; i < cases() / 10; ++i) {
    Draw draw{516, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    Stance s = drawn::stance(draw);
    Domain domain;
    domain.slew = {s.state.slew, s.state.slew + draw.in(0.1, 3)};
    domain.luff = {0.2, 0.9};
    domain.extension = {0, s.loads.boom->greatest_extension()};
    domain.travel = {0, 1.4};
    domain.line = {0, 40};
    const auto least = [&](const Domain& d) {
      return least_over(s.loads, s.load_case, d, tipping_axis(s.edges[0], s.gravity_C), MarginKind::moment,
                        {1e-4, {}});
    };
    const auto before = least(domain);
    Domain turned = domain;
    turned.slew = {domain.slew.lo + 2 * kPi, domain.slew.hi + 2 * kPi};
    CHECK(least(turned).value == Approx(before.value).margin(2e-4));
    const double k = draw.in(0.5, 6);
    s.X_WC.R = rotation(draw.in(-3, 3), 0, 0) * s.X_WC.R;
    s.scenario.gravity *= k;
    drawn::refresh(s);
    CHECK(least(domain).value == Approx(k * before.value).margin(1e-4 * (1 + k)));
  }
}

}  // namespace rimstance
