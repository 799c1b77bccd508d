#pragma once
#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <string_view>

namespace rimstance {

/// A file's bytes, mapped read-only where the system can; lives as long as this value.
/// Directories, devices and pipes are refused.
class FileBytes {
 public:
  /// Throws InputError (missing, unreadable, not a regular file), naming the file.
  explicit FileBytes(const std::string& path);
  std::string_view text() const;
  std::size_t size() const { return text().size(); }

 private:
  struct Mapping;
  std::shared_ptr<const Mapping> mapping_;
};

/// Writes `bytes` to `path` whole or not at all: beside it, synced, renamed. Throws MachineError
/// naming the file and the cause; then an older file at `path` is untouched and nothing is left behind.
void write_whole(const std::string& path, std::string_view bytes);

/// Makes the directory and its parents. Throws MachineError.
void make_directory(const std::string& path);

/// SHA-256, lower-case hexadecimal.
std::string sha256(std::string_view bytes);

/// The shortest text that reads back as the same double; never depends on the locale. Infinite and
/// NaN: the caller is wrong.
std::string shortest(double value);

}  // namespace rimstance
