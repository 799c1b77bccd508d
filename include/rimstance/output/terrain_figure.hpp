#pragma once
#include <string>
#include <vector>

#include "rimstance/output/contours.hpp"
#include "rimstance/output/figure.hpp"
#include "rimstance/terrain/holes.hpp"
#include "rimstance/terrain/load.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// The ground as the pixels of a picture see it: layer heights at the middles of a grid of cells, straight
/// from the terrain that is analysed (the same facets, no copy of it).
struct GroundView {
  enum class Kind : std::uint8_t { ground, hole, nothing, off_map };
  Box2 box;                   ///< map coordinates [m]
  Samples heights;            ///< map heights [m] at the cells' middles; NaN unless ground
  std::vector<Vec3> normals;  ///< of the facet there, upward
  std::vector<Kind> kinds;    ///< nothing: inside the extent, but no facet (a void)
};

/// `columns` cells across the box, as many rows as make them square (2 to 4096); the highest layer at or
/// below `under` (map height). A box without area: the caller is wrong.
GroundView ground_view(const Terrain&, const Box2& box, int columns, double under = kInfinity);

/// The lowest layer of a plan: shaded relief lit from the north-west at 45 degrees, contours with
/// heights, holes and voids hatched.
struct TerrainLayer {
  std::vector<Mark> marks;
  std::vector<Figure::Key> legend;
  double interval = kUnset;  ///< of the contours [m]; NaN where there are none
  std::string note;          ///< a sentence for the caption: interval, what was left out
};
TerrainLayer terrain_layer(const GroundView&);
TerrainLayer terrain_layer(const Terrain&, const Box2& box, double under = kInfinity);

/// The whole terrain of a file with its key numbers, the largest places without ground by number, where
/// defects lie, and the places asked about (map coordinates).
Figure terrain_figure(const LoadedTerrain&, const std::vector<Vec2>& asked = {}, const HoleSurvey& = {});

}  // namespace rimstance
