// The scenario loader, and the numbers of what it accepts by their paths.
#include <cmath>
#include <string>
#include <vector>

#include "refusal.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/model/fields.hpp"
#include "rimstance/model/load.hpp"
#include "targets.hpp"

namespace {

using namespace rimstance;
using fuzz::require;

bool same_number(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

std::vector<double> numbers(const Scenario& s, const std::vector<std::string>& all) {
  std::vector<double> out;
  for (const std::string& path : all) out.push_back(get(s, path));
  return out;
}

/// Writing a number over itself changes no number.
void check_round_trip(const Scenario& s, std::size_t start) {
  const std::vector<std::string> all = paths(s, "**");
  const std::vector<double> before = numbers(s, all);
  constexpr std::size_t kTried = 5;
  for (std::size_t k = 0; k < std::min(kTried, all.size()); ++k) {
    const std::size_t i = (start + k * all.size() / kTried) % all.size();
    if (!std::isfinite(before[i])) continue;
    const auto changed = with(s, all[i], before[i]);
    require(same_number(get(*changed, all[i]), before[i]), "a number that was written reads back");
    if (k > 0) continue;
    const std::vector<double> after = numbers(*changed, all);
    for (std::size_t j = 0; j < all.size(); ++j)
      require(same_number(before[j], after[j]), "the other numbers stay");
  }
}

}  // namespace

void fuzz::scenario(std::string_view bytes) {
  try {
    const Document document = load_scenario_text(bytes, "fuzz.yaml");
    require(document.scenario != nullptr, "what is accepted is there");
    require(document.scenario->gravity > 0 && std::isfinite(document.scenario->gravity), "gravity pulls");
    try {
      check_round_trip(*document.scenario, bytes.size());
    } catch (const InputError& error) {
      require(false, error.what());  // its own numbers suit it
    }
    require(disagreements(*document.scenario).empty(), "what is accepted agrees");
  } catch (const InputError& error) {
    check_refusal(error);
  }
}
