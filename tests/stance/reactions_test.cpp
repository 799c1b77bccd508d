#include "rimstance/stance/reactions.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "rimstance/base/random.hpp"
#include "stance/draw.hpp"

// Frame: plan coordinates about the stance's centre, z up. Forces in N.
namespace rimstance {
namespace {

constexpr double kG = 1.62, kMass = 2000, kW = kMass * kG;  // a 2 t machine on the Moon

/// Feet (+-2, +-1.5), counter-clockwise from the front left one.
const std::vector<Vec3> kRectangle{{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}};
constexpr double kA = 2, kB = 1.5;  // half sides

Vec6 weight_at(double W, double x, double y) { return wrench(Vec3(0, 0, -W), Vec3(x, y, 1.3)); }

std::vector<Support> springs(std::vector<double> k) {
  std::vector<Support> s(k.size());
  for (std::size_t i = 0; i < k.size(); ++i) s[i].stiffness = k[i];
  return s;
}
std::vector<Support> equal_springs(std::size_t n, double k = 200e3) {
  return springs(std::vector<double>(n, k));
}

void check_forces(const Reactions& r, const std::vector<double>& expected, double relative = 1e-12) {
  REQUIRE(r.normal.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i)
    CHECK(r.normal[i] == Approx(expected[i]).epsilon(relative).margin(relative * kW));
}

/// Forces, moments and work of a draw: positions, load, supports.
struct Case {
  std::vector<Vec3> contacts;
  std::vector<Support> supports;
  double W, x, y;
  Vec6 load() const { return weight_at(W, x, y); }
  Reactions solve() const { return reactions(contacts, supports, load()); }
};

/// 3 to 7 contacts anywhere in a 6 m square, stiffnesses over two decades, gaps of some mm, the load near
/// their middle or well outside.
Case drawn_case(Draw& draw) {
  Case c;
  const int n = 3 + static_cast<int>(draw.in(0, 5));
  Vec2 middle = Vec2::Zero();
  for (int i = 0; i < n; ++i) {
    c.contacts.emplace_back(draw.in(-3, 3), draw.in(-3, 3), draw.in(-0.3, 0.3));
    middle += c.contacts.back().head<2>() / n;
    Support s;
    s.stiffness = std::pow(10, draw.in(4, 6));
    s.gap = draw.in(-0.005, 0.005);
    c.supports.push_back(s);
  }
  c.W = draw.in(200, 5000);
  const double spread = draw.in(0, 2.5);
  c.x = middle.x() + draw.in(-spread, spread);
  c.y = middle.y() + draw.in(-spread, spread);
  return c;
}

/// The slow way: every set of contacts that might carry is solved as plain springs; the equilibrium is the
/// one whose forces push and whose other legs hang free. Empty if there is none.
std::vector<double> by_trying_all_sets(const Case& c) {
  const std::size_t n = c.contacts.size();
  for (unsigned set = 1; set < 1U << n; ++set) {
    Eigen::MatrixXd G(3, 0);
    Eigen::VectorXd k, gap;
    for (std::size_t i = 0; i < n; ++i) {
      if (!(set >> i & 1U)) continue;
      G.conservativeResize(3, G.cols() + 1);
      G.col(G.cols() - 1) = Vec3(1, c.contacts[i].x(), c.contacts[i].y());
      k.conservativeResize(k.size() + 1), k[k.size() - 1] = c.supports[i].stiffness;
      gap.conservativeResize(gap.size() + 1), gap[gap.size() - 1] = c.supports[i].gap;
    }
    if (G.cols() < 3) continue;
    const Mat3 H = G * k.asDiagonal() * G.transpose();
    const Vec3 rhs = Vec3(c.W, c.W * c.x, c.W * c.y) + G * (k.cwiseProduct(gap));
    const Vec3 q = H.fullPivLu().solve(rhs);
    std::vector<double> force(n, 0.0);
    bool holds = (H * q - rhs).norm() < 1e-8 * rhs.norm();
    for (std::size_t i = 0; i < n; ++i) {
      const double compression = Vec3(1, c.contacts[i].x(), c.contacts[i].y()).dot(q) - c.supports[i].gap;
      if (set >> i & 1U) force[i] = c.supports[i].stiffness * compression;
      holds = holds && (set >> i & 1U ? force[i] > -1e-9 * c.W : compression < 1e-12);
    }
    if (holds) return force;
  }
  return {};
}

/// Does a line through the load leave all contacts on one side? By angle, on a fine fan of lines: an
/// answer only where it is clear.
double inside_by(const Case& c) {
  double least = kInfinity;
  for (int k = 0; k < 720; ++k) {
    const double a = 2 * kPi * k / 720;
    double most = -kInfinity;
    for (const Vec3& p : c.contacts)
      most = std::max(most, (p.x() - c.x) * std::cos(a) + (p.y() - c.y) * std::sin(a));
    least = std::min(least, most);
  }
  return least;
}

}  // namespace

TEST_CASE("equal springs under a rectangle share by N = W/4 (1 +- ex/a +- ey/b)") {
  // CV-3.1; plane bending of a rigid plate, as for bolt groups and pile caps in any textbook.
  const double ex = 0.5, ey = 0.2;
  const Reactions r = reactions(kRectangle, equal_springs(4), weight_at(kW, ex, ey));
  CHECK(r.outcome == Reactions::Outcome::stands);
  check_forces(r, {kW / 4 * (1 + ex / kA + ey / kB), kW / 4 * (1 - ex / kA + ey / kB),
                   kW / 4 * (1 - ex / kA - ey / kB), kW / 4 * (1 + ex / kA - ey / kB)});
  check_forces(r, {1120.5, 715.5, 499.5, 904.5});
}

TEST_CASE("a load outside the kern lifts one leg and the others follow from statics") {
  // CV-3.2: ex/a + ey/b > 1. Moments about the two sides through the leg opposite to the lifted one.
  const double ex = 1.4, ey = 0.6;
  const Reactions r = reactions(kRectangle, equal_springs(4), weight_at(kW, ex, ey));
  CHECK(r.outcome == Reactions::Outcome::lifted);
  check_forces(r, {kW / 2 * (ex / kA + ey / kB), kW / 2 * (1 - ex / kA), 0, kW / 2 * (1 - ey / kB)});
  check_forces(r, {1782, 486, 0, 972});
  CHECK(r.normal[0] > kW / 4 * (1 + ex / kA + ey / kB));  // 1701 N, were a leg able to pull
}

TEST_CASE("the kern of four equal legs is the diamond |ex|/a + |ey|/b = 1") {
  for (const double share : {0.1, 0.2, 0.5, 0.9}) {
    const double ex = share * kA, ey = (1 - share) * kB;
    CHECK(reactions(kRectangle, equal_springs(4), weight_at(kW, ex * (1 - 1e-9), ey * (1 - 1e-9))).outcome ==
          Reactions::Outcome::stands);
    CHECK(reactions(kRectangle, equal_springs(4), weight_at(kW, ex * (1 + 1e-9), ey * (1 + 1e-9))).outcome ==
          Reactions::Outcome::lifted);
  }
}

TEST_CASE("three feet carry their barycentric shares, whatever their stiffness and gaps") {
  // CV-3.3: by moments about each side, the share of a foot is the area of the triangle of the load and the
  // other two over the whole (Moebius 1827).
  const std::vector<Vec3> feet{{2, 0, 0}, {-1.5, 1.6, 0}, {-1.5, -1.6, 0}};
  const Vec2 load(0.3, 0.25);
  const auto area = [](const Vec2& a, const Vec2& b, const Vec2& c) { return cross2(b - a, c - a) / 2; };
  const Vec2 a = feet[0].head<2>(), b = feet[1].head<2>(), c = feet[2].head<2>();
  const double whole = area(a, b, c);
  std::vector<Support> legs = springs({200e3, 31e3, 5e6});
  legs[1].gap = 0.004;
  check_forces(reactions(feet, legs, weight_at(kW, load.x(), load.y())),
               {kW * area(load, b, c) / whole, kW * area(a, load, c) / whole, kW * area(a, b, load) / whole},
               1e-14);
  check_forces(reactions(feet, legs, weight_at(kW, load.x(), load.y())), {1666.286, 1039.982, 533.7321},
               5e-7);
}

TEST_CASE("equal springs under a splayed stance share by the least sum of squares") {
  // CV-3.4: hinges (+-0.6, +-0.5), legs of 1.8 m at 35, 145, -150 and -30 deg. Equal springs store least
  // energy where sum N^2 is least: the pseudo-inverse (Moore 1920, Penrose 1955).
  std::vector<Vec3> feet;
  for (const auto& [x, y, azimuth] :
       {std::array{0.6, 0.5, 35.0}, {-0.6, 0.5, 145.0}, {-0.6, -0.5, -150.0}, {0.6, -0.5, -30.0}})
    feet.emplace_back(x + 1.8 * std::cos(radians(azimuth)), y + 1.8 * std::sin(radians(azimuth)), 0);
  Eigen::MatrixXd G(3, 4);
  for (Eigen::Index i = 0; i < 4; ++i) G.col(i) = Vec3(1, feet[std::size_t(i)].x(), feet[std::size_t(i)].y());
  const Eigen::VectorXd N =
      G.completeOrthogonalDecomposition().pseudoInverse() * Vec3(kW, 0.5 * kW, 0.2 * kW);
  check_forces(reactions(feet, equal_springs(4), weight_at(kW, 0.5, 0.2)), {N[0], N[1], N[2], N[3]});
  check_forces(reactions(feet, equal_springs(4), weight_at(kW, 0.5, 0.2)),
               {1071.358, 696.4550, 541.0185, 931.1689}, 5e-7);
}

TEST_CASE("a softer leg gives load to its diagonal by the self-stress") {
  // CV-3.5: N = N0 - t w with self-stress w = (1, -1, 1, -1) and t = sum(w N0 / k) / sum(1 / k): the legs'
  // flexibilities times forces must fit a plane (Castigliano 1879).
  const std::vector<double> k{200e3, 200e3, 200e3, 100e3}, w{1, -1, 1, -1};
  const Reactions equal = reactions(kRectangle, equal_springs(4), weight_at(kW, 0.5, 0.2));
  double above = 0, below = 0;
  for (std::size_t i = 0; i < 4; ++i) above += w[i] * equal.normal[i] / k[i], below += 1 / k[i];
  std::vector<double> expected;
  for (std::size_t i = 0; i < 4; ++i) expected.push_back(equal.normal[i] - above / below * w[i]);
  check_forces(reactions(kRectangle, springs(k), weight_at(kW, 0.5, 0.2)), expected);
  check_forces(reactions(kRectangle, springs(k), weight_at(kW, 0.5, 0.2)), {1301.4, 534.6, 680.4, 723.6});
}

TEST_CASE("a leg set too long by D presses its diagonal by k D / 4 and relieves the other one") {
  // CV-3.6, the self-stress of a parallelogram of equal springs.
  const double k = 200e3, error = 0.005, t = k * error / 4;
  std::vector<Support> legs = equal_springs(4, k);
  legs[0].gap = -error;
  check_forces(reactions(kRectangle, legs, weight_at(kW, 0, 0)),
               {kW / 4 + t, kW / 4 - t, kW / 4 + t, kW / 4 - t});
  const Reactions r = reactions(kRectangle, equal_springs(4, k), weight_at(kW, 0.5, 0.2));
  check_forces(reactions(kRectangle, legs, weight_at(kW, 0.5, 0.2)),
               {r.normal[0] + t, r.normal[1] - t, r.normal[2] + t, r.normal[3] - t});
  check_forces(reactions(kRectangle, legs, weight_at(kW, 0, 0)), {1060, 560, 1060, 560});
  check_forces(reactions(kRectangle, legs, weight_at(kW, 0.5, 0.2)), {1370.5, 465.5, 749.5, 654.5});
}

TEST_CASE("under a centred load a stroke error of W / k lifts a diagonal") {
  // CV-3.7: k D / 4 = W / 4.
  const double k = 200e3, lifts = kW / k;
  CHECK(lifts == Approx(0.0162));
  std::vector<Support> legs = equal_springs(4, k);
  legs[0].gap = -lifts * (1 - 1e-9);
  CHECK(reactions(kRectangle, legs, weight_at(kW, 0, 0)).outcome == Reactions::Outcome::stands);
  legs[0].gap = -lifts * (1 + 1e-9);
  const Reactions r = reactions(kRectangle, legs, weight_at(kW, 0, 0));
  CHECK(r.outcome == Reactions::Outcome::lifted);
  check_forces(r, {kW / 2, 0, kW / 2, 0}, 1e-8);
}

TEST_CASE("a load over one foot is carried by it, on an edge by the edge, outside by nothing") {
  const Reactions corner = reactions(kRectangle, equal_springs(4), weight_at(kW, 2, 1.5));
  CHECK(corner.outcome == Reactions::Outcome::lifted);
  check_forces(corner, {kW, 0, 0, 0});
  const double y = 0.3;  // lever rule along the side x = 2
  check_forces(reactions(kRectangle, equal_springs(4), weight_at(kW, 2, y)),
               {kW * (1.5 + y) / 3, 0, 0, kW * (1.5 - y) / 3});
  for (const Vec2& out : {Vec2(2 + 1e-9, 0.3), Vec2(0, -1.5 - 1e-9), Vec2(2.1, 1.6)})
    CHECK(reactions(kRectangle, equal_springs(4), weight_at(kW, out.x(), out.y())).outcome ==
          Reactions::Outcome::tips);
  CHECK(reactions(kRectangle, equal_springs(4), weight_at(kW, 5, 0)).normal.empty());
}

TEST_CASE("nothing stands on a line, on two contacts, or under an upward pull") {
  const std::vector<Vec3> line{{0, 0, 0}, {1, 1, 0}, {2, 2, 0}, {3, 3, 0}}, two{{0, 0, 0}, {1, 0, 0}},
      one(3, Vec3(1, 1, 0));
  CHECK(reactions(line, equal_springs(4), weight_at(kW, 1, 1)).outcome == Reactions::Outcome::tips);
  CHECK(reactions(two, equal_springs(2), weight_at(kW, 0.5, 0)).outcome == Reactions::Outcome::tips);
  CHECK(reactions(one, equal_springs(3), weight_at(kW, 1, 1)).outcome == Reactions::Outcome::tips);
  CHECK(reactions(kRectangle, equal_springs(4), weight_at(-kW, 0, 0)).outcome == Reactions::Outcome::tips);
  CHECK(reactions(kRectangle, equal_springs(4), Vec6::Zero()).outcome == Reactions::Outcome::tips);
}

TEST_CASE("a spring without stiffness is the caller's mistake") {
  std::vector<Support> legs = equal_springs(4);
  legs[2].stiffness = kUnset;
  CHECK_THROWS_AS(reactions(kRectangle, legs, weight_at(kW, 0, 0)), std::logic_error);
}

TEST_CASE("forces balance the load and displacements explain the forces") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{101, static_cast<std::uint64_t>(k)};
    const Case c = drawn_case(draw);
    INFO(draw.text());
    const Reactions r = c.solve();
    if (r.outcome == Reactions::Outcome::tips) continue;
    double sum = 0, mx = 0, my = 0;
    for (std::size_t i = 0; i < r.normal.size(); ++i) {
      const Vec3& p = c.contacts[i];
      REQUIRE(r.normal[i] >= 0);
      sum += r.normal[i], mx += r.normal[i] * (p.x() - c.x), my += r.normal[i] * (p.y() - c.y);
      const double compression =
          r.displacement[0] - r.displacement[1] * p.y() + r.displacement[2] * p.x() - c.supports[i].gap;
      CHECK(r.normal[i] ==
            Approx(c.supports[i].stiffness * std::max(0.0, compression)).epsilon(1e-9).margin(1e-7 * c.W));
    }
    CHECK(std::abs(sum - c.W) <= 1e-12 * c.W);
    CHECK(std::abs(mx) <= 1e-12 * c.W * 6);
    CHECK(std::abs(my) <= 1e-12 * c.W * 6);
    CHECK(r.residual <= 1e-12);
  }
}

