#include "rimstance/terrain/load.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <future>
#include <optional>
#include <span>
#include <utility>

#include "grid_checks.hpp"
#include "mesh_checks.hpp"
#include "plausible.hpp"
#include "readers.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/terrain/ground.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

// ---------------------------------------------------------------- which format

enum class Format { ply, obj, stl, off, asc };

constexpr const char* kRead = "PLY, OBJ, STL, OFF and ESRI ASCII grid (.asc) are read";

std::string extension_of(const std::string& name) {
  const std::size_t dot = name.find_last_of("./");
  return dot == std::string::npos || name[dot] == '/' ? std::string() : lower_case(name.substr(dot + 1));
}

/// Kinds that are often met and not read, by their first bytes.
const char* other_kind(std::string_view bytes) {
  constexpr std::pair<std::string_view, const char*> kKinds[] = {
      {"glTF", "a binary glTF file"},  {"b3dm", "a 3D tile"},       {"LASF", "a LAS point cloud"},
      {"II*\0", "a TIFF image"},       {"MM\0*", "a TIFF image"},   {"\x89PNG", "a PNG image"},
      {"PK\x03\x04", "a ZIP archive"}, {"\x1f\x8b", "a gzip file"}, {"CDF", "a NetCDF file"},
      {"\x89HDF", "an HDF5 file"},     {"\xff\xfe", "UTF-16 text"}, {"\xfe\xff", "UTF-16 text"}};
  for (const auto& [start, kind] : kKinds) {
    const std::string_view magic(start.data(), start.size());
    if (bytes.starts_with(magic)) return kind;
  }
  return nullptr;
}

bool starts_with_word(std::string_view bytes, std::string_view word) {
  return bytes.starts_with(word) && bytes.size() > word.size() && TextCursor::is_space(bytes[word.size()]);
}

bool looks_like_off(std::string_view bytes) {
  const std::string none;
  TextCursor text(bytes.substr(0, 4096), none, {.comment = '#'});
  return text.more() && text.peek().size() <= 6 && text.peek().ends_with("OFF");
}

bool looks_like_obj(std::string_view bytes) {
  const std::string none;
  TextCursor text(bytes.substr(0, 65536), none, {.comment = '#'});
  if (!text.more()) return false;
  const std::string_view word = text.peek();
  return word == "v" || word == "mtllib" || word == "o" || word == "g" || word == "vn" || word == "vt";
}

Format format_of(std::string_view bytes, const std::string& name) {
  const Place place{name, 0, 0, {}};
  if (bytes.empty()) throw InputError(place, "is empty", "get the file again");
  if (starts_with_word(bytes, "ply")) return Format::ply;
  const std::string extension = extension_of(name);
  if (looks_like_stl(bytes)) return Format::stl;
  if (const char* const kind = other_kind(bytes))
    throw InputError(place, fmt::format("is {}, which is not read as terrain", kind),
                     fmt::format("convert it; {}", kRead));
  if (looks_like_asc(bytes)) return Format::asc;
  if (looks_like_off(bytes)) return Format::off;
  if (extension == "obj" || looks_like_obj(bytes)) return Format::obj;
  if (extension == "stl") return Format::stl;  // its reader says what is wrong with it
  if (extension == "off") return Format::off;
  if (extension == "asc") return Format::asc;
  if (extension == "ply")
    throw InputError(place,
                     fmt::format("is no PLY file: the first line is not \"ply\" but begins {}",
                                 quoted(bytes.substr(0, 12))),
                     "get the file again whole");
  throw InputError(place,
                   fmt::format("has a content that is not known (it begins {})", quoted(bytes.substr(0, 12))),
                   kRead);
}

// ---------------------------------------------------------------- statements the user owes

std::string unit_way_out() { return "state terrain.unit, for instance m, ft or mm"; }

Issue missing_unit(const std::string& name, const Vec3& span) {
  return {Place{name, 0, 0, "terrain.unit"},
          fmt::format("the unit of the file is not stated; the content spans {:.6g} x {:.6g} x {:.6g} of it",
                      span.x(), span.y(), span.z()),
          unit_way_out()};
}

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

void check_unit(const std::optional<double>& unit) {
  expects(!unit || (*unit > 0 && std::isfinite(*unit)), "load_terrain: unit > 0, finite");
}

// ---------------------------------------------------------------- local origin

struct Bounds {
  Vec3 lo = Vec3::Constant(kInfinity), hi = Vec3::Constant(-kInfinity);
  void add(const Vec3& p) {
    lo = lo.cwiseMin(p);
    hi = hi.cwiseMax(p);
  }
};

