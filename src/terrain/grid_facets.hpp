#pragma once
#include <vector>

#include "readers.hpp"

namespace rimstance {

/// Calls use(squared tangent of the slope) for each of the two facets of every cell whose corners are known,
/// cell by cell from the south-west. The area of the facet in the surface is half a cell times sqrt(1 +
/// that).
template <class Use>
void for_each_grid_facet(const GridFile& grid, std::size_t first_row, std::size_t last_row, Use&& use) {
  const double per_dx = 1 / grid.spacing.x(), per_dy = 1 / grid.spacing.y();
  const std::size_t cells = grid.columns - 1;
  std::vector<double> tangent2(2 * cells);  // of a row of cells, in a loop that the compiler can vectorise
  const auto squared = [=](double east, double north) {  // rises [m] along the two legs
    const double x = east * per_dx, y = north * per_dy;
    return x * x + y * y;
  };
  for (std::size_t row = first_row; row < last_row; ++row) {
    const double* const south = grid.heights.data() + row * grid.columns;
    const double* const north = south + grid.columns;
    double* const out = tangent2.data();
    for (std::size_t i = 0; i < cells; ++i) {
      out[2 * i] = squared(south[i + 1] - south[i], north[i + 1] - south[i + 1]);
      out[2 * i + 1] = squared(north[i + 1] - north[i], north[i] - south[i]);
    }
    for (const double t : tangent2)
      if (t >= 0) use(t);  // else a corner is without data
  }
}

}  // namespace rimstance
