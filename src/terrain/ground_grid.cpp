#include <algorithm>
#include <cmath>

#include "plan.hpp"
#include "pyramid.hpp"
#include "rimstance/terrain/ground.hpp"

namespace rimstance {
namespace {

/// Cells along one side of a block of the pyramid: small beside the heights (24 bytes per 256 posts),
/// and a cut block is quickly scanned.
constexpr std::size_t kBlock = 16;

/// Cells [first, last] of one axis; empty if first > last.
struct Cells {
  std::size_t first = 1, last = 0;
  bool empty() const { return first > last; }
};

class GridGround final : public Ground {
 public:
  explicit GridGround(HeightGrid grid) : grid_(std::move(grid)) {
    expects(grid_.columns >= 2 && grid_.rows >= 2, "grid_ground: at least 2 x 2 posts");
    expects(grid_.heights.size() == std::size_t{grid_.columns} * grid_.rows,
            "grid_ground: one height per post");
    expects(grid_.spacing.x() > 0 && grid_.spacing.y() > 0, "grid_ground: spacing > 0");
    expects(grid_.first.allFinite() && grid_.spacing.allFinite(), "grid_ground: finite positions");
    columns_ = grid_.columns - 1;
    rows_ = grid_.rows - 1;
    if (!grid_.last.allFinite())
      grid_.last = grid_.first + grid_.spacing.cwiseProduct(
                                     Vec2(static_cast<double>(columns_), static_cast<double>(rows_)));
    build_pyramid();
  }

  Box2 extent() const override { return {Vec2(x(0), y(0)), Vec2(x(columns_), y(rows_))}; }

  void facets(const Box2& box, std::vector<Facet>& out) const override {
    const Cells across = cells(box, 0, columns_), up = cells(box, 1, rows_);
    if (across.empty() || up.empty()) return;
    for (std::size_t j = up.first; j <= up.last; ++j)
      for (std::size_t i = across.first; i <= across.last; ++i) append_cell(i, j, out);
  }

  HeightBounds bounds(const Box2& box) const override {
    const Cells across = cells(box, 0, columns_), up = cells(box, 1, rows_);
    if (across.empty() || up.empty()) return kNoGround;
    HeightBounds found = pyramid_.over(
        across.first / kBlock, across.last / kBlock, up.first / kBlock, up.last / kBlock,
        [&](std::size_t i, std::size_t j) {
          const Cells in_x{std::max(across.first, i * kBlock), std::min(across.last, (i + 1) * kBlock - 1)};
          const Cells in_y{std::max(up.first, j * kBlock), std::min(up.last, (j + 1) * kBlock - 1)};
          const bool whole = in_x.last - in_x.first + 1 == kBlock && in_y.last - in_y.first + 1 == kBlock;
          return whole ? pyramid_.finest(i, j) : scan(in_x, in_y);
        });
    const Box2 all = extent();
    found.hole = found.hole || !all.contains(box.lo) || !all.contains(box.hi);
    return found;
  }

  bool hole_at(const Vec2& p) const override {
    if (!extent().contains(p)) return false;
    std::vector<Facet> here;
    facets({p, p}, here);
    return std::none_of(here.begin(), here.end(), [&](const Facet& f) { return plan::holds(f, p); });
  }

 private:
  /// Position of the k-th post along an axis; the last one lies where it was stated.
  double post(int axis, std::size_t k, std::size_t count) const {
    return k == count ? grid_.last[axis] : grid_.first[axis] + static_cast<double>(k) * grid_.spacing[axis];
  }
  double x(std::size_t i) const { return post(0, i, columns_); }
  double y(std::size_t j) const { return post(1, j, rows_); }
  double z(std::size_t i, std::size_t j) const { return grid_.heights[j * grid_.columns + i]; }

  /// The closed cells that meet the box along one axis: guessed by division, settled against the posts' own
  /// positions.
  Cells cells(const Box2& box, int axis, std::size_t count) const {
    const double lo = box.lo[axis], hi = box.hi[axis], first = grid_.first[axis], step = grid_.spacing[axis];
    const auto at = [&](std::size_t k) { return post(axis, k, count); };
    if (!(lo <= hi) || !(hi >= at(0)) || !(lo <= at(count))) return {};
    const double greatest = static_cast<double>(count - 1);
    Cells c{static_cast<std::size_t>(std::clamp(std::floor((lo - first) / step) - 1, 0.0, greatest)),
            static_cast<std::size_t>(std::clamp(std::floor((hi - first) / step) + 1, 0.0, greatest))};
    while (c.first < c.last && at(c.first + 1) < lo) ++c.first;
    while (c.last > c.first && at(c.last) > hi) --c.last;
    return c;
  }

  void append_cell(std::size_t i, std::size_t j, std::vector<Facet>& out) const {
    const double sw = z(i, j), se = z(i + 1, j), ne = z(i + 1, j + 1), nw = z(i, j + 1);
    const std::uint64_t cell = std::uint64_t{j} * columns_ + i;
    if (!std::isfinite(sw) || !std::isfinite(ne)) return;
    const Vec3 south_west(x(i), y(j), sw), north_east(x(i + 1), y(j + 1), ne);
    if (std::isfinite(se)) out.push_back({south_west, Vec3(x(i + 1), y(j), se), north_east, 2 * cell});
    if (std::isfinite(nw)) out.push_back({south_west, north_east, Vec3(x(i), y(j + 1), nw), 2 * cell + 1});
  }

  HeightBounds cell_bounds(std::size_t i, std::size_t j) const {
    const double sw = z(i, j), se = z(i + 1, j), ne = z(i + 1, j + 1), nw = z(i, j + 1);
    if (!std::isfinite(sw) || !std::isfinite(ne)) return kNoGround;
    HeightBounds b = kNoGround;
    const auto add = [&b](double height) { b.lo = std::min(b.lo, height), b.hi = std::max(b.hi, height); };
    const bool lower = std::isfinite(se), upper = std::isfinite(nw);
    if (lower) add(se);
    if (upper) add(nw);
    if (lower || upper) add(sw), add(ne);
    b.hole = !lower || !upper;
    return b;
  }

  HeightBounds scan(const Cells& in_x, const Cells& in_y) const {
    HeightBounds total{kInfinity, -kInfinity, false};
    for (std::size_t j = in_y.first; j <= in_y.last; ++j)
      for (std::size_t i = in_x.first; i <= in_x.last; ++i) total = joined(total, cell_bounds(i, j));
    return total;
  }

  void build_pyramid() {
    const std::size_t across = (columns_ + kBlock - 1) / kBlock, up = (rows_ + kBlock - 1) / kBlock;
    std::vector<HeightBounds> blocks(across * up);
    for (std::size_t j = 0; j < up; ++j)
      for (std::size_t i = 0; i < across; ++i)
        blocks[j * across + i] = scan({i * kBlock, std::min((i + 1) * kBlock, columns_) - 1},
                                      {j * kBlock, std::min((j + 1) * kBlock, rows_) - 1});
    pyramid_ = HeightPyramid(across, up, std::move(blocks));
  }

  HeightGrid grid_;
  std::size_t columns_ = 0, rows_ = 0;  ///< of cells
  HeightPyramid pyramid_;
};

}  // namespace

std::shared_ptr<const Ground> grid_ground(HeightGrid grid) {
  return std::make_shared<const GridGround>(std::move(grid));
}

}  // namespace rimstance
