#pragma once

namespace rimstance {

/// Of the program and of the results it writes.
inline constexpr const char* kVersion = "0.1.0";

}  // namespace rimstance
