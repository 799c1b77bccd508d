#pragma once
#include <functional>
#include <stop_token>
#include <string_view>

namespace rimstance {

/// Passed by const& to every verb that may take over 10 ms. Never affects a result.
struct Control {
  std::stop_token stop;                                          ///< asked at chunk borders only
  std::function<void(double share, std::string_view)> progress;  ///< share done in [0, 1]; may be empty
  int threads = 0;                                               ///< 0: as many as there are cores
};

}  // namespace rimstance
