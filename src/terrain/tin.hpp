#pragma once
#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

/// The Delaunay triangulation in plan: no point lies inside the circle through the corners of a triangle
/// (Delaunay 1934), decided exactly. Corners run counter-clockwise, the smallest number first; triangles
/// ascend. The points must differ from one another in plan; the same points in the same order give the same
/// triangles on every machine. Empty: all points lie on one line.
std::vector<std::array<std::uint32_t, 3>> delaunay(std::span<const Vec2> points);

}  // namespace rimstance
