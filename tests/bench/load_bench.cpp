// Loading of terrain against the parse alone of a general-purpose importer (Assimp; GDAL for grids), same
// bytes, same process. Ours is what `stand` asks of load_terrain(): parse, weld, check, slopes, SHA-256 and
// index.
//
//   bench_load            benchmarks, then the ratios of the medians and the peak of memory
//   bench_load --memory   the peak alone, in a process that has loaded nothing else
#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <gdal.h>
#include <sys/resource.h>

#include <assimp/Importer.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>
#include <vector>

#include "../terrain/made_files.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/terrain/load.hpp"

namespace {

using rimstance::TerrainOptions;
using rimstance::UpAxis;

constexpr int kSquares = 708;  // 2 * 708^2 = 1.0 million triangles
constexpr TerrainOptions kMetres{.up = UpAxis::z, .unit = 1.0, .edges = false};

rimstance::TriangleMesh ground() {
  return made::sheet(kSquares, 0.25, [](double x, double y) {
    return 2 * std::sin(0.11 * x) * std::cos(0.07 * y) + 0.2 * std::sin(1.3 * x + 0.9 * y);
  });
}

/// The files, made once, in a folder that is removed at the end.
struct Files {
  std::filesystem::path folder = std::filesystem::temp_directory_path() / "rimstance_bench_load";
  std::map<std::string, std::string> paths;
  Files() {
    const rimstance::TriangleMesh mesh = ground();
    std::filesystem::create_directories(folder);
    made::PlyStyle style;
    style.format = "binary_little_endian";
    style.vertex = {{"float", "x"}, {"float", "y"}, {"float", "z"}};
    add("ply", made::ply(mesh, style));
    rimstance::TriangleMesh rounded = mesh;  // text files carry tenths of a millimetre, not 17 digits
    for (auto& p : rounded.vertices) p = (p * 1e4).array().round() / 1e4;
    add("obj", made::obj(rounded));
    add("asc", made::asc(rounded, kSquares, 0.25));
    add("stl", made::stl_binary(mesh));
  }
  ~Files() { std::filesystem::remove_all(folder); }
  Files(const Files&) = delete;
  Files& operator=(const Files&) = delete;
  void add(const std::string& kind, const std::string& bytes) {
    paths[kind] = (folder / ("ground." + kind)).string();
    std::ofstream(paths[kind], std::ios::binary)
        .write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  }
};

void load(benchmark::State& state, const std::string& path) {
  for (auto _ : state) {
    auto loaded = rimstance::load_terrain(path, kMetres);
    benchmark::DoNotOptimize(loaded);
    if (loaded.facts.triangles != 2 * std::uint64_t{kSquares} * kSquares) state.SkipWithError("wrong ground");
  }
}

/// STL is compared with joining too: unjoined corners are no mesh.
void assimp_parse(benchmark::State& state, const std::string& path, unsigned steps) {
  for (auto _ : state) {
    Assimp::Importer importer;
    const aiScene* const scene = importer.ReadFile(path, steps);
    benchmark::DoNotOptimize(scene);
    if (!scene) state.SkipWithError(importer.GetErrorString());
  }
}

/// A grid has the importer of rasters: opened, and every height read.
void gdal_parse(benchmark::State& state, const std::string& path) {
  for (auto _ : state) {
    GDALDatasetH const grid = GDALOpen(path.c_str(), GA_ReadOnly);
    std::vector<double> heights((kSquares + 1) * (kSquares + 1));
    if (!grid || GDALRasterIO(GDALGetRasterBand(grid, 1), GF_Read, 0, 0, kSquares + 1, kSquares + 1,
                              heights.data(), kSquares + 1, kSquares + 1, GDT_Float64, 0, 0) != CE_None)
      state.SkipWithError("wrong ground");
    benchmark::DoNotOptimize(heights.data());
    if (grid) GDALClose(grid);
  }
}

/// Remembers the median of every benchmark, beside printing it.
class Medians : public benchmark::ConsoleReporter {
 public:
  std::map<std::string, double> seconds;
  void ReportRuns(const std::vector<Run>& runs) override {
    for (const Run& run : runs)
      if (run.aggregate_name == "median")
        seconds[run.run_name.function_name] = run.GetAdjustedRealTime() / 1e3;
    ConsoleReporter::ReportRuns(runs);
  }
};

double peak_megabytes() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

int report(const Medians& medians) {
  bool holds = true;
  for (const auto& [kind, least] :
       {std::pair{"ply", 3.0}, std::pair{"obj", 5.0}, std::pair{"stl", 5.0}, std::pair{"asc", 3.0}}) {
    const double ours = medians.seconds.at(std::string("load/") + kind),
                 theirs = medians.seconds.at(std::string("importer/") + kind);
    fmt::print("{}: {:.1f} times as fast as the importer's parse (at least {} is asked for)\n", kind,
               theirs / ours, least);
    holds = holds && theirs >= least * ours;
  }
  return holds ? 0 : 1;
}

/// Peak while one PLY is loaded, against three times the file and 100 MB.
int memory(const std::string& path) {
  const double before = peak_megabytes();
  const auto loaded = rimstance::load_terrain(path, kMetres);
  const double file = static_cast<double>(std::filesystem::file_size(path)) / 1048576;
  fmt::print("peak {:.0f} MB (before: {:.0f} MB), file {:.0f} MB, allowed {:.0f} MB\n", peak_megabytes(),
             before, file, 3 * file + 100);
  return peak_megabytes() <= 3 * file + 100 && loaded.facts.triangles > 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3 && std::string(argv[1]) == "--memory") return memory(argv[2]);
  GDALAllRegister();
  const Files files;
  const unsigned join = aiProcess_JoinIdenticalVertices;
  for (const auto& [kind, path] : files.paths) {
    const auto own = [path = path](benchmark::State& s) { load(s, path); };
    const auto other = [path = path, kind = kind, join](benchmark::State& s) {
      if (kind == "asc")
        gdal_parse(s, path);
      else
        assimp_parse(s, path, kind == "stl" ? join : 0U);
    };
    for (auto* const b : {benchmark::RegisterBenchmark(("load/" + kind).c_str(), own),
                          benchmark::RegisterBenchmark(("importer/" + kind).c_str(), other)})
      b->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1)->Repetitions(kind == "stl" ? 3 : 7);
  }
  benchmark::Initialize(&argc, argv);
  Medians medians;
  benchmark::RunSpecifiedBenchmarks(&medians);
  const int ratios = report(medians);
  // A process of its own, so that nothing of the importer counts.
  const int peak = std::system(fmt::format("\"{}\" --memory \"{}\"", argv[0], files.paths.at("ply")).c_str());
  return ratios != 0 || peak != 0 ? 1 : 0;
}
