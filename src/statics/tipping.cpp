#include "rimstance/statics/tipping.hpp"

#include <vector>

#include "about.hpp"

namespace rimstance {
namespace {

std::vector<About> about(std::span<const Part> parts, const TippingAxis& axis, double slew) {
  std::vector<About> out;
  out.reserve(parts.size());
  for (const Part& part : parts) {
    const Vec3 r = part.at(slew) - axis.c;
    const double force = part.mass * axis.g;
    out.push_back({force * axis.cos_psi * r.dot(axis.n), force * r.dot(axis.v), force, part.margin, part.body,
                   part.weight});
  }
  return out;
}

/// The c at which sum(min(q_k, (1 + mu_k) q_k)) = 0, q_k = M_k - c W_k cos(psi). The sum is concave and
/// falls with c, so Newton's steps end after finitely many.
double clearance_of(std::span<const About> all, double cos_psi, double worst_way) {
  double c = 0;
  for (int step = 0; step < 64; ++step) {
    double sum = -worst_way, slope = 0;
    for (const About& a : all) {
      const double q = a.moment - c * a.force * cos_psi;
      const double factor = q < 0 ? 1 + a.margin : 1;
      sum += factor * q;
      slope += factor * a.force * cos_psi;
    }
    if (!(slope > 0)) return kUnset;  // more is pulled up than weighs down
    const double next = c + sum / slope;
    if (std::abs(next - c) <= 1e-15 * (1 + std::abs(c))) return next;
    c = next;
  }
  return c;
}

/// Restoring over overturning; the parts of one body stand next to each other.
double ratio_of(std::span<const About> all) {
  double restoring = 0, overturning = 0;
  for (std::size_t i = 0; i < all.size();) {
    double moment = 0;
    const int body = all[i].body;
    for (; i < all.size() && all[i].body == body; ++i) moment += all[i].factor() * all[i].moment;
    (moment > 0 ? restoring : overturning) += std::abs(moment);
  }
  return overturning > 0 ? restoring / overturning : kUnset;
}

/// W R (1 - cos(theta)) with W R = hypot(D, H); the difference is taken without cancellation. 0 when over.
double lift(double across, double height) {
  if (!(across > 0)) return 0;
  const double r = std::hypot(across, height);
  return height > 0 ? across * across / (r + height) : r - height;
}

}  // namespace

double Measures::of(MarginKind kind) const {
  switch (kind) {
    case MarginKind::moment:
      return moment;
    case MarginKind::clearance:
      return clearance;
    case MarginKind::load_side_share:
      return load_side_share;
    case MarginKind::moment_ratio:
      return moment_ratio;
    case MarginKind::tip_angle:
      return tip_angle;
    case MarginKind::energy:
      return energy;
    case MarginKind::force_angle:
      return force_angle;
  }
  return kUnset;
}

TippingAxis tipping_axis(const Edge& edge, const Vec3& gravity_C, double rotated) {
  TippingAxis axis;
  axis.c = edge.p_C;
  axis.g = gravity_C.norm();
  axis.width = edge.width;
  const auto set = [&](const Vec3& down) {
    const Vec3 across = edge.a_C.cross(down);  // its length is cos(psi)
    axis.cos_psi = across.norm();
    axis.n = across / axis.cos_psi;
    axis.v = (down.dot(edge.a_C) * edge.a_C - down).normalized();
  };
  const Vec3 down = gravity_C / axis.g;
  set(down);
  if (rotated == 0) return axis;
  const Vec3 n = axis.n, v = axis.v;
  axis.sin_rotated = std::sin(rotated);
  axis.sin_psi_level = down.dot(edge.a_C);
  set(std::cos(rotated) * down - std::sin(rotated) * n);
  axis.nn = n.dot(axis.n);
  axis.nv = n.dot(axis.v);
  axis.vn = v.dot(axis.n);
  axis.vv = v.dot(axis.v);
  return axis;
}

Measures measures(std::span<const About> all, const TippingAxis& axis) {
  Measures out;
  out.moment = 0;
  double height = 0, height_of_all = 0, weight = 0, force = 0;
  bool only_weights = true;
  for (const About& a : all) {
    out.moment += a.factor() * a.moment;
    force += a.factor() * a.force;
    height_of_all += a.factor() * a.height;
    if (!a.weight) {
      only_weights = false;
      continue;
    }
    height += a.factor() * a.height;
    weight += a.factor() * a.force;
  }
  // In the plane normal to the edge: the moment's arm D = M / cos(psi), and the height of the weights'
  // centre under the share of them that still presses down.
  const double across = out.moment / axis.cos_psi;
  const double worst_way = axis.worst_way(across, height_of_all);
  out.moment -= worst_way;
  out.clearance = clearance_of(all, axis.cos_psi, worst_way);
  out.load_side_share = out.clearance / axis.width;
  out.moment_ratio = ratio_of(all);
  out.tip_angle = std::atan2(across, force / weight * height);
  out.force_angle = out.tip_angle * std::abs(across) * axis.cos_psi;
  if (only_weights) out.energy = axis.cos_psi * lift(across, height);
  return out;
}

Measures measures(std::span<const Part> parts, const TippingAxis& axis, double slew) {
  return measures(about(parts, axis, slew), axis);
}

}  // namespace rimstance
