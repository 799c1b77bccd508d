// Preloaded into rimstance-import: see standing_by.hpp. Started with the number of the process that tests as
// its only argument; ends with that process.
#include "standing_by.hpp"

#include <dlfcn.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>

namespace {

using Main = int (*)(int, char**, char**);
Main real_main = nullptr;

/// What one start hands over.
struct Handed {
  char text[standing_by::kText] = {};  ///< both arguments, each with its end
  int fds[standing_by::kMost] = {-1, -1, -1};
  int count = 0;
};

bool receive(int connection, Handed& out) {
  iovec piece{out.text, sizeof out.text - 1};
  alignas(cmsghdr) char space[CMSG_SPACE(sizeof out.fds)] = {};
  msghdr message{};
  message.msg_iov = &piece;
  message.msg_iovlen = 1;
  message.msg_control = space;
  message.msg_controllen = sizeof space;
  if (::recvmsg(connection, &message, MSG_CMSG_CLOEXEC) <= 0) return false;
  const cmsghdr* const header = CMSG_FIRSTHDR(&message);
  if (header == nullptr || header->cmsg_type != SCM_RIGHTS) return false;
  out.count = static_cast<int>((header->cmsg_len - CMSG_LEN(0)) / sizeof(int));
  std::memcpy(out.fds, CMSG_DATA(header), static_cast<std::size_t>(out.count) * sizeof(int));
  return true;
}

/// In the fork that becomes the program: its descriptors as a start would have left them.
int become_program(Handed& handed, char** argv, char** environment) {
  ::signal(SIGCHLD, SIG_DFL);
  for (int k = 0; k < handed.count; ++k) {  // away from where they go to, then there
    const int away = ::fcntl(handed.fds[k], F_DUPFD, 32);
    handed.fds[k] = away;
  }
  ::syscall(SYS_close_range, standing_by::kRequest, 31, 0);
  for (int k = 0; k < handed.count; ++k) ::dup2(handed.fds[k], standing_by::kRequest + k);
  ::syscall(SYS_close_range, 32, ~0U, 0);
  char* const second = handed.text + std::strlen(handed.text) + 1;
  char* arguments[] = {argv[0], handed.text, second, nullptr};
  return real_main(3, arguments, environment);
}

/// Who asked learns how the program ended; when they are gone, it is ended.
[[noreturn]] void attend(int connection, pid_t program) {
  const int watch = static_cast<int>(::syscall(SYS_pidfd_open, program, 0));
  pollfd events[] = {{watch, POLLIN, 0}, {connection, POLLRDHUP, 0}};
  while (::poll(events, 2, -1) < 0) {
  }
  if (events[1].revents != 0) ::kill(program, SIGKILL);
  int status = 0;
  ::waitpid(program, &status, 0);
  (void)!::write(connection, &status, sizeof status);
  ::_exit(0);
}

int stand_by(int argc, char** argv, char** environment) {
  if (argc != 2) return 2;
  const long tests = std::atol(argv[1]);
  sockaddr_un where;
  const socklen_t size = standing_by::address(tests, where);
  const int door = ::socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);
  if (::bind(door, reinterpret_cast<const sockaddr*>(&where), size) != 0 || ::listen(door, 64) != 0) return 2;
  if (::fork() > 0) return 0;  // ready: whoever waits for this process may ask
  ::setsid();
  ::signal(SIGCHLD, SIG_IGN);
  const int watch = static_cast<int>(::syscall(SYS_pidfd_open, tests, 0));
  pollfd events[] = {{door, POLLIN, 0}, {watch, POLLIN, 0}};
  while (watch >= 0) {
    if (::poll(events, 2, -1) < 0) continue;
    if (events[1].revents != 0) return 0;
    const int connection = ::accept4(door, nullptr, nullptr, SOCK_CLOEXEC);
    if (connection < 0) continue;
    if (::fork() == 0) {
      ::signal(SIGCHLD, SIG_DFL);
      Handed handed;
      if (!receive(connection, handed)) ::_exit(0);
      const pid_t program = ::fork();
      if (program == 0) return become_program(handed, argv, environment);
      for (int k = 0; k < handed.count; ++k) ::close(handed.fds[k]);
      attend(connection, program);
    }
    ::close(connection);
  }
  return 2;
}

}  // namespace

/// Takes the place of the C library's start of a program, and lets it start something else.
extern "C" int __libc_start_main(Main main, int argc, char** argv, void (*init)(), void (*finish)(),
                                 void (*rtld_finish)(), void* stack_end) {
  using Start = int (*)(Main, int, char**, void (*)(), void (*)(), void (*)(), void*);
  real_main = main;
  const auto start = reinterpret_cast<Start>(::dlsym(RTLD_NEXT, "__libc_start_main"));
  return start(stand_by, argc, argv, init, finish, rtld_finish, stack_end);
}
