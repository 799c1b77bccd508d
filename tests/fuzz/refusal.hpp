#pragma once
#include "rimstance/base/errors.hpp"

namespace fuzz {

/// A refusal says what is wrong and where, in text that steers no terminal.
void check_refusal(const rimstance::InputError& error);

}  // namespace fuzz