/// Whole metres near the middle where the coordinates are large against their span, else 0. Then every
/// x in [lo, hi] has |x - origin| <= |x| with an origin that is a multiple of the last digit of x, so
/// that x - origin is exact (Sterbenz 1974).
double local_origin(double lo, double hi) {
  const double near = std::min(std::abs(lo), std::abs(hi)), far = std::max(std::abs(lo), std::abs(hi));
  const bool one_side = (lo > 0) == (hi > 0);
  if (!one_side || !(far <= 3 * near) || !(far < 0x1p52)) return 0;
  const double middle = std::round(lo + 0.5 * (hi - lo));
  return std::abs(middle) <= 2 * near ? middle : 0;
}

Vec3 local_origin(const Bounds& bounds) {
  Vec3 origin;
  for (int axis = 0; axis < 3; ++axis) origin[axis] = local_origin(bounds.lo[axis], bounds.hi[axis]);
  return origin;
}

// ---------------------------------------------------------------- meshes

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

void check_stated(const MeshFile& mesh, const std::string& name, const TerrainOptions& options) {
  std::vector<Issue> issues;
  if (!options.up) issues.push_back(missing_up(name, mesh));
  if (!options.unit) {
    Bounds bounds;
    for (const Vec3& p : mesh.vertices) bounds.add(p);
    issues.push_back(missing_unit(name, bounds.hi - bounds.lo));
  }
  if (!issues.empty()) throw InputError(std::move(issues));
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
    facts.notes.push_back(
        fmt::format("{} triangles reach below {:.6g} m (hole_below) and were left out", cut, hole_below));
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
  facts.notes.push_back(fmt::format("{} vertices belong to no triangle and were left out", unused));
  mesh.vertices.resize(kept);
  for (auto& t : mesh.triangles)
    for (std::uint32_t& v : t) v = number[v];
}

