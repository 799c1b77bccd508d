#include "foot_loads.hpp"

#include <Eigen/LU>
#include <algorithm>

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
    for (const Contact& c : contacts) points_.push_back(c.p_W - contacts[0].p_W);
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
    const LinearForm form = share_form(contacts_, supports_, i, X_, gravity);
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
      const Reactions r = equilibrium(all, theta);
      for (std::size_t i = 0; i < r.normal.size(); ++i) {
        FootLoad& foot = out.feet[i];
        if (!(foot.greatest >= r.normal[i])) foot.greatest = r.normal[i];
        if (!(foot.least <= r.normal[i])) foot.least = r.normal[i];
      }
    }
  }

  Reactions equilibrium(const std::vector<Part>& all, double theta) const {
    Vec6 w = Vec6::Zero();
    for (const Part& part : all) {
      const Vec3 r = X_ * part.at(theta) - contacts_[0].p_W;
      w += wrench(part.mass * Vec3(0, 0, -prepared_.scenario->gravity), r);
    }
    return reactions(points_, supports_, w);
  }

  const Prepared& prepared_;
  const Pose& X_;
  std::span<const Contact> contacts_;
  std::vector<Support> supports_;
  std::vector<Vec3> points_;
  std::vector<Extreme> extremes_;
};

}  // namespace

FootLoads foot_loads(const Prepared& prepared, const Levelling& levelling,
                     std::span<const Contact> contacts) {
  return Sweep(prepared, levelling, contacts).run();
}

}  // namespace rimstance
