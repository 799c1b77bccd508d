#include "foot_loads.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/statics/foot_force.hpp"

namespace rimstance {
namespace {

LinearForm negative(const LinearForm& f) { return {-f.per_place, -f.constant}; }

class Sweep {
 public:
  Sweep(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts)
      : prepared_(prepared), forces_(prepared, levelling.X_WC, contacts) {}

  FootLoads run() {
    FootLoads out;
    for (std::size_t i = 0; i < forces_.count(); ++i) out.feet.push_back(linear_extremes(i));
    for (const FootLoad& foot : out.feet) out.lifts_off = out.lifts_off || foot.least < 0;
    if (!out.lifts_off) return out;
    for (FootLoad& foot : out.feet) foot = {};
    for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c)
      for (std::size_t d = 0; d < prepared_.domains.size(); ++d) sweep(c, d, out);
    return out;
  }

 private:
  FootLoad linear_extremes(std::size_t i) const {
    const double gap = 1e-6 * prepared_.reference_masses.mass * prepared_.scenario->gravity;
    FootLoad foot{-kInfinity, kInfinity};
    for (const LoadCase& load_case : prepared_.load_cases)
      for (const Domain& domain : prepared_.domains) {
        const auto least = [&](const LinearForm& f) {
          return least_over(prepared_.loads, load_case, domain, f, {gap, {}}).value;
        };
        foot.least = std::min(foot.least, least(forces_.share(i).least));
        foot.greatest = std::max(foot.greatest, -least(negative(forces_.share(i).most)));
      }
    return foot;
  }

  /// Elastic equilibria with lift-off at the corners of the envelope, every five degrees of slew.
  void sweep(std::size_t load_case, std::size_t of_domain, FootLoads& out) const {
    const LoadCase& the_case = prepared_.load_cases[load_case];
    const Domain domain = narrowed(prepared_.domains[of_domain], the_case);
    const int steps = std::max(1, static_cast<int>(std::ceil(domain.slew.width() / radians(5))));
    for (const CraneState& corner : corner_states(prepared_.loads, the_case, domain)) {
      const auto all = parts(prepared_.loads, corner, the_case, domain.payload, false);
      for (int k = 0; k <= steps; ++k) take(all, domain.slew.lo + domain.slew.width() * k / steps, out);
    }
  }

  void take(const std::vector<Part>& all, double theta, FootLoads& out) const {
    for (std::size_t i = 0; i < out.feet.size(); ++i) {
      FootLoad& foot = out.feet[i];
      const double most = forces_.at(all, theta, i, 1), fewest = forces_.at(all, theta, i, -1);
      if (std::isfinite(most) && !(foot.greatest >= most)) foot.greatest = most;
      if (std::isfinite(fewest) && !(foot.least <= fewest)) foot.least = fewest;
    }
  }

  const Prepared& prepared_;
  FootForces forces_;
};

}  // namespace

FootLoads foot_loads(const Prepared& prepared, const Levelling& levelling,
                     std::span<const Contact> contacts) {
  return Sweep(prepared, levelling, contacts).run();
}

}  // namespace rimstance
