// The machine set down on ground: what the ground allows, and what may be said where it allows nothing.
#include "rimstance/statics/stand.hpp"

#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rigs.hpp"
#include "stance/draw.hpp"
#include "worlds.hpp"

namespace rimstance {
namespace {

using Pose_ = Levelling::Outcome;
using Outcome = Stability::Outcome;

Prepared prepared(const Scenario& s = rigs::dunlin()) { return prepare(std::make_shared<const Scenario>(s)); }

Spot spot(double x, double y, double yaw = 0) {
  Spot s;
  s.at = Vec2(x, y);
  s.yaw = yaw;
  return s;
}

Standing stood(const Terrain& terrain, const Spot& at, Question question, const Scenario& s) {
  return stand(prepared(s), terrain, at, question, {});
}
Standing stood(const Terrain& terrain, const Spot& at, Question question = Question::verdict) {
  static const Prepared demo = prepared();
  return stand(demo, terrain, at, question, {});
}

bool violates(const Standing& s, const std::string& criterion) {
  for (const Violation& v : s.violations)
    if (v.criterion == criterion) return true;
  return false;
}

/// No ground, no pose: nothing in the result may look like a moment.
void check_no_moments(const Standing& s) {
  CHECK(s.stability.outcome == Outcome::no_support);
  CHECK(!s.stability.reason.empty());
  CHECK(s.stability.cases.empty());
  CHECK(s.stability.least.empty());
  CHECK(s.stability.feet.empty());
  CHECK(std::isnan(s.stability.worst.measures.moment));
  CHECK(!s.ok());
}

/// Level ground with the posts within `reach` of a point missing.
HeightGrid with_hole(const Vec2& centre, double reach) {
  HeightGrid grid = worlds::gridded(worlds::plane(0, 0, 0), worlds::square(6), 0.25);
  for (std::uint32_t j = 0; j < grid.rows; ++j)
    for (std::uint32_t i = 0; i < grid.columns; ++i)
      if ((grid.first + 0.25 * Vec2(i, j) - centre).norm() <= reach)
        grid.heights[j * grid.columns + i] = kUnset;
  return grid;
}

Vec2 front_left_foot() {
  const Outrigger o = rigs::dunlin_machine().outriggers[0];
  return foot(o, o.splay, 0).head<2>();
}

/// Bumpy ground on which some spots can be levelled and some cannot.
worlds::Formula rough(Draw& draw) {
  const worlds::Formula wide = worlds::bumps(3, draw.in(0.05, 0.4), draw.number + 7),
                        fine = worlds::bumps(0.7, 0.04, draw.number);
  return [=](const Vec2& p) { return wide(p) + fine(p); };
}

/// Same levelling and the same sign of everything; `slack` in metres.
void check_same(const Standing& a, const Standing& b, double slack) {
  REQUIRE(a.levelling.outcome == b.levelling.outcome);
  CHECK(a.stability.outcome == b.stability.outcome);
  CHECK(a.ok() == b.ok());
  for (std::size_t i = 0; i < a.levelling.stroke.size(); ++i)
    if (std::isfinite(a.levelling.stroke[i]))
      CHECK(b.levelling.stroke[i] == Approx(a.levelling.stroke[i]).margin(slack));
  REQUIRE(a.stability.edges.size() == b.stability.edges.size());
  for (std::size_t e = 0; e < a.stability.edges.size(); ++e) {
    CHECK((a.stability.edges[e].p_C - b.stability.edges[e].p_C).norm() <= slack);
    CHECK((a.stability.edges[e].a_C - b.stability.edges[e].a_C).norm() <= slack);
  }
}

Vec6 weight_of(const Prepared& p, const CraneState& at, const LoadCase& c) {
  Vec6 w = Vec6::Zero();
  for (const Part& part : parts(p.loads, at, c, true, false))
    w += wrench(part.mass * Vec3(0, 0, -p.scenario->gravity), part.at(at.slew));
  return w;
}

}  // namespace

TEST_CASE("on level ground the demo machine stands: level, every foot supported, equal strokes") {
  const Standing s = stood(worlds::terrain(worlds::plane(2, 0, 0)), spot(1, -2, 0.4), Question::extremes);
  CHECK(s.levelling.outcome == Pose_::level);
  CHECK(!s.diagnostic);
  CHECK(s.ways_out.empty());
  for (const double stroke : s.levelling.stroke) CHECK(stroke == Approx(s.levelling.stroke[0]).margin(1e-12));
  for (const Contact& c : s.contacts) CHECK(c.supported);
  for (const Violation& v : s.violations) INFO(v.criterion << " " << v.value << " < " << v.limit);
  CHECK(s.stability.outcome == Outcome::stands);
  CHECK(s.ok());
}

TEST_CASE("strokes take up a slope: a level machine keeps on it what it keeps on level ground") {
  // The feet stand at other heights, but a weight's distance from a vertical plane through two of them does
  // not change; only the edges' inclination does, in the moment and not in the clearance.
  const Standing level = stood(worlds::terrain(worlds::plane(0, 0, 0)), spot(0, 0), Question::extremes);
  const Standing slope = stood(worlds::terrain(worlds::plane(0, 0.05, 0.02)), spot(0, 0), Question::extremes);
  REQUIRE(slope.levelling.outcome == Pose_::level);
  // A pad on a slope rests in the middle of its patch, so the feet stand where they stood in plan.
  const Least &a = level.stability.least.at(MarginKind::clearance),
              &b = slope.stability.least.at(MarginKind::clearance);
  CHECK(a.value == Approx(b.value).margin(a.gap + b.gap + 1e-9));
}

TEST_CASE("a slope that the strokes cannot take up leaves the least tilt, marked as a diagnosis") {
  const Standing s = stood(worlds::terrain(worlds::plane(0, 0.3, 0)), spot(0, 0), Question::extremes);
  REQUIRE(s.levelling.outcome == Pose_::least_tilt);
  CHECK(s.diagnostic);
  CHECK(!s.ok());
  CHECK(violates(s, "tilt"));
  CHECK(s.levelling.height.lo > s.levelling.height.hi);
  CHECK(!s.levelling.blocked_by.empty());
  CHECK(std::isfinite(s.stability.worst.measures.moment));  // numbers to learn from
}

TEST_CASE("a residual tilt within the allowed one is no violation") {
  // Just steeper than the strokes take: the fallback pose leans by what is missing over the base.
  Scenario s = rigs::dunlin();
  s.criteria.allowed_tilt = radians(10);
  const Standing leaning =
      stood(worlds::terrain(worlds::plane(0, 0.14, 0)), spot(0, 0), Question::verdict, s);
  REQUIRE(leaning.levelling.outcome == Pose_::least_tilt);
  REQUIRE(tilt(leaning.levelling.X_WC.R) > radians(0.5));
  CHECK(!violates(leaning, "tilt"));
  CHECK(leaning.diagnostic);
  const Standing strict = stood(worlds::terrain(worlds::plane(0, 0.14, 0)), spot(0, 0));
  CHECK(violates(strict, "tilt"));
}

TEST_CASE("a foot over a hole, beyond a rim or off the map is unsupported: a reason, and never a moment") {
  const Vec2 foot_at = front_left_foot();
  const Standing hole = stood(worlds::terrain(with_hole(foot_at, 0.4)), spot(0, 0), Question::extremes);
  const Standing rim = stood(
      worlds::terrain(worlds::meshed(worlds::plane(0, 0, 0), {Vec2(-9, -9), Vec2(foot_at.x(), 9)}, 0.5)),
      spot(0, 0), Question::extremes);
  for (const Standing* s : {&hole, &rim}) {
    CHECK(s->levelling.outcome == Pose_::unsupported);
    check_no_moments(*s);
    CHECK(violates(*s, "support"));
    REQUIRE(s->contacts.size() == 4);
    CHECK(!s->contacts[0].supported);
    CHECK(!s->contacts[0].reason.empty());
    CHECK(std::isnan(s->contacts[0].p_W.z()));
  }
  CHECK(hole.contacts[1].supported);
  CHECK(hole.contacts[0].patch.outcome == Patch::Outcome::hole);
}

TEST_CASE("over a deep floor the foot has ground, but no pose keeps strokes so different") {
  const Vec2 foot_at = front_left_foot();
  const Standing s =
      stood(worlds::terrain(worlds::overhang(foot_at.x() - 0.5, 40, 0)), spot(0, 0), Question::extremes);
  CHECK(!s.ok());
  CHECK(s.levelling.outcome != Pose_::level);
  if (s.stability.outcome == Outcome::no_support) check_no_moments(s);
}

TEST_CASE("a spot outside the terrain is a mistake of the file, named at spot.at") {
  const Terrain terrain = worlds::terrain(worlds::plane(0, 0, 0), 20);
  const Prepared p = prepared();
  for (const Vec2& at : {Vec2(21, 0), Vec2(0, -20.001), Vec2(kUnset, 0)}) {
    Spot s = spot(at.x(), at.y());
    try {
      (void)stand(p, terrain, s, Question::verdict, {});
      FAIL("accepted");
    } catch (const InputError& e) {
      REQUIRE(e.issues.size() == 1);
      CHECK(e.issues[0].place.path == "spot.at");
      CHECK(!e.issues[0].way_out.empty());
    }
  }
}

TEST_CASE("a spot off the map that is local, swapped or in degrees is told so, with the place meant") {
  Terrain terrain = worlds::terrain(worlds::plane(0, 0, 0), 20);
  terrain.map_offset = Vec3(5000, 300, 0);
  const Prepared p = prepared();
  const auto way_out = [&](double x, double y) {
    try {
      (void)stand(p, terrain, spot(x, y), Question::verdict, {});
    } catch (const InputError& e) {
      return e.issues.at(0).way_out;
    }
    return std::string("accepted");
  };
  CHECK(way_out(3, -4).find("local origin (5000, 300) m: then write at: \"[5003, 296] m\"") !=
        std::string::npos);
  CHECK(way_out(305, 5001).find("swapped: east comes first; then write at: \"[5001, 305] m\"") !=
        std::string::npos);
  CHECK(way_out(-105.5, 37.6).find("degrees") != std::string::npos);
  CHECK(way_out(9000, 9000).find("inspect") != std::string::npos);
}

TEST_CASE("ground steeper than a pad's joint allows is a violation that names foot, slope and limit") {
  // 30 deg under the front-left pad alone; the joint allows 20.
  const Vec2 at = front_left_foot();
  const auto z = [&](const Vec2& p) {
    const Vec2 d = p - at;
    return std::max(std::abs(d.x()), std::abs(d.y())) < 0.35 ? std::tan(radians(30)) * d.x() : 0.0;
  };
  const Standing s = stood(worlds::terrain(worlds::meshed(z, worlds::square(4), 0.05)), spot(0, 0));
  REQUIRE(violates(s, "pad_tilt"));
  for (const Violation& v : s.violations)
    if (v.criterion == "pad_tilt") {
      CHECK(v.where == "front-left");
      CHECK(v.value == Approx(radians(30)).epsilon(1e-6));
      CHECK(v.limit == Approx(radians(20)));
    }
}

TEST_CASE("violations carry a value that breaks its limit") {
  Scenario s = rigs::dunlin();
  s.payload.mass = 400;
  const Standing tipped = stood(worlds::terrain(worlds::plane(0, 0, 0)), spot(0, 0), Question::extremes, s);
  CHECK(tipped.stability.outcome == Outcome::tips);
  REQUIRE(violates(tipped, "load_case:forward"));
  for (const Violation& v : tipped.violations)
    if (v.criterion.rfind("load_case:", 0) == 0) CHECK(v.value < v.limit);
  CHECK(tipped.levelling.outcome == Pose_::level);
}

TEST_CASE("the feet of a single state carry its weight, b F left out, about every axis") {
  // Force and moment balance, textbook statics.
  Scenario s = rigs::dunlin();
  s.transit.reset();
  Operation& o = s.operation;
  o.slew = {0.2, 0.2}, o.luff = {0.8, 0.8}, o.extension = {0.5, 0.5}, o.line = {3, 3};
  s.machine.container->units = 1;
  LoadCase c;
  c.load_factor = 1.25;
  c.boom_factor = 0.1;
  c.mass_margin = false;
  s.criteria.load_cases = {c};
  const Standing standing =
      stood(worlds::terrain(worlds::plane(0, 0.03, -0.02)), spot(0, 0), Question::extremes, s);
  REQUIRE(standing.levelling.outcome == Pose_::level);
  const CraneState state{0.2, 0.8, 0.5, 1.1, 3, 0};
  const Vec6 w = weight_of(prepared(s), state, c);
  CHECK(!standing.stability.lifts_off);
  double force = w[2], about_x = w[3], about_y = w[4];
  for (std::size_t i = 0; i < 4; ++i) {
    const FootLoad& f = standing.stability.feet[i];
    CHECK(f.greatest == Approx(f.least).epsilon(1e-9));
    CHECK(f.least > 0);
    const Vec3& at = standing.contacts[i].p_C;  // level, so C's axes are the world's
    force += f.greatest;
    about_x += at.y() * f.greatest;
    about_y -= at.x() * f.greatest;
  }
  CHECK(std::abs(force) <= 1e-9 * -w[2]);
  CHECK(std::abs(about_x) <= 1e-9 * -w[2]);
  CHECK(std::abs(about_y) <= 1e-9 * -w[2]);
}

TEST_CASE("the ground counts, not its triangles: split, shuffled or as a grid, the machine stands the same") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{451, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const worlds::Formula z = rough(draw);
    const TriangleMesh mesh = worlds::meshed(z, worlds::square(5), 0.5);
    const Spot at = spot(draw.in(-1.5, 1.5), draw.in(-1.5, 1.5), draw.in(-3, 3));
    const Standing as_drawn = stood(worlds::terrain(mesh), at);
    check_same(as_drawn, stood(worlds::terrain(worlds::split(mesh)), at), 1e-9);
    check_same(as_drawn, stood(worlds::terrain(worlds::shuffled(mesh, draw.number)), at), 1e-9);
    check_same(as_drawn, stood(worlds::terrain(worlds::gridded(z, worlds::square(5), 0.5)), at), 1e-9);
  }
}

