// How long a standing takes after loading, and how the three questions compare: ratios gate, times are
// recorded.
#include <benchmark/benchmark.h>

#include <cstdio>
#include <map>
#include <string>
#include <vector>

#include "rimstance/model/load.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"

using namespace rimstance;

namespace {

struct Demo {
  Document document = load_scenario(RIMSTANCE_SOURCE_DIR "/examples/01_dunlin_at_kettle/scenario.yaml");
  Terrain terrain =
      load_terrain(document.scenario->terrain.file, {.up = UpAxis::z, .unit = 1.0}).terrain;
  Prepared prepared = prepare(document.scenario);
  Standing standing = stand(prepared, terrain, document.scenario->spot, Question::extremes, Control{});
};

const Demo& demo() {
  static const Demo d;
  return d;
}

void extremes(benchmark::State& state) {
  const Demo& d = demo();
  for (auto _ : state)
    benchmark::DoNotOptimize(
        stand(d.prepared, d.terrain, d.document.scenario->spot, Question::extremes, Control{}));
}
BENCHMARK(extremes)->Unit(benchmark::kMillisecond);

void verdict_with_levelling(benchmark::State& state) {
  const Demo& d = demo();
  for (auto _ : state)
    benchmark::DoNotOptimize(
        stand(d.prepared, d.terrain, d.document.scenario->spot, Question::verdict, Control{}));
}
BENCHMARK(verdict_with_levelling)->Unit(benchmark::kMillisecond);

void verdict(benchmark::State& state) {
  const Demo& d = demo();
  for (auto _ : state)
    benchmark::DoNotOptimize(
        assess(d.prepared, d.standing.levelling, d.standing.contacts, Question::verdict, Control{}));
}
BENCHMARK(verdict)->Unit(benchmark::kMillisecond);

void one_point(benchmark::State& state) {
  const Demo& d = demo();
  for (auto _ : state)
    benchmark::DoNotOptimize(
        point(d.prepared, d.standing.levelling, d.standing.stability.edges, d.prepared.reference));
}
BENCHMARK(one_point)->Unit(benchmark::kMillisecond);

/// Remembers every benchmark's time, beside printing it.
class Times : public benchmark::ConsoleReporter {
 public:
  std::map<std::string, double> milliseconds;
  void ReportRuns(const std::vector<Run>& runs) override {
    for (const Run& run : runs) milliseconds[run.run_name.function_name] = run.GetAdjustedRealTime();
    ConsoleReporter::ReportRuns(runs);
  }
};

/// The cheaper question must be the cheaper by far: that is what it is for.
bool at_least(const Times& times, const char* dear, const char* cheap, double least) {
  const double ratio = times.milliseconds.at(dear) / times.milliseconds.at(cheap);
  std::printf("%s / %s: %.0f (wanted: at least %.0f)\n", dear, cheap, ratio, least);
  return ratio >= least;
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  Times times;
  benchmark::RunSpecifiedBenchmarks(&times);
  const bool verdict_is_cheap = at_least(times, "extremes", "verdict", 50);
  return at_least(times, "verdict", "one_point", 20) && verdict_is_cheap ? 0 : 1;
}