TEST_CASE("the active set finds what trying all sets of carrying legs finds") {
  int stood = 0, lifted = 0, tipped = 0;
  for (int k = 0; k < cases(); ++k) {
    Draw draw{102, static_cast<std::uint64_t>(k)};
    const Case c = drawn_case(draw);
    INFO(draw.text());
    const Reactions r = c.solve();
    (r.outcome == Reactions::Outcome::stands   ? stood
     : r.outcome == Reactions::Outcome::lifted ? lifted
                                               : tipped)++;
    const double inside = inside_by(c);
    if (std::abs(inside) > 0.02) CHECK((r.outcome == Reactions::Outcome::tips) == (inside < 0));
    if (r.outcome == Reactions::Outcome::tips) continue;
    const std::vector<double> slow = by_trying_all_sets(c);
    REQUIRE(slow.size() == r.normal.size());
    for (std::size_t i = 0; i < slow.size(); ++i) CHECK(r.normal[i] == Approx(slow[i]).margin(1e-8 * c.W));
  }
  CHECK(stood > 0);
  CHECK(lifted > 0);
  CHECK(tipped > 0);
}

TEST_CASE("forces do not care where the world is, how it is turned, mirrored or numbered") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{103, static_cast<std::uint64_t>(k)};
    const Case c = drawn_case(draw);
    INFO(draw.text());
    const Reactions r = c.solve();
    const double a = draw.in(-kPi, kPi);
    const Vec2 shift(draw.in(-1e3, 1e3), draw.in(-1e3, 1e3));
    const auto moved = [&](double x, double y) { return Vec2(Eigen::Rotation2Dd(a) * Vec2(x, y) + shift); };
    Case far = c, mirrored = c, reversed = c;
    for (Vec3& p : far.contacts) p.head<2>() = moved(p.x(), p.y());
    const Vec2 load = moved(c.x, c.y);
    far.x = load.x(), far.y = load.y();
    for (Vec3& p : mirrored.contacts) p.y() = -p.y();
    mirrored.y = -c.y;
    std::reverse(reversed.contacts.begin(), reversed.contacts.end());
    std::reverse(reversed.supports.begin(), reversed.supports.end());
    Reactions back = reversed.solve();
    std::reverse(back.normal.begin(), back.normal.end());
    for (const Reactions& same : {far.solve(), mirrored.solve(), back}) {
      REQUIRE(same.normal.size() == r.normal.size());
      for (std::size_t i = 0; i < r.normal.size(); ++i)
        CHECK(same.normal[i] == Approx(r.normal[i]).margin(1e-9 * c.W));
    }
  }
}

