#pragma once
#include <span>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "rimstance/stance/levelling.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// A small change after which a spot can be levelled.
struct WayOut {
  enum class Kind {
    yaw,   ///< turn the carrier where it stands
    splay  ///< open (+) or close (-) every outrigger alike
  };
  Kind kind;
  double value;  ///< change [rad], signed
};

/// For a spot that cannot be levelled: the smallest turn within +-15 deg and the smallest common change of
/// splay within every splay_range at which level() finds a level chassis with the needed stroke in hand at
/// every leg, at most one of each kind, yaw first. Only levelling is asked: the moments there, and how its
/// pads then lie, are the next stand's to tell. Tried in steps of 0.5 deg outwards (the positive one first),
/// then refined to 1e-3 deg towards the last step that failed: ground that works only between two steps is
/// not found. Empty where nothing helps. A spot that is level, stroke in hand, needs no change: values 0 do
/// not occur, the list is empty.
std::vector<WayOut> ways_out(const Machine&, const Terrain&, const Spot&, const LevellingNeeds&,
                             std::span<const double> splay, std::span<const double> sinkage);

}  // namespace rimstance
