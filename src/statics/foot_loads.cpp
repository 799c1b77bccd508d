#include "foot_loads.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

/// A foot's force as a linear form in the weights, gravity leaning the way that is worst for it.
struct Share {
  LinearForm most, least;  ///< of a unit mass in C [m/s2]
  Vec2 towards;            ///< horizontal direction (W) in which a lean presses on this foot
};

/// N_i = k_i (1, x_i, y_i) S^-1 b, S the stiffness moments of the contacts, all of which carry. A unit mass
/// at r gives b = g (cos(phi), x cos(phi) + z sin(phi) u_x, y cos(phi) + z sin(phi) u_y) under gravity that
/// leans by phi towards u, z above the contacts' mean height; of all u the worst is along the last two of k_i
/// (1, x_i, y_i) S^-1.
Share share_of(std::span<const Contact> contacts, std::span<const Support> supports, std::size_t i,
               const Pose& X_WC, const Vec3& origin, double gravity, double lean) {
  Mat3 S = Mat3::Zero();
  const auto row = [&](const Contact& c) { return Vec3(1, c.p_W.x() - origin.x(), c.p_W.y() - origin.y()); };
  for (std::size_t k = 0; k < contacts.size(); ++k)
    S += supports[k].stiffness * row(contacts[k]) * row(contacts[k]).transpose();
  const Vec3 w = gravity * supports[i].stiffness * (S.inverse() * row(contacts[i]));
  const Vec2 across = w.tail<2>();
  const auto form = [&](double side) {
    const Vec3 per_W(std::cos(lean) * across.x(), std::cos(lean) * across.y(),
                     side * std::sin(lean) * across.norm());
    return LinearForm{X_WC.R.transpose() * per_W, std::cos(lean) * w.x() + per_W.dot(X_WC.p - origin)};
  };
  return {form(1), form(-1), across.normalized()};
}

/// Mean of the contacts: differences first, and horizontal loads are carried at their height.
Vec3 middle(std::span<const Contact> contacts) {
  Vec3 sum = Vec3::Zero();
  for (const Contact& c : contacts) sum += c.p_W - contacts[0].p_W;
  return contacts[0].p_W + sum / static_cast<double>(contacts.size());
}

LinearForm negative(const LinearForm& f) { return {-f.per_place, -f.constant}; }

class Sweep {
 public:
  Sweep(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts)
      : prepared_(prepared),
        X_(levelling.X_WC),
        origin_(middle(contacts)),
        lean_(prepared.scenario->criteria.set_error + prepared.scenario->criteria.work_tilt),
        supports_(supports(prepared.scenario->machine)) {
    for (std::size_t i = 0; i < contacts.size(); ++i) {
      points_.push_back(contacts[i].p_W - origin_);
      shares_.push_back(share_of(contacts, supports_, i, X_, origin_, prepared.scenario->gravity, lean_));
    }
  }

  FootLoads run() {
    FootLoads out;
    for (std::size_t i = 0; i < points_.size(); ++i) out.feet.push_back(linear_extremes(i));
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
        foot.least = std::min(foot.least, least(shares_[i].least));
        foot.greatest = std::max(foot.greatest, -least(negative(shares_[i].most)));
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
      const double most = equilibrium(all, theta, i, 1), fewest = equilibrium(all, theta, i, -1);
      if (std::isfinite(most) && !(foot.greatest >= most)) foot.greatest = most;
      if (std::isfinite(fewest) && !(foot.least <= fewest)) foot.least = fewest;
    }
  }

  /// Force on a foot with gravity leaning towards it (side 1) or away (side -1) and the growth allowances of
  /// the parts that add to it or take from it, as the linear share tells; NaN where the machine tips.
  double equilibrium(const std::vector<Part>& all, double theta, std::size_t foot, int side) const {
    const Share& share = shares_[foot];
    const LinearForm& form = side > 0 ? share.most : share.least;
    const Vec2 lean = side * std::sin(lean_) * share.towards;
    const Vec3 g_W = prepared_.scenario->gravity * Vec3(lean.x(), lean.y(), -std::cos(lean_));
    Vec6 w = Vec6::Zero();
    for (const Part& part : all) {
      const Vec3 r_C = part.at(theta);
      const double force = part.mass * (form.per_place.dot(r_C) + form.constant);
      const double mass = part.mass * (side * force > 0 ? 1 + part.margin : 1);
      w += wrench(mass * g_W, X_ * r_C - origin_);
    }
    const Reactions r = reactions(points_, supports_, w);
    return r.normal.empty() ? kUnset : r.normal[foot];
  }

  const Prepared& prepared_;
  const Pose& X_;
  Vec3 origin_;
  double lean_;  ///< of gravity, not measured [rad]
  std::vector<Support> supports_;
  std::vector<Vec3> points_;  ///< contacts from origin_, W
  std::vector<Share> shares_;
};

}  // namespace

FootLoads foot_loads(const Prepared& prepared, const Levelling& levelling,
                     std::span<const Contact> contacts) {
  return Sweep(prepared, levelling, contacts).run();
}

}  // namespace rimstance
