#pragma once
#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "placing.hpp"
#include "readers.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

// A grid on its way from a file to ground, whole or in bands of rows.

/// Metres per unit of positions and of heights.
struct GridUnits {
  double plan = kUnset, height = kUnset;
  std::string assumed;  ///< what was taken for want of a statement: "m", "m (heights)"; empty: nothing
};

/// What the file states, and what the options state for the rest. A statement that contradicts the file is
/// refused. Throws InputError with the span of the content (z NaN: not known) if a unit is missing.
GridUnits grid_units(double plan_unit, double height_unit, const Vec3& span, const std::string& name,
                     const TerrainOptions&);

/// Positions and heights from file units to metres.
void to_metres(GridFile&, const GridUnits&);

/// Posts below `hole_below` [m] become holes; returns how many posts are without data.
std::uint64_t cut_holes(GridFile&, double hole_below);

/// Extent of a grid; no known height: z is infinite.
Bounds grid_bounds(const GridFile&);

/// Refuses places that are on no body with ground.
void check_grid_place(const Bounds&, const std::string& name);
/// Refuses ground of which half is steeper than 60 degrees, by surface and by plan. `grid` in metres; of a
/// thinned one, what is kept.
void check_grid_slope(const GridFile& grid, TerrainFacts&, const std::string& name);

/// Ground of a grid in metres that was checked, at its local origin.
Terrain grid_at_origin(GridFile, const Vec3& origin);

/// Facts of a grid that passes by in bands of rows, in bounded memory. A band begins with the last row of the
/// one before, so that no cell is lost between them. Slopes are exact to 1 part in 4096 of their tangent.
class GridSurvey {
 public:
  /// Every `step`-th post of `columns` x `rows` is kept, void if any of the step x step posts from it on
  /// towards north and east is: a hole grows rather than vanishes.
  GridSurvey(std::uint64_t columns, std::uint64_t rows, std::uint64_t step);
  /// A band in metres whose southern row is row `south` counted from the south.
  void add(const GridFile& band, std::uint64_t south);
  double lowest() const { return lowest_; }
  double highest() const { return highest_; }
  std::uint64_t known() const { return known_; }
  /// Triangles, areas and slopes; posts with data and holes.
  void finish(TerrainFacts&) const;
  /// The posts that were kept; place and spacing are for the caller to fill in.
  GridFile take_kept();

 private:
  void keep_row(const double* heights, std::uint64_t row);

  std::uint64_t columns_, rows_, step_, known_ = 0, facets_ = 0;
  double lowest_ = kInfinity, highest_ = -kInfinity, area_ = 0, steepest_ = 0, half_ = kUnset;
  std::vector<double> by_slope_;  ///< surface area by the leading bits of the tangent
  GridFile kept_;
};

}  // namespace rimstance
