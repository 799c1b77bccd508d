#pragma once

namespace rimstance {

/// From here on this process opens no network and starts no program (a seccomp filter), writes no core, and
/// does not outlive its parent.
void fence();

}  // namespace rimstance
