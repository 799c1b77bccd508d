#pragma once
#include <memory>
#include <vector>

#include "rimstance/model/scenario.hpp"

namespace rimstance {

/// One body of a boom at some extension. It lies on the boom's axis.
struct BoomPart {
  double mass;    ///< basic [kg]
  double moment;  ///< mass times distance of its centre from the foot pin along the boom [kg m]
};

/// What a boom kind must answer. Laws, for every kind: length() and every part's moment never fall with
/// extension; between two neighbouring breakpoints, length is linear in extension, each part's mass and what is
/// in the magazine are linear in it and its moment quadratic, and moment / length and mass are monotone. The
/// certified search stands on these laws; a test checks them.
class BoomShape {
 public:
  virtual ~BoomShape() = default;
  virtual double greatest_extension() const = 0;      ///< [m]; the least is 0
  virtual double length(double extension) const = 0;  ///< foot pin to tip [m]
  virtual int parts() const = 0;
  virtual BoomPart part(int k, double extension) const = 0;
  virtual double margin(int k) const = 0;                         ///< growth allowance of part k, a share
  virtual std::vector<double> breakpoints() const { return {}; }  ///< extensions where a law changes slope
  /// Mass that stays at Boom::magazine on the platform [kg]; 0 for kinds without one.
  virtual double in_magazine(double) const { return 0; }
};

/// The shape behind `boom.kind`:
///   telescopic   sections run out together, x_k = e stroke_k / sum(stroke), or in order (section 1
///                first, carrying the inner ones); tip_k = L_0 + x_1 + ... + x_k, and section k covers
///                [tip_k - length_k, tip_k]
///   scissor      length = retracted + e, at most cells * bar; centre at half its length
///   rigid chain  length = retracted + e; outboard chain_mass * length at half length, the rest in the
///   magazine
std::shared_ptr<const BoomShape> boom_shape(const Boom&);

/// F of the stability criteria: the boom's first moment about its foot pin over its length [kg].
double boom_equivalent(const BoomShape&, double extension);

/// Static force that may hang at a reach [N]; +inf without rows. Between rows the value of the next larger
/// reach, or the line of load times reach; the first row's before it, 0 beyond the last.
double structural_load(const StructuralLimit&, double reach);

}  // namespace rimstance
