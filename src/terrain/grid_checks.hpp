#pragma once
#include <string>

#include "readers.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

// Checks of a grid. It is in metres, but for check_degrees.

/// Refuses longitude and latitude: the origin fits degrees, and the cells are far too small for the
/// heights or a whole fraction of a second of arc.
void check_degrees(const GridFile&, const std::string& file);

/// Refuses a grid without any height.
void check_known(const GridFile&, const std::string& file);

/// Refuses heights beyond 100 km, and cells that lie over 1 km (or hold a customary mark of missing data
/// and lie over 100 m) from a neighbour over a slope of more than 80 degrees. Names their places.
/// `height_unit` is what heights were multiplied by, marks included.
void check_cells(const GridFile&, double height_unit, const std::string& file);

/// Slopes and areas of the two facets of each cell.
void grid_facts(const GridFile&, TerrainFacts&);

}  // namespace rimstance