TEST_CASE("without gaps forces grow with gravity and mass, and not with the size of the world") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{104, static_cast<std::uint64_t>(k)};
    Case c = drawn_case(draw);
    INFO(draw.text());
    for (Support& s : c.supports) s.gap = 0;
    const Reactions r = c.solve();
    const double factor = draw.in(0.1, 10), stiffer = draw.in(0.1, 10);
    Case heavy = c, large = c, stiff = c;
    heavy.W *= factor;
    for (Vec3& p : large.contacts) p *= factor;
    large.x *= factor, large.y *= factor;
    for (Support& s : stiff.supports) s.stiffness *= stiffer;
    const Reactions h = heavy.solve(), l = large.solve(), s = stiff.solve();
    REQUIRE(h.normal.size() == r.normal.size());
    REQUIRE(l.normal.size() == r.normal.size());
    REQUIRE(s.normal.size() == r.normal.size());
    for (std::size_t i = 0; i < r.normal.size(); ++i) {
      CHECK(h.normal[i] == Approx(factor * r.normal[i]).margin(1e-9 * heavy.W));
      CHECK(l.normal[i] == Approx(r.normal[i]).margin(1e-9 * c.W));
      CHECK(s.normal[i] == Approx(r.normal[i]).margin(1e-9 * c.W));
    }
    if (r.outcome != Reactions::Outcome::tips)
      CHECK(s.displacement[0] * stiffer == Approx(r.displacement[0]).epsilon(1e-6).margin(1e-9));
  }
}

