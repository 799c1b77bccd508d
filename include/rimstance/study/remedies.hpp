#pragma once
#include <string>
#include <vector>

#include "rimstance/statics/stand.hpp"

namespace rimstance {

/// What may be changed, one at a time; in the order in which changes are offered.
enum class Change {
  yaw,       ///< turn on the spot, at most 15 deg
  position,  ///< move at most 2 m, yaw kept
  splay,     ///< open or close every outrigger alike, within the splay ranges
  stroke,    ///< legs that run out further, alike, at most 1 m
  travel,    ///< the operation's counterweight elsewhere on its guide, an interval as wide as it was
  payload,   ///< lift less
  reach      ///< keep the operation's loads nearer
};

/// A value of the scenario as one writes it: `--set path=value`.
struct Setting {
  std::string path, value;
};

/// What one kind of change can do for a machine that does not stand.
struct Remedy {
  Change change = Change::yaw;
  double by = kUnset;             ///< signed [rad, m, kg]; of a position the distance [m]; NaN: nothing found
  std::vector<Setting> settings;  ///< what to write; empty: nothing found
  bool verified = false;  ///< every criterion holds with exactly these settings; else the machine only levels
  std::string remark;     ///< what the change gives up, or why nothing was found; may be empty
};

/// For a standing with violations: of each kind of change the smallest after which no criterion is violated,
/// in the order of Change; empty where nothing is violated. Every change is tried outwards from what is, in
/// steps (0.5 deg of yaw and splay; 0.1 m in 16 directions of position; 0.01 m of stroke and travel; a
/// fortieth of payload and of the span of reach), and refined by bisection (to 0.01 deg, 1 mm, 0.01 kg or, of
/// small payloads, a thousandth of the leading digit). What works only between two steps is not found. The
/// result is written as decimals, read back, and asked in full (Question::extremes): only what passes that is
/// called verified. A schedule of travel is kept as it is.
///
/// What cannot help is not tried: loads, where the pose is at fault, since the ground is rigid and the pose
/// does not depend on them; places, where boom or hoist are too weak. Where a turn or a splay levels the
/// machine but no more, that is offered unverified.
/// Gives up, and says so, where margins are so hard to prove that trials take minutes. Stops between two
/// trials with Interrupted when asked to.
std::vector<Remedy> remedies(const Prepared&, const Terrain&, const Standing&, const Control&);

/// The path that a change is made at; "machine.outriggers.*.splay".
const char* path_of(Change);

}  // namespace rimstance
