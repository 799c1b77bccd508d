#pragma once
#include <algorithm>
#include <cstddef>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

inline constexpr HeightBounds kNoGround{kInfinity, -kInfinity, true};

inline HeightBounds joined(const HeightBounds& a, const HeightBounds& b) {
  return {std::min(a.lo, b.lo), std::max(a.hi, b.hi), a.hole || b.hole};
}

/// Height bounds of the blocks of a regular arrangement, and of 2 x 2, 4 x 4, ... of them.
class HeightPyramid {
 public:
  HeightPyramid() = default;
  HeightPyramid(std::size_t columns, std::size_t rows, std::vector<HeightBounds> finest);

  const HeightBounds& finest(std::size_t column, std::size_t row) const {
    return levels_.front().blocks[row * levels_.front().columns + column];
  }

  /// Over the blocks [i0, i1] x [j0, j1]; `block(i, j)` gives those of the finest level, so that an
  /// owner who knows more may answer more tightly where the range cuts a block.
  template <class Block>
  HeightBounds over(std::size_t i0, std::size_t i1, std::size_t j0, std::size_t j1,
                    const Block& block) const {
    HeightBounds total{kInfinity, -kInfinity, false};
    descend(levels_.size() - 1, 0, 0, {i0, i1, j0, j1}, block, total);
    return total;
  }

 private:
  struct Level {
    std::size_t columns, rows;
    std::vector<HeightBounds> blocks;
  };
  struct Range {
    std::size_t i0, i1, j0, j1;
  };
  template <class Block>
  void descend(std::size_t k, std::size_t i, std::size_t j, const Range& r, const Block& block,
               HeightBounds& total) const {
    const std::size_t first_i = i << k, first_j = j << k, last_i = ((i + 1) << k) - 1,
                      last_j = ((j + 1) << k) - 1;
    if (first_i > r.i1 || last_i < r.i0 || first_j > r.j1 || last_j < r.j0) return;
    if (k == 0) {
      total = joined(total, block(i, j));
    } else if (first_i > r.i0 && last_i < r.i1 && first_j > r.j0 && last_j < r.j1) {
      total = joined(total, levels_[k].blocks[j * levels_[k].columns + i]);
    } else {
      const Level& finer = levels_[k - 1];
      for (std::size_t y = 2 * j; y < std::min(2 * j + 2, finer.rows); ++y)
        for (std::size_t x = 2 * i; x < std::min(2 * i + 2, finer.columns); ++x)
          descend(k - 1, x, y, r, block, total);
    }
  }
  std::vector<Level> levels_;
};

}  // namespace rimstance