void check_slope(const MeshView& mesh, const TerrainFacts& facts, const Axes& axes, const std::string& name) {
  if (!(facts.surface_area > 0))
    throw InputError(Place{name, 0, 0, {}}, "no triangle has an area",
                     "export the mesh again with more digits");
  if (!(facts.slope_p50 > kSteepestMedian)) return;
  const auto by_map_axis = median_slopes(mesh.vertices, mesh.triangles);
  std::array<double, 3> slopes{};
  for (std::size_t k = 0; k < 3; ++k) slopes[static_cast<std::size_t>(axes.from[k])] = by_map_axis[k];
  const char best = flattest(slopes);
  const bool other =
      best != "xyz"[axes.from[2]] && slopes[static_cast<std::size_t>(best - 'x')] <= kSteepestMedian;
  throw InputError(
      Place{name, 0, 0, "terrain.up"},
      fmt::format("half of the surface is steeper than {:.2f} deg, ground is not (at most 60 deg); it would "
                  "be {}",
                  degrees(facts.slope_p50), slopes_text(slopes)),
      other ? fmt::format("the up axis is wrong: state terrain.up: {}", best)
            : "no up axis makes this a ground; check the file");
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

/// A mesh in map axes and metres, less what is no ground, moved to its local origin.
struct PlacedMesh {
  TriangleMesh mesh;
  Bounds bounds;  ///< in map coordinates
  Vec3 origin;
};

PlacedMesh placed(MeshFile file, const Axes& axes, const std::string& name, const TerrainOptions& options,
                  TerrainFacts& facts) {
  facts.kind = "mesh";
  facts.format = std::move(file.format);
  facts.notes = std::move(file.notes);
  facts.vertices = file.vertices.size();
  PlacedMesh out{{std::move(file.vertices), std::move(file.triangles)}, {}, Vec3::Zero()};
  out.bounds = move_to_map(out.mesh.vertices, axes, *options.unit);
  cut_below(out.mesh, options.hole_below, name, facts);
  drop_unused(out.mesh, out.bounds, facts);
  check_reach(out.bounds, name);
  facts.triangles = out.mesh.triangles.size();
  facts.lowest_corner = out.bounds.lo;
  facts.highest_corner = out.bounds.hi;
  out.origin = local_origin(out.bounds);
  if (!out.origin.isZero(0))
    for (Vec3& p : out.mesh.vertices) p -= out.origin;
  return out;
}

LoadedTerrain mesh_terrain(MeshFile file, const std::string& name, const TerrainOptions& options) {
  check_stated(file, name, options);
  const Axes axes = axes_of(*options.up);
  LoadedTerrain out;
  TerrainFacts& facts = out.facts;
  PlacedMesh all = placed(std::move(file), axes, name, options, facts);
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
  check_slope(view, facts, axes, name);
  check_heights(all.bounds, name);
  out.terrain.map_offset = origin;
  out.terrain.frame = fmt::format("map coordinates of the file: {} [m]", axes.text);
  return out;
}

// ---------------------------------------------------------------- grids

Bounds bounds_of(const GridFile& grid, double unit) {
  Bounds bounds;
  double low = kInfinity, high = -kInfinity;
  for (const double z : grid.heights)
    if (std::isfinite(z)) low = std::min(low, z), high = std::max(high, z);
  const Vec2 first = grid.first * unit;
  const Vec2 last = first + (grid.spacing * unit).cwiseProduct(Vec2(grid.columns - 1.0, grid.rows - 1.0));
  bounds.lo << first, low;
  bounds.hi << last, high;
  return bounds;
}

void check_grid_slope(const TerrainFacts& facts, const std::string& name) {
  if (!(facts.slope_p50 > kSteepestMedian)) return;
  throw InputError(
      Place{name, 0, 0, "terrain.unit"},
      fmt::format("half of the surface is steeper than {:.2f} deg, ground is not (at most 60 deg)",
                  degrees(facts.slope_p50)),
      "check terrain.unit and the cell size: posts and heights must be in one unit, not degrees");
}

LoadedTerrain grid_terrain(GridFile file, const std::string& name, const TerrainOptions& options) {
  check_degrees(file, name);
  if (!options.unit) {
    const Bounds bounds = bounds_of(file, 1);
    throw InputError({missing_unit(name, bounds.hi - bounds.lo)});
  }
  const double unit = *options.unit;
  LoadedTerrain out;
  TerrainFacts& facts = out.facts;
  facts.kind = "grid";
  facts.format = std::move(file.format);
  facts.notes = std::move(file.notes);
  for (double& z : file.heights) {
    z *= unit;
    if (!(z >= options.hole_below)) z = kUnset;
    facts.holes += std::isnan(z);
  }
  check_cells(file, unit, name);
  const Bounds bounds = bounds_of(file, unit);
  if (!(bounds.lo.cwiseAbs().cwiseMax(bounds.hi.cwiseAbs()).maxCoeff() <= kGreatestPlan))
    throw InputError(Place{name, 0, 0, {}}, "the posts lie more than 1e9 m from the origin",
                     "check the header and terrain.unit");
  const Vec3 origin = local_origin(bounds);
  HeightGrid grid;
  grid.first = bounds.lo.head<2>() - origin.head<2>();
  grid.spacing = file.spacing * unit;
  grid.columns = file.columns;
  grid.rows = file.rows;
  facts.columns = file.columns;
  facts.rows = file.rows;
  grid.heights = std::move(file.heights);
  for (double& z : grid.heights) z -= origin.z();
  facts.lowest_corner = bounds.lo;
  facts.highest_corner = bounds.hi;
  facts.cell = grid.spacing;
  facts.spacing = grid.spacing.maxCoeff();
  facts.vertices = grid.heights.size() - facts.holes;
  grid_facts(grid, facts);
  check_grid_slope(facts, name);

  out.terrain.map_offset = origin;
  out.terrain.frame = "map coordinates of the file: east = x, north = y, up = height [m]";
  out.terrain.ground = grid_ground(std::move(grid));
  return out;
}

LoadedTerrain read_terrain(std::string_view bytes, const std::string& name, const TerrainOptions& options) {
  const std::uint64_t greatest = options.greatest_vertices;
  switch (format_of(bytes, name)) {
    case Format::ply:
      return mesh_terrain(read_ply(bytes, name, greatest), name, options);
    case Format::obj:
      return mesh_terrain(read_obj(bytes, name, greatest), name, options);
    case Format::stl:
      return mesh_terrain(read_stl(bytes, name, greatest), name, options);
    case Format::off:
      return mesh_terrain(read_off(bytes, name, greatest), name, options);
    case Format::asc:
      break;
  }
  return grid_terrain(read_asc(bytes, name, greatest), name, options);
}

}  // namespace

LoadedTerrain load_terrain_bytes(std::string_view bytes, const std::string& name,
                                 const TerrainOptions& options) {
  check_unit(options.unit);
  expects(options.weld >= 0 && std::isfinite(options.weld), "load_terrain: weld >= 0, finite");
  expects(!std::isnan(options.hole_below), "load_terrain: hole_below is a height");
  // Beside the reading where that is worth a thread.
  const auto when = bytes.size() > (1 << 20) ? std::launch::async : std::launch::deferred;
  auto digest = std::async(when, [bytes] { return sha256(bytes); });
  LoadedTerrain out = read_terrain(bytes, name, options);
  out.facts.file = name;
  out.terrain.sha256 = digest.get();
  return out;
}

LoadedTerrain load_terrain(const std::string& file, const TerrainOptions& options) {
  const FileBytes bytes(file);
  return load_terrain_bytes(bytes.text(), file, options);
}

}  // namespace rimstance
