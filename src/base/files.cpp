#include "rimstance/base/files.hpp"

#include <fcntl.h>
#include <openssl/evp.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"

namespace rimstance {

struct FileBytes::Mapping {
  void* address = nullptr;
  std::size_t size = 0;
  ~Mapping() {
    if (address) ::munmap(address, size);
  }
};

namespace {

/// Closes on every way out.
struct Descriptor {
  int fd = -1;
  ~Descriptor() {
    if (fd >= 0) ::close(fd);
  }
};

[[noreturn]] void fail_write(const std::string& path, const std::string& step) {
  const std::string cause = std::strerror(errno);
  throw MachineError(path + ": cannot be written (" + step + ": " + cause + ")");
}

std::string way_to_open(int error) {
  if (error == ENOENT || error == ENOTDIR)
    return "check the path; paths are relative to the file that names them";
  if (error == EACCES || error == EPERM) return "check the permissions";
  if (error == ELOOP) return "name the file itself: these links lead back to one another";
  return "name another file";
}

}  // namespace

FileBytes::FileBytes(const std::string& path) {
  const Place place{path, 0, 0, {}};
  // O_NONBLOCK: opening a pipe must not wait for a writer; it is refused below.
  const Descriptor file{::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)};
  if (file.fd < 0) {
    const int error = errno;
    const bool missing = error == ENOENT || error == ENOTDIR;
    throw InputError(place, missing ? "no such file" : std::string("cannot be read: ") + std::strerror(error),
                     way_to_open(error));
  }
  struct stat status {};
  if (::fstat(file.fd, &status) != 0 || !S_ISREG(status.st_mode))
    throw InputError(place, "not a regular file", "name a file, not a directory or device");
  auto mapping = std::make_shared<Mapping>();
  mapping->size = static_cast<std::size_t>(status.st_size);
  if (mapping->size > 0) {
    void* const address = ::mmap(nullptr, mapping->size, PROT_READ, MAP_PRIVATE, file.fd, 0);
    if (address == MAP_FAILED) throw MachineError(path + ": cannot be mapped: " + std::strerror(errno));
    mapping->address = address;
  }
  mapping_ = std::move(mapping);
}

std::string_view FileBytes::text() const {
  return {static_cast<const char*>(mapping_->address), mapping_->size};
}

void write_whole(const std::string& path, std::string_view bytes) {
  namespace fs = std::filesystem;
  const fs::path folder = fs::path(path).has_parent_path() ? fs::path(path).parent_path() : fs::path(".");
  std::string aside = path + ".XXXXXX";
  Descriptor file{::mkostemp(aside.data(), O_CLOEXEC)};
  if (file.fd < 0) fail_write(path, "creating a file beside it");
  try {
    std::size_t written = 0;
    while (written < bytes.size()) {
      const ssize_t n = ::write(file.fd, bytes.data() + written, bytes.size() - written);
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) fail_write(path, "writing");
      written += static_cast<std::size_t>(n);
    }
    const mode_t mask = ::umask(0);
    ::umask(mask);
    if (::fchmod(file.fd, 0666 & ~mask) != 0) fail_write(path, "setting permissions");
    if (::fsync(file.fd) != 0) fail_write(path, "syncing");
    const int fd = std::exchange(file.fd, -1);
    if (::close(fd) != 0) fail_write(path, "closing");
    if (::rename(aside.c_str(), path.c_str()) != 0) fail_write(path, "renaming");
  } catch (...) {
    ::unlink(aside.c_str());
    throw;
  }
  // The new name must survive a power cut as well; a file system that cannot sync folders is no error.
  const Descriptor parent{::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)};
  if (parent.fd >= 0) (void)::fsync(parent.fd);
}

void make_directory(const std::string& path) {
  std::error_code error;
  std::filesystem::create_directories(path, error);
  if (error || !std::filesystem::is_directory(path, error))
    throw MachineError(path + ": folder cannot be made" + (error ? ": " + error.message() : ""));
}

std::string sha256(std::string_view bytes) {
  std::vector<unsigned char> digest(EVP_MAX_MD_SIZE);
  unsigned size = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr) != 1)
    throw MachineError("SHA-256 failed");
  static constexpr char kHex[] = "0123456789abcdef";
  std::string out;
  for (unsigned i = 0; i < size; ++i) {
    out += kHex[digest[i] >> 4];
    out += kHex[digest[i] & 15];
  }
  return out;
}

std::string shortest(double value) {
  expects(std::isfinite(value), "shortest: finite value");
  char buffer[32];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
  return {buffer, end};
}

}  // namespace rimstance
