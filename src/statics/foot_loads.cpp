#include "foot_loads.hpp"

#include <algorithm>
#include <cmath>

#include "four_foot_search.hpp"
#include "rimstance/statics/foot_force.hpp"

namespace rimstance {
namespace {

LinearForm negative(const LinearForm& f) { return {-f.per_place, -f.constant}; }

class Sweep {
 public:
  Sweep(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts)
      : prepared_(prepared), forces_(prepared, levelling.X_WC, contacts) {
    for (const Contact& c : contacts) points_.push_back(c.p_W - contacts[0].p_W);
  }

  FootLoads run() {
    FootLoads out;
    for (std::size_t i = 0; i < forces_.count(); ++i) out.feet.push_back(linear_extremes(i));
    for (const FootLoad& foot : out.feet) out.lifts_off = out.lifts_off || foot.least < 0;
    if (!out.lifts_off) return out;
    if (forces_.count() == 4)
      if (std::optional<std::vector<FootLoad>> exact = four_feet()) {
        out.feet = std::move(*exact);
        return out;
      }
    for (FootLoad& foot : out.feet) foot = {};
    for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c)
      for (std::size_t d = 0; d < prepared_.domains.size(); ++d) sweep(c, d, out);
    return out;
  }

 private:
  FootLoad linear_extremes(std::size_t i) const {
    const double gap = 1e-6 * prepared_.reference_masses.mass * prepared_.scenario->gravity;
    FootLoad foot{-kInfinity, kInfinity, 0, {}, {}};
    for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c)
      for (const Domain& domain : prepared_.domains) {
        const auto least = [&](const LinearForm& f, double not_above) {
          const auto found =
              least_over(prepared_.loads, prepared_.load_cases[c], domain, f, {gap, {}}, not_above);
          if (!std::isnan(foot.gap) && !(found.gap <= foot.gap)) foot.gap = found.gap;  // unproven stays so
          return found;
        };
        const auto at = [&](const CraneState& state) {
          return At{state, domain.transit, static_cast<int>(c), -1};
        };
        if (const auto found = least(forces_.share(i).least, foot.least); found.value < foot.least) {
          foot.least = found.value;
          foot.least_at = at(found.at);
        }
        if (const auto found = least(negative(forces_.share(i).most), -foot.greatest);
            - found.value > foot.greatest) {
          foot.greatest = -found.value;
          foot.greatest_at = at(found.at);
        }
      }
    return foot;
  }

  /// Of four feet, whichever lifts; none where the machine tips in a state that counts.
  std::optional<std::vector<FootLoad>> four_feet() const {
    const double gap = 5e-4 * prepared_.reference_masses.mass * prepared_.scenario->gravity;
    const FourFootSearch search(forces_, points_, prepared_.loads, gap);
    std::vector<FootLoad> out;
    for (std::size_t i = 0; i < 4; ++i) {
      FootLoad foot{-kInfinity, kInfinity, 0, {}, {}};
      for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c)
        for (const Domain& domain : prepared_.domains)
          for (const int side : {1, -1}) {
            double& extreme = side > 0 ? foot.greatest : foot.least;
            const auto found = search.extreme(prepared_.load_cases[c], domain, i, side,
                                              side > 0 ? -foot.greatest : foot.least);
            if (!std::isfinite(found.gap)) return std::nullopt;
            foot.gap = std::max(foot.gap, found.gap);
            if (!(found.value < side * -extreme)) continue;
            if (!stands(found.at, c, domain, i, side)) return std::nullopt;
            extreme = -side * found.value;
            (side > 0 ? foot.greatest_at : foot.least_at) =
                At{found.at, domain.transit, static_cast<int>(c), -1};
          }
      foot.least = std::max(0.0, foot.least);
      foot.greatest = std::max(0.0, foot.greatest);
      out.push_back(foot);
    }
    return out;
  }
  bool stands(const CraneState& at, std::size_t c, const Domain& domain, std::size_t foot, int side) const {
    const auto all = parts(prepared_.loads, at, prepared_.load_cases[c], domain.payload, false);
    return std::isfinite(forces_.at(all, at.slew, foot, side));
  }

  /// Elastic equilibria with lift-off at the corners of the envelope, every five degrees of slew.
  void sweep(std::size_t load_case, std::size_t of_domain, FootLoads& out) const {
    const LoadCase& the_case = prepared_.load_cases[load_case];
    const Domain domain = narrowed(prepared_.domains[of_domain], the_case);
    At at{{}, domain.transit, static_cast<int>(load_case), -1};
    const int steps = std::max(1, static_cast<int>(std::ceil(domain.slew.width() / radians(5))));
    for (const CraneState& corner : corner_states(prepared_.loads, the_case, domain)) {
      const auto all = parts(prepared_.loads, corner, the_case, domain.payload, false);
      at.state = corner;
      for (int k = 0; k <= steps; ++k) {
        at.state.slew = domain.slew.lo + domain.slew.width() * k / steps;
        take(all, at, out);
      }
    }
  }

  void take(const std::vector<Part>& all, const At& at, FootLoads& out) const {
    for (std::size_t i = 0; i < out.feet.size(); ++i) {
      FootLoad& foot = out.feet[i];
      const double theta = at.state.slew;
      const double most = forces_.at(all, theta, i, 1), fewest = forces_.at(all, theta, i, -1);
      if (std::isfinite(most) && !(foot.greatest >= most)) {
        foot.greatest = most;
        foot.greatest_at = at;
      }
      if (std::isfinite(fewest) && !(foot.least <= fewest)) {
        foot.least = fewest;
        foot.least_at = at;
      }
    }
  }

  const Prepared& prepared_;
  FootForces forces_;
  std::vector<Vec3> points_;
};

}  // namespace

FootLoads foot_loads(const Prepared& prepared, const Levelling& levelling,
                     std::span<const Contact> contacts) {
  return Sweep(prepared, levelling, contacts).run();
}

}  // namespace rimstance
