#include "table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <type_traits>

#include "rimstance/model/presets.hpp"

namespace rimstance {

namespace {

using D = Dimension;

constexpr Range any() { return {}; }
constexpr Range above(double lo) { return {lo, kInfinity, true}; }
constexpr Range at_least(double lo) { return {lo, kInfinity, false}; }
constexpr Range between(double lo, double hi) { return {lo, hi, false}; }
constexpr Range over(double lo, double hi) { return {lo, hi, true}; }
constexpr Range angles(double lo, double hi) { return {radians(lo), radians(hi), false}; }

/// Sizes of machines [m]: generous, and small enough that what lies under a part stays a local question.
constexpr double kContact = 5;     ///< pads, wheels
constexpr double kUnderside = 10;  ///< from the chassis' origin to a corner of the belly
constexpr double kLeg = 100;       ///< drop, stroke
constexpr double kMachine = 1000;  ///< anything else

// --- how a field reaches its value -------------------------------------------------------------

template <class T, class M>
std::function<void*(void*, bool)> inside(M T::*member) {
  return [member](void* owner, bool) -> void* { return &(static_cast<T*>(owner)->*member); };
}
template <class T, class M>
std::function<void*(void*, bool)> inside(std::optional<M> T::*member) {
  return [member](void* owner, bool create) -> void* {
    std::optional<M>& value = static_cast<T*>(owner)->*member;
    if (!value && create) value.emplace();
    return value ? &*value : nullptr;
  };
}

Field field(const char* key, Form form, D dimension, Range range, const char* doc) {
  Field f;
  f.key = key;
  f.form = form;
  f.dimension = dimension;
  f.range = range;
  f.doc = doc;
  return f;
}

template <class T>
Field quantity(const char* key, double T::*member, D dimension, Range range, const char* doc) {
  Field f = field(key, Form::quantity, dimension, range, doc);
  f.at = inside(member);
  return f;
}
template <class T>
Field integer(const char* key, int T::*member, Range range, const char* doc) {
  Field f = field(key, Form::integer, D::number, range, doc);
  f.at = inside(member);
  return f;
}
template <class T>
Field integers(const char* key, std::vector<int> T::*member, Range range, const char* doc) {
  Field f = field(key, Form::integers, D::number, range, doc);
  f.at = inside(member);
  return f;
}
template <class T>
Field words(const char* key, std::string T::*member, const char* doc) {
  Field f = field(key, Form::text, D::number, any(), doc);
  f.at = inside(member);
  return f;
}
template <class T>
Field flag(const char* key, bool T::*member, const char* doc) {
  Field f = field(key, Form::flag, D::number, any(), doc);
  f.at = inside(member);
  return f;
}
template <class T>
Field point(const char* key, Vec3 T::*member, D dimension, const char* doc) {
  Field f = field(key, Form::point, dimension, between(-kMachine, kMachine), doc);
  f.size = 3;
  f.at = [member](void* owner, bool) -> void* { return (static_cast<T*>(owner)->*member).data(); };
  return f;
}
template <class T>
Field direction(const char* key, Vec3 T::*member, const char* doc) {
  Field f = point(key, member, D::number, doc);
  f.range = any();
  f.direction = true;
  return f;
}
template <class T>
Field point(const char* key, Vec2 T::*member, D dimension, const char* doc) {
  Field f = field(key, Form::point, dimension, any(), doc);
  f.size = 2;
  f.at = [member](void* owner, bool) -> void* { return (static_cast<T*>(owner)->*member).data(); };
  return f;
}
template <class T>
Field interval(const char* key, Interval T::*member, D dimension, Range range, const char* doc) {
  Field f = field(key, Form::interval, dimension, range, doc);
  f.at = inside(member);
  return f;
}

/// One of several words, each with what it stores.
template <class T, class V>
Field choice(const char* key, V T::*member, std::vector<std::pair<const char*, V>> options, const char* doc) {
  Field f = field(key, Form::word, D::number, any(), doc);
  f.at = [](void*, bool) -> void* { return nullptr; };
  for (const auto& [option, value] : options)
    f.words.push_back({option, [member, v = value](void* owner) { static_cast<T*>(owner)->*member = v; }});
  return f;
}
/// A single word that sets a switch.
template <class T>
Field marker(const char* key, bool T::*member, const char* word, bool value, const char* doc) {
  return choice<T, bool>(key, member, {{word, value}}, doc);
}

template <class Member>
Field group(const char* key, Member member, Shape shape, const char* doc) {
  Field f = field(key, Form::group, D::number, any(), doc);
  f.at = inside(member);
  f.shape = std::make_shared<const Shape>(std::move(shape));
  return f;
}
/// A map in the file whose values lie in the owner itself.
Field part(const char* key, Shape shape, const char* doc) {
  Field f = field(key, Form::group, D::number, any(), doc);
  f.at = [](void* owner, bool) { return owner; };
  f.shape = std::make_shared<const Shape>(std::move(shape));
  return f;
}

template <class T, class V>
Field list(const char* key, std::vector<V> T::*member, Shape shape, int least, const char* doc) {
  Field f = field(key, Form::list, D::number, any(), doc);
  f.at = inside(member);
  f.size = least;
  f.shape = std::make_shared<const Shape>(std::move(shape));
  f.items.size = [](void* v) { return static_cast<std::vector<V>*>(v)->size(); };
  f.items.item = [](void* v, std::size_t i) -> void* { return &(*static_cast<std::vector<V>*>(v))[i]; };
  f.items.append = [](void* v) -> void* { return &static_cast<std::vector<V>*>(v)->emplace_back(); };
  f.items.clear = [](void* v) { static_cast<std::vector<V>*>(v)->clear(); };
  if constexpr (requires(const V& v) { v.name; })
    f.items.name = [](const void* item) { return static_cast<const V*>(item)->name; };
  return f;
}

/// `sd` beside the key `of`.
Field deviation(const char* of) {
  Field f = field("sd", Form::deviation, D::mass, at_least(0), "Standard deviation of the mass");
  f.at = [](void*, bool) -> void* { return nullptr; };
  f.of = of;
  return f;
}

template <class T>
Field growth(double T::*member) {
  return quantity("margin", member, D::share, between(0, 1), "Growth allowance on the mass").otherwise("0 %");
}

/// The fields of a part of the owner, seen from the owner.
template <class T, class M>
std::vector<Field> lifted(M T::*member, std::vector<Field> fields) {
  for (Field& f : fields) {
    f.at = [member, inner = f.at](void* owner, bool create) {
      return inner(&(static_cast<T*>(owner)->*member), create);
    };
    for (Word& w : f.words)
      w.apply = [member, inner = w.apply](void* owner) { inner(&(static_cast<T*>(owner)->*member)); };
  }
  return fields;
}

// --- the table -----------------------------------------------------------------------------------

/// `at` is where the mass sits in its carrier; what travels on the guide may leave it out.
Shape body(const char* title, Field at) {
  using T = Body;
  return {title,
          {words("name", &T::name, "Unique among the bodies of its carrier").must(),
           quantity("mass", &T::mass, D::mass, above(0), "Basic mass").must().margin_in("margin"),
           growth(&T::margin), deviation("mass"), std::move(at),
           words("subsystem", &T::subsystem, "Heading in the mass roll-up")},
          {},
          {}};
}
Shape body() {
  return body("Body", point("at", &Body::at, D::length, "Centre of mass in the carrier's frame").must());
}
Shape travelling_body() {
  return body(
      "Travelling body",
      point("at", &Body::at, D::length, "Centre of mass from the guide's start").otherwise("[0, 0, 0] m"));
}

Shape wheel() {
  using T = Wheel;
  return {
      "Wheel",
      {point("at", &T::at, D::length, "Centre of the wheel, chassis frame").must(),
       quantity("radius", &T::radius, D::length, over(0, kContact), "Rolling radius").must(),
       quantity("width", &T::width, D::length, between(0, kContact), "Along the chassis' y axis")
           .otherwise("0 m")
           .assumed("the wheel is a disc without width"),
       quantity("clearance", &T::clearance, D::length, at_least(0), "Needed above the ground when standing")
           .otherwise("0 m")
           .assumed("the wheel may just touch the ground")},
      {},
      {}};
}

Field outline() {
  Field f = field("outline", Form::outline, D::length, between(-kUnderside, kUnderside),
                  "Corners in the chassis' plan, in order");
  f.at = inside(&Belly::outline);
  f.size = 3;
  return f;
}

Shape belly() {
  using T = Belly;
  return {"Belly",
          {outline().must(),
           quantity("height", &T::height, D::length, between(-kMachine, kMachine),
                    "Of the underside above the chassis' origin")
               .must(),
           quantity("clearance", &T::clearance, D::length, at_least(0), "Needed above the ground")
               .otherwise("0 m")
               .assumed("the belly may just touch the ground")},
          {},
          {}};
}

Shape chassis() {
  using T = Chassis;
  using S = Chassis::Suspension;
  return {"Chassis",
          {choice<T, S>("suspension", &T::suspension, {{"rigid", S::rigid}, {"averaging", S::averaging}},
                        "How the wheels share the ground")
               .otherwise("rigid"),
           list("wheels", &T::wheels, wheel(), 0, "Wheels; they must be clear of the ground when standing")
               .assumed("no wheels: their clearance is not checked"),
           group("belly", &T::belly, belly(), "Underside that must be clear of the ground")
               .assumed("no belly: its clearance is not checked"),
           list("bodies", &T::bodies, body(), 0, "Masses fixed to the chassis")},
          {},
          {}};
}

Shape outrigger() {
  using T = Outrigger;
  return {
      "Outrigger",
      {words("name", &T::name, "Unique").must(),
       point("pivot", &T::pivot, D::length, "Where the arm turns, chassis frame").must(),
       quantity("arm", &T::arm, D::length, over(0, kMachine), "From the pivot to the foot, in plan").must(),
       quantity("splay", &T::splay, D::angle, angles(-360, 360), "Opening angle").must(),
       interval("splay_range", &T::splay_range, D::angle, angles(-360, 360), "Angles the arm can take")
           .otherwise("[-180, 180] deg"),
       quantity("zero", &T::zero, D::angle, angles(-360, 360),
                "Azimuth of the arm at splay 0, counter-clockwise from forward; from the pivot's quadrant")
           .follows(),
       quantity("sense", &T::sense, D::number, between(-1, 1),
                "+1: opens counter-clockwise seen from above, -1: clockwise; from the pivot's quadrant")
           .follows(),
       quantity("drop", &T::drop, D::length, between(-kLeg, kLeg),
                "From the pivot down to the foot at stroke 0")
           .must(),
       interval("stroke", &T::stroke, D::length, between(-kLeg, kLeg), "Range of the leg").must(),
       quantity("pad_radius", &T::pad_radius, D::length, over(0, kContact), "Of the foot's disc").must(),
       quantity("pad_tilt", &T::pad_tilt, D::angle, angles(0, 90), "Limit of the pad's ball joint").must(),
       quantity("pad_friction", &T::pad_friction, D::number, at_least(0), "Coefficient of pad on soil")
           .assumed("tan(2/3 of the soil's friction angle), at most 0.4 (common practice)"),
       quantity("stiffness", &T::stiffness, D::stiffness, at_least(1e-3), "Vertical, at the foot")
           .otherwise("50 kN/m")
           .assumed("typical of a slender aluminium arm of that size"),
       quantity("leg_limit", &T::leg_limit, D::force, above(0), "Greatest axial force of the leg")
           .assumed("no limit: the legs are not checked"),
       quantity("mass", &T::mass, D::mass, above(0), "Of arm, leg and pad").must().margin_in("margin"),
       growth(&T::margin), deviation("mass"),
       quantity("centre_at", &T::centre_at, D::share, between(0, 1), "Centre of mass along the arm")
           .otherwise("50 %"),
       words("subsystem", &T::subsystem, "Heading in the mass roll-up")},
      {},
      {}};
}

Shape platform() {
  using T = Platform;
  return {"Platform",
          {point("axis", &T::axis, D::length, "Foot of the slew axis, chassis frame").must(),
           interval("slew_range", &T::slew_range, D::angle, angles(-720, 720), "Slew angles it can take")
               .otherwise("[-180, 180] deg")
               .assumed("the platform turns a full circle"),
           list("bodies", &T::bodies, body(), 0, "Masses fixed to the platform")},
          {},
          {}};
}

template <class T>
Field mount() {
  return choice<T, Mount>("mount", &T::mount, {{"platform", Mount::platform}, {"chassis", Mount::chassis}},
                          "What it is fixed to")
      .otherwise("platform");
}

Shape payload_unit() {
  using T = Container;
  return {"Payload unit",
          {quantity("mass", &T::unit_mass, D::mass, above(0), "Of one unit").must(), deviation("mass"),
           quantity("radius", &T::unit_radius, D::length, above(0), "Of the cylinder around one unit")},
          {},
          {}};
}

Shape container() {
  using T = Container;
  return {"Container",
          {mount<T>(),
           quantity("empty", &T::empty, D::mass, above(0), "Mass without units").must().margin_in("margin"),
           growth(&T::margin), deviation("empty"),
           integer("units", &T::units, between(0, 10000), "Payload units in it at the start").must(),
           point("at", &T::at, D::length, "Centre of mass for any filling, in the mount's frame").must(),
           part("unit", payload_unit(), "One payload unit").must()},
          {},
          {}};
}

Shape boom_section() {
  using T = BoomSection;
  return {"Boom section",
          {quantity("length", &T::length, D::length, over(0, kMachine), "Of the section").must(),
           quantity("stroke", &T::stroke, D::length, between(0, kMachine),
                    "How far it runs out of the section before")
               .follows(),
           quantity("mass", &T::mass, D::mass, above(0), "Of the section").must().margin_in("margin"),
           growth(&T::margin), deviation("mass"),
           quantity("centre_at", &T::centre_at, D::share, between(0, 1), "Centre of mass from its inner end")
               .otherwise("50 %"),
           quantity("bending_stiffness", &T::bending_stiffness, D::bending_stiffness, above(0),
                    "E I; not given: the section does not bend")},
          {},
          {}};
}

Shape limit_row() {
  using T = StructuralLimit::Row;
  return {"Row",
          {quantity("reach", &T::reach, D::length, at_least(0), "From the slew axis").must(),
           quantity("load", &T::load, D::force, at_least(0), "Allowed there").must()},
          {},
          {}};
}

Shape structural_limit() {
  using T = StructuralLimit;
  using B = StructuralLimit::Between;
  return {"Structural limit",
          {list("rows", &T::rows, limit_row(), 1, "Static load allowed at the tip against reach").must(),
           choice<T, B>("between", &T::between, {{"next", B::next}, {"moment", B::moment}},
                        "Between rows: the value of the next larger reach, or load times reach linear")
               .otherwise("next"),
           quantity("root_moment", &T::root_moment, D::moment, above(0), "Allowed at the boom's root")},
          {},
          {}};
}

Shape boom() {
  using T = Boom;
  using K = Boom::Kind;
  using O = Boom::Order;
  return {
      "Boom",
      {choice<T, K>("kind", &T::kind,
                    {{"telescopic", K::telescopic}, {"scissor", K::scissor}, {"rigid-chain", K::rigid_chain}},
                    "How it becomes longer")
           .must(),
       point("foot", &T::foot, D::length, "Foot pin, platform frame").must(),
       interval("luff_range", &T::luff_range, D::angle, angles(-90, 90), "Above the platform's plane").must(),
       choice<T, O>("order", &T::order, {{"together", O::together}, {"in-order", O::in_order}},
                    "Telescopic: all sections share the extension, or one after the other")
           .otherwise("together"),
       list("sections", &T::sections, boom_section(), 0, "Telescopic: from the foot outwards"),
       quantity("retracted", &T::retracted, D::length, above(0), "Scissor, rigid chain: shortest length"),
       quantity("mass", &T::mass, D::mass, above(0), "Scissor: of all bars").margin_in("margin"),
       integer("cells", &T::cells, between(1, 1000), "Scissor: number of cells"),
       quantity("bar", &T::bar, D::length, above(0), "Scissor: length of a bar"),
       quantity("chain_mass", &T::chain_mass, D::line_density, above(0), "Rigid chain").margin_in("margin"),
       quantity("chain_length", &T::chain_length, D::length, above(0),
                "Rigid chain: outside and in the magazine"),
       point("magazine", &T::magazine, D::length, "Rigid chain: centre of what is stowed, platform frame"),
       growth(&T::margin),
       group("structural_limit", &T::limit, structural_limit(), "What the boom may carry")
           .assumed("none: the boom's strength does not limit")},
      {},
      {}};
}

Shape guide() {
  using T = Guide;
  return {
      "Counterweight guide",
      {mount<T>(), point("start", &T::start, D::length, "Of the travel, in the mount's frame").must(),
       direction("direction", &T::direction, "Of the travel, in the mount's axes; any length").must(),
       interval("travel", &T::travel, D::length, between(-kMachine, kMachine), "Range of the travel").must(),
       list("bodies", &T::bodies, travelling_body(), 1, "Masses that travel").must()},
      {},
      {}};
}

Shape head() {
  using T = Hoist;
  return {"Head",
          {quantity("mass", &T::head_mass, D::mass, above(0), "Of hook or gripper").must(), deviation("mass"),
           quantity("radius", &T::head_radius, D::length, above(0), "Of the cylinder around it")},
          {},
          {}};
}

Shape hoist() {
  using T = Hoist;
  return {"Hoist",
          {quantity("line_pull", &T::line_pull, D::force, above(0), "Greatest pull")
               .assumed("no limit: the hoist does not limit the load"),
           quantity("line_mass", &T::line_mass, D::line_density, at_least(0), "Of the line")
               .otherwise("0 kg/m")
               .assumed("a line without mass"),
           quantity("line_length", &T::line_length, D::length, above(0), "Of the whole line")
               .follows("as long as the operation pays out"),
           quantity("line_EA", &T::line_EA, D::force, above(0), "Axial stiffness of the line"),
           point("drum", &T::drum, D::length, "Platform frame").follows("at the boom's foot"),
           quantity("speed", &T::speed, D::speed, above(0), "Greatest speed").otherwise("0.05 m/s"),
           part("head", head(), "What hangs on the line besides the payload").assumed("no head on the line")},
          {},
          {}};
}

Shape machine() {
  using T = Machine;
  return {"Machine",
          {words("name", &T::name, "For titles"), group("chassis", &T::chassis, chassis(), "Carrier").must(),
           list("outriggers", &T::outriggers, outrigger(), 3, "Legs, at least three").must(),
           group("platform", &T::platform, platform(), "Slewing platform").must(),
           group("container", &T::container, container(), "Payload units carried along")
               .assumed("no payload units are carried along"),
           group("boom", &T::boom, boom(), "Boom").must(),
           group("guide", &T::guide, guide(), "Guide on which the counterweight travels")
               .assumed("no counterweight travels"),
           group("hoist", &T::hoist, hoist(), "Line, drum and head")
               .assumed("a line without mass, without head and without limit")},
          {},
          {}};
}

Field terrain_file() {
  Field f = field("file", Form::file, D::number, any(), "Mesh or grid; relative to the scenario");
  f.at = [](void* owner, bool) { return owner; };
  return f;
}

Shape height_image() {
  using T = HeightImage;
  return {"Height image",
          {quantity("spacing", &T::spacing, D::length, above(0), "Between posts").must(),
           quantity("scale", &T::scale, D::length, above(0), "Height of one count").must(),
           quantity("offset", &T::offset, D::length, any(), "Height of count 0").otherwise("0 m")},
          {},
          {}};
}

Shape terrain() {
  using T = TerrainSource;
  Field unit = field("unit", Form::unit, D::length, any(),
                     "Unit of the file's coordinates; needed for meshes and ASCII grids");
  unit.at = inside(&T::unit);
  return {"Terrain",
          {terrain_file().must(),
           choice<T, std::optional<int>>("up", &T::up, {{"x", 0}, {"y", 1}, {"z", 2}},
                                         "Axis of a mesh file that points up; needed for meshes"),
           flag("mostly_wall", &T::mostly_wall, "A mesh with more wall than ground: `up` is right as stated")
               .otherwise("false"),
           std::move(unit),
           quantity("hole_below", &T::hole_below, D::length, any(), "Heights below this are holes"),
           quantity("weld", &T::weld, D::length, at_least(0), "Vertices nearer than this are one")
               .otherwise("0 m"),
           quantity("longest_edge", &T::longest_edge, D::length, above(0),
                    "Points: facets with a longer side in plan are holes; needed for points"),
           integers("classes", &T::classes, between(0, 255),
                    "Points: classes that are ground (LAS: 2 is ground); needed where there are several"),
           group("image", &T::image, height_image(), "What an image of heights does not say of itself")},
          {},
          {}};
}

Shape soil() {
  using T = Soil;
  Shape s{
      "Soil",
      {quantity("density", &T::density, D::density, above(0), "Bulk density").must(),
       quantity("cohesion", &T::cohesion, D::pressure, at_least(0), "Of the soil").must(),
       quantity("friction_angle", &T::friction_angle, D::angle, angles(0, 60), "Of the soil").must(),
       quantity("k_c", &T::k_c, D::pressure, at_least(0), "Pressure-sinkage modulus at 1 m depth, by width")
           .must(),
       quantity("k_phi", &T::k_phi, D::subgrade, at_least(0), "Pressure-sinkage modulus at 1 m depth").must(),
       quantity("n", &T::n, D::number, above(0), "Exponent of the sinkage").must(),
       quantity("thickness", &T::thickness, D::length, above(0), "Of the layer; not given: unlimited")},
      [](void* owner, std::string_view name) { *static_cast<T*>(owner) = find_soil(name)->soil; },
      {}};
  for (const SoilPreset& p : soil_presets()) s.preset_names.push_back(p.name);
  return s;
}

Shape spot() {
  using T = Spot;
  return {
      "Spot",
      {point("at", &T::at, D::length, "The chassis' origin in plan, map coordinates").must(),
       quantity("yaw", &T::yaw, D::angle, angles(-360, 360), "Counter-clockwise from east, seen from above")
           .must(),
       quantity("under", &T::under, D::length, any(),
                "The ground is the highest layer at or below this map height")},
      {},
      {}};
}

Shape payload() {
  using T = Payload;
  return {"Payload",
          {quantity("mass", &T::mass, D::mass, above(0), "Net payload on the line")
               .follows("one unit of the container"),
           deviation("mass"),
           quantity("reach", &T::reach, D::length, above(0),
                    "To which it must be lifted; not given: the operation's greatest")},
          {},
          {}};
}

/// What the operation and its transit have in common.
std::vector<Field> envelope(const char* slew, const char* luff, const char* extension, const char* travel) {
  using T = Operation;
  return {
      interval("slew", &T::slew, D::angle, angles(-1080, 1080), "Slew sector, a < b; a single angle; or all")
          .apart()
          .or_word({"all", [](void* o) { static_cast<T*>(o)->slew_all = true; }})
          .follows(slew),
      interval("luff", &T::luff, D::angle, angles(-90, 90), "Boom above the platform's plane").follows(luff),
      interval("extension", &T::extension, D::length, at_least(0), "Of the boom").follows(extension),
      interval("reach", &T::reach, D::length, at_least(0),
               "Cut: horizontal distance of the tip from the slew axis"),
      interval("tip_height", &T::tip_height, D::length, any(), "Cut: tip above the chassis' origin"),
      interval("line", &T::line, D::length, at_least(0), "Paid out").otherwise("0 m"),
      interval("counterweight", &T::travel, D::length, any(), "Travel of the counterweight")
          .or_word({"schedule", [](void* o) { static_cast<T*>(o)->scheduled = true; }})
          .follows(travel)};
}

Shape transit() {
  using T = Operation;
  Shape s{"Transit", envelope("", "", "", ""), {}, {}};
  s.fields.push_back(marker<T>("payload", &T::payload, "none", false, "none: nothing hangs on the head"));
  return s;
}

Shape operation() {
  Shape s{"Operation",
          lifted(&Scenario::operation,
                 envelope("the whole slew range", "the whole luff range", "the whole extension",
                          "the start of the counterweight's travel")),
          {},
          {}};
  s.fields.push_back(
      group("transit", &Scenario::transit, transit(), "States passed on the way, without lifting")
          .assumed("none: only the operation itself is looked at"));
  return s;
}

Field required_margin(MarginKind kind, const char* key, D dimension, const char* doc) {
  Field f = field(key, Form::quantity, dimension, any(), doc);
  f.at = [kind](void* owner, bool create) -> void* {
    std::map<MarginKind, double>& margin = static_cast<LoadCase*>(owner)->margin;
    if (create) return &margin[kind];
    const auto it = margin.find(kind);
    return it == margin.end() ? nullptr : &it->second;
  };
  return f;
}

Shape margins() {
  using M = MarginKind;
  return {
      "Required margin",
      {required_margin(M::moment, "moment", D::moment, "Least restoring moment at every edge"),
       required_margin(M::clearance, "clearance", D::length,
                       "Least distance of the resultant inside an edge"),
       required_margin(M::load_side_share, "load_side_share", D::share,
                       "Least share of the weight on an edge's far side"),
       required_margin(M::moment_ratio, "moment_ratio", D::number, "Least restoring over overturning moment"),
       required_margin(M::tip_angle, "tip_angle", D::angle, "Least tilt to the balance point"),
       required_margin(M::energy, "energy", D::energy, "Least energy to the balance point"),
       required_margin(M::force_angle, "force_angle", D::number,
                       "Least force-angle measure over its reference")},
      {},
      {}};
}

Shape load_case() {
  using T = LoadCase;
  Field hoisting =
      quantity("hoisting", &T::hoisting, D::number, at_least(1), "Factor on all that hangs while lifting off")
          .or_word({"physics", [](void* o) { static_cast<T*>(o)->hoisting_computed = true; }});
  Field swing =
      field("swing", Form::word, D::number, any(), "Slewing inertia; settled: start and stop do not add up");
  swing.at = [](void*, bool) -> void* { return nullptr; };
  swing.words = {
      {"start-stop", [](void* o) { static_cast<T*>(o)->swing = true; }},
      {"settled", [](void* o) { static_cast<T*>(o)->swing = static_cast<T*>(o)->swing_settled = true; }}};
  return {
      "Load case",
      {words("name", &T::name, "Unique").must(),
       words("source", &T::source, "Standard or practice and clause"),
       quantity("load_factor", &T::load_factor, D::number, at_least(0), "On all that hangs").otherwise("1"),
       quantity("boom_factor", &T::boom_factor, D::number, at_least(0),
                "Of the boom's moment, hung at the tip")
           .otherwise("0"),
       quantity("tipping_load", &T::tipping_load, D::share, Range{0, 1, true},
                "Allowed share of the load that tips"),
       marker<T>("payload", &T::payload, "none", false, "none: nothing hangs on the head"),
       marker<T>("head", &T::head_down, "down", true, "down: the head rests on the floor"),
       quantity("release", &T::release, D::number, at_least(0),
                "Share of the payload that pulls up when it is lost"),
       quantity("stall", &T::stall, D::share, above(0), "Share of hoist.line_pull that replaces what hangs"),
       std::move(hoisting), std::move(swing),
       marker<T>("luff", &T::luff_steepest, "steepest", true, "steepest: only the greatest luff"),
       marker<T>("counterweight", &T::counterweight_end, "end", true, "end: only the end of the travel"),
       marker<T>("mass_margin", &T::mass_margin, "none", false, "none: masses without their margins"),
       part("margin", margins(), "What must be kept; not given: moment 0")},
      {},
      {}};
}

Shape levelled_in() {
  using T = Criteria;
  return {"Levelled in",
          {quantity("luff", &T::levelled_luff, D::angle, angles(-90, 90), "Not given: the least"),
           quantity("extension", &T::levelled_extension, D::length, at_least(0), "Not given: the least"),
           quantity("counterweight", &T::levelled_travel, D::length, any(),
                    "Not given: the start of its travel")},
          {},
          {}};
}

Shape criteria() {
  using T = Criteria;
  Shape s{
      "Criteria",
      {quantity("allowed_tilt", &T::allowed_tilt, D::angle, angles(0, 45), "Of the chassis after levelling")
           .must(),
       quantity("set_error", &T::set_error, D::angle, angles(0, 45),
                "Error of levelling, in the worst direction")
           .otherwise("0 deg"),
       quantity("work_tilt", &T::work_tilt, D::angle, angles(0, 45),
                "Tilt while working, outward at every edge")
           .otherwise("0 deg"),
       choice<T, bool>("settle", &T::settle_proof_slew, {{"none", false}, {"proof-slew", true}},
                       "proof-slew: every foot has seen its greatest load, then levelled again")
           .otherwise("none"),
       part("levelled_in", levelled_in(), "State of the crane while levelling"),
       quantity("travel_reserve", &T::travel_reserve, D::length, at_least(0),
                "A schedule of the counterweight keeps from the ends of what holds")
           .otherwise("0 m"),
       quantity("stroke_left", &T::stroke_left, D::length, at_least(0), "To both ends of each leg")
           .otherwise("0 m"),
       quantity("wheel_clearance", &T::wheel_clearance, D::length, at_least(0), "Under every wheel")
           .otherwise("0 m"),
       quantity("belly_clearance", &T::belly_clearance, D::length, at_least(0), "Under the belly")
           .otherwise("0 m"),
       flag("foot_limits", &T::foot_limits, "Whether leg_limit is checked").otherwise("false"),
       quantity("bearing", &T::bearing, D::number, above(0), "Factor on the soil's bearing capacity"),
       quantity("slip", &T::slip, D::number, above(0), "Factor against a pad slipping"),
       quantity("slope", &T::slope, D::number, above(0), "Factor against the slope sliding"),
       quantity("rim", &T::rim, D::length, at_least(0), "Distance of every pad from the rim"),
       list("load_cases", &T::load_cases, load_case(), 1, "Ways of loading that must hold").must()},
      [](void* owner, std::string_view name) { *static_cast<T*>(owner) = find_criteria(name)->criteria; },
      {}};
  for (const CriteriaPreset& p : criteria_presets()) s.preset_names.push_back(p.name);
  return s;
}

Shape scenario() {
  using T = Scenario;
  Field format = field("rimstance", Form::word, D::number, any(), "Format of this file");
  format.at = [](void*, bool) -> void* { return nullptr; };
  format.words = {{"1", [](void*) {}}};
  Field gravity = quantity("gravity", &T::gravity, D::acceleration, between(1e-6, 1000), "At the surface");
  for (const GravityPreset& p : gravity_presets())
    gravity.words.push_back({p.name, [value = p.value](void* o) { static_cast<T*>(o)->gravity = value; }});
  return {"Scenario",
          {std::move(format).must(), words("title", &T::title, "For headings"), std::move(gravity).must(),
           group("terrain", &T::terrain, terrain(), "The ground").must(),
           group("soil", &T::soil, soil(), "What the ground is made of")
               .assumed("no soil: what depends on it is not evaluated"),
           group("machine", &T::machine, machine(), "Carrier, crane and what it carries").must(),
           group("spot", &T::spot, spot(), "Where the machine stands").must(),
           group("payload", &T::payload, payload(), "What is lifted"),
           part("operation", operation(), "What must be safe"),
           group("criteria", &T::criteria, criteria(), "What safe means").must()},
          {},
          {}};
}

// --- what follows from other values ----------------------------------------------------------------

void derive_sides(Scenario& s) {
  const Field* const list = scenario_shape().find("machine")->shape->find("outriggers");
  for (std::size_t i = 0; i < s.machine.outriggers.size(); ++i) {
    Outrigger& o = s.machine.outriggers[i];
    const std::string path = "machine.outriggers." + segment(*list, &s.machine.outriggers, i);
    const double x = o.pivot.x(), y = o.pivot.y();
    if (s.derived.contains(path + ".zero")) o.zero = x > 0 ? 0.0 : x < 0 ? kPi : kUnset;
    if (s.derived.contains(path + ".sense")) o.sense = x * y > 0 ? 1.0 : x * y < 0 ? -1.0 : kUnset;
  }
}

void derive_envelope(Scenario& s) {
  const auto free = [&](const char* key) { return s.derived.contains(std::string("operation.") + key); };
  Operation& o = s.operation;
  if (free("slew")) o.slew_all = true;
  if (free("luff")) o.luff = s.machine.boom.luff_range;
  if (free("extension")) o.extension = {0, greatest_extension(s.machine.boom)};
  const double start = s.machine.guide ? s.machine.guide->travel.lo : 0;
  if (free("counterweight")) o.travel = {start, start};
  // A platform that turns more than once round still has only one circle of slew angles.
  const Interval range = s.machine.platform.slew_range;
  const Interval whole{range.lo, std::min(range.hi, range.lo + 2 * kPi)};
  if (o.slew_all) o.slew = whole;
  if (!s.transit) return;
  Operation& t = *s.transit;
  if (free("transit.slew")) {
    t.slew = o.slew;
    t.slew_all = o.slew_all;
  } else if (t.slew_all) {
    t.slew = whole;
  }
  if (free("transit.luff")) t.luff = o.luff;
  if (free("transit.extension")) t.extension = o.extension;
  if (free("transit.counterweight")) {
    t.travel = o.travel;
    t.scheduled = o.scheduled;
  }
}

void derive_boom_and_hoist(Scenario& s) {
  Boom& boom = s.machine.boom;
  for (std::size_t k = 1; k < boom.sections.size(); ++k)
    if (s.derived.contains(fmt::format("machine.boom.sections.{}.stroke", k)))
      boom.sections[k].stroke = boom.sections[k].length;
  Hoist& hoist = s.machine.hoist;
  if (s.derived.contains("machine.hoist.drum")) hoist.drum = boom.foot;
  if (s.derived.contains("machine.hoist.line_length"))
    hoist.line_length = std::max(s.operation.line.hi, s.transit ? s.transit->line.hi : 0.0);
  if (s.derived.contains("payload.mass") && s.machine.container)
    s.payload.mass = s.machine.container->unit_mass;
}

}  // namespace

std::string text(const Range& r, Dimension d) {
  const bool lower = std::isfinite(r.lo), upper = std::isfinite(r.hi);
  if (lower && upper)
    return fmt::format("{} {} to {}", r.open_lo ? "over" : "from", shown(r.lo, d), shown(r.hi, d));
  if (lower) return fmt::format("{} {}", r.open_lo ? "over" : "at least", shown(r.lo, d));
  if (upper) return fmt::format("at most {}", shown(r.hi, d));
  return "any finite value";
}

Field Field::must() && {
  required = true;
  return std::move(*this);
}
Field Field::otherwise(std::string value) && {
  fallback = std::move(value);
  return std::move(*this);
}
Field Field::assumed(std::string reason) && {
  assume = std::move(reason);
  return std::move(*this);
}
Field Field::follows(std::string reason) && {
  derives = true;
  assume = std::move(reason);
  return std::move(*this);
}
Field Field::margin_in(std::string sibling) && {
  of = std::move(sibling);
  return std::move(*this);
}
Field Field::apart() && {
  distinct = true;
  return std::move(*this);
}
Field Field::or_word(Word word) && {
  words.push_back(std::move(word));
  return std::move(*this);
}

const Field* Shape::find(std::string_view key) const {
  const auto it = std::find_if(fields.begin(), fields.end(), [&](const Field& f) { return f.key == key; });
  return it == fields.end() ? nullptr : &*it;
}

std::vector<std::string> Shape::keys() const {
  std::vector<std::string> out;
  if (!preset_names.empty()) out.emplace_back("preset");
  for (const Field& f : fields) out.push_back(f.key);
  return out;
}

const Shape& scenario_shape() {
  static const Shape shape = scenario();
  return shape;
}

std::string segment(const Field& list, void* vector, std::size_t i) {
  return segment(list.items.name ? list.items.name(list.items.item(vector, i)) : std::string{}, i);
}

std::string segment(const std::string& name, std::size_t i) {
  const bool number = std::all_of(name.begin(), name.end(), [](char c) { return c >= '0' && c <= '9'; });
  return number || name.find_first_of(".*=") != std::string::npos ? std::to_string(i) : name;
}

double greatest_extension(const Boom& boom) {
  if (boom.kind == Boom::Kind::scissor) return boom.cells * boom.bar - boom.retracted;
  if (boom.kind == Boom::Kind::rigid_chain) return boom.chain_length - boom.retracted;
  double sum = 0;
  for (std::size_t k = 1; k < boom.sections.size(); ++k) sum += boom.sections[k].stroke;
  return sum;
}

void derive(Scenario& s) {
  derive_sides(s);
  derive_boom_and_hoist(s);
  derive_envelope(s);
}

}  // namespace rimstance
