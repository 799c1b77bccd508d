// Payloads over reach and slew: how long a chart takes, and how many evaluations the closed form saves over
// bisection on dense slew. Counts gate; times are recorded.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "demo.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"

using namespace rimstance;

namespace {

struct Charted : Demo {
  CapacityAsked asked;

  explicit Charted(const std::vector<Override>& overrides) : Demo(overrides) {
    asked.reaches = reach_stations(prepared, 40);
    asked.slew_step = prepared.domains[0].slew.width() / 36;
  }
  Capacity chart() const {
    return capacity(prepared, standing.levelling, standing.contacts, asked, Control{});
  }
};

std::vector<Override> legs(const std::string& limit) {
  std::vector<Override> out;
  for (const char* foot : {"front-left", "front-right", "rear-left", "rear-right"})
    out.push_back({"machine.outriggers." + std::string(foot) + ".leg_limit", limit});
  return out;
}

const Charted& plumb() {
  static const Charted d(
      std::vector<Override>{{"criteria.set_error", "0 deg"}, {"criteria.foot_limits", "false"}});
  return d;
}
const Charted& leaning() {
  static const Charted d(std::vector<Override>{{"criteria.foot_limits", "false"}});
  return d;
}
const Charted& with_legs() {
  static const Charted d(std::vector<Override>{});
  return d;
}
/// Legs so weak that they limit nearly everywhere, with feet that lift.
const Charted& weak_legs() {
  static const Charted d(legs("380 N"));
  return d;
}

void chart(benchmark::State& state, const Charted& (*demo)()) {
  const Charted& d = demo();
  for (auto _ : state) benchmark::DoNotOptimize(d.chart());
}
BENCHMARK_CAPTURE(chart, without_legs, plumb)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, without_legs_leaning, leaning)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, with_legs_leaning, with_legs)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, weak_legs_leaning, weak_legs)->Unit(benchmark::kMillisecond);

/// Share of the cells that a leg governs, for the record.
double by_legs(const Charted& d) {
  const Capacity c = d.chart();
  double legs = 0;
  for (const CapacityCell& cell : c.cells) legs += cell.governing.limit == Limit::leg ? 1 : 0;
  return legs / static_cast<double>(c.cells.size());
}

/// The slow way: is a margin kept at dense slew angles, and bisection of the payload.
class Bisection {
 public:
  explicit Bisection(const Charted& d)
      : d_(d), edges_(support_polygon(d.standing.contacts, d.standing.levelling.X_WC)) {}
  std::int64_t evaluations = 0;

  /// Least payload of a cell to `accuracy` [kg], which both the steps of slew and those of the payload keep:
  /// between samples h apart a first harmonic of amplitude r is lower by at most r h^2 / 8.
  double payload(const CapacityCell& cell, double accuracy) {
    double least = kInfinity;
    for (const CurvePiece& piece : curve_at_reach(d_.prepared.loads, d_.prepared.domains[0], cell.reach))
      for (const CurveEnd& end : piece.end) {
        const BoomSetting set = setting_of(d_.prepared.loads, piece.ahead, end);
        for (std::size_t c = 0; c < d_.prepared.load_cases.size(); ++c)
          least = std::min(least, at(cell.slew, set, c, accuracy));
      }
    return least;
  }

 private:
  double at(const Interval& slew, const BoomSetting& set, std::size_t load_case, double accuracy) {
    const Domain& domain = d_.prepared.domains[0];
    const auto [fewest, most] = units_left(d_.prepared.loads, d_.prepared.load_cases[load_case], domain);
    double least = kInfinity;
    for (const double line : {domain.line.lo, domain.line.hi})
      for (const int units : {fewest, most}) {
        const CraneState state{slew.lo, set.luff, set.extension, domain.travel.lo, line, units};
        double lo = 0, hi = 1000;
        if (holds(slew, state, load_case, hi, accuracy)) continue;
        while (hi - lo > accuracy) {
          const double middle = lo + (hi - lo) / 2;
          (holds(slew, state, load_case, middle, accuracy) ? lo : hi) = middle;
        }
        least = std::min(least, lo);
      }
    return least;
  }

  bool holds(const Interval& slew, const CraneState& state, std::size_t load_case, double payload,
             double accuracy) {
    MachineLoads loads = d_.prepared.loads;
    loads.payload = payload;
    const LoadCase& the_case = d_.prepared.load_cases[load_case];
    const auto all = parts(loads, state, the_case, true, true);
    double turning = 0, arm = 0;  // amplitude of the moment over g at most, and that of a kilogram at the tip
    for (const Part& p : all) {
      turning += std::abs(p.mass) * (1 + p.margin) * std::hypot(p.cosine.norm(), p.sine.norm());
      arm = std::max(arm, p.cosine.norm());
    }
    const int steps =
        std::max(1, static_cast<int>(std::ceil(slew.width() / std::sqrt(8 * accuracy * arm / turning))));
    for (const Edge& e : edges_) {
      const TippingAxis axis = tipping_axis(e, gravity_C(*d_.prepared.scenario, d_.standing.levelling.X_WC));
      for (const auto& [kind, margin] : required_margin(the_case))
        for (int k = 0; k <= steps; ++k) {
          ++evaluations;
          if (!(measures(all, axis, slew.lo + slew.width() * k / steps).of(kind) >= margin)) return false;
        }
    }
    return true;
  }

  const Charted& d_;
  std::vector<Edge> edges_;
};

/// How many times more evaluations about an edge bisection takes for one cell, at equal accuracy. A sum whose
/// least over slew the closed form takes counts eight times: about so many of them a payload takes.
double saved() {
  constexpr double kAccuracy = 1e-6, kPerSum = 8;  // [kg]
  const Charted d(
      std::vector<Override>{{"criteria.set_error", "0 deg"},
                            {"criteria.foot_limits", "false"},
                            {"machine.hoist.line_pull", "10 kN"},
                            {"criteria.load_cases",
                             "[{ name: forward, load_factor: 1.25, boom_factor: 0.1 }, "
                             "{ name: released, release: 1.0, margin: { load_side_share: 15 % } }]"}});
  CapacityAsked asked;
  asked.reaches = {6};
  asked.slew_step = 2 * kPi;
  const Capacity fast = capacity(d.prepared, d.standing.levelling, d.standing.contacts, asked, Control{});
  Bisection slow(d);
  const double payload = slow.payload(fast.cells[0], kAccuracy);
  const double counted = kPerSum * static_cast<double>(fast.evaluations);
  const double ratio = static_cast<double>(slow.evaluations) / counted;
  std::printf(
      "one cell: %.7f kg in %.0f evaluations; by bisection %.7f kg in %.0f: %.0f times (wanted: 1000)\n",
      fast.cells[0].capacity, counted, payload, static_cast<double>(slow.evaluations), ratio);
  return std::abs(payload - fast.cells[0].capacity) <= 3 * kAccuracy ? ratio : 0;
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  std::printf("cells that a weak leg governs: %.0f %%\n", 100 * by_legs(weak_legs()));
  return saved() >= 1000 ? 0 : 1;
}
