#include "readers.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace rimstance {

void append_fan(const std::vector<std::uint32_t>& corners,
                std::vector<std::array<std::uint32_t, 3>>& triangles) {
  for (std::size_t i = 2; i < corners.size(); ++i)
    triangles.push_back({corners[0], corners[i - 1], corners[i]});
}

void check_greatest(std::uint64_t vertices, std::uint64_t greatest, const std::string& file) {
  const std::uint64_t allowed = std::min(greatest, kMostVertices);
  if (vertices <= allowed) return;
  throw InputError(
      Place{file, 0, 0, {}}, fmt::format("holds {} vertices, at most {} are allowed", vertices, allowed),
      "cut out the part that matters, or thin it (the limit is TerrainOptions::greatest_vertices)");
}

void note_polygons(std::uint64_t polygons, std::vector<std::string>& notes) {
  if (polygons == 0) return;
  notes.push_back(fmt::format(
      "{} polygons with more than three corners were split into triangles from their first corner, which is "
      "exact for flat convex ones only",
      polygons));
}

void note_open_end(bool ends_with_line_end, std::vector<std::string>& notes) {
  if (ends_with_line_end) return;
  notes.emplace_back("the last line has no end-of-line; if the file was cut there, its last value is wrong");
}

}  // namespace rimstance
