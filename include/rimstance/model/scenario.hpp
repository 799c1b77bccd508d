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

namespace rimstance {

// One scenario in SI units and radians, as plain values. The field table (fields.hpp) is the only
// place that knows its keys, units, ranges and defaults; where a value was written, its standard
// deviation and its source stand beside it in Document::origins.

/// A lump of mass in the frame of what carries it.
struct Body {
  std::string name;
  double mass = kUnset;              ///< basic [kg], > 0
  Vec3 at = Vec3::Constant(kUnset);  ///< centre of mass in the carrier's frame [m]
  double margin = 0;                 ///< growth allowance on the mass, as a share, >= 0
  std::string subsystem;             ///< for the roll-up; may be empty
};

struct Wheel {
  Vec3 at = Vec3::Constant(kUnset);  ///< centre of the wheel in C [m]
  double radius = kUnset;            ///< [m], > 0
  double width = 0;                  ///< along C's y [m], >= 0
  double clearance = 0;              ///< required above the ground when standing on the outriggers [m]
};

struct Belly {
  std::vector<Vec2> outline;  ///< convex or not, in C's plan [m], at least 3 corners
  double height = kUnset;     ///< above C's origin [m]
  double clearance = 0;       ///< required [m], >= 0
};

struct Chassis {
  enum class Suspension { rigid, averaging };
  Suspension suspension = Suspension::rigid;
  std::vector<Wheel> wheels;
  std::optional<Belly> belly;
  std::vector<Body> bodies;  ///< in C
};

/// Foot: `arm` from the pivot along azimuth zero + sense * splay, `drop` + stroke below the pivot.
struct Outrigger {
  std::string name;
  Vec3 pivot = Vec3::Constant(kUnset);  ///< in C [m]
  double arm = kUnset;                  ///< [m], > 0
  double splay = kUnset;                ///< [rad]
  Interval splay_range{-kPi, kPi};      ///< [rad]
  double zero = kUnset;                 ///< azimuth at splay 0, from C's x [rad]; set by the loader
  double sense = kUnset;                ///< +1 or -1; set by the loader
  double drop = kUnset;                 ///< pivot to foot at stroke 0, downward [m]
  Interval stroke;                      ///< [m]
  double pad_radius = kUnset;           ///< [m], > 0
  double pad_tilt = kUnset;             ///< limit of the ball joint [rad]
  double pad_friction = kUnset;         ///< NaN: from the soil
  double stiffness = kUnset;            ///< at the foot, vertical [N/m], > 0
  double leg_limit = kInfinity;         ///< axial [N]
  double mass = kUnset;                 ///< [kg], > 0
  double centre_at = 0.5;               ///< centre of mass, share of the arm from the pivot
  double margin = 0;
  std::string subsystem;
};

struct Platform {
  Vec3 axis = Vec3::Constant(kUnset);  ///< foot of the slew axis in C [m]; the axis is C's z
  Interval slew_range{-kPi, kPi};      ///< [rad]; 2 pi wide: a full circle
  std::vector<Body> bodies;            ///< in S
};

enum class Mount { platform, chassis };

struct Container {
  Mount mount = Mount::platform;
  double empty = kUnset;             ///< mass without units [kg], > 0
  double margin = 0;                 ///< on the empty mass
  int units = 0;                     ///< payload units in it at the start
  Vec3 at = Vec3::Constant(kUnset);  ///< centre of mass for any filling, mount's frame [m]
  double unit_mass = kUnset;         ///< [kg]
  double unit_radius = kUnset;       ///< [m]; NaN: not given
};

struct BoomSection {
  double length = kUnset;             ///< [m], > 0
  double stroke = 0;                  ///< how far it runs out of the section before [m]; section 0: none
  double mass = kUnset;               ///< [kg], > 0
  double centre_at = 0.5;             ///< share of its length from its inner end
  double bending_stiffness = kUnset;  ///< E I [N m2]; NaN: rigid
  double margin = 0;
};

/// Static load allowed at the tip against reach; constant before the first row, 0 beyond the last.
struct StructuralLimit {
  enum class Between { next, moment };
  struct Row {
    double reach, load;  ///< [m], [N]
  };
  std::vector<Row> rows;
  Between between = Between::next;
  double root_moment = kUnset;  ///< [N m]; NaN: not given
};

struct Boom {
  enum class Kind { telescopic, scissor, rigid_chain };
  enum class Order { together, in_order };
  Kind kind = Kind::telescopic;
  Vec3 foot = Vec3::Constant(kUnset);      ///< foot pin in S [m]
  Interval luff_range;                     ///< above S's xy plane [rad]
  Order order = Order::together;           ///< telescopic
  std::vector<BoomSection> sections;       ///< telescopic
  double retracted = kUnset;               ///< length at extension 0 [m]: scissor, rigid chain
  double mass = kUnset;                    ///< scissor [kg]
  int cells = 0;                           ///< scissor
  double bar = kUnset;                     ///< scissor [m]
  double chain_mass = kUnset;              ///< rigid chain [kg/m]
  double chain_length = kUnset;            ///< rigid chain [m]
  Vec3 magazine = Vec3::Constant(kUnset);  ///< rigid chain, in S [m]
  double margin = 0;                       ///< scissor, rigid chain
  std::optional<StructuralLimit> limit;
};

struct Guide {
  Mount mount = Mount::platform;
  Vec3 start = Vec3::Constant(kUnset);      ///< in the mount's frame [m]
  Vec3 direction = Vec3::Constant(kUnset);  ///< unit
  Interval travel;                          ///< [m]
  std::vector<Body> bodies;                 ///< in G (axes of the mount)
};

struct Hoist {
  double line_pull = kInfinity;        ///< greatest [N]
  double line_mass = 0;                ///< [kg/m]
  double line_length = kUnset;         ///< [m]; NaN: not given
  double line_EA = kUnset;             ///< [N]
  Vec3 drum = Vec3::Constant(kUnset);  ///< in S [m]
  double speed = 0.05;                 ///< [m/s]
  double head_mass = 0;                ///< [kg]
  double head_radius = kUnset;         ///< [m]
};

struct Machine {
  std::string name;
  Chassis chassis;
  std::vector<Outrigger> outriggers;
  Platform platform;
  std::optional<Container> container;
  Boom boom;
  std::optional<Guide> guide;
  Hoist hoist;
};

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
  std::string source;            ///< standard or practice and clause
  double load_factor = 1;        ///< a, on all that hangs
  double boom_factor = 0;        ///< b, on F hung at the tip in addition (moments only)
  double tipping_load = kUnset;  ///< share s: the same as load_factor 1/s and M >= 0
  bool payload = true;           ///< `payload: none` makes it false
  bool head_down = false;        ///< head on the floor: only hanging line
  double release = kUnset;       ///< k: upward pull k Q at the tip
  double stall = kUnset;         ///< share of hoist.line_pull that replaces P
  double hoisting = kUnset;      ///< phi; later
  bool hoisting_computed = false;
  bool swing = false;  ///< slewing inertia and swing
  bool swing_settled = false;
  bool luff_steepest = false;           ///< narrows the case to the greatest luff
  bool counterweight_end = false;       ///< narrows the case to the end of the travel
  bool mass_margin = true;              ///< `mass_margin: none` makes it false
  std::map<MarginKind, double> margin;  ///< required, SI; absent kinds are not required
};

struct Criteria {
  std::string preset;
  double allowed_tilt = kUnset;  ///< [rad]
  double set_error = 0;          ///< [rad], gravity rotated by it in the worst direction, pose as set
  double work_tilt = 0;          ///< [rad], gravity rotated outward for all weights
  bool settle_proof_slew = false;
  double levelled_luff = kUnset, levelled_extension = kUnset, levelled_travel = kUnset;  ///< NaN: default
  double stroke_left = 0;                                                                ///< [m]
  double wheel_clearance = 0;                                                            ///< [m]
  double belly_clearance = 0;                                                            ///< [m]
  bool foot_limits = false;                                ///< leg_limit of each outrigger is checked
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
