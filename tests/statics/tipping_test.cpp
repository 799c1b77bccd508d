// Measures of one state about one edge, against published definitions and closed forms.
#include "rimstance/statics/tipping.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/stance/levelling.hpp"
#include "rimstance/stance/reactions.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

using drawn::lump;
using drawn::polygon;

const Vec3 kMoon(0, 0, -1.62);
constexpr double kMass = 2000;  // 3240 N on the Moon

std::vector<Edge> rectangle() { return polygon({{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}}); }
std::vector<Edge> narrow() { return polygon({{1, 1.5, 0}, {-1, 1.5, 0}, {-1, -1.5, 0}, {1, -1.5, 0}}); }
std::vector<Edge> uneven() {
  return polygon({{2, 1.5, 0.40}, {-2, 1.5, 0}, {-2, -1.5, 0.15}, {2, -1.5, -0.20}});
}
const Vec3 kUnevenCentre(0.5, 0.2, 1.3);

std::vector<Measures> of_weight(const std::vector<Edge>& edges, const Vec3& centre,
                                const Vec3& gravity_C = kMoon) {
  std::vector<Measures> out;
  for (const Edge& e : edges) out.push_back(measures({{lump(kMass, centre)}}, tipping_axis(e, gravity_C), 0));
  return out;
}

void check_all(const std::vector<Measures>& found, MarginKind kind, const std::vector<double>& expected,
               double relative) {
  REQUIRE(found.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i)
    CHECK(found[i].of(kind) == Approx(expected[i]).epsilon(relative));
}

/// The crane of a textbook: chassis M at -0.30, one boom section with its centre at 3.0 and its tip at 6.0,
/// tipping line 2.0 ahead of the slew axis. Heights: base 0.9, boom centre 3.0, tip 5.0 (luffed to suit).
struct TextbookCrane {
  double theta = 0;  ///< tilt of the base towards the load [rad]
  double tip = 6.0;
  bool flat = true;
  LoadCase load_case{};

  MachineLoads loads(double payload) const {
    Scenario s;
    s.machine.chassis.bodies = {rigs::body("base", 2000, {-0.30, 0, flat ? 0 : 0.9})};
    s.machine.platform.axis = Vec3::Zero();
    Boom& boom = s.machine.boom;
    boom.foot = Vec3(0, 0, flat ? 0 : 1);
    BoomSection section;
    section.length = flat ? tip : std::hypot(6.0, 4.0);
    section.mass = 150;
    boom.sections = {section};
    s.payload.mass = payload;
    return machine_loads(s, {});
  }
  Measures at(double payload) const {
    CraneState state;
    state.luff = flat ? 0 : std::atan2(4.0, 6.0);
    Pose X_WC;
    X_WC.R = rotation(0, theta, 0);  // the nose goes down
    const auto edges = polygon({{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}}, X_WC);
    const auto all = parts(loads(payload), state, load_case, true, true);
    return measures(all, tipping_axis(edges[3], X_WC.R.transpose() * kMoon), 0);  // the edge ahead
  }
  /// Payload at which the machine balances: the moment is linear in it.
  double balance() const {
    const double none = at(0).moment, thousand = at(1000).moment;
    return 1000 * none / (none - thousand);
  }
};

TextbookCrane with_tipping_load(double share) {
  TextbookCrane crane;
  crane.load_case.tipping_load = share;
  return crane;
}
TextbookCrane with_factors(double a, double b) {
  TextbookCrane crane;
  crane.load_case.load_factor = a;
  crane.load_case.boom_factor = b;
  return crane;
}

}  // namespace

// ---- mobile-crane criteria: m_t = [M (d - x_M) - m_b (r_b - d)] / (R - d), the balance point of SAE J765
// -------

TEST_CASE("the balance load is the stabilising moment less the boom's, over the load's arm") {
  // (2000 * 2.3 - 150 * 1.0) / 4.0
  CHECK(TextbookCrane{}.balance() == Approx(1112.5).epsilon(1e-12));
  CHECK(std::abs(TextbookCrane{}.at(1112.5).moment) <= 1e-9 * 3240);
}

TEST_CASE("the balance load falls with the radius: 4675 kg at 3 m, 518.75 kg at 10 m") {
  const std::pair<double, double> rows[] = {{3, 4675},   {4, 2300},    {5, 1508.333},
                                            {6, 1112.5}, {8, 716.667}, {10, 518.75}};
  for (const auto& [radius, load] : rows) {
    TextbookCrane crane;
    crane.tip = radius;
    // The same closed form with the boom's centre at half the radius; printed to a thousandth.
    CHECK(crane.balance() == Approx((4600 - 150 * (radius / 2 - 2)) / (radius - 2)).epsilon(1e-12));
    CHECK(crane.balance() == Approx(load).margin(5e-4));
  }
}

TEST_CASE("rated at 85 % and 75 % of the balance load: 945.625 and 834.375 kg") {
  // Percentages on outriggers and on crawlers or tyres: public training manual after ASME B30.5 / SAE J765.
  CHECK(with_tipping_load(0.85).balance() == Approx(945.625).epsilon(1e-12));
  CHECK(with_tipping_load(0.80).balance() == Approx(890.0).epsilon(1e-12));
  CHECK(with_tipping_load(0.75).balance() == Approx(834.375).epsilon(1e-12));
  CHECK(with_tipping_load(2.0 / 3).balance() == Approx(741.667).margin(5e-4));
  // The overload test that goes with it: 1/0.85 = 1.176 of the rated load; one crane's manual applies 118 %.
  CHECK(1112.5 / with_tipping_load(0.85).balance() == Approx(1.18).epsilon(5e-3));
}

