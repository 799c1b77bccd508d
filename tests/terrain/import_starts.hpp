#pragma once
// Where tests find the import program: loaded once and standing by (tests/import/standing_by.hpp).
#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <string>

/// Whether there is an import program; then RIMSTANCE_IMPORT names it. Builds without it have none.
inline bool import_program_stands_by() {
  if (!std::filesystem::exists(RIMSTANCE_IMPORT_PROGRAM)) {
    WARN("rimstance-import is not built: nothing was tested");
    return false;
  }
  static const bool ready = [] {
    std::string program = RIMSTANCE_IMPORT_PROGRAM, tests = fmt::format("{}", ::getpid()),
                preload = "LD_PRELOAD=" RIMSTANCE_STANDING_BY, locale = "LC_ALL=C.UTF-8";
    char* const arguments[] = {program.data(), tests.data(), nullptr};
    char* const environment[] = {preload.data(), locale.data(), nullptr};
    pid_t child = -1;
    int status = -1;
    return ::posix_spawn(&child, program.c_str(), nullptr, nullptr, arguments, environment) == 0 &&
           ::waitpid(child, &status, 0) == child && status == 0;
  }();
  REQUIRE(ready);
  ::setenv("RIMSTANCE_IMPORT", RIMSTANCE_ASKING, 1);
  return true;
}
