#pragma once
#include <sys/socket.h>
#include <sys/un.h>

#include <cstddef>
#include <cstdio>

// Loading the libraries of the import program takes 40 ms, reading a small file next to nothing. For tests
// that start it a few hundred times the program itself is loaded once and stands by: standing_by.cpp,
// preloaded into it, forks before main() for every request. asking.cpp takes the program's place where it is
// started, hands its arguments and descriptors over, and ends as the fork does. What runs is the program,
// from main() on.

namespace standing_by {

constexpr int kRequest = 3, kMost = 3;  ///< first of the descriptors handed over, and how many at most
constexpr std::size_t kText = 256;      ///< bytes of both arguments

/// The address at which the program stands by for the process `tests`: it has no file.
inline socklen_t address(long tests, sockaddr_un& out) {
  out = {};
  out.sun_family = AF_UNIX;
  const int n = std::snprintf(out.sun_path + 1, sizeof out.sun_path - 1, "rimstance-import for %ld", tests);
  return static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + 1 + static_cast<std::size_t>(n));
}

}  // namespace standing_by
