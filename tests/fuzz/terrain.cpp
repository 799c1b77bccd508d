// The readers of terrain files, and the way from what they read to ground.
#include "rimstance/terrain/terrain.hpp"

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "readers.hpp"
#include "refusal.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/load.hpp"
#include "targets.hpp"

namespace {

using namespace rimstance;
using fuzz::require;

constexpr std::uint64_t kMostRead = 1'000'000;

/// Options that differ from one input to the next, by its length: a file of the corpus is a plain file.
TerrainOptions options_for(std::size_t size, const std::string& name) {
  TerrainOptions options{.up = UpAxis::z, .unit = 1.0};
  options.edges = size % 2 == 0;
  if (size % 5 == 1) options.weld = 0.25;
  if (size % 7 == 2) options.hole_below = -50;
  if (size % 3 == 1) options.up = UpAxis::y;
  const bool points = name.ends_with(".las") || name.ends_with(".xyz");
  if (points || size % 13 == 5) options.longest_edge = 1e3;
  if (points && size % 11 == 3) options.classes = {2};
  return options;
}

bool same_number(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }

std::vector<Facet> all_facets(const Ground& ground) {
  std::vector<Facet> out;
  ground.triangles(ground.extent(), out);
  return out;
}

void check_counts(const TerrainFacts& facts, const std::vector<Facet>& facets) {
  require(facets.size() <= facts.triangles, "there are no more facets than triangles");
  if (facts.kind == "grid") {
    require(facts.columns >= 2 && facts.rows >= 2, "a grid has two posts each way");
    require(facts.columns * facts.rows == facts.vertices + facts.holes, "posts are known or holes");
    require(facts.triangles <= 2 * (facts.columns - 1) * (facts.rows - 1), "a cell has two facets");
    require(facts.cell.minCoeff() > 0 && facts.cell.allFinite(), "cells have a size");
    require(facets.size() == facts.triangles, "every facet of a grid is there");
  } else {
    require(facts.triangles > 0 && facts.vertices > 0, "a mesh has triangles");
    require(facts.degenerate + facts.vertical + facts.overhanging <= facts.triangles,
            "a triangle is counted once");
    require(facts.welded <= facts.vertices, "no more vertices vanish than there are");
  }
}

/// Heights lie in the stated corners; W is the map less its offset.
void check_places(const LoadedTerrain& loaded, const std::vector<Facet>& facets) {
  const TerrainFacts& facts = loaded.facts;
  const Vec3& offset = loaded.terrain.map_offset;
  require(offset.allFinite(), "the offset is finite");
  require(facts.lowest_corner.allFinite() && facts.highest_corner.allFinite(), "corners are finite");
  const Vec3 slack = 1e-9 * (Vec3::Ones() + offset.cwiseAbs() + facts.lowest_corner.cwiseAbs() +
                             facts.highest_corner.cwiseAbs());
  const Vec3 lo = facts.lowest_corner - offset - slack, hi = facts.highest_corner - offset + slack;
  for (const Facet& f : facets)
    for (const Vec3* p : {&f.a, &f.b, &f.c}) {
      require(p->allFinite(), "every corner is finite");
      require((p->array() >= lo.array()).all() && (p->array() <= hi.array()).all(),
              "every corner lies in the stated extent");
    }
}

/// The questions that a stand asks, at a place on the ground.
void check_questions(const Terrain& terrain, const std::vector<Facet>& facets) {
  const Box2 extent = terrain.ground->extent();
  const Facet& some = facets[facets.size() / 2];
  const Vec2 at = ((some.a + some.b + some.c) / 3).head<2>();
  const double span = (extent.hi - extent.lo).norm();
  const double z = height(terrain, at, kInfinity);
  const HeightBounds bounds = terrain.ground->bounds({at, at});
  require(std::isnan(z) ||
              (z >= bounds.lo - 1e-6 * (1 + std::abs(z)) && z <= bounds.hi + 1e-6 * (1 + std::abs(z))),
          "a height lies in its bounds");
  for (const double radius : {0.15, 0.02 * span}) {
    if (!(radius > 0)) continue;
    const Patch p = patch(terrain, at, radius, kInfinity);
    require(p.supported_share >= 0 && p.supported_share <= 1 + 1e-6, "a share is a share");
    if (p.outcome != Patch::Outcome::full) continue;
    require(std::isfinite(p.plane_height) && p.normal.allFinite() && p.residual >= 0 && p.rms >= 0,
            "a supported pad has a plane");
    require(p.rest_height <= p.highest + 1e-6 * (1 + std::abs(p.highest)) + 2 * radius * 1e6,
            "a pad rests on the ground");
  }
  for (const auto& piece : section(terrain, extent.lo, extent.hi, kInfinity))
    for (const Vec2& p : piece) require(p.allFinite(), "a profile is finite");
}

void check_same(const LoadedTerrain& a, const std::vector<Facet>& facets, const LoadedTerrain& b) {
  require(a.terrain.sha256 == b.terrain.sha256, "the same bytes have the same sum");
  require(a.facts.triangles == b.facts.triangles && a.facts.vertices == b.facts.vertices &&
              a.facts.welded == b.facts.welded && a.facts.notes == b.facts.notes &&
              same_number(a.facts.slope_p50, b.facts.slope_p50) &&
              same_number(a.facts.spacing, b.facts.spacing),
          "the same bytes have the same facts");
  const std::vector<Facet> again = all_facets(*b.terrain.ground);
  require(again.size() == facets.size(), "the same bytes give as many facets");
  for (std::size_t i = 0; i < facets.size(); ++i)
    require(facets[i].a == again[i].a && facets[i].b == again[i].b && facets[i].c == again[i].c &&
                facets[i].id == again[i].id,
            "the same bytes give the same facets");
}

void ground(std::string_view bytes, const std::string& name) {
  const TerrainOptions options = options_for(bytes.size(), name);
  try {
    const LoadedTerrain loaded = load_terrain_bytes(bytes, name, options);
    const std::vector<Facet> facets = all_facets(*loaded.terrain.ground);
    check_counts(loaded.facts, facets);
    check_places(loaded, facets);
    if (!facets.empty()) check_questions(loaded.terrain, facets);
    check_same(loaded, facets, load_terrain_bytes(bytes, name, options));
  } catch (const InputError& error) {
    fuzz::check_refusal(error);
  }
}

/// A reader by itself: bytes that another reader would be chosen for reach it too.
template <class Reader, class Check>
void reader(std::string_view bytes, const std::string& name, Reader read, Check check) {
  try {
    check(read(bytes, name, kMostRead));
  } catch (const InputError& error) {
    fuzz::check_refusal(error);
  }
  if (fuzz::goes_to_ground(bytes)) ground(bytes, name);
}

void check_cloud(const MeshFile& mesh) {
  require(!mesh.vertices.empty(), "there are vertices");
  require(mesh.vertices.size() <= kMostRead, "no more vertices than allowed");
  for (const Vec3& p : mesh.vertices) require(p.allFinite(), "every vertex is finite");
  for (const auto& t : mesh.triangles)
    for (const std::uint32_t v : t) require(v < mesh.vertices.size(), "every corner is a vertex");
}

void check_mesh(const MeshFile& mesh) {
  require(!mesh.triangles.empty(), "a mesh has triangles");
  check_cloud(mesh);
}

void check_grid(const GridFile& grid) {
  require(grid.columns >= 2 && grid.rows >= 2, "a grid has two posts each way");
  require(grid.heights.size() == std::size_t{grid.columns} * grid.rows, "every post has its value");
  require(grid.heights.size() <= kMostRead, "no more posts than allowed");
  require(grid.spacing.minCoeff() > 0 && grid.spacing.allFinite(), "posts have a spacing");
  for (const double z : grid.heights) require(!std::isinf(z), "every height is finite or a hole");
}

void check_points(const PointFile& file) {
  require(!file.points.empty() && file.points.size() <= kMostRead, "as many points as allowed");
  require(file.classes.empty() || file.classes.size() == file.points.size(), "every point has its class");
  for (const Vec3& p : file.points) require(p.allFinite(), "every point is finite");
  for (const double unit : {file.plan_unit, file.height_unit})
    require(std::isnan(unit) || (unit > 0 && std::isfinite(unit)), "a unit is a length");
}

}  // namespace

void fuzz::ply(std::string_view bytes) { reader(bytes, "fuzz.ply", read_ply, check_cloud); }
void fuzz::obj(std::string_view bytes) { reader(bytes, "fuzz.obj", read_obj, check_mesh); }
void fuzz::stl(std::string_view bytes) { reader(bytes, "fuzz.stl", read_stl, check_mesh); }
void fuzz::off(std::string_view bytes) { reader(bytes, "fuzz.off", read_off, check_mesh); }
void fuzz::asc(std::string_view bytes) { reader(bytes, "fuzz.asc", read_asc, check_grid); }
void fuzz::las(std::string_view bytes) { reader(bytes, "fuzz.las", read_las, check_points); }
void fuzz::xyz(std::string_view bytes) { reader(bytes, "fuzz.xyz", read_xyz, check_points); }
