#pragma once
#include "readers.hpp"

namespace rimstance {

/// Calls use(squared tangent of the slope) for each of the two facets of every cell whose corners are known,
/// cell by cell from the south-west. The area of the facet in the surface is half a cell times sqrt(1 +
/// that).
template <class Use>
void for_each_grid_facet(const GridFile& grid, std::size_t first_row, std::size_t last_row, Use&& use) {
  const double per_dx = 1 / grid.spacing.x(), per_dy = 1 / grid.spacing.y();
  const auto facet = [&](double east, double north) {  // rises [m] along the two legs
    const double x = east * per_dx, y = north * per_dy, tangent2 = x * x + y * y;
    if (tangent2 >= 0) use(tangent2);  // else a corner is without data
  };
  for (std::size_t row = first_row; row < last_row; ++row) {
    const double* const south = grid.heights.data() + row * grid.columns;
    const double* const north = south + grid.columns;
    for (std::size_t i = 0; i + 1 < grid.columns; ++i) {
      facet(south[i + 1] - south[i], north[i + 1] - south[i + 1]);
      facet(north[i + 1] - north[i], north[i] - south[i]);
    }
  }
}

}  // namespace rimstance
