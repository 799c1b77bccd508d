#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rimstance/statics/stability.hpp"

namespace rimstance {

/// Can the crane lift a unit straight up out of its own container, and is it held down while it does?
///
/// The tip has to come over the container's centre, in the platform's own plane. A container on the chassis:
/// at the reach that is its distance from the slew axis, at the one slew that turns the boom over it. A
/// container on the platform turns along: it has to lie under the boom, ahead of its foot, and then any slew
/// will do. Height above it: the tip has to be higher than the container's centre, by no more than the line
/// is long.
///
/// States of the operation are covered by its load cases already. Where the operation holds none, the states
/// looked at are all luffs and extensions that the machine has over the container, the operation's travel
/// and every line down to the container: every load case, for every count of units left, a unit on the hook
/// being no longer in the container.
struct [[nodiscard]] Unloading {
  bool reachable = false;
  std::string reason;                  ///< why not; empty if reachable
  bool in_operation = false;           ///< the operation holds a state of it
  double reach = kUnset;               ///< of the container [m]
  double slew = kUnset;                ///< [rad], a value the slew range (or the operation) holds; NaN: any
  double luff = kUnset;                ///< of the lowest tip over the container [rad]
  double extension = kUnset;           ///< there [m]
  double height = kUnset;              ///< of that tip above the container's centre [m]
  std::optional<Stability> stability;  ///< where it is looked at; edges as of the standing
  std::vector<std::string> fails;      ///< criteria that do not hold there: "load_case:forward", "leg_limit"
  bool ok() const { return reachable && fails.empty(); }
};

/// Farther beside the boom's plane than this, a container on the platform does not lie under it [m]: a hook
/// swings by as much when it is lowered by hand.
inline constexpr double kBesideBoom = 0.01;

/// Empty where the machine carries no container or no units. Contacts that hold nothing up: only the
/// geometry.
std::optional<Unloading> unloading(const Prepared&, const Levelling&, std::span<const Contact>,
                                   const Control&);

}  // namespace rimstance
