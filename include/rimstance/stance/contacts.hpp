#pragma once
#include <span>
#include <string>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "rimstance/stance/levelling.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// One place where the machine meets the ground: a pad or a wheel, never "the four feet".
struct Contact {
  enum class Kind { pad, wheel };
  Kind kind = Kind::pad;
  std::string name;
  Vec3 p_W = Vec3::Constant(kUnset);       ///< on the undisturbed ground, W; NaN height if unsupported
  Vec3 p_C = Vec3::Constant(kUnset);       ///< the same in C; NaN if unsupported or without a pose
  Vec3 normal_W = Vec3::Constant(kUnset);  ///< of the pad, unit, upward
  Patch patch;
  bool supported = false;
  bool pad_tilt_exceeded = false;  ///< the ball joint stands at its limit
  std::string reason;              ///< why it is unsupported; empty if supported
};

/// Contacts of the outriggers in a levelled pose, in the order of Machine::outriggers. `under` as in Spot:
/// a MAP height. Without a pose: where the feet of the level chassis would stand.
std::vector<Contact> contacts(const Machine&, const Terrain&, const Levelling&, std::span<const double> splay,
                              double under);

}  // namespace rimstance
