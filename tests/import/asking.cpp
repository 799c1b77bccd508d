// Started in the place of rimstance-import by tests: see standing_by.hpp.
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstring>

#include "standing_by.hpp"

int main(int argc, char** argv) {
  sockaddr_un where;
  const socklen_t size = standing_by::address(::getppid(), where);
  const int connection = ::socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);
  if (argc != 3 || ::connect(connection, reinterpret_cast<const sockaddr*>(&where), size) != 0) return 90;
  char text[standing_by::kText] = {};
  const std::size_t first = std::strlen(argv[1]) + 1, second = std::strlen(argv[2]) + 1;
  if (first + second > sizeof text) return 91;
  std::memcpy(text, argv[1], first);
  std::memcpy(text + first, argv[2], second);
  int fds[standing_by::kMost] = {}, count = 0;
  for (int fd = standing_by::kRequest; fd < standing_by::kRequest + standing_by::kMost; ++fd)
    if (fd != connection && ::fcntl(fd, F_GETFD) >= 0) fds[count++] = fd;
  iovec piece{text, first + second};
  alignas(cmsghdr) char space[CMSG_SPACE(sizeof fds)] = {};
  msghdr message{};
  message.msg_iov = &piece;
  message.msg_iovlen = 1;
  message.msg_control = space;
  message.msg_controllen = CMSG_SPACE(static_cast<std::size_t>(count) * sizeof(int));
  cmsghdr* const header = CMSG_FIRSTHDR(&message);
  header->cmsg_level = SOL_SOCKET;
  header->cmsg_type = SCM_RIGHTS;
  header->cmsg_len = CMSG_LEN(static_cast<std::size_t>(count) * sizeof(int));
  std::memcpy(CMSG_DATA(header), fds, static_cast<std::size_t>(count) * sizeof(int));
  int status = 0;
  if (::sendmsg(connection, &message, 0) <= 0 || ::read(connection, &status, sizeof status) != sizeof status)
    return 92;
  if (!WIFSIGNALED(status)) return WEXITSTATUS(status);
  const rlimit no_core{0, 0};
  ::setrlimit(RLIMIT_CORE, &no_core);
  ::signal(WTERMSIG(status), SIG_DFL);
  ::raise(WTERMSIG(status));
  return 93;
}
