#include "foot_loads.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

/// Force on contact i of a unit mass at r (in C), all contacts carrying.
LinearForm share_form(std::span<const Contact> contacts, std::span<const Support> supports, std::size_t i,
                      const Pose& X_WC, double gravity) {
  const Vec2 origin = contacts[0].p_W.head<2>();  // differences first
  Mat3 S = Mat3::Zero();
  const auto row = [&](const Contact& c) { return Vec3(1, c.p_W.x() - origin.x(), c.p_W.y() - origin.y()); };
  for (std::size_t k = 0; k < contacts.size(); ++k)
    S += supports[k].stiffness * row(contacts[k]) * row(contacts[k]).transpose();
  const Vec3 w = gravity * supports[i].stiffness * (S.inverse() * row(contacts[i]));
  LinearForm form;
  const Vec3 across(w.y(), w.z(), 0);
  form.per_place = X_WC.R.transpose() * across;
  form.constant = w.x() + across.dot(X_WC.p - Vec3(origin.x(), origin.y(), 0));
  return form;
}

LinearForm negative(const LinearForm& f) { return {-f.per_place, -f.constant}; }

/// Where linear extremes lie: the states from which lifted equilibria are looked for.
struct Extreme {
  CraneState state;
  std::size_t load_case, domain;
};

class Sweep {
 public:
  Sweep(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts)
      : prepared_(prepared),
        X_(levelling.X_WC),
        contacts_(contacts),
        supports_(supports(prepared.scenario->machine)) {
    for (std::size_t i = 0; i < contacts.size(); ++i) {
      points_.push_back(contacts[i].p_W - contacts[0].p_W);
      forms_.push_back(share_form(contacts, supports_, i, X_, prepared.scenario->gravity));
    }
  }

  FootLoads run() {
    FootLoads out;
    for (std::size_t i = 0; i < contacts_.size(); ++i) out.feet.push_back(linear_extremes(i));
    for (const FootLoad& foot : out.feet) out.lifts_off = out.lifts_off || foot.least < 0;
    if (!out.lifts_off) return out;
    for (FootLoad& foot : out.feet) foot = {};
    for (const Extreme& e : extremes_) sweep_slew(e, out);
    return out;
  }

 private:
  FootLoad linear_extremes(std::size_t i) {
    const double gravity = prepared_.scenario->gravity;
    const LinearForm& form = forms_[i];
    const double gap = 1e-6 * prepared_.reference_masses.mass * gravity;
    FootLoad foot{-kInfinity, kInfinity};
    for (std::size_t c = 0; c < prepared_.load_cases.size(); ++c)
      for (std::size_t d = 0; d < prepared_.domains.size(); ++d) {
        const auto search = [&](const LinearForm& f) {
          const auto found =
              least_over(prepared_.loads, prepared_.load_cases[c], prepared_.domains[d], f, {gap, {}});
          extremes_.push_back({found.at, c, d});
          return found.value;
        };
        foot.least = std::min(foot.least, search(form));
        foot.greatest = std::max(foot.greatest, -search(negative(form)));
      }
    return foot;
  }

  /// Elastic equilibrium with lift-off every five degrees of the sector, and at the state itself.
  void sweep_slew(const Extreme& e, FootLoads& out) const {
    const Interval slew = prepared_.domains[e.domain].slew;
    const int steps = std::max(1, static_cast<int>(std::ceil(slew.width() / radians(5))));
    const auto all = parts(prepared_.loads, e.state, prepared_.load_cases[e.load_case],
                           prepared_.domains[e.domain].payload, false);
    for (int k = -1; k <= steps; ++k) {
      const double theta = k < 0 ? e.state.slew : slew.lo + slew.width() * k / steps;
      for (std::size_t i = 0; i < out.feet.size(); ++i) {
        FootLoad& foot = out.feet[i];
        const double most = equilibrium(all, theta, i, 1), fewest = equilibrium(all, theta, i, -1);
        if (std::isfinite(most) && !(foot.greatest >= most)) foot.greatest = most;
        if (std::isfinite(fewest) && !(foot.least <= fewest)) foot.least = fewest;
      }
    }
  }

  /// Force on a foot with the growth allowances of the parts that add to it (side 1) or take from it (side
  /// -1). Which they are is told by the linear share; where the machine tips there is no force: NaN.
  double equilibrium(const std::vector<Part>& all, double theta, std::size_t foot, int side) const {
    Vec6 w = Vec6::Zero();
    for (const Part& part : all) {
      const Vec3 r_C = part.at(theta);
      const double share = part.mass * (forms_[foot].per_place.dot(r_C) + forms_[foot].constant);
      const double mass = part.mass * (side * share > 0 ? 1 + part.margin : 1);
      w += wrench(mass * Vec3(0, 0, -prepared_.scenario->gravity), X_ * r_C - contacts_[0].p_W);
    }
    const Reactions r = reactions(points_, supports_, w);
    return r.normal.empty() ? kUnset : r.normal[foot];
  }

  const Prepared& prepared_;
  const Pose& X_;
  std::span<const Contact> contacts_;
  std::vector<Support> supports_;
  std::vector<Vec3> points_;
  std::vector<LinearForm> forms_;  ///< force per contact of a unit mass, all contacts carrying
  std::vector<Extreme> extremes_;
};

}  // namespace

FootLoads foot_loads(const Prepared& prepared, const Levelling& levelling,
                     std::span<const Contact> contacts) {
  return Sweep(prepared, levelling, contacts).run();
}

}  // namespace rimstance
