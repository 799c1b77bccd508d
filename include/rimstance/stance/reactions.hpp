#pragma once
#include <Eigen/Core>
#include <functional>
#include <span>
#include <vector>

#include "rimstance/base/frames.hpp"
#include "rimstance/model/scenario.hpp"

namespace rimstance {

// Foot forces: a rigid chassis on springs that push and never pull. Contact i is compressed by
//   delta_i = sink - turn_x y_i + turn_y x_i - gap_i
// and answers with a force that grows with delta_i, zero up to delta_i = 0. The stored energy is convex
// in (sink, turn_x, turn_y); its minimum is the equilibrium, lift-off included. Castigliano's least
// work says the same of the forces: of all that balance the load they store the least.
//
// Only the plan positions of the contacts count: with horizontal loads put the frame's origin at the
// contacts' height. Laws: moving contacts and load together changes nothing; forces scale with the load;
// scaling all stiffnesses scales the displacement, not the forces.
// Source: textbook statics (Castigliano 1879; Lanczos, The Variational Principles of Mechanics).

/// What holds one contact: structure in series with soil. Monotone, compression only.
struct Support {
  double stiffness = kUnset;  ///< of the structure, vertical [N/m], > 0
  double gap = 0;             ///< stress-free gap [m]; + : the leg is short
  std::function<double(double)>
      soil_force;              ///< force at a given sinkage [N], 0 at 0, not falling; empty: rigid
  double greatest_before = 0;  ///< greatest force the soil has carried [N]: it keeps that dent
};

/// Supports of the outriggers on rigid ground, in their order, without gaps.
std::vector<Support> supports(const Machine&);

/// Foot forces under a wrench.
///   stands  all contacts carry
///   lifted  at least one contact carries nothing
///   tips    no equilibrium: nothing presses down, the resultant passes outside the polygon of the contacts
///           (all on one line, or fewer than three, have none), or the soil cannot carry the load
/// The resultant on an edge of the polygon, within rounding, is carried by that edge: `lifted`.
struct [[nodiscard]] Reactions {
  enum class Outcome { stands, lifted, tips };
  Outcome outcome = Outcome::tips;
  std::vector<double> normal;                  ///< vertical force per contact [N], >= 0; empty if it tips
  Vec3 displacement = Vec3::Constant(kUnset);  ///< sink at the origin [m], then turns about x and y [rad]
  double residual = kUnset;  ///< unbalanced force / weight, or moment / (weight size): the larger
};

/// `contacts`: points in a frame whose z is vertical; `w`: wrench of all loads about that frame's
/// origin (a weight has negative force along z). Linear supports: exact, by a dual active set (Goldfarb &
/// Idnani 1983), a handful of 3 x 3 solutions. Soil: damped Newton on the convex energy around it.
/// Three contacts that carry: plain statics, whatever the supports.
Reactions reactions(std::span<const Vec3> contacts, std::span<const Support> supports, const Vec6& w);

/// Change of every force per length added to each leg [N/m]: entry (i, j) is dN_i / ds_j about the
/// equilibrium `at`, on the contacts that carry in it. For four of them it is w_i w_j / sum(w^2 / k),
/// w their self-stress; zero for three. `at` must not have tipped.
Eigen::MatrixXd force_per_stroke(std::span<const Vec3> contacts, std::span<const Support> supports,
                                 const Reactions& at);

/// Gaps that leave the chassis where it was set (no displacement) under `w`, with the forces of least
/// complementary energy: the legs are set longer by what they are compressed. Least complementary energy
/// is the distribution of the same supports without gaps; a foot that it does not load gets a gap > 0.
/// The supports' own gaps take no part. Empty if it tips.
std::vector<double> stress_free_gaps(std::span<const Vec3> contacts, std::span<const Support> supports,
                                     const Vec6& w);

}  // namespace rimstance