TEST_CASE("1.25 P + 0.1 F with F about the boom's foot pin gives 884.0 kg") {
  // ISO 4305, static on outriggers; 1.33 and 1.5 on tyres; coefficients from memory. F = 150 * 3 / 6 = 75 kg.
  CHECK(with_factors(1.25, 0.1).balance() == Approx((1112.5 - 0.1 * 75) / 1.25).epsilon(1e-12));
  CHECK(with_factors(1.25, 0.1).balance() == Approx(884.0).epsilon(1e-12));
  CHECK(with_factors(1.33, 0.1).balance() == Approx(830.827).margin(5e-4));
  CHECK(with_factors(1.50, 0.1).balance() == Approx(736.667).margin(5e-4));
  // The other reading takes F about the tipping line, 150 * (3 - 2) / (6 - 2) = 37.5 kg, and allows 887.0 kg.
  const double about_the_line = (1112.5 - 0.1 * 150 * (3.0 - 2) / (6 - 2)) / 1.25;
  CHECK(about_the_line == Approx(887.0).epsilon(1e-12));
  CHECK(with_factors(1.25, 0.1).balance() < about_the_line);
}

TEST_CASE("at the 85 % load the resultant lies 0.215627 m inside and the moments stand at 1.169739") {
  const Measures m = TextbookCrane{}.at(945.625);
  CHECK(m.clearance == Approx(2.0 - 1.784373).margin(5e-7));
  // The boom counts as overturning: 4600 / (150 + 4 * 945.625).
  CHECK(m.moment_ratio == Approx(4600 / (150 + 4 * 945.625)).epsilon(1e-12));
  CHECK(m.moment_ratio == Approx(1.169739).margin(5e-7));
}

TEST_CASE("with the boom on the side of what restores the ratio at 85 % of the balance load is 1/0.85") {
  // One body of machine and boom: (4600 - 150) / (4 * 945.625).
  const std::vector<Part> all{lump(2000, {-0.30, 0, 0}), lump(150, {3, 0, 0}),
                              lump(945.625, {6, 0, 0}, 0, 1)};
  CHECK(measures(all, tipping_axis(rectangle()[3], kMoon), 0).moment_ratio ==
        Approx(1 / 0.85).epsilon(1e-12));
}

TEST_CASE(
    "a sideways acceleration weighs six times as much on the Moon: 1.27 % and 7.72 % of a load's moment") {
  // 800 kg at 6 m and 5 m up, a = 0.1 m/s2 outwards: a 5 / (g 4) of its own moment; of what restores,
  // (800 * 4 g + 800 a 5) / (4450 g). Derived.
  const double a = 0.10;
  const std::pair<double, std::array<double, 3>> rows[] = {{9.80665, {0.01274645, 0.728267, 0.584234}},
                                                           {1.62, {0.07716049, 0.774587, 3.532295}}};
  for (const auto& [g, expected] : rows) {
    const Edge ahead = rectangle()[3];
    const auto moment = [&](const std::vector<Part>& all, double sideways) {
      return measures(all, tipping_axis(ahead, Vec3(sideways, 0, -g)), 0).moment;
    };
    const double machine = moment({lump(2000, {-0.30, 0, 0.9}), lump(150, {3, 0, 3}, 0, 1)}, 0);
    const double still = moment({lump(800, {6, 0, 5})}, 0), swept = moment({lump(800, {6, 0, 5})}, a);
    CHECK(machine == Approx(4450 * g).epsilon(1e-12));
    CHECK(swept / still - 1 == Approx(a * 5 / (g * 4)).epsilon(1e-9));
    CHECK(swept / still - 1 == Approx(expected[0]).epsilon(1e-6));
    CHECK(-swept / machine == Approx(expected[1]).margin(5e-7));
    CHECK(degrees(std::atan(a / g)) == Approx(expected[2]).margin(5e-7));
  }
}

TEST_CASE("a base that tilts towards the load balances less: 1112.5 kg level, 958.47 kg at 5 degrees") {
  // Arms (x - d) cos + z sin, solved for the load.
  const std::pair<double, double> rows[] = {
      {0, 1112.500}, {1, 1079.136}, {2, 1047.148}, {3, 1016.434}, {5, 958.4687}};
  for (const auto& [tilt_deg, load] : rows) {
    const double c = std::cos(radians(tilt_deg)), s = std::sin(radians(tilt_deg));
    const double closed = (2000 * (2.3 * c - 0.9 * s) - 150 * (1.0 * c + 3.0 * s)) / (4.0 * c + 5.0 * s);
    TextbookCrane crane;
    crane.theta = radians(tilt_deg);
    crane.flat = false;
    CHECK(crane.balance() == Approx(closed).epsilon(1e-11));
    CHECK(crane.balance() == Approx(load).epsilon(5e-7));
  }
}

