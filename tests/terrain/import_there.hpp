#pragma once
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>

/// Whether there is an import program; then RIMSTANCE_IMPORT names it. Builds without it have none.
inline bool import_program_there() {
  if (!std::filesystem::exists(RIMSTANCE_IMPORT_PROGRAM)) {
    WARN("rimstance-import is not built: nothing was tested");
    return false;
  }
  ::setenv("RIMSTANCE_IMPORT", RIMSTANCE_IMPORT_PROGRAM, 1);
  return true;
}
