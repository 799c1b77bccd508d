// How long the program takes to start: `rimstance --help` against a program that does nothing, in turns.
// The ratio gates, the time is recorded. Nothing that only some commands need may be paid for here.
#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <vector>

namespace {

constexpr int kRuns = 200;
constexpr double kMost = 8;  ///< times a program that does nothing

/// Seconds from the start of a program to its end; negative if it failed.
double run(const char* program, const char* argument) {
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  char* const arguments[] = {const_cast<char*>(program), const_cast<char*>(argument), nullptr};
  const auto start = std::chrono::steady_clock::now();
  pid_t child = 0;
  int status = -1;
  const bool started = posix_spawn(&child, program, &actions, nullptr, arguments, environ) == 0 &&
                       waitpid(child, &status, 0) == child && status == 0;
  const std::chrono::duration<double> spent = std::chrono::steady_clock::now() - start;
  posix_spawn_file_actions_destroy(&actions);
  return started ? spent.count() : -1;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  std::vector<double> ours, nothing;
  for (int k = 0; k < kRuns; ++k) {
    ours.push_back(run(argv[1], "--help"));
    nothing.push_back(run("/bin/true", nullptr));
    if (ours.back() < 0 || nothing.back() < 0) {
      std::printf("%s does not run\n", ours.back() < 0 ? argv[1] : "/bin/true");
      return 1;
    }
  }
  const double start = median(ours), least = median(nothing);
  std::printf("--help %.2f ms, a program that does nothing %.2f ms: %.1f times (at most %.0f)\n", 1e3 * start,
              1e3 * least, start / least, kMost);
  return start <= kMost * least ? 0 : 1;
}