TEST_CASE("gravity cancels from balance loads and shares of them, not from the moments") {
  const auto balance = [](double g) {
    const auto edges = rectangle();
    const auto moment = [&](double payload) {
      return measures(parts(TextbookCrane{}.loads(payload), {}, {}, true, true),
                      tipping_axis(edges[3], Vec3(0, 0, -g)), 0)
          .moment;
    };
    return std::pair{1000 * moment(0) / (moment(0) - moment(1000)), moment(0)};
  };
  CHECK(balance(9.80665).first == Approx(balance(1.62).first).epsilon(1e-12));
  CHECK(balance(9.80665).second / balance(1.62).second == Approx(9.80665 / 1.62).epsilon(1e-12));
}

TEST_CASE("backward: the load side carries (1 + x/a)/2 of the weight between two parallel lines") {
  // a = 2, 2000 kg at -0.30 and a boom of 150 kg at +1.0: x = -0.2093023, share 0.4476744.
  const std::vector<Part> all{lump(2000, {-0.30, 0, 0.9}), lump(150, {1.0, 0, 2}, 0, 1)};
  const Measures rear = measures(all, tipping_axis(rectangle()[1], kMoon), 0);
  CHECK(rear.load_side_share == Approx((1 - 450.0 / 2150 / 2) / 2).epsilon(1e-12));
  CHECK(rear.load_side_share == Approx(0.4476744).margin(5e-8));
}

TEST_CASE("a load-side share of 15 % is a centre of mass at 70 % of the way to the rear line") {
  // ASME B30.5 5-1.1.2 / SAE J1289 state the one for wheels, the other for crawlers; from memory.
  for (const double a : {1.0, 2.0, 3.5}) {
    const auto edges = polygon({{a, 1, 0}, {-a, 1, 0}, {-a, -1, 0}, {a, -1, 0}});
    CHECK(of_weight(edges, {-0.70 * a, 0, 1})[1].load_side_share == Approx(0.15).epsilon(1e-12));
    CHECK(of_weight(edges, {-0.60 * a, 0, 1})[1].load_side_share == Approx(0.20).epsilon(1e-12));
  }
}

// ---- distances: McGhee & Frank 1968 ----------------------------------------------------------------------

TEST_CASE("the clearance is the plan distance of the centre of mass inside each edge") {
  check_all(of_weight(rectangle(), {0.5, 0.2, 1.2}), MarginKind::clearance, {1.3, 2.5, 1.7, 1.5}, 1e-12);
  check_all(of_weight(uneven(), kUnevenCentre), MarginKind::clearance, {1.3, 2.5, 1.7, 1.5}, 1e-12);
}

TEST_CASE("four splayed legs span 12.41394 m2, margins 1.332438, 2.611730, 1.6 and 1.612143 m") {
  // Hinges at (+-0.6, +-0.5), legs of 1.8 m at 35, 145, -150 and -30 deg; closed form, printed to seven
  // digits.
  std::vector<Contact> contacts;
  for (const auto& [x, y, splay] :
       {std::tuple{0.6, 0.5, 35.0}, {-0.6, 0.5, 35.0}, {-0.6, -0.5, 30.0}, {0.6, -0.5, 30.0}}) {
    Outrigger o = rigs::outrigger("leg", {x, y, 0.5}, radians(splay));
    o.arm = 1.8;
    o.drop = 0.5;
    contacts.push_back(stands::at(foot(o, o.splay, 0)));
  }
  CHECK((contacts[2].p_C - Vec3(-2.158846, -1.4, 0)).norm() <= 5e-7);
  const auto edges = support_polygon(contacts, {});
  CHECK(plan_area(edges) == Approx(12.41394).epsilon(5e-7));
  const auto found = of_weight(edges, {0.5, 0.2, 1});
  CHECK(found[0].clearance == Approx(1.332438).margin(5e-7));
  CHECK(found[1].clearance == Approx(2.611730).margin(5e-7));
  CHECK(found[2].clearance == Approx(1.6).epsilon(1e-12));
  CHECK(found[3].clearance == Approx(1.612143).margin(5e-7));
}

// ---- energy: Messuri & Klein 1985, normalised Hirose, Tsukagoshi & Yoneda 2001 ---------------------------

TEST_CASE("over a level edge the energy is the weight times the lift sqrt(d^2 + h^2) - h") {
  const auto moon = of_weight(narrow(), {0, 0, 1.2});
  const double x = std::hypot(1.0, 1.2) - 1.2, y = std::hypot(1.5, 1.2) - 1.2;
  check_all(moon, MarginKind::energy, {3240 * y, 3240 * x, 3240 * y, 3240 * x}, 1e-12);
  CHECK(x == Approx(0.3620499).margin(5e-8));
  CHECK(moon[1].energy == Approx(1173.042).epsilon(5e-7));
  CHECK(of_weight(narrow(), {0, 0, 1.2}, Vec3(0, 0, -9.80665))[1].energy == Approx(7100.994).epsilon(5e-7));
}

