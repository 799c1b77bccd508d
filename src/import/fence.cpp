#include "fence.hpp"

#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sched.h>
#include <signal.h>
#include <stddef.h>
#include <sys/prctl.h>
#include <sys/syscall.h>

#include <bit>
#include <cerrno>
#include <cstdint>
#include <vector>

namespace rimstance {

namespace {

#if defined(__x86_64__)
constexpr std::uint32_t kArchitecture = AUDIT_ARCH_X86_64;
#elif defined(__aarch64__)
constexpr std::uint32_t kArchitecture = AUDIT_ARCH_AARCH64;
#else
constexpr std::uint32_t kArchitecture = 0;
#endif

/// Calls that reach other machines or start other programs.
constexpr long kForbidden[] = {SYS_socket,   SYS_socketpair, SYS_connect,        SYS_bind, SYS_execve,
                               SYS_execveat, SYS_ptrace,     SYS_io_uring_setup, SYS_bpf,
#ifdef SYS_fork
                               SYS_fork,     SYS_vfork
#endif
};

constexpr std::uint32_t refused_with(int error) {
  return SECCOMP_RET_ERRNO | (static_cast<std::uint32_t>(error) & SECCOMP_RET_DATA);
}

sock_filter load(std::size_t offset) {
  return BPF_STMT(BPF_LD | BPF_W | BPF_ABS, static_cast<std::uint32_t>(offset));
}
sock_filter give(std::uint32_t verdict) { return BPF_STMT(BPF_RET | BPF_K, verdict); }
/// Goes on with the next instruction if the loaded value is `value`, else leaves out that one.
sock_filter next_if(std::uint32_t value) { return BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, value, 0, 1); }

std::vector<sock_filter> program() {
  const std::uint32_t no = refused_with(EPERM);
  std::vector<sock_filter> p;
  // Calls of another architecture have other numbers: none of them.
  p.push_back(load(offsetof(seccomp_data, arch)));
  p.push_back(BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, kArchitecture, 1, 0));
  p.push_back(give(no));
  p.push_back(load(offsetof(seccomp_data, nr)));
#if defined(__x86_64__)
  p.push_back(BPF_JUMP(BPF_JMP | BPF_JGE | BPF_K, 0x40000000, 0, 1));  // the x32 calls
  p.push_back(give(no));
#endif
  for (const long call : kForbidden) {
    p.push_back(next_if(static_cast<std::uint32_t>(call)));
    p.push_back(give(no));
  }
  // Its flags lie in memory, where a filter cannot see them; without it the C library uses clone.
  p.push_back(next_if(SYS_clone3));
  p.push_back(give(refused_with(ENOSYS)));
  // Threads are welcome, processes are not. Flags are the first argument on both architectures.
  p.push_back(BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_clone, 0, 3));
  p.push_back(load(offsetof(seccomp_data, args)));
  p.push_back(BPF_JUMP(BPF_JMP | BPF_JSET | BPF_K, CLONE_THREAD, 1, 0));
  p.push_back(give(no));
  p.push_back(give(SECCOMP_RET_ALLOW));
  return p;
}

}  // namespace

void fence() {
  static_assert(std::endian::native == std::endian::little, "the low half of an argument comes first");
  ::prctl(PR_SET_PDEATHSIG, SIGKILL, 0, 0, 0);
  ::prctl(PR_SET_DUMPABLE, 0, 0, 0, 0);
  if (kArchitecture == 0 || ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0) return;
  std::vector<sock_filter> filter = program();
  const sock_fprog all{static_cast<unsigned short>(filter.size()), filter.data()};
  // A kernel without filters leaves the limits, which hold by themselves.
  ::prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &all, 0, 0);
}

}  // namespace rimstance
