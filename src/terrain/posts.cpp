#include "rimstance/terrain/posts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "import_program.hpp"
#include "rimstance/base/errors.hpp"

namespace rimstance {

namespace {

constexpr double kMostWritten = 67108864;  // 2^26

/// Posts along one side; one that would lie on the far border but for rounding counts.
double posts_along(double length, double spacing) { return std::floor(length / spacing * (1 + 1e-12)) + 1; }

}  // namespace

RasterToWrite sampled(const Terrain& terrain, double spacing) {
  expects(spacing > 0 && std::isfinite(spacing), "sampled: spacing > 0, finite");
  const Box2 extent = terrain.ground->extent();
  const Vec2 size = extent.hi - extent.lo;
  const double columns = posts_along(size.x(), spacing), rows = posts_along(size.y(), spacing);
  if (!(columns * rows <= kMostWritten))
    throw InputError(
        Place{},
        fmt::format(
            "posts {:.6g} m apart would be {:.0f} x {:.0f} on this ground, at most {:.0f} are written",
            spacing, columns, rows, kMostWritten),
        fmt::format("state a spacing of {:.2g} m or more", 1.1 * std::sqrt(size.prod() / kMostWritten)));
  RasterToWrite out;
  out.first = extent.lo + terrain.map_offset.head<2>();
  out.spacing = Vec2::Constant(spacing);
  out.columns = static_cast<std::uint64_t>(columns);
  out.rows = static_cast<std::uint64_t>(rows);
  out.heights.reserve(out.columns * out.rows);
  for (std::uint64_t j = 0; j < out.rows; ++j)
    for (std::uint64_t i = 0; i < out.columns; ++i) {
      const Vec2 step(static_cast<double>(i) * spacing, static_cast<double>(j) * spacing);
      const Vec2 p = (extent.lo + step).cwiseMin(extent.hi);
      out.heights.push_back(height(terrain, p, kInfinity) + terrain.map_offset.z());
    }
  return out;
}

void write_posts(const std::string& path, const RasterToWrite& raster) { write_raster(path, raster); }

}  // namespace rimstance
