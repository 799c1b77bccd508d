#include "import_program.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <utility>

#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

namespace fs = std::filesystem;

/// What went wrong on the way to an answer; becomes an InputError or a MachineError of the file.
struct Failure {
  std::string what, way_out;
};

constexpr const char* kConvert =
    "convert the file by other means, a mesh to PLY, a raster to an ESRI ASCII grid";
constexpr const char* kDamaged = "the file is probably damaged: get it again, or export it again";

/// Closes on every way out.
class Descriptor {
 public:
  explicit Descriptor(int fd = -1) : fd_(fd) {}
  Descriptor(Descriptor&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  int get() const { return fd_; }

 private:
  int fd_;
};

[[noreturn]] void fail_system(const std::string& step) {
  throw MachineError("the import program cannot be used (" + step + ": " + std::strerror(errno) + ")");
}

// ---------------------------------------------------------------- which program

bool is_program(const fs::path& path) {
  std::error_code error;
  return fs::is_regular_file(path, error) && ::access(path.c_str(), X_OK) == 0;
}

std::string import_program() {
  if (const char* const stated = std::getenv("RIMSTANCE_IMPORT"); stated != nullptr && *stated != '\0') {
    if (is_program(stated)) return stated;
    throw Failure{
        fmt::format("is read by the program rimstance-import, and RIMSTANCE_IMPORT names \"{}\", which "
                    "is no program",
                    stated),
        "correct RIMSTANCE_IMPORT, or remove it from the environment"};
  }
  std::error_code error;
  const fs::path folder = fs::read_symlink("/proc/self/exe", error).parent_path();
  if (!error)
    for (const fs::path& path :
         {folder / "rimstance-import", folder / "../libexec/rimstance/rimstance-import"})
      if (is_program(path)) return path.string();
  throw Failure{
      "is read by the program rimstance-import, which is not installed",
      "install the package rimstance-import, or convert the file: a mesh to PLY, a raster to an ESRI "
      "ASCII grid"};
}

// ---------------------------------------------------------------- messages in memory files

/// A memory file at a number that the child's own descriptors 0 to 5 do not meet.
Descriptor memory_file(const char* name) {
  const Descriptor low(::memfd_create(name, MFD_CLOEXEC | MFD_ALLOW_SEALING));
  if (low.get() < 0) fail_system("making a memory file");
  Descriptor high(::fcntl(low.get(), F_DUPFD_CLOEXEC, 10));
  if (high.get() < 0) fail_system("making a memory file");
  return high;
}

/// A memory file that holds `bytes` for good.
Descriptor sealed_file(std::string_view bytes) {
  Descriptor file = memory_file("rimstance request");
  while (!bytes.empty()) {
    const ssize_t n = ::write(file.get(), bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) fail_system("writing the request");
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
  if (::fcntl(file.get(), F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_GROW | F_SEAL_SHRINK | F_SEAL_SEAL) != 0)
    fail_system("sealing the request");
  return file;
}

/// A memory file of which nobody else holds a writable view any more, mapped.
class Mapped {
 public:
  explicit Mapped(const Descriptor& file) {
    struct stat status {};
    // Sealed first: what is checked must be what is read.
    if (::fcntl(file.get(), F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_GROW | F_SEAL_SHRINK) != 0 ||
        ::fstat(file.get(), &status) != 0)
      return;
    size_ = static_cast<std::size_t>(status.st_size);
    if (size_ > 0) address_ = ::mmap(nullptr, size_, PROT_READ, MAP_PRIVATE, file.get(), 0);
  }
  Mapped(const Mapped&) = delete;
  Mapped& operator=(const Mapped&) = delete;
  ~Mapped() {
    if (address_ != MAP_FAILED) ::munmap(address_, size_);
  }
  std::string_view bytes() const {
    return address_ == MAP_FAILED ? std::string_view()
                                  : std::string_view(static_cast<char*>(address_), size_);
  }

 private:
  void* address_ = MAP_FAILED;
  std::size_t size_ = 0;
};

// ---------------------------------------------------------------- the child

/// What of this process the child gets: nothing but these files, and signals as they are at the start.
class SpawnSettings {
 public:
  SpawnSettings(const Descriptor& request, const Descriptor& reply, const Descriptor& data) {
    ::posix_spawn_file_actions_init(&actions_);
    ::posix_spawnattr_init(&attributes_);
    ::posix_spawn_file_actions_addopen(&actions_, 0, "/dev/null", O_RDONLY, 0);
    for (const int fd : {1, 2}) ::posix_spawn_file_actions_addopen(&actions_, fd, "/dev/null", O_WRONLY, 0);
    ::posix_spawn_file_actions_adddup2(&actions_, request.get(), 3);
    ::posix_spawn_file_actions_adddup2(&actions_, reply.get(), 4);
    if (data.get() >= 0) ::posix_spawn_file_actions_adddup2(&actions_, data.get(), 5);
    ::posix_spawn_file_actions_addclosefrom_np(&actions_, data.get() >= 0 ? 6 : 5);
    sigset_t none, all;
    ::sigemptyset(&none);
    ::sigfillset(&all);
    ::posix_spawnattr_setsigmask(&attributes_, &none);
    ::posix_spawnattr_setsigdefault(&attributes_, &all);
    // A group of its own: an interrupt from the terminal is for this program, which takes the child with it.
    ::posix_spawnattr_setpgroup(&attributes_, 0);
    ::posix_spawnattr_setflags(&attributes_,
                               POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
  }
  SpawnSettings(const SpawnSettings&) = delete;
  SpawnSettings& operator=(const SpawnSettings&) = delete;
  ~SpawnSettings() {
    ::posix_spawn_file_actions_destroy(&actions_);
    ::posix_spawnattr_destroy(&attributes_);
  }

  pid_t spawn(const std::string& program, const ImportLimits& limits) const {
    std::string name = "rimstance-import", seconds = fmt::format("{}", std::ceil(limits.seconds)),
                memory = fmt::format("{}", limits.memory);
    char* const arguments[] = {name.data(), seconds.data(), memory.data(), nullptr};
    std::string locale = "LC_ALL=C.UTF-8", libraries = "LD_LIBRARY_PATH=";
    const char* const path = std::getenv("LD_LIBRARY_PATH");
    if (path != nullptr) libraries += path;
    char* const environment[] = {locale.data(), path != nullptr ? libraries.data() : nullptr, nullptr};
    pid_t child = -1;
    const int error = ::posix_spawn(&child, program.c_str(), &actions_, &attributes_, arguments, environment);
    if (error != 0)
      throw Failure{fmt::format("is read by the program \"{}\", which cannot be started: {}", program,
                                std::strerror(error)),
                    "install the package rimstance-import again"};
    return child;
  }

 private:
  posix_spawn_file_actions_t actions_{};
  posix_spawnattr_t attributes_{};
};

/// How the child ended; its time is up when `seconds` have passed, whatever it does.
struct Ending {
  int status = 0;
  bool killed = false;  ///< by this process, because time was up
};

Ending wait_for(pid_t child, double seconds) {
  using Clock = std::chrono::steady_clock;
  const auto start = Clock::now();
  const Descriptor watch(static_cast<int>(
      ::syscall(SYS_pidfd_open, child, 0)));  // without it (an old kernel) one looks every 5 ms
  Ending ending;
  for (;;) {
    const pid_t ended = ::waitpid(child, &ending.status, WNOHANG);
    // No child (ECHILD): this process lets the system forget its children; the answer then speaks for itself.
    if (ended == child || (ended < 0 && errno != EINTR)) return ending;
    const double left = seconds - std::chrono::duration<double>(Clock::now() - start).count();
    if (!(left > 0) && !ending.killed) {
      ending.killed = true;
      ::kill(child, SIGKILL);
    }
    pollfd event{watch.get(), POLLIN, 0};
    const double most = watch.get() >= 0 ? 1000.0 : 5.0;
    ::poll(&event, 1, static_cast<int>(std::ceil(ending.killed ? most : std::min(1e3 * left, most))));
  }
}

std::string limit_text(const ImportLimits& limits) {
  return fmt::format("{:.6g} s of time and {:.3g} GiB of memory", limits.seconds,
                     static_cast<double>(limits.memory) / (1 << 30));
}

/// Throws unless the child ended by itself and without a complaint.
void check_ending(const Ending& ending, const ImportLimits& limits) {
  const int status = ending.status;
  const int signal = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
  if (ending.killed || signal == SIGXCPU)
    throw Failure{fmt::format("could not be read in the {:.6g} s that are allowed", limits.seconds),
                  "give a smaller piece of it; if it is small, it is probably damaged: export it again"};
  if (signal != 0)
    throw Failure{fmt::format("could not be read: the program that reads it died of signal {} ({})", signal,
                              ::sigdescr_np(signal) != nullptr ? ::sigdescr_np(signal) : "unknown"),
                  kDamaged};
  if (WIFEXITED(status) && WEXITSTATUS(status) != 0)
    throw Failure{fmt::format("could not be read: the program that reads it gave up with status {}",
                              WEXITSTATUS(status)),
                  fmt::format("{}; it may use {}", kDamaged, limit_text(limits))};
}

/// The file with the answer of the other program to one request.
Descriptor answer_file(const ImportRequest& request, std::string_view data, const ImportLimits& limits) {
  expects(limits.seconds > 0 && limits.seconds <= 1e6, "import: 0 < seconds <= 1e6");
  const std::string program = import_program();
  const Descriptor asked = sealed_file(to_bytes(request));
  Descriptor reply = memory_file("rimstance reply");
  Descriptor more;
  if (!data.empty()) more = sealed_file(data);
  const pid_t child = SpawnSettings(asked, reply, more).spawn(program, limits);
  check_ending(wait_for(child, limits.seconds), limits);
  return reply;
}

/// The answer, read by `read`, which throws BadMessage.
template <class Read>
auto answer(const ImportRequest& request, std::string_view data, const ImportLimits& limits, Read&& read) {
  const Descriptor file = answer_file(request, data, limits);
  const Mapped reply(file);
  try {
    if (kind_of(reply.bytes()) == MessageKind::refusal) {
      const ImportRefusal refusal = import_refusal(reply.bytes());
      throw Failure{refusal.what, refusal.way_out};
    }
    return read(reply.bytes());
  } catch (const BadMessage& bad) {
    throw Failure{
        fmt::format("could not be read: the answer of rimstance-import makes no sense ({})", bad.why),
        fmt::format("install rimstance and rimstance-import of one version; if they are, {}", kConvert)};
  }
}

template <class Read>
auto input(const ImportRequest& request, const ImportLimits& limits, Read&& read) {
  try {
    return answer(request, {}, limits, read);
  } catch (Failure& f) {
    throw InputError(Place{request.path, 0, 0, {}}, std::move(f.what), std::move(f.way_out));
  }
}

// ---------------------------------------------------------------- writing

[[noreturn]] void cannot_write(const std::string& path, const std::string& why) {
  throw MachineError(path + ": cannot be written (" + why + ")");
}

/// A file beside `path` with a name of its own; gone unless it took that name.
class Aside {
 public:
  explicit Aside(const std::string& path) : path_(path), name_(path + ".XXXXXX") {
    const Descriptor file(::mkostemp(name_.data(), O_CLOEXEC));
    if (file.get() < 0) fail("creating a file beside it");
  }
  Aside(const Aside&) = delete;
  Aside& operator=(const Aside&) = delete;
  ~Aside() {
    if (!name_.empty()) ::unlink(name_.c_str());
  }
  const std::string& name() const { return name_; }
  void take_place() {
    const mode_t mask = ::umask(0);
    ::umask(mask);
    if (::chmod(name_.c_str(), 0666 & ~mask) != 0) fail("setting permissions");
    const Descriptor file(::open(name_.c_str(), O_RDONLY | O_CLOEXEC));
    if (file.get() < 0 || ::fsync(file.get()) != 0) fail("syncing");
    if (::rename(name_.c_str(), path_.c_str()) != 0) fail("renaming");
    name_.clear();
  }

 private:
  [[noreturn]] void fail(const char* step) const {
    cannot_write(path_, std::string(step) + ": " + std::strerror(errno));
  }
  std::string path_, name_;
};

}  // namespace

ImportedMesh import_mesh(const std::string& path, std::uint64_t greatest_vertices,
                         const ImportLimits& limits) {
  ImportRequest request;
  request.work = ImportRequest::Work::mesh;
  request.path = path;
  request.greatest_vertices = greatest_vertices;
  return input(request, limits, [&](std::string_view bytes) {
    ImportedMesh mesh = imported_mesh(bytes);
    if (mesh.vertices.size() > greatest_vertices) throw BadMessage("more vertices than were asked for");
    return mesh;
  });
}

ImportedRaster import_raster(const ImportRequest& request, const ImportLimits& limits) {
  expects(request.work == ImportRequest::Work::raster, "import_raster: a request for a raster");
  return input(request, limits, imported_raster);
}

void write_raster(const std::string& path, const RasterToWrite& raster, const ImportLimits& limits) {
  Aside aside(path);
  ImportRequest request;
  request.work = ImportRequest::Work::write_raster;
  request.path = aside.name();
  try {
    answer(request, to_bytes(raster), limits, [](std::string_view bytes) {
      if (kind_of(bytes) != MessageKind::done) throw BadMessage("the message is of another kind");
    });
  } catch (const Failure& f) {
    cannot_write(path, f.what + (f.way_out.empty() ? "" : "; " + f.way_out));
  }
  aside.take_place();
}

}  // namespace rimstance
