#pragma once
#include <cstdint>
#include <vector>

#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Places without ground, as a raster over the extent sees them: each cell is asked at the middles of its
/// two halves along the south-west to north-east diagonal, so that the cells of a grid are seen exactly.
/// A cell with a missing half belongs to a hole; cells that share a side belong to one hole.
/// Nothing here speaks of depth: where there are no data there is none.
struct Hole {
  double area = 0;         ///< of the missing halves [m2]
  Box2 box;                ///< round its cells, map coordinates [m]
  Vec2 place;              ///< the middle of one of its missing halves, map coordinates [m]
  bool at_border = false;  ///< reaches the border of the extent, so it may be the map's outline
  double lowest = kUnset, highest = kUnset;  ///< map heights of the ground next to it [m]; NaN: none
};

struct HoleSurvey {
  Vec2 cell = Vec2::Constant(kUnset);  ///< of the raster [m]
  std::uint64_t count = 0;             ///< all of them
  double area = 0, share = 0;          ///< of all [m2], of the extent
  std::vector<Hole> largest;           ///< falling area; of equal ones the one further south, then west
};

inline constexpr double kMostHoleCells = 1 << 20;

/// About `cell` metres a cell, so that whole cells fill the extent; no more than `most_cells` (1 to 2^20),
/// else they are made larger. At most `most` holes are listed. A terrain without extent has none. cell > 0.
HoleSurvey survey_holes(const Terrain&, const Vec2& cell, std::size_t most = 5,
                        double most_cells = kMostHoleCells);

}  // namespace rimstance
