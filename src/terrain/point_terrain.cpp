#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "grids.hpp"
#include "kinds.hpp"
#include "mesh_checks.hpp"
#include "plausible.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"
#include "tin.hpp"

namespace rimstance {

namespace {

[[noreturn]] void fail(const std::string& name, const char* key, std::string what, std::string way_out) {
  throw InputError(Place{name, 0, 0, key}, std::move(what), std::move(way_out));
}

// ---------------------------------------------------------------- which points are ground

/// ASPRS LAS 1.4 R15, table 17.
const char* class_name(int number) {
  constexpr const char* kNames[] = {"never classified",
                                    "unclassified",
                                    "ground",
                                    "low vegetation",
                                    "medium vegetation",
                                    "high vegetation",
                                    "building",
                                    "low noise",
                                    "model key point",
                                    "water",
                                    "rail",
                                    "road surface",
                                    "overlap",
                                    "wire guard",
                                    "wire conductor",
                                    "tower",
                                    "connector",
                                    "bridge deck",
                                    "high noise",
                                    "overhead structure",
                                    "ignored ground",
                                    "snow",
                                    "temporal exclusion"};
  return number < 23 ? kNames[number] : number < 64 ? "reserved" : "defined by its maker";
}

using Counts = std::array<std::uint64_t, 256>;

std::string class_list(const Counts& counts) {
  std::string out;
  for (int c = 0; c < 256; ++c)
    if (const std::uint64_t n = counts[static_cast<std::size_t>(c)]; n > 0)
      out += fmt::format("{}{} ({}): {}", out.empty() ? "" : ", ", c, class_name(c), counted(n, "point"));
  return out;
}

/// The classes that are taken; empty: all, there is but one or the file has none.
std::vector<int> chosen_classes(const PointFile& file, const std::string& name, const TerrainOptions& options,
                                TerrainFacts& facts) {
  if (file.classes.empty()) {
    if (!options.classes.empty())
      fail(name, "terrain.classes", "the points of this file have no classes", "leave terrain.classes out");
    return {};
  }
  Counts counts{};
  for (const std::uint8_t c : file.classes) ++counts[c];
  for (const int c : options.classes)
    if (c < 0 || c > 255 || counts[static_cast<std::size_t>(c)] == 0)
      fail(name, "terrain.classes",
           fmt::format("class {} holds no point; the file has {}", c, class_list(counts)),
           "choose among these");
  const auto present = std::count_if(counts.begin(), counts.end(), [](std::uint64_t n) { return n > 0; });
  if (!options.classes.empty() || present < 2) return options.classes;
  if (!options.points_assumed)
    fail(name, "terrain.classes",
         fmt::format("the file has points of several classes: {}", class_list(counts)),
         "state which of them are ground, for instance terrain.classes: [2]");
  if (counts[2] == 0) {
    facts.assumed.push_back(
        fmt::format("every class is ground ({}): state terrain.classes in the scenario", class_list(counts)));
    return {};
  }
  facts.assumed.push_back(fmt::format("only class 2 is ground, of {}: state terrain.classes in the scenario",
                                      class_list(counts)));
  return {2};
}

void keep_classes(PointFile& file, const std::vector<int>& classes) {
  if (classes.empty()) return;
  std::array<bool, 256> wanted{};
  for (const int c : classes) wanted[static_cast<std::size_t>(c)] = true;
  std::size_t kept = 0;
  for (std::size_t i = 0; i < file.points.size(); ++i)
    if (wanted[file.classes[i]]) file.points[kept++] = file.points[i];
  if (kept < file.points.size())
    file.notes.push_back(fmt::format("{} of {} {} of other classes and {} left out",
                                     file.points.size() - kept, counted(file.points.size(), "point"),
                                     file.points.size() - kept == 1 ? "is" : "are",
                                     file.points.size() - kept == 1 ? "was" : "were"));
  file.points.resize(kept);
}

// ---------------------------------------------------------------- units and order

void to_metres(PointFile& file, const std::string& name, const TerrainOptions& options, TerrainFacts& facts) {
  Bounds raw;
  for (const Vec3& p : file.points) raw.add(p);
  const GridUnits units = grid_units(file.plan_unit, file.height_unit, raw.hi - raw.lo, name, options);
  facts.assumed_unit = units.assumed;
  const auto told = [&](double unit, const char* what) {
    if (unit > 0) facts.from_file.push_back(fmt::format("{} are in units of {} m", what, shortest(unit)));
  };
  told(file.plan_unit, "positions");
  told(file.height_unit, "heights");
  for (Vec3& p : file.points)
    p = Vec3(p.x() * units.plan, p.y() * units.plan, p.z() * units.height) + Vec3::Zero();  // there is no -0
}

/// An order that the file's does not change, so that the ground does not depend on it; of points over one
/// another the highest.
void put_in_order(PointFile& file) {
  const auto before = [](const Vec3& a, const Vec3& b) {
    return a.x() != b.x() ? a.x() < b.x() : a.y() != b.y() ? a.y() < b.y() : a.z() > b.z();
  };
  std::sort(file.points.begin(), file.points.end(), before);
  const auto same = [](const Vec3& a, const Vec3& b) { return a.x() == b.x() && a.y() == b.y(); };
  const auto end = std::unique(file.points.begin(), file.points.end(), same);
  if (end == file.points.end()) return;
  file.notes.push_back(counted(static_cast<std::uint64_t>(file.points.end() - end),
                               "point lies over or in another one in plan",
                               "points lie over or in another one in plan") +
                       "; the highest of each place was kept");
  file.points.erase(end, file.points.end());
}

// ---------------------------------------------------------------- triangles

using Triangles = std::vector<std::array<std::uint32_t, 3>>;

Triangles triangulated(const std::vector<Vec3>& points, const std::string& name) {
  Bounds bounds;
  for (const Vec3& p : points) bounds.add(p);
  if (!(bounds.hi.head<2>().cwiseAbs().cwiseMax(bounds.lo.head<2>().cwiseAbs()).maxCoeff() <= kGreatestPlan))
    fail(name, "", "points lie more than 1e9 m from zero, which is no place on ground", "check terrain.unit");
  const Vec2 origin = local_origin(bounds).head<2>();
  std::vector<Vec2> plan;
  plan.reserve(points.size());
  for (const Vec3& p : points) plan.emplace_back(p.head<2>() - origin);
  Triangles out = delaunay(plan);
  if (out.empty())
    fail(name, "",
         points.size() < 3 ? counted(points.size(), "place in plan makes no surface",
                                     "different places in plan make no surface")
                           : fmt::format("all {} points lie on one line in plan", points.size()),
         "give points that cover an area");
  return out;
}

double longest_side(const std::vector<Vec3>& points, const std::array<std::uint32_t, 3>& t) {
  double out = 0;
  for (std::size_t k = 0; k < 3; ++k)
    out = std::max(out, (points[t[k]] - points[t[(k + 1) % 3]]).head<2>().norm());
  return out;
}

/// Median of the sides in plan; those within the surface count for both of their triangles.
double median_side(const std::vector<Vec3>& points, const Triangles& triangles) {
  std::vector<double> sides;
  sides.reserve(3 * triangles.size());
  for (const auto& t : triangles)
    for (std::size_t k = 0; k < 3; ++k)
      sides.push_back((points[t[k]] - points[t[(k + 1) % 3]]).head<2>().norm());
  const auto middle = sides.begin() + static_cast<std::ptrdiff_t>(sides.size() / 2);
  std::nth_element(sides.begin(), middle, sides.end());
  return *middle;
}

/// Four times the usual side, with two digits.
double proposed(double side) {
  const std::string text = fmt::format("{:.1e}", 4 * side);
  double out = 4 * side;
  std::from_chars(text.data(), text.data() + text.size(), out);
  return out;
}

double settled_edge(double side, const std::string& name, const TerrainOptions& options,
                    TerrainFacts& facts) {
  if (std::isfinite(options.longest_edge) || options.longest_edge == kInfinity) return options.longest_edge;
  const double edge = proposed(side);
  if (!options.points_assumed)
    fail(
        name, "terrain.longest_edge",
        fmt::format("the file holds points: how far apart two of them may be with ground between them is not "
                    "stated; half of the neighbours are nearer than {:.3g} m in plan",
                    side),
        fmt::format("state terrain.longest_edge; {} m looks right, wider gaps become holes", shortest(edge)));
  facts.assumed.push_back(fmt::format(
      "gaps over {} m between neighbouring points are holes: state terrain.longest_edge in the scenario",
      shortest(edge)));
  return edge;
}

void cut_long(Triangles& triangles, const std::vector<Vec3>& points, double edge, double side,
              const std::string& name, TerrainFacts& facts) {
  facts.long_facets = std::erase_if(triangles, [&](const auto& t) { return longest_side(points, t) > edge; });
  if (triangles.empty())
    fail(name, "terrain.longest_edge",
         fmt::format("every facet has a side over {:.6g} m in plan; half of the sides are over {:.3g} m",
                     edge, side),
         fmt::format("state a greater one; {} m looks right", shortest(proposed(side))));
  if (facts.long_facets > 0)
    facts.notes.push_back(fmt::format("{} a side over {:.6g} m in plan (longest_edge) and {}",
                                      counted(facts.long_facets, "facet has", "facets have"), edge,
                                      facts.long_facets == 1 ? "is a hole" : "are holes"));
}

/// Lidar from above and photographs see little of a wall: the triangulation spans it in one go.
void note_cliffs(const Triangles& triangles, const std::vector<Vec3>& points, double side,
                 TerrainFacts& facts) {
  constexpr double kTan70 = 2.7474774194546216, kSides = 3;
  std::uint64_t count = 0;
  double greatest = 0;
  for (const auto& t : triangles) {
    const Vec3 &a = points[t[0]], &b = points[t[1]], &c = points[t[2]];
    const double rise = std::max({a.z(), b.z(), c.z()}) - std::min({a.z(), b.z(), c.z()});
    const Vec3 normal = (b - a).cross(c - a);
    if (!(rise > kSides * side) || !(normal.head<2>().norm() > kTan70 * normal.z())) continue;
    ++count;
    greatest = std::max(greatest, rise);
  }
  if (count > 0)
    facts.notes.push_back(fmt::format(
        "cliff faces are straight lines between their top and foot: {} steeper than 70 deg, up to "
        "{:.3g} m high, without a point on the face",
        counted(count, "facet"), greatest));
}

/// By surface alone: trees and walls among the points close round nothing.
void check_slope(const Triangles& triangles, const PointFile& file, const std::string& name) {
  const double slope = median_slopes(file.points, triangles)[2];
  if (!(slope > kSteepestMedian)) return;
  const bool classes = !file.classes.empty();
  fail(name, classes ? "terrain.classes" : "terrain.unit",
       fmt::format("half of the surface is steeper than {:.2f} deg, ground is not (at most 60 deg)",
                   degrees(slope)),
       fmt::format(
           "{}, or check terrain.unit: positions and heights must not be degrees or of different units",
           classes ? "leave out what is no ground (terrain.classes)"
                   : "leave out trees and walls, which no class tells from ground here"));
}

void check_for_points(const std::string& name, const TerrainOptions& options) {
  const bool edge = std::isnan(options.longest_edge) || options.longest_edge > 0;
  if (!edge) fail(name, "terrain.longest_edge", "is not greater than 0", "state a length");
  if (options.weld > 0)
    fail(name, "terrain.weld", "is for meshes, but the file holds points", "leave terrain.weld out");
  if (options.image)
    fail(name, "terrain.image", "is for images, but the file holds points", "leave terrain.image out");
}

}  // namespace

PointFile points_of(MeshFile mesh, const TerrainOptions& options) {
  PointFile out;
  const UpAxis up = options.up.value_or(UpAxis::z);
  for (Vec3& p : mesh.vertices)
    p = up == UpAxis::x ? Vec3(p.y(), p.z(), p.x()) : up == UpAxis::y ? Vec3(p.x(), -p.z(), p.y()) : p;
  out.points = std::move(mesh.vertices);
  out.format = std::move(mesh.format);
  out.notes = std::move(mesh.notes);
  return out;
}

LoadedTerrain point_terrain(PointFile file, const std::string& name, const TerrainOptions& options) {
  check_for_points(name, options);
  TerrainFacts facts;
  const std::uint64_t points = file.points.size();
  const std::vector<int> classes = chosen_classes(file, name, options, facts);
  keep_classes(file, classes);
  to_metres(file, name, options, facts);
  put_in_order(file);
  Triangles triangles = triangulated(file.points, name);
  const double side = median_side(file.points, triangles);
  const double edge = settled_edge(side, name, options, facts);
  cut_long(triangles, file.points, edge, side, name, facts);
  note_cliffs(triangles, file.points, side, facts);
  check_slope(triangles, file, name);

  MeshFile mesh;
  mesh.vertices = std::move(file.points);
  mesh.triangles = std::move(triangles);
  mesh.format = std::move(file.format);
  mesh.notes = std::move(file.notes);
  TerrainOptions settled = options;
  settled.up = UpAxis::z;
  settled.unit = 1;
  settled.up_assumed = settled.unit_assumed = false;
  LoadedTerrain out = mesh_terrain(std::move(mesh), name, settled);
  out.facts.kind = "points";
  out.facts.points = points;
  out.facts.spacing = side;
  out.facts.longest_edge = edge;
  out.facts.long_facets = facts.long_facets;
  out.facts.classes = classes;
  out.facts.crs = std::move(file.crs);
  out.facts.from_file = std::move(facts.from_file);
  out.facts.assumed = std::move(facts.assumed);
  out.facts.assumed_unit = std::move(facts.assumed_unit);
  out.facts.notes.insert(out.facts.notes.end(), facts.notes.begin(), facts.notes.end());
  return out;
}

}  // namespace rimstance
