#include "pyramid.hpp"

namespace rimstance {

HeightPyramid::HeightPyramid(std::size_t columns, std::size_t rows, std::vector<HeightBounds> finest) {
  expects(columns > 0 && rows > 0 && finest.size() == columns * rows, "HeightPyramid: one entry per block");
  levels_.push_back({columns, rows, std::move(finest)});
  while (levels_.back().columns > 1 || levels_.back().rows > 1) {
    const Level& fine = levels_.back();
    Level coarse{(fine.columns + 1) / 2, (fine.rows + 1) / 2, {}};
    coarse.blocks.assign(coarse.columns * coarse.rows, {kInfinity, -kInfinity, false});
    for (std::size_t j = 0; j < fine.rows; ++j)
      for (std::size_t i = 0; i < fine.columns; ++i) {
        HeightBounds& above = coarse.blocks[(j / 2) * coarse.columns + i / 2];
        above = joined(above, fine.blocks[j * fine.columns + i]);
      }
    levels_.push_back(std::move(coarse));
  }
}

}  // namespace rimstance
