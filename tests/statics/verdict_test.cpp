// A verdict says "held" only of what is proven: margins a hair above and below the true least, which a search
// with a far finer gap brackets.
#include <catch2/catch.hpp>

#include "cases.hpp"
#include "rimstance/statics/stability.hpp"
#include "statics/stances.hpp"

namespace rimstance {
namespace {

struct Ready {
  Prepared prepared;
  Levelling levelling;
  std::vector<Contact> contacts;
};

Ready ready(const Scenario& scenario, const Pose& X_WC, const std::vector<double>& stroke) {
  Ready r;
  r.prepared = prepare(std::make_shared<Scenario>(scenario));
  r.levelling.outcome = Levelling::Outcome::level;
  r.levelling.X_WC = X_WC;
  r.contacts = stands::feet(scenario.machine, stroke, X_WC);
  return r;
}

/// A machine with one case, over an envelope that leaves every side its width.
Scenario drawn_scenario(Draw& draw, MarginKind kind) {
  LoadCase c = drawn::load_case(draw, draw.in(0, 1) < 0.3);
  if (kind == MarginKind::energy) c.release = kUnset;
  Scenario s = drawn::scenario(draw);
  s.transit.reset();
  s.criteria.load_cases = {c};
  s.criteria.set_error = draw.in(0, 1) < 0.3 ? draw.in(0, 0.02) : 0;
  s.criteria.work_tilt = 0;
  const double slew = draw.in(-kPi, kPi);
  s.operation.slew = {slew, slew + draw.in(0.2, 3)};
  s.operation.luff = {draw.in(0, 0.4), draw.in(0.5, 1.2)};
  s.operation.extension = {0, draw.in(0.3, 1) * boom_shape(s.machine.boom)->greatest_extension()};
  s.operation.reach = {-kInfinity, kInfinity};
  s.operation.line = {0, draw.in(0, 30)};
  s.operation.travel = {draw.in(0, 0.6), draw.in(0.6, 1.4)};
  return s;
}

struct Bracket {
  double lo = kInfinity, hi = kInfinity;
};

/// The least of a measure over all edges, by searches whose gap is next to nothing.
Bracket bracket(const Ready& r, MarginKind kind) {
  const Prepared& p = r.prepared;
  std::vector<TippingAxis> axes;
  for (const Edge& e : support_polygon(r.contacts, r.levelling.X_WC))
    axes.push_back(tipping_axis(e, gravity_C(*p.scenario, r.levelling.X_WC), p.scenario->criteria.set_error));
  const double unit = kind == MarginKind::force_angle ? force_angle_reference(p.loads, p.reference, axes) : 1;
  Bracket out;
  for (const TippingAxis& axis : axes) {
    const auto found = least_over(p.loads, p.load_cases[0], p.domains[0], axis, kind,
                                  {1e-7 * std::abs(unit) * drawn::size_of(kind), {}}, out.hi * unit);
    out.hi = std::min(out.hi, found.value / unit);
    const double below = std::min(found.value, out.hi * unit) - found.gap;
    out.lo = std::isnan(found.gap) || !(unit > 0) ? kUnset : std::min(out.lo, below / unit);
    if (std::isnan(out.lo)) break;
  }
  return out;
}

Ready with_margin(const Ready& like, MarginKind kind, double margin) {
  Ready r = like;
  r.prepared.load_cases[0].margin = {{kind, margin}};
  return r;
}
bool holds(const Ready& r, Question question) {
  return assess(r.prepared, r.levelling, r.contacts, question, {}).cases.at(0).ok;
}

}  // namespace

TEST_CASE("a margin just above the true least fails, just below it holds, in the verdict and the extremes") {
  for (const MarginKind kind : drawn::kMeasures) {
    int checked = 0;
    for (int i = 0; i < cases() && checked < cases() / 20; ++i) {
      Draw draw{461, static_cast<std::uint64_t>(100000 * static_cast<int>(kind) + i)};
      INFO(draw.text());
      const Scenario s = drawn_scenario(draw, kind);
      std::vector<double> stroke;
      for (int k = 0; k < 4; ++k) stroke.push_back(draw.in(0, 0.6));
      const Ready r = ready(s, drawn::pose(draw, 0.1), stroke);
      const Bracket least = bracket(r, kind);
      const double width = least.hi - least.lo;
      const double size = std::max(std::abs(least.hi), 1e-3 * drawn::size_of(kind));
      // A fall is no energy; where weights jump with the side they stand on, and where gravity leans over
      // inclined edges, the bracket stays wide.
      if (!(width <= (s.criteria.set_error > 0 ? 2e-3 : 2e-5) * size) ||
          (kind == MarginKind::energy && least.hi <= 0))
        continue;
      ++checked;
      CAPTURE(static_cast<int>(kind), least.hi, width);
      const Ready above = with_margin(r, kind, least.hi + 1e-8 * size),
                  below = with_margin(r, kind, least.lo - 2e-6 * size);
      CHECK(!holds(above, Question::verdict));
      CHECK(holds(below, Question::verdict));
      if (checked % 3 != 0) continue;
      CHECK(!holds(above, Question::extremes));
      CHECK(holds(below, Question::extremes));
    }
    CAPTURE(static_cast<int>(kind));
    CHECK(checked >= cases() / 50);
  }
}

}  // namespace rimstance