TEST_CASE("a longer leg changes the forces as the self-stress says") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{105, static_cast<std::uint64_t>(k)};
    Case c = drawn_case(draw);
    INFO(draw.text());
    for (Support& s : c.supports) s.gap = 0;
    const Reactions r = c.solve();
    if (r.outcome == Reactions::Outcome::tips) continue;
    const Eigen::MatrixXd change = force_per_stroke(c.contacts, c.supports, r);
    CHECK((change - change.transpose()).cwiseAbs().maxCoeff() <= 1e-9 * 1e6);
    std::vector<std::size_t> carry;
    for (std::size_t i = 0; i < r.normal.size(); ++i)
      if (r.normal[i] > 0) carry.push_back(i);
    if (carry.size() == 3) CHECK(change.cwiseAbs().maxCoeff() == 0);
    if (carry.size() != 4) continue;
    // Self-stress: by Cramer's rule, w_i = (-1)^i x the area of the triangle of the other three.
    std::vector<double> w;
    for (std::size_t i = 0; i < 4; ++i) {
      std::vector<Vec2> other;
      for (std::size_t j = 0; j < 4; ++j)
        if (j != i) other.push_back(c.contacts[carry[j]].head<2>());
      w.push_back((i % 2 == 0 ? 1 : -1) * cross2(other[1] - other[0], other[2] - other[0]));
    }
    double sum = 0;
    for (std::size_t i = 0; i < 4; ++i) sum += w[i] * w[i] / c.supports[carry[i]].stiffness;
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t j = 0; j < 4; ++j)
        CHECK(change(Eigen::Index(carry[i]), Eigen::Index(carry[j])) ==
              Approx(w[i] * w[j] / sum).margin(1e-4));
  }
}

