#pragma once
// Measured terrain that is not part of this project, and what is reckoned from it once more to compare.
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "import_program.hpp"
#include "reading.hpp"

namespace measured {

using namespace reading;

/// The file's path, or empty with a message where the data or the import program are absent.
inline std::string path_of(const std::string& file) {
  const std::string path = std::string(RIMSTANCE_SHARED_DATA) + "/" + file;
  ::setenv("RIMSTANCE_IMPORT", RIMSTANCE_IMPORT_PROGRAM, 1);
  if (!std::filesystem::exists(path) || !std::filesystem::exists(RIMSTANCE_IMPORT_PROGRAM)) {
    WARN("skipped: " << path << " or rimstance-import is not there");
    return {};
  }
  return path;
}

/// The same for a file that tools/real_ground fetches.
inline std::string fetched(const std::string& file) {
  const std::string path = RIMSTANCE_SOURCE_DIR "/build/real_ground/" + file;
  if (std::filesystem::exists(path)) return path;
  WARN("skipped: " << path << " is not there (tools/real_ground fetches it)");
  return {};
}

/// Height [m, map] of a post, row and column counted from 0 at the north-west; NaN over a hole.
inline double post(const LoadedTerrain& t, std::uint64_t row, std::uint64_t column) {
  const TerrainFacts& f = t.facts;
  const Vec2 at =
      f.lowest_corner.head<2>() +
      f.cell.cwiseProduct(Vec2(static_cast<double>(column), static_cast<double>(f.rows - 1 - row)));
  const Vec2 inside = at.cwiseMax(f.lowest_corner.head<2>()).cwiseMin(f.highest_corner.head<2>());
  return height(t.terrain, inside - t.terrain.map_offset.head<2>(), kInfinity) + t.terrain.map_offset.z();
}

/// Heights [m] of posts, the northern row first; NaN without data.
struct Posts {
  std::uint64_t rows, columns;
  Vec2 cell;
  std::vector<double> z;
  double at(std::uint64_t row, std::uint64_t column) const { return z[row * columns + column]; }
};

/// As the ground has them.
inline Posts posts_of(const LoadedTerrain& t) {
  Posts out{t.facts.rows, t.facts.columns, t.facts.cell, {}};
  for (std::uint64_t row = 0; row < out.rows; ++row)
    for (std::uint64_t column = 0; column < out.columns; ++column) out.z.push_back(post(t, row, column));
  return out;
}

/// As the file has them, which is more where a post with data is a corner of no facet.
inline Posts imported(const std::string& path) {
  ImportRequest request;
  request.work = ImportRequest::Work::raster;
  request.path = path;
  request.greatest_vertices = request.most_posts = kMostPosts;
  const ImportedRaster r = import_raster(request);
  Posts out{r.rows, r.columns, r.spacing, {}};
  for (std::uint64_t row = r.rows; row-- > 0;)
    for (std::uint64_t column = 0; column < r.columns; ++column)
      out.z.push_back(r.heights[row * r.columns + column]);
  return out;
}

inline double mean_height(const Posts& posts) {
  double sum = 0;
  std::uint64_t count = 0;
  for (const double z : posts.z)
    if (std::isfinite(z)) sum += z, ++count;
  return sum / static_cast<double>(count);
}
inline double mean_height(const LoadedTerrain& t) { return mean_height(posts_of(t)); }

inline bool close(double a, double b, double tolerance) { return std::abs(a - b) <= tolerance; }

/// Between the two nearest in order, as numpy's percentile has it.
inline double percentile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  const double at = share * static_cast<double>(values.size() - 1);
  const auto below = static_cast<std::size_t>(at);
  const double rest = at - static_cast<double>(below);
  return rest > 0 ? values[below] + rest * (values[below + 1] - values[below]) : values[below];
}

/// Slopes [deg] of central differences between posts, one-sided at the border, where all that is needed is
/// known.
inline std::vector<double> central_slopes(const Posts& posts) {
  std::vector<double> slopes;
  for (std::uint64_t row = 0; row < posts.rows; ++row)
    for (std::uint64_t column = 0; column < posts.columns; ++column) {
      const auto west = column - (column > 0), east = column + (column + 1 < posts.columns);
      const auto north = row - (row > 0), south = row + (row + 1 < posts.rows);
      const double x = (posts.at(row, east) - posts.at(row, west)) / static_cast<double>(east - west),
                   y = (posts.at(south, column) - posts.at(north, column)) /
                       static_cast<double>(south - north);
      const double slope = degrees(std::atan(std::hypot(x / posts.cell.x(), y / posts.cell.y())));
      if (std::isfinite(slope)) slopes.push_back(slope);
    }
  return slopes;
}

}  // namespace measured
