#include "rimstance/statics/foot_force.hpp"

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <cmath>

namespace rimstance {
namespace {

/// N_i = k_i (1, x_i, y_i) S^-1 b, S the stiffness moments of the contacts, all of which carry: k_i (1, x_i,
/// y_i) S^-1 times gravity.
Vec3 per_load(std::span<const Contact> contacts, std::span<const Support> supports, std::size_t i,
              const Vec3& origin, double gravity) {
  Mat3 S = Mat3::Zero();
  const auto row = [&](const Contact& c) { return Vec3(1, c.p_W.x() - origin.x(), c.p_W.y() - origin.y()); };
  for (std::size_t k = 0; k < contacts.size(); ++k)
    S += supports[k].stiffness * row(contacts[k]) * row(contacts[k]).transpose();
  return gravity * supports[i].stiffness * (S.inverse() * row(contacts[i]));
}

/// A unit mass at r gives b = g (cos(phi), x cos(phi) + z sin(phi) u_x, y cos(phi) + z sin(phi) u_y) under
/// gravity that leans by phi towards u, z above the contacts' mean height. `leans`: sin(phi) u.
LinearForm form_of(const Vec3& per_load, double lean, const Vec2& leans, const Pose& X_WC,
                   const Vec3& origin) {
  const Vec2 across = per_load.tail<2>();
  const Vec3 per_W(std::cos(lean) * across.x(), std::cos(lean) * across.y(), across.dot(leans));
  return {X_WC.R.transpose() * per_W, std::cos(lean) * per_load.x() + per_W.dot(X_WC.p - origin)};
}

/// Mean of the contacts: differences first, and horizontal loads are carried at their height.
Vec3 middle(std::span<const Contact> contacts) {
  Vec3 sum = Vec3::Zero();
  for (const Contact& c : contacts) sum += c.p_W - contacts[0].p_W;
  return contacts[0].p_W + sum / static_cast<double>(contacts.size());
}

}  // namespace

std::array<double, 4> self_stress(const std::array<Vec3, 4>& points) {
  const auto area = [&](std::size_t i, std::size_t j, std::size_t k) {
    const auto row = [&](std::size_t at) { return Vec3(1, points[at].x(), points[at].y()); };
    return row(i).dot(row(j).cross(row(k)));
  };
  return {area(1, 2, 3), -area(0, 2, 3), area(0, 1, 3), -area(0, 1, 2)};
}

FootForces::FootForces(const Prepared& prepared, const Pose& X_WC, std::span<const Contact> contacts)
    : X_(X_WC),
      origin_(middle(contacts)),
      gravity_(prepared.scenario->gravity),
      lean_(prepared.scenario->criteria.set_error + prepared.scenario->criteria.work_tilt),
      supports_(supports(prepared.scenario->machine)) {
  for (std::size_t i = 0; i < contacts.size(); ++i) {
    points_.push_back(contacts[i].p_W - origin_);
    per_load_.push_back(per_load(contacts, supports_, i, origin_, gravity_));
    const Vec2 towards = per_load_[i].tail<2>().normalized();  // of all leans the worst
    const auto form = [&](double side) {
      return form_of(per_load_[i], lean_, side * std::sin(lean_) * towards, X_, origin_);
    };
    shares_.push_back({form(1), form(-1), towards});
  }
}

LinearForm FootForces::all_carry(std::size_t foot, std::size_t pressed, int side) const {
  return form_of(per_load_[foot], lean_, side * std::sin(lean_) * shares_[pressed].towards, X_, origin_);
}

double FootForces::at(std::span<const Part> all, double theta, std::size_t foot, int side) const {
  const FootShare& share = shares_[foot];
  const LinearForm& form = side > 0 ? share.most : share.least;
  const Vec2 lean = side * std::sin(lean_) * share.towards;
  const Vec3 g_W = gravity_ * Vec3(lean.x(), lean.y(), -std::cos(lean_));
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

}  // namespace rimstance
