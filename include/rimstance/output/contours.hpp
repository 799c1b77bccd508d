#pragma once
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// Numbers at the posts of a regular grid in plan; NaN where there is none. Row 0 is the southern one.
struct Samples {
  Vec2 first = Vec2::Zero();  ///< post (0, 0) [m]
  Vec2 step = Vec2::Ones();   ///< > 0 [m]
  int columns = 0, rows = 0;
  std::vector<double> values;  ///< columns * rows
  double at(int column, int row) const {
    return values[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) +
                  static_cast<std::size_t>(column)];
  }
};

struct Contour {
  double level;
  std::vector<Vec2> points;  ///< higher ground on the left-hand side
  bool closed;               ///< then the first point comes again as the last
};

/// Contour lines at the multiples of `interval` by marching squares (linear along the sides of a cell; a
/// saddle is decided by the mean of its four posts). No line crosses a cell with a NaN post, nor one
/// steeper than `steepest` (tangent), where lines would run into one another. Ordered by level; the same
/// samples give the same lines in the same order.
///   fewer than two rows or columns, or nothing but NaN -> no line
/// interval > 0. A post exactly at a level counts as above it.
std::vector<Contour> contours(const Samples&, double interval, double steepest = kInfinity);

/// Outlines of the posts with a value > 0, each post a rectangle of step x step: closed rings along the
/// rectangles' sides, outer ones counter-clockwise, openings clockwise.
std::vector<std::vector<Vec2>> outlines(const Samples&);

}  // namespace rimstance
