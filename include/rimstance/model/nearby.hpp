#pragma once
#include <string>

namespace rimstance {

/// What to do about the file that `written` names in a file of `folder` and that is not there: where it was
/// looked for, and what it may have been meant to be: a file of the same name (in any case) in or beside that
/// folder, one above or one below, else the nearest name where it was looked for. `relative_to`: what is said
/// of relative paths where nothing is near.
std::string whereabouts(const std::string& written, const std::string& folder,
                        const std::string& relative_to = "the file that names them");

}  // namespace rimstance
