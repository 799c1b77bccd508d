#pragma once
#include <Eigen/Core>
#include <Eigen/Geometry>
#include <cmath>
#include <limits>
#include <numbers>

namespace rimstance {

// Frames (right-handed, SI, radians):
//   W  world: the terrain's local origin; x east, y north, z up; gravity (0, 0, -g).
//   C  chassis: a fixed point of it; x forward, y left, z up.
//   S  platform: foot of the slew axis in C; turned by the slew angle about C's z.
//   B  boom: its foot pin on the platform; raised by the luff angle above S's xy plane.
//   G  guide: start of the counterweight's way, on the platform or on the chassis.
// Names carry the frame: p_W is a point in W, X_WC the pose of C in W (p_W = X_WC * p_C).
// Map coordinates (files, results) = W + Terrain::map_offset.
using Vec2 = Eigen::Vector2d;
using Vec3 = Eigen::Vector3d;
using Mat3 = Eigen::Matrix3d;

/// A wrench: force [N], then moment [N m] about the frame's origin.
using Vec6 = Eigen::Matrix<double, 6, 1>;

/// Not given. Never 0, never -1; checks are written `x > 0` so that it fails them.
inline constexpr double kUnset = std::numeric_limits<double>::quiet_NaN();
inline constexpr double kPi = std::numbers::pi;
inline constexpr double kInfinity = std::numeric_limits<double>::infinity();

constexpr double radians(double degrees) { return degrees * (kPi / 180.0); }
constexpr double degrees(double radians) { return radians * (180.0 / kPi); }

struct Interval {
  double lo = kUnset, hi = kUnset;
  double width() const { return hi - lo; }
  double middle() const { return lo + 0.5 * (hi - lo); }
  bool contains(double x) const { return x >= lo && x <= hi; }
};

/// Axis-parallel rectangle in plan [m]; corners included.
struct Box2 {
  Vec2 lo = Vec2::Constant(kUnset), hi = Vec2::Constant(kUnset);
  bool contains(const Vec2& p) const {
    return p.x() >= lo.x() && p.x() <= hi.x() && p.y() >= lo.y() && p.y() <= hi.y();
  }
};

/// Where a frame stands in another: p_A = X_AB * p_B.
struct Pose {
  Mat3 R = Mat3::Identity();
  Vec3 p = Vec3::Zero();
  Vec3 operator*(const Vec3& point) const { return R * point + p; }
};

/// Rz(yaw) Ry(pitch) Rx(roll): yaw counter-clockwise from east seen from above, positive pitch
/// lowers the nose, positive roll raises the left side [rad].
inline Mat3 rotation(double yaw, double pitch, double roll) {
  return (Eigen::AngleAxisd(yaw, Vec3::UnitZ()) * Eigen::AngleAxisd(pitch, Vec3::UnitY()) *
          Eigen::AngleAxisd(roll, Vec3::UnitX()))
      .toRotationMatrix();
}
struct YawPitchRoll {
  double yaw, pitch, roll;  ///< [rad], yaw in (-pi, pi]
};
/// Inverse of rotation() for |pitch| < 90 deg.
inline YawPitchRoll yaw_pitch_roll(const Mat3& R) {
  return {std::atan2(R(1, 0), R(0, 0)), std::atan2(-R(2, 0), std::hypot(R(2, 1), R(2, 2))),
          std::atan2(R(2, 1), R(2, 2))};
}
/// Angle between a frame's z axis and the vertical [rad], in [0, pi]. atan2, not acos(R_zz): exact
/// for the small angles that matter.
inline double tilt(const Mat3& R) { return std::atan2(std::hypot(R(0, 2), R(1, 2)), R(2, 2)); }

/// `angle` + whole turns, in (-pi, pi].
inline double wrapped(double angle) {
  const double w = std::remainder(angle, 2 * kPi);
  return w <= -kPi ? w + 2 * kPi : w;
}
/// Clockwise from grid north, in [0, 2 pi), of a direction counter-clockwise from east [rad].
inline double azimuth_of(double yaw) {
  double a = std::fmod(kPi / 2 - yaw, 2 * kPi);
  if (a < 0) a += 2 * kPi;
  return a >= 2 * kPi ? 0.0 : a;
}

/// 2-D cross product a x b; positive if b lies counter-clockwise of a.
inline double cross2(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Force F acting at r, as a wrench about the origin.
inline Vec6 wrench(const Vec3& F, const Vec3& r) {
  Vec6 w;
  w << F, r.cross(F);
  return w;
}

}  // namespace rimstance
