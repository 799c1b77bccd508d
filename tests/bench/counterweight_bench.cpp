// Travel windows: how long forty states take, and how many evaluations the tangents save over bisection on
// dense slew at the same accuracy. Counts gate; times are recorded.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "demo.hpp"
#include "rimstance/statics/curves.hpp"
#include "rimstance/study/capacity.hpp"
#include "rimstance/study/counterweight.hpp"

using namespace rimstance;

namespace {

struct Weighed : Demo {
  explicit Weighed(const std::vector<Override>& overrides) : Demo(overrides, true) {}
  Counterweight windows(int reaches) const {
    return counterweight(prepared, standing.levelling, standing.contacts,
                         {reach_stations(prepared, reaches), radians(10)}, Control{});
  }
};

/// Level, one case without growth allowances: what a plain way can bisect too.
const Weighed& plain() {
  static const Weighed d(std::vector<Override>{{"criteria.set_error", "0 deg"},
                                               {"criteria.foot_limits", "false"},
                                               {"criteria.load_cases",
                                                "[{name: forward, load_factor: 1.25, boom_factor: 0.1, "
                                                "mass_margin: none, margin: {moment: 300 N m}}]"}});
  return d;
}
const Weighed& upright() {
  static const Weighed d(std::vector<Override>{{"criteria.set_error", "0 deg"}});
  return d;
}
const Weighed& whole() {
  static const Weighed d(std::vector<Override>{});
  return d;
}

void forty_states(benchmark::State& state, const Weighed& (*demo)()) {
  const Weighed& d = demo();
  for (auto _ : state) benchmark::DoNotOptimize(d.windows(40));
}
BENCHMARK_CAPTURE(forty_states, one_case_level, plain)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(forty_states, all_cases_level_legs_schedule, upright)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(forty_states, all_cases_leaning_legs_schedule, whole)->Unit(benchmark::kMillisecond);

/// The least restoring moment over dense slew, the ends of the curve of a reach, of line and units.
class Plain {
 public:
  explicit Plain(const Weighed& d) : d_(d) {
    const Scenario& s = *d.prepared.scenario;
    for (const Edge& e : support_polygon(d.standing.contacts, d.standing.levelling.X_WC))
      axes_.push_back(tipping_axis(e, gravity_C(s, d.standing.levelling.X_WC)));
  }
  double least(double reach, double travel) {
    const Prepared& p = d_.prepared;
    const LoadCase& load_case = p.load_cases[0];
    const auto [fewest, most] = units_left(p.loads, load_case, p.operation);
    double least = kInfinity;
    for (const CurvePiece& piece : curve_at_reach(p.loads, p.operation, reach))
      for (const CurveEnd& end : piece.end)
        for (const double line : {p.operation.line.lo, p.operation.line.hi})
          for (const int units : {fewest, most}) {
            const BoomSetting set = setting_of(p.loads, piece.ahead, end);
            least = std::min(least, over_slew({0, set.luff, set.extension, travel, line, units}));
          }
    return least;
  }
  std::int64_t evaluations = 0;
  static constexpr int kSlews = 2000;

 private:
  double over_slew(CraneState state) {
    const Prepared& p = d_.prepared;
    const auto all = parts(p.loads, state, p.load_cases[0], true, true);
    double least = kInfinity;
    for (int k = 0; k <= kSlews; ++k) {
      const double slew = p.operation.slew.lo + p.operation.slew.width() * k / kSlews;
      for (const TippingAxis& axis : axes_) {
        double moment = 0;
        for (const Part& part : all)
          moment += part.mass * axis.g * axis.cos_psi * (part.at(slew) - axis.c).dot(axis.n);
        least = std::min(least, moment);
        ++evaluations;
      }
    }
    return least;
  }
  const Weighed& d_;
  std::vector<TippingAxis> axes_;
};

/// Both ends of one window, bisected from a travel that holds.
bool saves_enough() {
  constexpr double kAccuracy = 1e-6, kWanted = 1000;
  const Weighed& d = plain();
  const Counterweight found = d.windows(2);
  const TravelState& s = found.states.back();
  Plain way(d);
  double worst = 0;
  for (const int side : {-1, 1}) {
    double holds = s.free.middle(), fails = holds + side * (s.free.width() / 2 + 1);
    while (std::abs(fails - holds) > kAccuracy) {
      const double middle = (holds + fails) / 2;
      (way.least(s.reach, middle) >= 300 ? holds : fails) = middle;
    }
    worst = std::max(worst, std::abs(holds - (side < 0 ? s.free.lo : s.free.hi)));
  }
  const double ratio = static_cast<double>(way.evaluations) / (static_cast<double>(found.evaluations) / 2);
  std::printf(
      "bisection on dense slew / tangents: %.0f times the evaluations (wanted: at least %.0f), ends within "
      "%.1e m\n",
      ratio, kWanted, worst);
  return ratio >= kWanted && worst <= 1e-5;
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return saves_enough() ? 0 : 1;
}
