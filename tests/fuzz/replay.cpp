// Feeds every file of a target's corpus to it, without a fuzzer.   usage: fuzz_replay TARGET FOLDER ...
#include <algorithm>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "rimstance/base/files.hpp"
#include "targets.hpp"

namespace {

constexpr std::pair<std::string_view, void (*)(std::string_view)> kTargets[] = {
    {"ply", fuzz::ply},           {"obj", fuzz::obj},      {"stl", fuzz::stl}, {"off", fuzz::off},
    {"asc", fuzz::asc},           {"las", fuzz::las},      {"xyz", fuzz::xyz}, {"scenario", fuzz::scenario},
    {"exchange", fuzz::exchange}, {"number", fuzz::number}};

std::size_t replay(void (*target)(std::string_view), const std::string& folder) {
  std::vector<std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    files.push_back(entry.path().string());
  std::sort(files.begin(), files.end());
  for (const std::string& file : files) {
    std::printf("%s\n", file.c_str());
    std::fflush(stdout);  // the last line names the file that ended the process
    target(rimstance::FileBytes(file).text());
  }
  return files.size();
}

}  // namespace

bool fuzz::goes_to_ground(std::string_view) { return true; }

int main(int argc, char** argv) {
  try {
    const auto* const target = std::find_if(std::begin(kTargets), std::end(kTargets),
                                            [&](const auto& t) { return argc > 1 && t.first == argv[1]; });
    fuzz::require(target != std::end(kTargets), "the first argument names a target");
    std::size_t files = 0;
    for (int i = 2; i < argc; ++i) files += replay(target->second, argv[i]);
    fuzz::require(files > 0, "there are files to replay");
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 1;
  }
}
