// One fuzzer: the target is named by the build.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "targets.hpp"

/// By the bytes alone (their FNV-1a hash), so that an input always goes the same way.
bool fuzz::goes_to_ground(std::string_view bytes) {
  std::uint64_t hash = 0xcbf29ce484222325;
  for (const char c : bytes) hash = (hash ^ static_cast<std::uint8_t>(c)) * 0x100000001b3;
  return hash % 8 == 0;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::RIMSTANCE_FUZZ_TARGET({reinterpret_cast<const char*>(data), size});
  return 0;
}