TEST_CASE("a slope of ten degrees takes the energy from 0.362 to 0.207 m of lift downhill") {
  Pose X_WC;
  X_WC.R = rotation(0, radians(10), 0);  // downhill is +x
  const auto edges = polygon({{1, 1.5, 0}, {-1, 1.5, 0}, {-1, -1.5, 0}, {1, -1.5, 0}}, X_WC);
  const auto found = of_weight(edges, {0, 0, 1.2}, X_WC.R.transpose() * kMoon);
  const double R = std::hypot(1.0, 1.2), theta = std::atan2(1.0, 1.2);
  CHECK(found[3].energy / 3240 == Approx(R * (1 - std::cos(theta - radians(10)))).epsilon(1e-12));
  CHECK(found[3].energy / 3240 == Approx(0.2066325).margin(5e-8));
  CHECK(found[1].energy / 3240 == Approx(0.5539288).margin(5e-8));
  CHECK(found[0].energy / 3240 == Approx(0.7099846).margin(5e-8));
  CHECK(found[2].energy / 3240 == Approx(0.7099846).margin(5e-8));
}

TEST_CASE("on uneven feet the inclination of each edge counts: W R cos(psi) (1 - cos(theta))") {
  const auto found = of_weight(uneven(), kUnevenCentre);
  check_all(found, MarginKind::energy, {2008.564, 5029.545, 2632.923, 2367.043}, 5e-7);
  check_all(found, MarginKind::energy,
            {3240 * 0.6199272, 3240 * 1.552329, 3240 * 0.8126304, 3240 * 0.7305689}, 5e-7);
  CHECK(degrees(uneven()[3].inclination) == Approx(11.31).margin(5e-3));
}

TEST_CASE(
    "nothing is left to lift once the centre is over the edge, and nothing is defined under a release") {
  CHECK(of_weight(rectangle(), {2.1, 0, 1})[3].energy == 0);
  Part pull = lump(-100, {1, 0, 2}, 0, 1);
  pull.weight = false;
  CHECK(std::isnan(measures({{lump(2000, {0, 0, 1}), pull}}, tipping_axis(rectangle()[3], kMoon), 0).energy));
}

// ---- force-angle: Papadopoulos & Rey 1996, 2000 ----------------------------------------------------------

TEST_CASE("the tip angle over a level edge is atan(d / h)") {
  const auto found = of_weight(narrow(), {0, 0, 1.2});
  check_all(found, MarginKind::tip_angle,
            {std::atan(1.5 / 1.2), std::atan(1 / 1.2), std::atan(1.5 / 1.2), std::atan(1 / 1.2)}, 1e-12);
  CHECK(found[0].tip_angle == Approx(0.8960554).margin(5e-8));
  CHECK(found[1].tip_angle == Approx(0.6947383).margin(5e-8));
}

TEST_CASE("on uneven feet angle, moment and their product are those of the published form") {
  const auto found = of_weight(uneven(), kUnevenCentre);
  check_all(found, MarginKind::tip_angle, {0.8938131, 1.112456, 0.8947869, 0.9219944}, 5e-7);
  check_all(found, MarginKind::moment, {4191.097, 8089.894, 5487.035, 4765.622}, 5e-7);
  check_all(found, MarginKind::force_angle, {3746.057, 8999.649, 4909.727, 4393.877}, 5e-7);
}

TEST_CASE("both forms of the force-angle measure: least angle times force, and least of angle times moment") {
  // Papadopoulos & Rey 1996, alpha = min(theta) |f_r|, and 2000, beta = min(theta |d| |f*|); values derived.
  const auto least = [](const std::vector<Measures>& all, MarginKind kind) {
    double out = kInfinity;
    for (const Measures& m : all) out = std::min(out, m.of(kind));
    return out;
  };
  const auto plan = of_weight(narrow(), {0, 0, 1.2}), feet = of_weight(uneven(), kUnevenCentre);
  CHECK(least(plan, MarginKind::tip_angle) * 3240 == Approx(2250.952).epsilon(5e-7));
  CHECK(least(plan, MarginKind::force_angle) == Approx(2250.952).epsilon(5e-7));
  CHECK(least(feet, MarginKind::tip_angle) * 3240 == Approx(2895.955).epsilon(5e-7));
  CHECK(least(feet, MarginKind::force_angle) == Approx(3746.057).epsilon(5e-7));
}

namespace {

/// The machine's weight in a field that gives it a force f, and a couple n: of the couple an edge feels its
/// own component, here as two equal and opposite loads in the field.
std::vector<Measures> under(const std::vector<Edge>& edges, const Vec3& centre, const Vec3& f,
                            const Vec3& n) {
  std::vector<Measures> out;
  const Vec3 field = f / kMass, along = field.normalized();
  for (const Edge& e : edges) {
    const double inclined = e.a_C.dot(along);
    const Vec3 couple = e.a_C.dot(n) / (1 - inclined * inclined) * (e.a_C - inclined * along);
    Part up = lump(-1, centre, 0, 1),
         down = lump(1, centre + field.cross(couple) / field.squaredNorm(), 0, 2);
    up.weight = down.weight = false;
    out.push_back(measures({{lump(kMass, centre), up, down}}, tipping_axis(e, field), 0));
  }
  return out;
}

}  // namespace

