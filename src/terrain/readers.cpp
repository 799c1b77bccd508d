#include "readers.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rimstance/base/words.hpp"

namespace rimstance {

void append_fan(const std::vector<std::uint32_t>& corners,
                std::vector<std::array<std::uint32_t, 3>>& triangles) {
  for (std::size_t i = 2; i < corners.size(); ++i)
    triangles.push_back({corners[0], corners[i - 1], corners[i]});
}

std::string too_few_corners(std::int64_t corners) {  // text may say -1
  return fmt::format("a face has {} corner{}, at least 3 are needed", corners, corners == 1 ? "" : "s");
}

void check_greatest(std::uint64_t vertices, std::uint64_t greatest, const std::string& file) {
  const std::uint64_t allowed = std::min(greatest, kMostVertices);
  if (vertices <= allowed) return;
  throw InputError(
      Place{file, 0, 0, {}},
      fmt::format("holds {}, at most {} are allowed", counted(vertices, "vertex", "vertices"), allowed),
      "cut out the part that matters, or thin it (the limit is TerrainOptions::greatest_vertices)");
}

void note_polygons(std::uint64_t polygons, std::vector<std::string>& notes) {
  if (polygons == 0) return;
  notes.push_back(counted(polygons, "polygon with more than three corners was",
                          "polygons with more than three corners were") +
                  " split into triangles from the first corner, which is exact for flat convex ones only");
}

void note_open_end(bool ends_with_line_end, std::vector<std::string>& notes) {
  if (ends_with_line_end) return;
  notes.emplace_back("the last line has no end-of-line; if the file was cut there, its last value is wrong");
}

}  // namespace rimstance
