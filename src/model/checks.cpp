#include "checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "rimstance/base/files.hpp"
#include "rimstance/model/quantity.hpp"
#include "table.hpp"

namespace rimstance {

namespace {

/// Feet nearer than this in plan are one foot: a hundredth of a small pad [m].
constexpr double kSameFoot = 1e-3;
/// Slack of comparisons between lengths and angles that were written with units [m, rad].
constexpr double kSlack = 1e-9;

using D = Dimension;

std::string shown(const Interval& i, D d) {
  return i.lo == i.hi ? shown(i.lo, d) : fmt::format("{} to {}", shown(i.lo, d), shown(i.hi, d));
}

class Checker {
 public:
  Checker(const Scenario& s, const std::map<std::string, Origin>& origins, IssueList& issues)
      : s_(s), m_(s.machine), origins_(origins), issues_(issues) {}

  void run() {
    terrain();
    outriggers();
    feet();
    belly();
    boom();
    structural();
    operation(s_.operation, "operation");
    if (s_.transit) operation(*s_.transit, "operation.transit");
    levelled_in();
    payload();
    load_cases();
  }

 private:
  /// The place of the nearest value written at or above `path`.
  Place place(std::string path) const {
    const std::string asked = path;
    for (;;) {
      const auto it = origins_.find(path);
      if (it != origins_.end()) {
        Place p = it->second.place;
        p.path = asked;
        return p;
      }
      const std::size_t dot = path.rfind('.');
      if (dot == std::string::npos)
        return {origins_.empty() ? std::string{} : origins_.begin()->second.place.file, 0, 0, asked};
      path.resize(dot);
    }
  }
  void issue(const std::string& path, std::string what, std::string way_out) {
    issues_.add(place(path), std::move(what), std::move(way_out));
  }
  bool written(const std::string& path) const {
    const auto it = origins_.find(path);
    return it != origins_.end() && it->second.written != "not given" &&
           it->second.written.rfind("preset ", 0) != 0 && it->second.written.rfind("default: ", 0) != 0 &&
           it->second.written != "follows from other values";
  }

  void terrain() {
    std::string kind = std::filesystem::path(s_.terrain.file).extension().string();
    for (char& c : kind) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
    const bool mesh = kind == ".ply" || kind == ".obj" || kind == ".stl" || kind == ".off";
    const bool grid = kind == ".asc", text = kind == ".xyz";
    const bool points = text || kind == ".las";
    const bool may_be_points = kind == ".ply" && std::isfinite(s_.terrain.longest_edge);
    if (mesh && !may_be_points && !s_.terrain.up && !touched("terrain.up"))
      issue("terrain.file", "a mesh file does not say which axis points up",
            "add `up: z` (or x, y) to terrain");
    if (s_.terrain.mostly_wall && (grid || points))
      issue("terrain.mostly_wall", "is for meshes only", "remove `mostly_wall`");
    if (grid && s_.terrain.up && *s_.terrain.up != 2)
      issue("terrain.up", "the heights of a grid always point up", "remove `up`; it is for meshes");
    if ((mesh || grid || text) && std::isnan(s_.terrain.unit) && !touched("terrain.unit"))
      issue("terrain.file", "the file does not say the unit of its coordinates", "add `unit: m` to terrain");
    if (points && s_.terrain.up && *s_.terrain.up != 2)
      issue("terrain.up", "the third coordinate of points is their height", "remove `up`; it is for meshes");
    if (points && std::isnan(s_.terrain.longest_edge) && !touched("terrain.longest_edge"))
      issue("terrain.file",
            "the file holds points; how far apart they may be with ground between them is not said",
            "add `longest_edge: 2 m` to terrain; `rimstance inspect` proposes a length");
    if ((mesh || grid) && kind != ".ply" && written("terrain.longest_edge"))
      issue("terrain.longest_edge", "is for points only, but the file holds a surface already",
            "remove `longest_edge`");
    if ((mesh || grid || text) && written("terrain.classes"))
      issue("terrain.classes", "is for LAS points only", "remove `classes`");
  }
  /// Whether something was written at `path` that could not be read: reported already.
  bool touched(const std::string& path) const {
    return std::any_of(issues_.issues.begin(), issues_.issues.end(), [&](const Issue& i) {
      return i.place.path == path || i.place.path.rfind(path + ".", 0) == 0;
    });
  }

