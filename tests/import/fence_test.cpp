#include "fence.hpp"

#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cerrno>
#include <functional>
#include <thread>

namespace {

/// The exit status of a child that does something behind the fence; 255 if it died instead.
int behind_fence(const std::function<int()>& what) {
  const pid_t child = ::fork();
  if (child == 0) {
    rimstance::fence();
    ::_exit(what());
  }
  int status = 0;
  if (child < 0 || ::waitpid(child, &status, 0) != child || !WIFEXITED(status)) return 255;
  return WEXITSTATUS(status);
}

/// Does this system filter calls at all?
bool filters() {
  const bool there = behind_fence([] { return ::prctl(PR_GET_SECCOMP, 0, 0, 0, 0) == 2 ? 1 : 0; }) == 1;
  if (!there) WARN("this system does not filter calls; nothing was tested");
  return there;
}

int error_of(bool failed) { return failed ? errno : 0; }

}  // namespace

TEST_CASE("Behind the fence no network is reached and no program is started") {
  if (!filters()) return;
  for (const int family : {AF_INET, AF_INET6, AF_UNIX})
    CHECK(behind_fence([&] { return error_of(::socket(family, SOCK_STREAM, 0) < 0); }) == EPERM);
  CHECK(behind_fence([] {
          char name[] = "/bin/true";
          char* const arguments[] = {name, nullptr};
          ::execv(name, arguments);
          return errno;
        }) == EPERM);
  CHECK(behind_fence([] {
          const pid_t child = ::fork();
          if (child == 0) ::_exit(0);
          return error_of(child < 0);
        }) == EPERM);
}

TEST_CASE("Behind the fence files are read, memory is there and threads run") {
  CHECK(behind_fence([] {
          const int file = ::open("/dev/null", O_RDONLY);
          int sum = 0;
          std::thread([&sum] { sum = 42; }).join();
          return file >= 0 ? sum : 0;
        }) == 42);
}

TEST_CASE("What is fenced in ends with its parent and can be looked into by nobody") {
  CHECK(behind_fence([] {
          int signal = 0;
          ::prctl(PR_GET_PDEATHSIG, &signal, 0, 0, 0);
          return signal;
        }) == SIGKILL);
  CHECK(behind_fence([] { return ::prctl(PR_GET_DUMPABLE, 0, 0, 0, 0); }) == 0);
}