TEST_CASE("both forms of the force-angle measure under a sideways force and under a couple") {
  // Rows derived from the published form (1996: alpha, 2000: beta), edges +y -x -y +x or 12 23 34 41.
  struct Row {
    std::vector<Edge> edges;
    Vec3 centre, force, couple;
    std::vector<double> angles;
    double alpha, beta;
  };
  const Row rows[] = {{narrow(),
                       {0, 0, 1.2},
                       {400, 0, -3240},
                       {0, 0, 0},
                       {0.8960554, 0.8175735, 0.8960554, 0.5719030},
                       1867.034,
                       1578.452},
                      {narrow(),
                       {0, 0, 1.2},
                       {0, 0, -3240},
                       {0, 500, 0},
                       {0.8960554, 0.7659984, 0.8960554, 0.6138951},
                       1989.020,
                       1682.073},
                      {uneven(),
                       kUnevenCentre,
                       {250, -120, -3240},
                       {300, 200, 150},
                       {0.9637167, 1.197159, 0.8297763, 0.8169602},
                       2656.629,
                       3447.915}};
  for (const Row& row : rows) {
    const auto found = under(row.edges, row.centre, row.force, row.couple);
    double alpha = kInfinity, beta = kInfinity;
    for (std::size_t e = 0; e < found.size(); ++e) {
      CAPTURE(e);
      CHECK(found[e].tip_angle == Approx(row.angles[e]).epsilon(5e-7));
      alpha = std::min(alpha, found[e].tip_angle * row.force.norm());
      beta = std::min(beta, found[e].force_angle);
    }
    CHECK(alpha == Approx(row.alpha).epsilon(5e-7));
    CHECK(beta == Approx(row.beta).epsilon(5e-7));
  }
  check_all(under(uneven(), kUnevenCentre, {250, -120, -3240}, {300, 200, 150}), MarginKind::moment,
            {4662.247, 8605.500, 5000.581, 4220.419}, 5e-7);
  // atan(1 / 1.2) less what the force leans by.
  CHECK(under(narrow(), {0, 0, 1.2}, {400, 0, -3240}, {0, 0, 0})[3].tip_angle ==
        Approx(std::atan(1 / 1.2) - std::atan(400.0 / 3240)).epsilon(1e-12));
}

TEST_CASE("the arm times the force of the force-angle measure is the moment about the edge, its angle ours") {
  // For one edge with unit direction a (clockwise), l = (I - aa')(p - c), f = (I - aa') F: the angle between
  // f and l, and d the distance of the axis from f's line (Papadopoulos & Rey 2000; the form was
  // cross-read in a public robotics library).
  for (int i = 0; i < cases(); ++i) {
    Draw draw{421, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    drawn::Stance s = drawn::stance(draw, false);
    s.load_case = LoadCase{};
    s.load_case.mass_margin = false;
    const auto all = parts(s.loads, s.state, s.load_case, true, true);
    double mass = 0;
    Vec3 centre = Vec3::Zero();
    for (const auto& [m, at] : drawn::by_hand(s.scenario, s.state, 1, true, true))
      mass += m, centre += m * at;
    centre /= mass;
    const auto found = drawn::all_measures(s);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      const Vec3 a = -s.edges[e].a_C;
      const auto across = [&](const Vec3& v) { return Vec3(v - a.dot(v) * a); };
      const Vec3 l = across(s.edges[e].p_C - centre), f = across(mass * s.gravity_C);
      const Vec3 lu = l.normalized(), fu = f.normalized();
      const double sign = lu.cross(fu).dot(a) < 0 ? 1 : -1;
      const double theta = sign * std::acos(std::clamp(fu.dot(lu), -1.0, 1.0));
      const Vec3 d = -l + l.dot(fu) * fu;
      CHECK(d.norm() * f.norm() == Approx(std::abs(found[e].moment)).epsilon(1e-9).margin(1e-9));
      CHECK(found[e].tip_angle == Approx(theta).margin(1e-7));  // acos is good to 1e-8 near 0
      CHECK(found[e].force_angle == Approx(theta * d.norm() * f.norm()).epsilon(1e-6).margin(1e-4));
    }
  }
}

// ---- static tilt -----------------------------------------------------------------------------------------

namespace {

/// Gravity leans by `angle` towards azimuth `towards`.
Vec3 leaning(double angle, double towards) {
  return 1.62 *
         Vec3(std::sin(angle) * std::cos(towards), std::sin(angle) * std::sin(towards), -std::cos(angle));
}
double least_moment(const std::vector<Edge>& edges, const Vec3& centre, const Vec3& gravity_C) {
  double least = kInfinity;
  for (const Measures& m : of_weight(edges, centre, gravity_C)) least = std::min(least, m.moment);
  return least;
}
void check_tips_at(const std::vector<Edge>& edges, const Vec3& centre, double towards_deg, double tips_deg) {
  INFO("towards " << towards_deg);
  const double half_a_digit = 5e-6;
  CHECK(least_moment(edges, centre, leaning(radians(tips_deg - half_a_digit), radians(towards_deg))) > 0);
  CHECK(least_moment(edges, centre, leaning(radians(tips_deg + half_a_digit), radians(towards_deg))) < 0);
}

}  // namespace

TEST_CASE("the machine tips where tan(tilt) = d / (h cos(direction - edge)), whatever gravity is") {
  // Closed form; sideways it is the static stability factor T / 2h of NHTSA, ch. V.
  const std::pair<double, double> centred[] = {{0, 59.03624}, {30, 62.54292}, {60, 55.28500}, {90, 51.34019}};
  for (const auto& [towards, tips] : centred) check_tips_at(rectangle(), {0, 0, 1.2}, towards, tips);
  const std::pair<double, double> off[] = {
      {0, 51.34019}, {45, 56.86695}, {90, 47.29061}, {180, 64.35899}, {270, 54.78241}};
  for (const auto& [towards, tips] : off) check_tips_at(rectangle(), {0.5, 0.2, 1.2}, towards, tips);
  CHECK(degrees(std::atan(3.0 / 2.4)) == Approx(51.34019).margin(5e-6));
}

