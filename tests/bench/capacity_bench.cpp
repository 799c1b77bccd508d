// Payloads over reach and slew: how long a chart takes, and how many evaluations the closed form saves over
// bisection on dense slew. Counts gate; times are recorded.
#include <benchmark/benchmark.h>

#include <cstdio>
#include <string>
#include <vector>

#include "rimstance/model/load.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/study/capacity.hpp"
#include "rimstance/terrain/load.hpp"

using namespace rimstance;

namespace {

struct Demo {
  Document document;
  Prepared prepared;
  Standing standing;
  CapacityAsked asked;

  explicit Demo(const std::vector<Override>& overrides) {
    document = load_scenario(RIMSTANCE_SOURCE_DIR "/examples/01_dunlin_at_kettle/scenario.yaml", overrides);
    const Terrain terrain =
        load_terrain(document.scenario->terrain.file, {.up = UpAxis::z, .unit = 1.0}).terrain;
    prepared = prepare(document.scenario);
    standing = stand(prepared, terrain, document.scenario->spot, Question::verdict, Control{});
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

const Demo& plumb() {
  static const Demo d(
      std::vector<Override>{{"criteria.set_error", "0 deg"}, {"criteria.foot_limits", "false"}});
  return d;
}
const Demo& leaning() {
  static const Demo d(std::vector<Override>{{"criteria.foot_limits", "false"}});
  return d;
}
const Demo& with_legs() {
  static const Demo d(std::vector<Override>{});
  return d;
}
/// Legs so weak that they limit nearly everywhere, with feet that lift.
const Demo& weak_legs() {
  static const Demo d(legs("380 N"));
  return d;
}

void chart(benchmark::State& state, const Demo& (*demo)()) {
  const Demo& d = demo();
  for (auto _ : state) benchmark::DoNotOptimize(d.chart());
}
BENCHMARK_CAPTURE(chart, without_legs, plumb)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, without_legs_leaning, leaning)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, with_legs_leaning, with_legs)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(chart, weak_legs_leaning, weak_legs)->Unit(benchmark::kMillisecond);

/// Share of the cells that a leg governs, for the record.
double by_legs(const Demo& d) {
  const Capacity c = d.chart();
  double legs = 0;
  for (const CapacityCell& cell : c.cells) legs += cell.governing.limit == Limit::leg ? 1 : 0;
  return legs / static_cast<double>(c.cells.size());
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  std::printf("cells that a weak leg governs: %.0f %%\n", 100 * by_legs(weak_legs()));
  return 0;
}