TEST_CASE("legs set by the stress-free gaps leave the chassis where it was set, at least energy") {
  for (int k = 0; k < cases(); ++k) {
    Draw draw{106, static_cast<std::uint64_t>(k)};
    Case c = drawn_case(draw);
    INFO(draw.text());
    const std::vector<double> gaps = stress_free_gaps(c.contacts, c.supports, c.load());
    for (Support& s : c.supports) s.gap = 0;
    const Reactions plain = c.solve();
    REQUIRE(gaps.empty() == (plain.outcome == Reactions::Outcome::tips));
    if (gaps.empty()) continue;
    for (std::size_t i = 0; i < gaps.size(); ++i) c.supports[i].gap = gaps[i];
    const Reactions set = c.solve();
    CHECK(std::abs(set.displacement[0]) <= 1e-12);
    CHECK(set.displacement.tail<2>().norm() <= 1e-12);
    double energy = 0;  // complementary: sum N^2 / 2k
    for (std::size_t i = 0; i < gaps.size(); ++i) {
      CHECK(set.normal[i] == Approx(plain.normal[i]).margin(1e-9 * c.W));
      energy += set.normal[i] * set.normal[i] / (2 * c.supports[i].stiffness);
    }
    for (int other = 0; other < 5; ++other) {  // any other setting that stands stores more
      Case detuned = c;
      for (Support& s : detuned.supports) s.gap += draw.in(-0.002, 0.002);
      const Reactions r = detuned.solve();
      double more = 0;
      for (std::size_t i = 0; i < gaps.size(); ++i)
        more += r.normal[i] * r.normal[i] / (2 * c.supports[i].stiffness);
      CHECK(more >= energy * (1 - 1e-9));
    }
  }
}