  std::string outrigger_path(std::size_t i) const {
    return "machine.outriggers." + segment(m_.outriggers[i].name, i);
  }

  void outriggers() {
    for (std::size_t i = 0; i < m_.outriggers.size(); ++i) {
      const Outrigger& o = m_.outriggers[i];
      const std::string path = outrigger_path(i);
      if (o.splay < o.splay_range.lo - kSlack || o.splay > o.splay_range.hi + kSlack)
        issue(path + ".splay",
              fmt::format("{} is outside splay_range, {}", shown(o.splay, D::angle),
                          shown(o.splay_range, D::angle)),
              "change the splay or its range");
      const bool no_side = (s_.derived.contains(path + ".zero") && std::isnan(o.zero)) ||
                           (s_.derived.contains(path + ".sense") && std::isnan(o.sense));
      if (no_side && o.pivot.allFinite())
        issue(path + ".pivot",
              "the pivot lies on an axis of the chassis, so the side it opens to is not known",
              "state `zero` (an angle) and `sense` (+1 or -1)");
      if (std::abs(o.sense) < 1)
        issue(path + ".sense", fmt::format("\"{}\" is neither +1 nor -1", o.sense),
              "+1 opens counter-clockwise seen from above");
    }
  }

  Vec2 foot(const Outrigger& o) const {
    const double azimuth = o.zero + o.sense * o.splay;
    return o.pivot.head<2>() + o.arm * Vec2(std::cos(azimuth), std::sin(azimuth));
  }

  void feet() {
    for (std::size_t i = 0; i < m_.outriggers.size(); ++i)
      for (std::size_t j = 0; j < i; ++j)
        if ((foot(m_.outriggers[i]) - foot(m_.outriggers[j])).norm() < kSameFoot)
          issue(outrigger_path(i),
                fmt::format("its foot coincides with that of \"{}\" (within 1 mm in plan)",
                            m_.outriggers[j].name),
                "move the pivot, or change arm or splay");
  }

  void belly() {
    if (!m_.chassis.belly) return;
    const std::vector<Vec2>& c = m_.chassis.belly->outline;
    double area = 0;
    for (std::size_t i = 1; i + 1 < c.size(); ++i) area += 0.5 * cross2(c[i] - c[0], c[i + 1] - c[0]);
    if (c.size() >= 3 && std::abs(area) < 1e-6)
      issue("machine.chassis.belly.outline", "the outline encloses no area",
            "list the corners in order around it");
  }

  // --- boom ---

  static const std::vector<std::string>& keys_of(Boom::Kind kind) {
    static const std::vector<std::string> telescopic{"sections", "order"};
    static const std::vector<std::string> scissor{"retracted", "mass", "cells", "bar", "margin"};
    static const std::vector<std::string> chain{"retracted", "chain_mass", "chain_length", "magazine",
                                                "margin"};
    return kind == Boom::Kind::telescopic ? telescopic : kind == Boom::Kind::scissor ? scissor : chain;
  }

  void boom() {
    if (!origins_.contains("machine.boom.kind")) return;
    const std::vector<std::string>& own = keys_of(m_.boom.kind);
    const std::string kind = origins_.at("machine.boom.kind").written;
    for (const Boom::Kind other : {Boom::Kind::telescopic, Boom::Kind::scissor, Boom::Kind::rigid_chain})
      for (const std::string& key : keys_of(other)) {
        const bool mine = std::find(own.begin(), own.end(), key) != own.end();
        const std::string path = "machine.boom." + key;
        if (!mine && written(path) && !touched(path))
          issue(path, fmt::format("a {} boom has no \"{}\"", kind, key), "remove the key or change `kind`");
        if (mine && other == m_.boom.kind && key != "order" && key != "margin" && !written(path) &&
            !touched(path))
          issue("machine.boom.kind", fmt::format("a {} boom needs \"{}\"", kind, key), "add the key");
      }
    if (m_.boom.kind == Boom::Kind::telescopic) sections();
    if (m_.boom.kind != Boom::Kind::telescopic && greatest_extension(m_.boom) < 0) too_short();
  }

  /// Fully out it is shorter than its shortest.
  void too_short() {
    const bool chain = m_.boom.kind == Boom::Kind::rigid_chain;
    const std::string most = shown(m_.boom.retracted + greatest_extension(m_.boom), D::length),
                      least = shown(m_.boom.retracted, D::length);
    if (chain)
      issue("machine.boom.chain_length",
            fmt::format("a chain of {} is shorter than the boom's shortest length, {}", most, least),
            "lengthen the chain or shorten `retracted`");
    else
      issue("machine.boom.retracted",
            fmt::format("the shortest length, {}, exceeds the longest, cells times bar: {}", least, most),
            "shorten `retracted`, or give more cells or longer bars");
  }