TEST_CASE("on uneven feet the tilt that tips is where gravity meets the inclined edge") {
  const std::pair<double, double> rows[] = {
      {0, 52.28402}, {45, 63.41597}, {90, 51.07246}, {180, 63.71063}, {270, 51.16082}};
  for (const auto& [towards, tips] : rows) check_tips_at(uneven(), kUnevenCentre, towards, tips);
}

TEST_CASE("gravity that leans out over a level edge costs W (d cos + h sin) where it was W d") {
  const double d = 1.5, h = 1.2, psi = radians(3);
  const auto edges = rectangle();
  const Measures m = measures({{lump(kMass, {0.5, 0.2, h})}}, tipping_axis(edges[3], kMoon, psi), 0);
  CHECK(m.moment == Approx(3240 * (d * std::cos(psi) - h * std::sin(psi))).epsilon(1e-12));
}

TEST_CASE("gravity rotated outwards is the tilt of the machine by the same angle") {
  for (const double angle : {0.01, 0.05, 0.2}) {
    const Measures rotated =
        measures({{lump(kMass, {0.5, 0.2, 1.2})}}, tipping_axis(rectangle()[3], kMoon, angle), 0);
    const Measures tilted = of_weight(rectangle(), {0.5, 0.2, 1.2}, leaning(angle, 0))[3];
    for (const MarginKind kind :
         {MarginKind::moment, MarginKind::clearance, MarginKind::tip_angle, MarginKind::energy})
      CHECK(rotated.of(kind) == Approx(tilted.of(kind)).epsilon(1e-12));
  }
}

TEST_CASE("over an inclined edge gravity leans the worst way of all, not straight out") {
  // W cos(psi) (d cos(phi) - sin(phi) sqrt(h^2 + (d tan(psi))^2)), d inside the edge and h above its line.
  const auto edges = uneven();
  const double phi = radians(4), W = 3240;
  for (const Edge& e : edges) {
    const Vec2 along = e.a_W.head<2>().normalized(), from_edge = (kUnevenCentre - e.p_W).head<2>();
    const double d = cross2(along, from_edge), psi = e.inclination;
    const double h = kUnevenCentre.z() - (e.p_W.z() + from_edge.dot(along) * std::tan(psi));
    const Measures m = measures({{lump(kMass, kUnevenCentre)}}, tipping_axis(e, kMoon, phi), 0);
    const double closed =
        W * std::cos(psi) * (d * std::cos(phi) - std::sin(phi) * std::hypot(h, d * std::tan(psi)));
    CHECK(m.moment == Approx(closed).epsilon(1e-12));
  }
}

TEST_CASE("no direction in which gravity may lean costs more than the one that is taken") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{427, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    drawn::Stance s = drawn::stance(draw, false);
    const double phi = draw.in(0.002, 0.05);
    const auto found = drawn::all_measures(s, s.state, phi);
    const auto all = parts(s.loads, s.state, s.load_case, true, true);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      double least = kInfinity, weight = 0;
      for (const Part& p : all) weight += std::abs(p.mass) * s.scenario.gravity;
      for (int k = 0; k < 360; ++k) {
        const double towards = radians(k);
        const Vec3 lean(std::sin(phi) * std::cos(towards), std::sin(phi) * std::sin(towards), -std::cos(phi));
        const Vec3 gravity_C = s.scenario.gravity * (s.X_WC.R.transpose() * lean);
        double moment = 0;
        for (const Part& p : all)
          moment -= (p.at(s.state.slew) - s.edges[e].p_C).cross(p.mass * gravity_C).dot(s.edges[e].a_C);
        least = std::min(least, moment);
      }
      CHECK(found[e].moment <= least + 1e-9 * weight);
      CHECK(found[e].moment >=
            least - 1e-3 * phi * weight);  // half a degree off the worst way: 4e-5 of its cost
    }
  }
}

// ---- closed forms ----------------------------------------------------------------------------------------

TEST_CASE("a square base with the centre in the middle keeps half a side at every edge") {
  for (const double a : {0.5, 2.0, 7.0}) {
    const auto edges =
        polygon({{a / 2, a / 2, 0}, {-a / 2, a / 2, 0}, {-a / 2, -a / 2, 0}, {a / 2, -a / 2, 0}});
    check_all(of_weight(edges, {0, 0, 1}), MarginKind::clearance, {a / 2, a / 2, a / 2, a / 2}, 1e-14);
    check_all(of_weight(edges, {0, 0, 1}), MarginKind::load_side_share, {0.5, 0.5, 0.5, 0.5}, 1e-14);
  }
}

TEST_CASE("three equilateral feet: the centre is a third of the height inside every edge") {
  const double r = 2;  // feet on a circle: the inscribed circle has half its radius
  const auto edges =
      polygon({{r, 0, 0}, {-r / 2, r * std::sqrt(3) / 2, 0}, {-r / 2, -r * std::sqrt(3) / 2, 0}});
  check_all(of_weight(edges, {0, 0, 1}), MarginKind::clearance, {r / 2, r / 2, r / 2}, 1e-14);
  check_all(of_weight(edges, {0, 0, 1}), MarginKind::load_side_share, {1.0 / 3, 1.0 / 3, 1.0 / 3}, 1e-14);
}

