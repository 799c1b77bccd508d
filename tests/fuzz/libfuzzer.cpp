// One fuzzer: the target is named by the build.
#include <cstddef>
#include <cstdint>

#include "targets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::RIMSTANCE_FUZZ_TARGET({reinterpret_cast<const char*>(data), size});
  return 0;
}
