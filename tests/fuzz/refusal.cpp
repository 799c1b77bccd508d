#include "refusal.hpp"

#include <string_view>

#include "targets.hpp"

void fuzz::check_refusal(const rimstance::InputError& error) {
  require(!error.issues.empty(), "a refusal has a reason");
  for (const rimstance::Issue& issue : error.issues) {
    require(!issue.what.empty() && !issue.place.file.empty(), "a reason says what and where");
    for (const char c : rimstance::to_string(issue))
      require(static_cast<unsigned char>(c) >= 0x20 && c != 0x7f, "a message steers no terminal");
  }
}