TEST_CASE("a centre over a foot or over an edge keeps nothing there") {
  const auto over_foot = of_weight(rectangle(), {2, 1.5, 1});
  CHECK(std::abs(over_foot[0].clearance) <= 1e-15);
  CHECK(std::abs(over_foot[3].clearance) <= 1e-15);
  CHECK(over_foot[1].clearance == Approx(4));
  const auto over_edge = of_weight(rectangle(), {2, 0.3, 1});
  CHECK(std::abs(over_edge[3].moment) <= 1e-12);
  CHECK(over_edge[3].tip_angle == Approx(0).margin(1e-15));
  CHECK(over_edge[3].energy == Approx(0).margin(1e-12));
}

TEST_CASE("a load that hangs c outside an edge tips the machine at P = W d / c") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{422, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const double d = draw.in(0.2, 3), c = draw.in(0.2, 6), W = draw.in(100, 3000);
    const std::vector<Part> at_balance{lump(W, {2 - d, draw.in(-1, 1), draw.in(0, 2)}),
                                       lump(W * d / c, {2 + c, draw.in(-1, 1), draw.in(0, 5)}, 0, 1)};
    const Measures m = measures(at_balance, tipping_axis(rectangle()[3], kMoon), 0);
    CHECK(std::abs(m.moment) <= 1e-12 * W * 1.62 * d);
    CHECK(m.moment_ratio == Approx(1).epsilon(1e-12));
  }
}

TEST_CASE("an inclined plane shifts the resultant by h tan(slope)") {
  for (const double slope : {0.02, 0.1, 0.4}) {
    Pose X_WC;
    X_WC.R = rotation(0, slope, 0);
    const double h = 1.2;
    const auto edges = polygon({{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}}, X_WC);
    const auto found = of_weight(edges, {0, 0, h}, X_WC.R.transpose() * kMoon);
    // Along the slope 2 m -+ h tan(slope); in plan that is shortened by the cosine.
    CHECK(found[3].clearance == Approx((2 - h * std::tan(slope)) * std::cos(slope)).epsilon(1e-12));
    CHECK(found[1].clearance == Approx((2 + h * std::tan(slope)) * std::cos(slope)).epsilon(1e-12));
    CHECK(found[0].clearance == Approx(1.5).epsilon(1e-12));
  }
}

TEST_CASE("the moment about an edge is that of every mass by itself") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{423, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    drawn::Stance s = drawn::stance(draw, false);
    s.load_case = LoadCase{};
    s.load_case.load_factor = draw.in(1, 1.5);
    s.load_case.mass_margin = false;
    const auto found = drawn::all_measures(s);
    const auto masses = drawn::by_hand(s.scenario, s.state, s.load_case.load_factor, true, true);
    for (std::size_t e = 0; e < s.edges.size(); ++e) {
      double moment = 0, weight = 0;
      for (const auto& [m, at] : masses) {
        // In the world: arm of the vertical force about the edge's two contacts.
        moment -=
            (s.X_WC * at - s.edges[e].p_W).cross(Vec3(0, 0, -m * s.scenario.gravity)).dot(s.edges[e].a_W);
        weight += m * s.scenario.gravity;
      }
      CHECK(found[e].moment == Approx(moment).epsilon(1e-9).margin(1e-9 * weight));
      CHECK(found[e].clearance == Approx(moment / (weight * std::cos(s.edges[e].inclination))).margin(1e-9));
      CHECK(found[e].load_side_share == Approx(found[e].clearance / s.edges[e].width).margin(1e-12));
    }
  }
}

TEST_CASE("with weights alone the machine is held down exactly where its feet can carry it") {
  // The elastic equilibrium of the feet knows nothing of edges.
  int held = 0, over = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{424, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    drawn::Stance s = drawn::stance(draw, false);
    s.load_case = LoadCase{};
    s.load_case.mass_margin = false;
    s.scenario.payload.mass = draw.in(0, 1500);
    drawn::refresh(s);
    double least = kInfinity;
    for (const Measures& m : drawn::all_measures(s)) least = std::min(least, m.clearance);
    if (std::abs(least) < 1e-6) continue;
    std::vector<Vec3> feet;
    for (const Contact& c : s.contacts) feet.push_back(c.p_W);
    Vec6 w = Vec6::Zero();
    for (const auto& [m, at] : drawn::by_hand(s.scenario, s.state, 1, true, true))
      w += wrench(Vec3(0, 0, -m * s.scenario.gravity), s.X_WC * at);
    const Reactions r = reactions(feet, supports(s.scenario.machine), w);
    CHECK((least > 0) == (r.outcome != Reactions::Outcome::tips));
    (least > 0 ? held : over)++;
  }
  CHECK(held > cases() / 20);
  CHECK(over > cases() / 20);
}

// ---- growth allowances -----------------------------------------------------------------------------------

