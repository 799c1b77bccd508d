#pragma once
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/frames.hpp"
#include "rimstance/model/machine.hpp"

namespace rimstance {

// One scenario in SI units and radians, as plain values. The field table (fields.hpp) is the only
// place that knows its keys, units, ranges and defaults; where a value was written, its standard
// deviation and its source stand beside it in Document::origins.

/// What an image of heights does not say of itself.
struct HeightImage {
  double spacing = kUnset;  ///< between posts [m]
  double scale = kUnset;    ///< height of one count [m]
  double offset = 0;        ///< height of count 0 [m]
};

struct TerrainSource {
  std::string file;                  ///< resolved path
  std::string written;               ///< as the scenario has it
  std::optional<int> up;             ///< 0 x, 1 y, 2 z
  bool mostly_wall = false;          ///< a mesh with more wall than ground: `up` is right
  double unit = kUnset;              ///< metres per file unit
  double hole_below = -kInfinity;    ///< [m], map height
  double weld = 0;                   ///< [m]
  double longest_edge = kUnset;      ///< points: a facet with a longer side in plan is a hole [m]
  std::vector<int> classes;          ///< points: those that are ground; empty: not stated
  std::optional<HeightImage> image;  ///< what an image of heights does not say
};

struct Spot {
  Vec2 at = Vec2::Constant(kUnset);  ///< C's origin in plan, map coordinates [m]
  double yaw = kUnset;               ///< [rad]
  double under = kInfinity;          ///< map height [m]: the ground is the highest layer at or below it
};

struct Payload {
  double mass = kUnset;   ///< [kg], >= 0
  double reach = kUnset;  ///< [m]; NaN: the operation's greatest
};

/// What must be safe. Every interval is inclusive.
struct Operation {
  Interval slew{-kPi, kPi};               ///< [rad], lo < hi or a single angle (lo == hi), hi - lo <= 2 pi
  bool slew_all = false;                  ///< the whole slew range
  Interval luff, extension;               ///< [rad], [m]
  Interval reach{-kInfinity, kInfinity};  ///< cut [m], platform plane
  Interval tip_height{-kInfinity, kInfinity};  ///< cut [m], above C's origin along C's z
  Interval line{0, 0};                         ///< paid out [m]
  Interval travel{0, 0};                       ///< counterweight [m]
  bool scheduled = false;                      ///< `counterweight: schedule`
  bool payload = true;                         ///< transit: `payload: none` makes it false
};

enum class MarginKind { moment, clearance, load_side_share, moment_ratio, tip_angle, energy, force_angle };
inline constexpr int kMarginKinds = 7;

/// One way of loading the machine that must hold. Data, with its source.
struct LoadCase {
  std::string name;
  std::string source;              ///< standard or practice and clause
  double load_factor = 1;          ///< a, on all that hangs
  double boom_factor = 0;          ///< b, on F hung at the tip in addition (moments only)
  double tipping_load = kUnset;    ///< share s: the same as load_factor 1/s and M >= 0
  bool payload = true;             ///< `payload: none` makes it false
  bool head_down = false;          ///< head on the floor: only hanging line
  double release = kUnset;         ///< k: upward pull k Q at the tip
  double stall = kUnset;           ///< share of hoist.line_pull that replaces P
  double hoisting = kUnset;        ///< phi >= 1, on all that hangs
  bool hoisting_computed = false;  ///< `hoisting: physics`
  bool swing = false;              ///< slewing inertia and swing
  bool swing_settled = false;
  bool luff_steepest = false;           ///< narrows the case to the greatest luff
  bool counterweight_end = false;       ///< narrows the case to the end of the travel
  bool mass_margin = true;              ///< `mass_margin: none` makes it false
  std::map<MarginKind, double> margin;  ///< required, SI; absent kinds are not required

  // What follows from machine, gravity and operation; resolved() (loads/load_case) sets it.
  double stall_pull = kUnset;     ///< downward pull of the stalled hoist over gravity [kg]
  double hoisting_rate = kUnset;  ///< C of phi = 1 + C / sqrt(P): v / g sqrt(k) of the pick-up [sqrt(kg)]
  double hoisting_line = kUnset;  ///< line paid out at that pick-up [m]
};

struct Criteria {
  std::string preset;
  double allowed_tilt = kUnset;  ///< [rad]
  double set_error = 0;          ///< [rad], gravity rotated by it in the worst direction, pose as set
  double work_tilt = 0;          ///< [rad], gravity rotated outward for all weights
  bool settle_proof_slew = false;
  double levelled_luff = kUnset, levelled_extension = kUnset, levelled_travel = kUnset;  ///< NaN: default
  double stroke_left = 0;                                                                ///< [m]
  double travel_reserve = 0;   ///< a schedule keeps from the ends of a travel window [m]
  double wheel_clearance = 0;  ///< [m]
  double belly_clearance = 0;  ///< [m]
  bool foot_limits = false;    ///< leg_limit of each outrigger is checked
  double bearing = kUnset, slip = kUnset, slope = kUnset;  ///< required factors; NaN: not asked
  double rim = kUnset;  ///< required distance to the rim [m]; NaN: not asked
  std::vector<LoadCase> load_cases;
};

struct Soil {
  std::string preset;
  double density = kUnset, cohesion = kUnset, friction_angle = kUnset;  ///< [kg/m3], [Pa], [rad]
  /// p = (k_c / b + k_phi) * 1 m * (z / 1 m)^n: k_c [Pa], k_phi [Pa/m], whatever n is.
  double k_c = kUnset, k_phi = kUnset, n = kUnset;
  double thickness = kInfinity;  ///< [m]
};

struct Scenario {
  std::string title;
  double gravity = kUnset;  ///< [m/s2], > 0
  TerrainSource terrain;
  std::optional<Soil> soil;
  Machine machine;
  Spot spot;
  Payload payload;
  Operation operation;
  std::optional<Operation> transit;  ///< its own intervals, defaults already filled in
  Criteria criteria;
  /// Paths of values nobody wrote that follow from others (transit from the operation, the side an
  /// outrigger opens to from its pivot, ...); with() lets them follow.
  std::set<std::string> derived;
};

/// Where a value came from.
struct Origin {
  Place place;
  std::string written;  ///< as the file has it; "default" with the reason where nobody wrote it
  std::string from;     ///< the user's `from:`
  double sd = kUnset, margin = kUnset;
};

struct Document {
  std::shared_ptr<const Scenario> scenario;
  std::map<std::string, Origin> origins;  ///< by field path
  std::vector<std::string> assumed;       ///< defaults that matter, one sentence each
  std::vector<Issue> cautions;
  std::vector<std::string> files;  ///< read, in order: the scenario first
  std::string sha256;              ///< over the bytes of all files, in order
  std::vector<std::pair<std::string, std::string>> overrides;
};

}  // namespace rimstance