TEST_CASE("ground beyond the machine's reach plays no part, to the last bit") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{452, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const TriangleMesh far = worlds::meshed(rough(draw), worlds::square(12), 0.5);
    const TriangleMesh close = worlds::cropped(far, {Vec2(-5, -5), Vec2(5, 5)});
    const Spot at = spot(draw.in(-1, 1), draw.in(-1, 1), draw.in(-3, 3));
    const Standing a = stood(worlds::terrain(far), at), b = stood(worlds::terrain(close), at);
    check_same(a, b, 0);
    REQUIRE(a.stability.cases.size() == b.stability.cases.size());
    CHECK(a.stability.evaluations == b.stability.evaluations);
  }
}

TEST_CASE("the ground moved to map coordinates of (5e5, 4.3e6, 1e3) m bears the machine the same to 1e-8 m") {
  const Vec3 origin(5e5, 4.3e6, 1e3);
  for (int i = 0; i < cases(); ++i) {
    Draw draw{453, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const TriangleMesh mesh = worlds::meshed(rough(draw), worlds::square(5), 0.5);
    const Spot here = spot(draw.in(-1.5, 1.5), draw.in(-1.5, 1.5), draw.in(-3, 3));
    Spot there = here;
    there.at += origin.head<2>();
    const Standing before = stood(worlds::terrain(mesh), here);
    // As a file's coordinates, over a local origin; and as raw coordinates without one.
    Terrain offset = worlds::terrain(mesh);
    offset.map_offset = origin;
    check_same(before, stood(offset, there), 1e-8);
    check_same(before, stood(worlds::terrain(worlds::moved(mesh, Mat3::Identity(), origin)), there), 1e-7);
  }
}

TEST_CASE("the world turned about the vertical bears the machine the same") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{454, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const TriangleMesh mesh = worlds::meshed(rough(draw), worlds::square(5), 0.5);
    const Spot here = spot(draw.in(-1, 1), draw.in(-1, 1), draw.in(-3, 3));
    const double psi = draw.in(-kPi, kPi);
    const Mat3 turn = rotation(psi, 0, 0);
    Spot there = here;
    there.at = (turn * Vec3(here.at.x(), here.at.y(), 0)).head<2>();
    there.yaw = here.yaw + psi;
    check_same(stood(worlds::terrain(mesh), here), stood(worlds::terrain(worlds::moved(mesh, turn)), there),
               1e-8);
  }
}