  void sections() {
    const std::vector<BoomSection>& sections = m_.boom.sections;
    if (sections.empty() && written("machine.boom.sections"))
      issue("machine.boom.sections", "a telescopic boom needs at least one section",
            "list them from the foot outwards");
    for (std::size_t k = 0; k < sections.size(); ++k) {
      const std::string path = fmt::format("machine.boom.sections.{}.stroke", k);
      if (k == 0 && sections[k].stroke > 0)
        issue(path, "the section at the foot does not run out", "remove its stroke");
      if (k > 0 && sections[k].stroke > sections[k].length + kSlack)
        issue(path,
              fmt::format("the stroke of {} exceeds the section's length of {}",
                          shown(sections[k].stroke, D::length), shown(sections[k].length, D::length)),
              "a section cannot leave the one that carries it");
    }
  }

  void structural() {
    if (!m_.boom.limit) return;
    const auto& rows = m_.boom.limit->rows;
    for (std::size_t i = 1; i < rows.size(); ++i)
      if (rows[i].reach <= rows[i - 1].reach)
        issue(fmt::format("machine.boom.structural_limit.rows.{}.reach", i),
              fmt::format("{} does not lie beyond the row before, {}: rows must be in order of growing reach",
                          shown(rows[i].reach, D::length), shown(rows[i - 1].reach, D::length)),
              "sort the rows; one row for each reach");
  }

  // --- operation ---

  void within(const std::string& path, const Interval& asked, const Interval& allowed, D d,
              const std::string& of) {
    if (asked.lo < allowed.lo - kSlack || asked.hi > allowed.hi + kSlack)
      issue(path, fmt::format("{} is outside the machine's {}, {}", shown(asked, d), of, shown(allowed, d)),
            "narrow it, or change the machine");
  }

  void operation(const Operation& o, const std::string& path) {
    const bool unread = !origins_.empty() && !origins_.contains("machine.boom.kind");
    if (unread || touched("machine.boom.sections") || touched("machine.boom.kind") ||
        touched("machine.boom.retracted") || touched("machine.boom.chain_length"))
      return;  // said already
    slew(o, path + ".slew");
    within(path + ".luff", o.luff, m_.boom.luff_range, D::angle, "luff range");
    within(path + ".extension", o.extension, {0, greatest_extension(m_.boom)}, D::length, "extension");
    const bool asks_travel = o.scheduled || o.travel.lo != 0 || o.travel.hi != 0;
    if (m_.guide && !o.scheduled)
      within(path + ".counterweight", o.travel, m_.guide->travel, D::length, "travel of the counterweight");
    if (!m_.guide && asks_travel && !s_.derived.contains(path + ".counterweight"))
      issue(path + ".counterweight", "the machine has no guide for a counterweight",
            "remove the key or describe `guide`");
    if (o.line.hi > m_.hoist.line_length + kSlack)
      issue(path + ".line",
            fmt::format("{} paid out, but the line is {} long", shown(o.line.hi, D::length),
                        shown(m_.hoist.line_length, D::length)),
            "shorten what is paid out or lengthen hoist.line_length");
  }

  void slew(const Operation& o, const std::string& path) {
    const Interval range = m_.platform.slew_range;
    if (o.slew.width() > 2 * kPi + kSlack)
      issue(path, fmt::format("{} is more than a full circle", shown(o.slew, D::angle)),
            "write `all` for the whole slew range");
    else if (range.width() < 2 * kPi - kSlack)  // a full circle contains every sector, modulo 360 deg
      within(path, o.slew, range, D::angle, "slew range");
  }

  void levelled_in() {
    const Criteria& c = s_.criteria;
    const std::string path = "criteria.levelled_in.";
    within(path + "luff", {c.levelled_luff, c.levelled_luff}, m_.boom.luff_range, D::angle, "luff range");
    within(path + "extension", {c.levelled_extension, c.levelled_extension}, {0, greatest_extension(m_.boom)},
           D::length, "extension");
    if (m_.guide)
      within(path + "counterweight", {c.levelled_travel, c.levelled_travel}, m_.guide->travel, D::length,
             "travel of the counterweight");
    else if (c.levelled_travel > 0 || c.levelled_travel < 0)
      issue(path + "counterweight", "the machine has no guide for a counterweight",
            "remove the key or describe `guide`");
  }

