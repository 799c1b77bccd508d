#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <future>
#include <optional>
#include <span>
#include <utility>

#include "kinds.hpp"
#include "mesh_checks.hpp"
#include "placing.hpp"
#include "plausible.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"
#include "rimstance/terrain/ground.hpp"

namespace rimstance {

namespace {

std::string slopes_text(const std::array<double, 3>& slopes) {
  return fmt::format("{:.2f} deg with x up, {:.2f} deg with y up, {:.2f} deg with z up", degrees(slopes[0]),
                     degrees(slopes[1]), degrees(slopes[2]));
}

char flattest(const std::array<double, 3>& slopes) {
  return "xyz"[std::min_element(slopes.begin(), slopes.end()) - slopes.begin()];
}

Issue missing_up(const std::string& name, const MeshFile& mesh) {
  const auto slopes = median_slopes(mesh.vertices, mesh.triangles);
  return {Place{name, 0, 0, "terrain.up"},
          fmt::format("the up axis of the mesh is not stated; half of the surface is flatter than {}",
                      slopes_text(slopes)),
          fmt::format("state terrain.up; {} looks right", flattest(slopes))};
}

/// File axes that become east, north, up, and whether north is turned round.
struct Axes {
  std::array<int, 3> from;
  bool north_negative;
  const char* text;
};

Axes axes_of(UpAxis up) {
  switch (up) {
    case UpAxis::x:
      return {{1, 2, 0}, false, "east = y, north = z, up = x"};
    case UpAxis::y:
      return {{0, 2, 1}, true, "east = x, north = -z, up = y"};
    case UpAxis::z:
      break;
  }
  return {{0, 1, 2}, false, "east = x, north = y, up = z"};
}

Vec3 to_map(const Vec3& p, const Axes& axes, double unit) {
  const double north = axes.north_negative ? -p[axes.from[1]] : p[axes.from[1]];
  return Vec3(p[axes.from[0]], north, p[axes.from[2]]) * unit + Vec3::Zero();  // + 0: there is no -0
}

/// What holds for the mesh: stated by the user, else by the file, else assumed.
struct Statements {
  UpAxis up;
  double unit;
};

Statements statements(const MeshFile& mesh, const std::string& name, const TerrainOptions& options) {
  std::vector<Issue> issues;
  if (!options.up && !mesh.up) issues.push_back(missing_up(name, mesh));
  if (options.mostly_wall && !mesh.up && options.up_assumed)
    issues.push_back({Place{name, 0, 0, "terrain.mostly_wall"}, "speaks for the up axis, which is not stated",
                      "state terrain.up as well"});
  if (!options.unit && !mesh.unit) {
    Bounds bounds;
    for (const Vec3& p : mesh.vertices) bounds.add(p);
    issues.push_back(missing_unit(name, bounds.hi - bounds.lo));
  }
  if (!issues.empty()) throw InputError(std::move(issues));
  const bool files_up = mesh.up && (!options.up || options.up_assumed);
  const bool files_unit = mesh.unit && (!options.unit || options.unit_assumed);
  return {files_up ? static_cast<UpAxis>(*mesh.up) : *options.up, files_unit ? *mesh.unit : *options.unit};
}

std::string up_text(UpAxis up) { return std::string(1, "xyz"[static_cast<int>(up)]); }
std::string unit_text(double unit) { return unit == 1 ? "m" : shortest(unit) + " m"; }

/// Where the statements come from, and where the file contradicts one.
void tell(const Statements& held, const MeshFile& mesh, const TerrainOptions& options, TerrainFacts& facts) {
  const bool up_stated = options.up && !options.up_assumed,
             unit_stated = options.unit && !options.unit_assumed;
  if (mesh.up && !up_stated)
    facts.from_file.push_back(fmt::format("up {}: {} says so", up_text(held.up), mesh.format));
  if (mesh.unit && !unit_stated)
    facts.from_file.push_back(fmt::format("unit {}: {} says so", unit_text(held.unit), mesh.format));
  if (mesh.up && up_stated && static_cast<int>(held.up) != *mesh.up)
    facts.notes.push_back(fmt::format("up {} is stated and was used, but {} says {}", up_text(held.up),
                                      mesh.format, up_text(static_cast<UpAxis>(*mesh.up))));
  if (mesh.unit && unit_stated && !(std::abs(held.unit - *mesh.unit) <= 1e-9 * *mesh.unit))
    facts.notes.push_back(fmt::format("unit {} is stated and was used, but {} says {}", unit_text(held.unit),
                                      mesh.format, unit_text(*mesh.unit)));
  if (!mesh.up && options.up_assumed) facts.assumed_up = up_text(held.up);
  if (!mesh.unit && options.unit_assumed) facts.assumed_unit = unit_text(held.unit);
}

/// Places that are on no body with ground. Heights have a check of their own, which names marks, unless
/// they are so large that areas would overflow.
void check_reach(const Bounds& bounds, const std::string& name) {
  const Vec3 reach = bounds.lo.cwiseAbs().cwiseMax(bounds.hi.cwiseAbs());
  if (reach.x() <= kGreatestPlan && reach.y() <= kGreatestPlan && reach.z() <= 1e30) return;
  throw InputError(
      Place{name, 0, 0, {}},
      fmt::format("vertices lie up to ({:.6g}, {:.6g}, {:.6g}) m from zero, which is no place on ground",
                  reach.x(), reach.y(), reach.z()),
      "check terrain.unit, or state terrain.hole_below if the heights mark missing data");
}

/// The vertices and triangles of a mesh that belongs to somebody else by now.
struct MeshView {
  std::span<const Vec3> vertices;
  std::span<const std::array<std::uint32_t, 3>> triangles;
};

Bounds move_to_map(std::vector<Vec3>& vertices, const Axes& axes, double unit) {
  Bounds bounds;
  for (Vec3& p : vertices) {
    p = to_map(p, axes, unit);
    bounds.add(p);
  }
  return bounds;
}

void cut_below(TriangleMesh& mesh, double hole_below, const std::string& name, TerrainFacts& facts) {
  if (!(hole_below > -kInfinity)) return;
  const auto below = [&](std::uint32_t v) { return mesh.vertices[v].z() < hole_below; };
  const std::size_t cut =
      std::erase_if(mesh.triangles, [&](const auto& t) { return below(t[0]) || below(t[1]) || below(t[2]); });
  if (cut > 0)
    facts.notes.push_back(fmt::format("{} below {:.6g} m (hole_below) and {} left out",
                                      counted(cut, "triangle reaches", "triangles reach"), hole_below,
                                      cut == 1 ? "was" : "were"));
  if (mesh.triangles.empty())
    throw InputError(Place{name, 0, 0, "terrain.hole_below"},
                     fmt::format("every triangle reaches below {:.6g} m", hole_below),
                     "state a lower height");
}

/// Vertices of no triangle say nothing about the ground and must not stretch its extent.
void drop_unused(TriangleMesh& mesh, Bounds& bounds, TerrainFacts& facts) {
  std::vector<char> used(mesh.vertices.size(), 0);
  for (const auto& t : mesh.triangles)
    for (const std::uint32_t v : t) used[v] = 1;
  const auto unused = std::count(used.begin(), used.end(), 0);
  if (unused == 0) return;
  std::vector<std::uint32_t> number(mesh.vertices.size());
  std::uint32_t kept = 0;
  bounds = Bounds();
  for (std::size_t v = 0; v < number.size(); ++v) {
    number[v] = kept;
    if (!used[v]) continue;
    bounds.add(mesh.vertices[v]);
    mesh.vertices[kept++] = mesh.vertices[v];
  }
  facts.notes.push_back(counted(static_cast<std::uint64_t>(unused),
                                "vertex belongs to no triangle and was left out",
                                "vertices belong to no triangle and were left out"));
  mesh.vertices.resize(kept);
  for (auto& t : mesh.triangles)
    for (std::uint32_t& v : t) v = number[v];
}

/// Slopes that half of the surface does not exceed, with each axis of the file up.
std::array<double, 3> by_file_axis(const MeshView& mesh, const Axes& axes) {
  const auto by_map_axis = median_slopes(mesh.vertices, mesh.triangles);
  std::array<double, 3> slopes{};
  for (std::size_t k = 0; k < 3; ++k) slopes[static_cast<std::size_t>(axes.from[k])] = by_map_axis[k];
  return slopes;
}

/// A plain with a higher wall below it is a plain at its foot when it lies on its side: which of them it is
/// can only be stated (`mostly_wall`).
void check_slope(const MeshView& mesh, TerrainFacts& facts, const Axes& axes, bool mostly_wall,
                 const std::string& name) {
  if (!(facts.surface_area > 0))
    throw InputError(Place{name, 0, 0, {}}, "no triangle has an area",
                     "export the mesh again with more digits");
  const bool steep = facts.slope_p50 > kSteepestMedian;
  // What lies on its side stands upright or overhangs by much more than any ground does.
  if (!steep && facts.overhanging + facts.vertical <= mesh.triangles.size() / 8) return;
  const std::optional<int> faced = facing(mesh.vertices, mesh.triangles);
  const bool sideways = faced && *faced != 2;
  if (!steep && !sideways) return;
  if (mostly_wall) {
    facts.notes.push_back(
        fmt::format("mostly_wall is stated, so that the up axis was not judged by slopes: {}",
                    slopes_text(by_file_axis(mesh, axes))));
    return;
  }
  if (faced == 2 && half_of_plan_is_flat(mesh.vertices, mesh.triangles)) {
    note_walls(facts);
    return;
  }
  const std::array<double, 3> slopes = by_file_axis(mesh, axes);
  const char now = "xyz"[axes.from[2]];
  const char best = sideways ? "xyz"[axes.from[static_cast<std::size_t>(*faced)]] : flattest(slopes);
  const bool other =
      sideways || (best != now && slopes[static_cast<std::size_t>(best - 'x')] <= kSteepestMedian);
  throw InputError(
      Place{name, 0, 0, "terrain.up"},
      steep ? fmt::format(
                  "half of the surface is steeper than {:.2f} deg, ground is not (at most 60 deg); it would "
                  "be {}",
                  degrees(facts.slope_p50), slopes_text(slopes))
            : std::string("the surface as a whole faces sideways, ground faces up"),
      other ? fmt::format(
                  "the up axis looks wrong: state terrain.up: {}; if {} is up and more wall than ground "
                  "was mapped, state terrain.mostly_wall: true",
                  best, now)
            : "no up axis makes this a ground; check the file, give more of the ground round its walls, or "
              "state "
              "terrain.mostly_wall: true");
}

[[noreturn]] void fail_jump(const std::array<Vec3, 3>& corners, std::size_t triangle,
                            const std::string& name) {
  const auto [low, high] = std::minmax({corners[0].z(), corners[1].z(), corners[2].z()});
  throw InputError(
      Place{name, 0, 0, {}},
      fmt::format("triangle {} near ({:.6g}, {:.6g}) reaches from height {:.6g} to {:.6g} m, which looks "
                  "like a mark of missing data or a wrong unit",
                  triangle + 1, corners[0].x(), corners[0].y(), low, high),
      "state terrain.hole_below, or check terrain.unit and terrain.up");
}

void check_heights(const Bounds& bounds, const std::string& name) {
  if (bounds.lo.z() >= -kGreatestHeight && bounds.hi.z() <= kGreatestHeight) return;
  throw InputError(
      Place{name, 0, 0, {}},
      fmt::format("heights reach from {:.6g} to {:.6g} m, more than 100 km from zero", bounds.lo.z(),
                  bounds.hi.z()),
      "check terrain.unit and terrain.up, or state terrain.hole_below if they mark missing data");
}

/// Who asks for the ground at a place looks through the triangles round it, so that no place may have too
/// many.
void check_crowding(const TriangleMesh& mesh, const Bounds& bounds, const std::string& name,
                    TerrainFacts& facts) {
  const Vec2 size = (bounds.hi - bounds.lo).head<2>();
  double area = 0;
  for (const auto& t : mesh.triangles) {
    const Vec2 a = mesh.vertices[t[0]].head<2>(), b = mesh.vertices[t[1]].head<2>(),
               c = mesh.vertices[t[2]].head<2>();
    area += (a.cwiseMax(b).cwiseMax(c) - a.cwiseMin(b).cwiseMin(c)).prod();
  }
  facts.crowding = size.prod() > 0 ? area / size.prod() : 0;
  constexpr double kMostCrowding = 2000;
  if (!(facts.crowding > kMostCrowding)) return;
  throw InputError(
      Place{name, 0, 0, {}},
      fmt::format("{:.0f} triangles on average are as wide as to reach to one place: they are long and "
                  "thin, or lie over one another",
                  facts.crowding),
      "make a mesh of even triangles from it, or give fewer layers");
}

/// A mesh in map axes and metres, less what is no ground, moved to its local origin.
struct PlacedMesh {
  TriangleMesh mesh;
  Bounds bounds;  ///< in map coordinates
  Vec3 origin;
};

PlacedMesh placed(MeshFile file, const Axes& axes, double unit, const std::string& name,
                  const TerrainOptions& options, TerrainFacts& facts) {
  facts.kind = "mesh";
  facts.format = std::move(file.format);
  facts.notes.insert(facts.notes.end(), file.notes.begin(), file.notes.end());
  facts.vertices = file.vertices.size();
  PlacedMesh out{{std::move(file.vertices), std::move(file.triangles)}, {}, Vec3::Zero()};
  out.bounds = move_to_map(out.mesh.vertices, axes, unit);
  cut_below(out.mesh, options.hole_below, name, facts);
  drop_unused(out.mesh, out.bounds, facts);
  check_reach(out.bounds, name);
  check_span((out.bounds.hi - out.bounds.lo).head<2>().maxCoeff(), name);
  check_crowding(out.mesh, out.bounds, name, facts);
  facts.triangles = out.mesh.triangles.size();
  facts.lowest_corner = out.bounds.lo;
  facts.highest_corner = out.bounds.hi;
  out.origin = local_origin(out.bounds);
  if (!out.origin.isZero(0))
    for (Vec3& p : out.mesh.vertices) p -= out.origin;
  return out;
}

}  // namespace

LoadedTerrain mesh_terrain(MeshFile file, const std::string& name, const TerrainOptions& options) {
  const Statements held = statements(file, name, options);
  const Axes axes = axes_of(held.up);
  LoadedTerrain out;
  TerrainFacts& facts = out.facts;
  tell(held, file, options, facts);
  PlacedMesh all = placed(std::move(file), axes, held.unit, name, options, facts);
  const Vec3 origin = all.origin;

  // Large meshes: slopes beside the search for equal vertices and the index, edges beside the index. All of
  // them only read.
  const auto shared = std::make_shared<TriangleMesh>(std::move(all.mesh));
  TriangleMesh& mesh = *shared;
  const bool large = mesh.triangles.size() > 50'000;
  const auto when = large ? std::launch::async : std::launch::deferred;
  auto surface = std::async(
      when, [shared, &facts] { return surface_facts(shared->vertices, shared->triangles, facts); });
  const std::vector<std::uint32_t> numbers = welded_numbers(mesh.vertices, options.weld);
  std::optional<std::size_t> jump;
  if (!numbers.empty()) {  // nobody may read while the vertices move together
    jump = surface.get();
    facts.welded = renumber(mesh, numbers);
    if (options.weld > 0) jump = surface_facts(mesh.vertices, mesh.triangles, facts);
  }
  const MeshView view{mesh.vertices, mesh.triangles};
  if (options.edges) {
    if (surface.valid()) jump = surface.get();  // it writes other facts, but one writer at a time
    auto index =
        std::async(when, [shared] { return mesh_ground(std::shared_ptr<const TriangleMesh>(shared)); });
    edge_facts(view.vertices, view.triangles, facts);
    facts.edges_counted = true;
    out.terrain.ground = index.get();
  } else {
    out.terrain.ground = mesh_ground(std::shared_ptr<const TriangleMesh>(shared));
    if (surface.valid()) jump = surface.get();
  }
  if (jump) {
    const auto& t = view.triangles[*jump];
    const auto corner = [&](std::size_t k) { return Vec3(view.vertices[t[k]] + origin); };
    fail_jump({corner(0), corner(1), corner(2)}, *jump, name);
  }
  check_slope(view, facts, axes, options.mostly_wall, name);
  check_heights(all.bounds, name);
  for (TerrainFacts::Defect& d : facts.defect_places) d.place += origin;
  out.terrain.map_offset = origin;
  out.terrain.frame = fmt::format("map coordinates of the file: {} [m]", axes.text);
  return out;
}

}  // namespace rimstance