TEST_CASE("a cell that loses its data never turns a refusal into a permission") {
  int permitted = 0;
  for (int i = 0; i < cases(); ++i) {
    Draw draw{455, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    HeightGrid grid = worlds::gridded(rough(draw), worlds::square(4), 0.25);
    const Spot at = spot(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), draw.in(-3, 3));
    const bool before = stood(worlds::terrain(grid), at).ok();
    for (int k = 0; k < 8; ++k)
      grid.heights[static_cast<std::size_t>(draw.in(0, static_cast<double>(grid.heights.size())))] = kUnset;
    const Standing after = stood(worlds::terrain(grid), at);
    CHECK((before || !after.ok()));
    permitted += before;
  }
  CHECK(permitted > cases() / 20);
  CHECK(permitted < cases());
}

TEST_CASE("verdict and extremes of a spot agree on whether it holds") {
  for (int i = 0; i < 8; ++i) {
    Draw draw{456, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    const Terrain terrain = worlds::terrain(worlds::meshed(rough(draw), worlds::square(4), 0.5));
    const Spot at = spot(draw.in(-0.5, 0.5), draw.in(-0.5, 0.5), draw.in(-3, 3));
    const Standing verdict = stood(terrain, at, Question::verdict),
                   extremes = stood(terrain, at, Question::extremes);
    CHECK(verdict.ok() == extremes.ok());
    CHECK(verdict.diagnostic == extremes.diagnostic);
    CHECK(verdict.violations.size() == extremes.violations.size());
  }
}

}  // namespace rimstance
