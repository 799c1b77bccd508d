#include "rimstance/terrain/load.hpp"

#include <fmt/format.h>

#include <cmath>
#include <future>
#include <utility>

#include "formats.hpp"
#include "import_program.hpp"
#include "kinds.hpp"
#include "readers.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

void check_unit(const std::optional<double>& unit) {
  expects(!unit || (*unit > 0 && std::isfinite(*unit)), "load_terrain: unit > 0, finite");
}

void refuse_point_options(const std::string& name, const TerrainOptions& options) {
  const bool edge = !std::isnan(options.longest_edge);
  if (!edge && options.classes.empty()) return;
  throw InputError(Place{name, 0, 0, edge ? "terrain.longest_edge" : "terrain.classes"},
                   "is for points only, but the file holds a surface already", "leave it out");
}

/// Vertices without faces are points, where somebody says how far apart they may be.
LoadedTerrain ply_terrain(MeshFile mesh, const std::string& name, const TerrainOptions& options) {
  if (!mesh.triangles.empty()) {
    refuse_point_options(name, options);
    return mesh_terrain(std::move(mesh), name, options);
  }
  if (std::isnan(options.longest_edge) && !options.points_assumed)
    throw InputError(Place{name, 0, 0, "terrain.longest_edge"},
                     fmt::format("holds {} but no faces: a cloud of points, not a mesh",
                                 counted(mesh.vertices.size(), "vertex", "vertices")),
                     "state terrain.longest_edge, the longest side of a facet that is ground, to triangulate "
                     "them; or give a mesh");
  LoadedTerrain out = point_terrain(points_of(std::move(mesh), options), name, options);
  if (!options.up || options.up_assumed) out.facts.assumed_up = "z";
  return out;
}

/// Readers of points say the up axis themselves.
LoadedTerrain cloud_terrain(PointFile points, const std::string& name, const TerrainOptions& options) {
  if (options.up && *options.up != UpAxis::z)
    throw InputError(Place{name, 0, 0, "terrain.up"}, "is not z, but z is the height of a point here",
                     "leave terrain.up out; it is for meshes");
  return point_terrain(std::move(points), name, options);
}

/// A mesh of a format that only the import program reads.
MeshFile scene(const std::string& name, std::uint64_t greatest_vertices) {
  ImportedMesh got = import_mesh(name, greatest_vertices);
  MeshFile mesh{std::move(got.vertices), std::move(got.triangles), {}, got.unit,
                std::move(got.format),   std::move(got.notes)};
  if (got.up) mesh.up = static_cast<int>(*got.up);
  return mesh;
}

LoadedTerrain read_terrain(std::string_view bytes, const std::string& name, const TerrainOptions& options,
                           bool on_disk) {
  const std::uint64_t greatest = options.greatest_vertices;
  switch (format_of(bytes, name)) {
    case Format::ply:
      return ply_terrain(read_ply(bytes, name, greatest), name, options);
    case Format::obj:
      refuse_point_options(name, options);
      return mesh_terrain(read_obj(bytes, name, greatest), name, options);
    case Format::stl:
      refuse_point_options(name, options);
      return mesh_terrain(read_stl(bytes, name, greatest), name, options);
    case Format::off:
      refuse_point_options(name, options);
      return mesh_terrain(read_off(bytes, name, greatest), name, options);
    case Format::asc:
      refuse_point_options(name, options);
      return grid_terrain(read_asc(bytes, name, greatest), name, options);
    case Format::las:
      return cloud_terrain(read_las(bytes, name, greatest), name, options);
    case Format::xyz:
      return cloud_terrain(read_xyz(bytes, name, greatest), name, options);
    case Format::scene:
      refuse_point_options(name, options);
      if (on_disk) return mesh_terrain(scene(name, greatest), name, options);
      break;
    case Format::raster:
      refuse_point_options(name, options);
      if (on_disk) return raster_terrain(name, options);
      break;
  }
  throw InputError(Place{name, 0, 0, {}}, "is not read from memory", "give the file");
}

LoadedTerrain checked_and_read(std::string_view bytes, const std::string& name, const TerrainOptions& options,
                               bool on_disk) {
  check_unit(options.unit);
  expects(options.weld >= 0 && std::isfinite(options.weld), "load_terrain: weld >= 0, finite");
  expects(!std::isnan(options.hole_below), "load_terrain: hole_below is a height");
  // Beside the reading where that is worth a thread.
  const auto when = bytes.size() > (1 << 20) ? std::launch::async : std::launch::deferred;
  auto digest = std::async(when, [bytes] { return sha256(bytes); });
  LoadedTerrain out = read_terrain(bytes, name, options, on_disk);
  out.facts.file = name;
  if (out.terrain.sha256.empty()) out.terrain.sha256 = digest.get();
  return out;
}

}  // namespace

LoadedTerrain load_terrain_bytes(std::string_view bytes, const std::string& name,
                                 const TerrainOptions& options) {
  return checked_and_read(bytes, name, options, false);
}

LoadedTerrain load_terrain(const std::string& file, const TerrainOptions& options) {
  const FileBytes bytes(file);
  return checked_and_read(bytes.text(), file, options, true);
}

}  // namespace rimstance
