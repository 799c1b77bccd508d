#include <cstdio>
#include <cstdlib>

#include "targets.hpp"

void fuzz::require(bool holds, const char* law) {
  if (holds) return;
  std::fprintf(stderr, "does not hold: %s\n", law);
  std::abort();
}