TEST_CASE("linear soil under a leg is a spring in series with it") {
  // k = 1 / (1/k_leg + 1/k_soil); the soil's stiffness by Bekker p = (k_c/b + k_phi) z over the pad's area
  // (Bekker 1969) with k_c 1.4 kN/m2, k_phi 820 kN/m3 (Lunar Sourcebook 1991, trafficability), pad 0.15 m.
  const double leg = 200e3, radius = 0.15, soil = (1.4e3 / radius + 820e3) * kPi * radius * radius;
  std::vector<Support> legs = equal_springs(4, leg), series = legs;
  for (const std::size_t i : {0U, 2U}) {
    legs[i].stiffness = 1 / (1 / leg + 1 / soil);
    series[i].soil_force = [soil](double z) { return soil * z; };
  }
  const Reactions a = reactions(kRectangle, legs, weight_at(kW, 0.9, -0.4)),
                  b = reactions(kRectangle, series, weight_at(kW, 0.9, -0.4));
  check_forces(b, a.normal, 1e-9);
  CHECK((a.displacement - b.displacement).norm() <= 1e-9);
}

TEST_CASE("three feet on any soil carry what statics says, and sink by it") {
  const std::vector<Vec3> feet{{2, 0, 0}, {-1.5, 1.6, 0}, {-1.5, -1.6, 0}};
  std::vector<Support> legs = equal_springs(3, 80e3);
  for (Support& s : legs) s.soil_force = [](double z) { return 6e4 * std::pow(std::max(0.0, z), 1.3); };
  const Reactions hard = reactions(feet, equal_springs(3), weight_at(kW, 0.3, 0.25)),
                  soft = reactions(feet, legs, weight_at(kW, 0.3, 0.25));
  check_forces(soft, hard.normal, 1e-9);
  for (std::size_t i = 0; i < 3; ++i) {  // compression of leg and soil by their own laws
    const double sink =
        soft.displacement[0] - soft.displacement[1] * feet[i].y() + soft.displacement[2] * feet[i].x();
    CHECK(sink == Approx(hard.normal[i] / 80e3 + std::pow(hard.normal[i] / 6e4, 1 / 1.3)).epsilon(1e-9));
  }
}

