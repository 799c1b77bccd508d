#pragma once
#include <optional>
#include <string>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

// The machine of a scenario in SI units and radians, as plain values: what it weighs, where that lies, and
// how far it moves. What is asked of it stands in scenario.hpp.

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

}  // namespace rimstance