  void payload() {
    if (s_.derived.contains("payload.mass") && !m_.container && !m_.outriggers.empty() && !touched("machine"))
      issue("payload.mass", "the mass of the payload is missing",
            "add `payload: { mass: 14 kg }` or describe `container`");
  }

  // --- criteria ---

  void load_cases() {
    for (std::size_t i = 0; i < s_.criteria.load_cases.size(); ++i) {
      const LoadCase& c = s_.criteria.load_cases[i];
      const std::string path = "criteria.load_cases." + segment(c.name, i);
      if (c.tipping_load > 0 && (c.load_factor != 1 || c.boom_factor != 0))
        issue(path + ".tipping_load",
              "tipping_load already is a factor on the load (1 over its share) and excludes load_factor and "
              "boom_factor",
              "keep one of the two forms");
      if (c.release >= 0 && (!c.payload || c.head_down))
        issue(path + ".release", "nothing can be lost where no payload hangs",
              "remove `release`, or `payload: none` and `head: down`");
      if (c.stall > 0 && (c.release >= 0 || !c.payload || c.head_down))
        issue(path + ".stall", "a stalled hoist replaces everything that hangs", "keep `stall` alone");
      if (c.stall > 0 && (c.load_factor != 1 || c.tipping_load > 0))
        issue(path + ".stall", "the stall pull replaces what hangs: no factor on the load is applied to it",
              "remove `load_factor` or `tipping_load`, or put the factor into the share");
      if ((c.hoisting > 0 || c.hoisting_computed) && (c.stall > 0 || c.release >= 0 || c.head_down))
        issue(path + ".hoisting",
              "nothing is lifted off by a stalled hoist, in a release or with the head down",
              "remove `hoisting`, or `stall`, `release` and `head: down`");
      if (c.stall > 0 && !std::isfinite(m_.hoist.line_pull) && written(path + ".stall") &&
          !touched("machine"))
        issue(path + ".stall", "the stall pull is a share of hoist.line_pull, which is not given",
              "add `line_pull` to hoist");
    }
  }

  const Scenario& s_;
  const Machine& m_;
  const std::map<std::string, Origin>& origins_;
  IssueList& issues_;
};

}  // namespace

void check_scenario(const Scenario& s, const std::map<std::string, Origin>& origins, IssueList& issues) {
  Checker(s, origins, issues).run();
}

std::vector<Issue> cautions(const Scenario& s, const std::map<std::string, Origin>& origins) {
  std::vector<Issue> out;
  const auto place = [&](const std::string& path) {
    const auto it = origins.find(path);
    return it == origins.end() ? Place{{}, 0, 0, path} : it->second.place;
  };
  const std::vector<BoomSection>& sections = s.machine.boom.sections;
  for (std::size_t k = 1; k < sections.size(); ++k) {
    const std::string path = fmt::format("machine.boom.sections.{}.stroke", k);
    if (s.derived.contains(path))
      out.push_back({place(path),
                     "the stroke is not given and taken as the whole length: nothing is left to overlap",
                     "state the stroke"});
  }
  const auto error = origins.find("criteria.set_error");
  const bool unsaid = error == origins.end() || error->second.written.rfind("default: ", 0) == 0 ||
                      error->second.written.rfind("preset ", 0) == 0;
  if (unsaid)
    out.push_back({place("criteria.set_error"), "the error of levelling is not given and taken as 0 deg",
                   "state `set_error`, also where it is 0 deg"});
  return out;
}

std::vector<std::string> assumptions(const Scenario& s, const std::map<std::string, Origin>& origins) {
  std::vector<std::string> out;
  const auto speed = origins.find("machine.hoist.speed");
  const bool unsaid = speed == origins.end() || speed->second.written.rfind("default: ", 0) == 0;
  const bool counts = std::any_of(s.criteria.load_cases.begin(), s.criteria.load_cases.end(),
                                  [](const LoadCase& c) { return c.hoisting_computed; });
  if (counts && unsaid)
    out.push_back(fmt::format("machine.hoist.speed: {} m/s (a slow hoist; the hoisting factor grows with it)",
                              shortest(s.machine.hoist.speed)));
  return out;
}

}  // namespace rimstance