TEST_CASE("soil that has carried more before springs back only as much as the leg does") {
  const std::vector<Vec3> feet{{2, 0, 0}, {-1.5, 1.6, 0}, {-1.5, -1.6, 0}};
  const double k_soil = 5e4, before = 3000, dent = before / k_soil;
  std::vector<Support> legs = equal_springs(3, 80e3);
  for (Support& s : legs) {
    s.soil_force = [=](double z) { return k_soil * z; };
    s.greatest_before = before;
  }
  const Reactions r = reactions(feet, legs, weight_at(kW, 0, 0));
  for (std::size_t i = 0; i < 3; ++i) {
    const double sink = r.displacement[0] - r.displacement[1] * feet[i].y() + r.displacement[2] * feet[i].x();
    REQUIRE(r.normal[i] < before);
    CHECK(sink == Approx(dent + r.normal[i] / 80e3).epsilon(1e-12));
  }
}

TEST_CASE("soil that cannot carry the load leaves no equilibrium") {
  std::vector<Support> legs = equal_springs(4);
  for (Support& s : legs) s.soil_force = [](double z) { return std::min(5e4 * z, 0.2 * kW); };
  CHECK(reactions(kRectangle, legs, weight_at(kW, 0, 0)).outcome == Reactions::Outcome::tips);
  for (Support& s : legs) s.soil_force = [](double z) { return std::min(5e4 * z, 0.3 * kW); };
  CHECK(reactions(kRectangle, legs, weight_at(kW, 0, 0)).outcome == Reactions::Outcome::stands);
}

TEST_CASE("the supports of a machine are its outriggers' stiffnesses") {
  Machine m;
  m.outriggers.resize(3);
  for (std::size_t i = 0; i < 3; ++i) m.outriggers[i].stiffness = 1e4 * static_cast<double>(i + 1);
  const std::vector<Support> s = supports(m);
  REQUIRE(s.size() == 3);
  CHECK(s[2].stiffness == m.outriggers[2].stiffness);
  CHECK(s[2].gap == 0);
}

}  // namespace rimstance
