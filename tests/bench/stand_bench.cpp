// How long a standing takes after loading, and how the three questions compare.
#include <benchmark/benchmark.h>

#include "rimstance/model/load.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"

using namespace rimstance;

namespace {

struct Demo {
  Document document = load_scenario(RIMSTANCE_SOURCE_DIR "/examples/01_dunlin_at_kettle/scenario.yaml");
  Terrain terrain =
      load_terrain(document.scenario->terrain.file, {UpAxis::z, 1.0, -kInfinity, 0, 200'000'000}).terrain;
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

}  // namespace

BENCHMARK_MAIN();