TEST_CASE("a growth allowance counts where the mass overturns and not where it restores") {
  // 170 kg of cabinets 1.4 m behind the axis, 20 %: over the front edge basic, over the rear edge grown.
  const auto edges = rectangle();
  const std::vector<Part> all{lump(1000, {0, 0, 1}), lump(170, {-3.4, 0, 1}, 0.2, 1)};
  const double g = 1.62;
  CHECK(measures(all, tipping_axis(edges[3], kMoon), 0).moment ==
        Approx(g * (1000 * 2 + 170 * 5.4)).epsilon(1e-12));
  CHECK(measures(all, tipping_axis(edges[1], kMoon), 0).moment ==
        Approx(g * (1000 * 2 - 1.2 * 170 * 1.4)).epsilon(1e-12));
}

TEST_CASE(
    "the sign that decides an allowance is taken at that state: the same cabinets, slewed round, overturn") {
  Part cabinets = lump(170, {0, 0, 1}, 0.2, 1);
  cabinets.cosine = Vec3(-3.4, 0, 0);
  cabinets.sine = Vec3(0, -3.4, 0);
  const std::vector<Part> all{lump(1000, {0, 0, 1}), cabinets};
  const TippingAxis front = tipping_axis(rectangle()[3], kMoon);
  CHECK(measures(all, front, 0).moment == Approx(1.62 * (2000 + 170 * 5.4)).epsilon(1e-12));
  CHECK(measures(all, front, kPi).moment == Approx(1.62 * (2000 - 1.2 * 170 * 1.4)).epsilon(1e-12));
}

TEST_CASE("the least moment over masses in their allowances is below that of any choice of masses") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{425, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const drawn::Stance s = drawn::stance(draw);
    const auto found = drawn::all_measures(s);
    auto all = parts(s.loads, s.state, s.load_case, true, true);
    for (int choice = 0; choice < 4; ++choice) {
      auto chosen = all;
      for (Part& p : chosen) {
        p.mass *= 1 + p.margin * (draw.in(0, 1) < 0.5 ? 0 : draw.in(0, 1));
        p.margin = 0;
      }
      for (std::size_t e = 0; e < s.edges.size(); ++e) {
        const Measures m = measures(chosen, tipping_axis(s.edges[e], s.gravity_C), s.state.slew);
        CHECK(m.moment >= found[e].moment - 1e-9);
        CHECK(m.clearance >= found[e].clearance - 1e-12);
      }
    }
  }
}

TEST_CASE("with allowances the clearance c solves sum(min(q, (1 + mu) q)) = 0, q = M - c W cos(psi)") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{426, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const drawn::Stance s = drawn::stance(draw);
    const auto all = parts(s.loads, s.state, s.load_case, true, true);
    for (const Edge& e : s.edges) {
      const TippingAxis axis = tipping_axis(e, s.gravity_C);
      const double c = measures(all, axis, s.state.slew).clearance;
      double sum = 0, weight = 0;
      for (const Part& p : all) {
        const double W = p.mass * s.scenario.gravity;
        const double q = -(p.at(s.state.slew) - e.p_C).cross(p.mass * s.gravity_C).dot(e.a_C) -
                         c * W * std::cos(e.inclination);
        sum += std::min(q, (1 + p.margin) * q);
        weight += std::abs(W);
      }
      CHECK(std::abs(sum) <= 1e-10 * weight);
    }
  }
}

TEST_CASE("boom and b F, container and its units are one body each in the moment ratio") {
  // Two lumps of one body on either side of the edge count by their sum: 100 * 0.5 - 50 * 0.4 restores.
  const std::vector<Part> one{lump(1000, {0, 0, 1}, 0, 0), lump(100, {1.5, 0, 1}, 0, 1),
                              lump(50, {2.4, 0, 1}, 0, 1), lump(10, {6, 0, 1}, 0, 2)};
  CHECK(measures(one, tipping_axis(rectangle()[3], kMoon), 0).moment_ratio ==
        Approx((2000 + 50 - 20) / 40.0).epsilon(1e-12));
  CHECK(std::isnan(of_weight(rectangle(), {0, 0, 1})[3].moment_ratio));
  // What overturns counts with its allowance, what restores without.
  const std::vector<Part> grown{lump(1000, {0, 0, 1}, 0.1, 0), lump(100, {5, 0, 1}, 0.2, 1)};
  CHECK(measures(grown, tipping_axis(rectangle()[3], kMoon), 0).moment_ratio ==
        Approx(2000 / (1.2 * 300)).epsilon(1e-12));
}

TEST_CASE(
    "an upward pull is a load and no weight: the angle is that of the weights' centre under what still "
    "presses") {
  Part pull = lump(-100, {-1, 0, 4}, 0, 1);
  pull.weight = false;
  const std::vector<Part> all{lump(1000, {0.5, 0, 1.2}), pull};
  const Measures m = measures(all, tipping_axis(rectangle()[3], kMoon), 0);
  const double moment = 1.62 * (1000 * 1.5 - 100 * 3);
  CHECK(m.moment == Approx(moment).epsilon(1e-12));
  CHECK(m.clearance == Approx(moment / (900 * 1.62)).epsilon(1e-12));
  // Net force 900 g through a point 1.2 m high, about which the pull turns: atan2(M, F h).
  CHECK(m.tip_angle == Approx(std::atan2(moment, 900 * 1.62 * 1.2)).epsilon(1e-12));
}

}  // namespace rimstance
