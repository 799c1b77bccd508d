#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rimstance/terrain/ground.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// Which vertices are one: equal positions for tolerance 0, else each vertex and the first kept one within
/// the tolerance [m]. The new number of every vertex, kept ones in their order; empty if all stay. O(n).
std::vector<std::uint32_t> welded_numbers(std::span<const Vec3> vertices, double tolerance);

/// Keeps the first vertex of each number and renumbers the triangles. Returns how many vanished.
std::uint64_t renumber(TriangleMesh&, const std::vector<std::uint32_t>& number);

/// Slope of the surface at half of its area [rad] if `up` pointed up, for the three axes in turn; in
/// file axes and any unit. NaN without any area.
std::array<double, 3> median_slopes(std::span<const Vec3> vertices,
                                    std::span<const std::array<std::uint32_t, 3>> triangles);

/// The axis (0 x, 1 y, 2 z) along which the surface as a whole faces, if one stands out: the area vectors add
/// up along it to twice what they make across, and to a fifth of the plan seen along it (faces wound any way
/// make nothing). Walls round a pit cancel in that sum, straight or undercut, so a pit of any depth faces up,
/// and one that lies on its side does not, which medians of slopes tell of plains only.
std::optional<int> facing(std::span<const Vec3> vertices,
                          std::span<const std::array<std::uint32_t, 3>> triangles);

/// Is half of the plan area flatter than kSteepestMedian?
bool half_of_plan_is_flat(std::span<const Vec3> vertices,
                          std::span<const std::array<std::uint32_t, 3>> triangles);

/// Slopes, areas, degenerate, vertical and overhanging facets. A facet is degenerate if its height is
/// below 1e-12 of its longest side, vertical if its normal is horizontal to 1e-9, overhanging if it faces
/// against most of the plan area. Returns the first triangle that falls so far and steeply that one of
/// its corners must be a mark of missing data (plausible.hpp).
std::optional<std::size_t> surface_facts(std::span<const Vec3> vertices,
                                         std::span<const std::array<std::uint32_t, 3>> triangles,
                                         TerrainFacts&);

/// Duplicate facets and boundary, non-manifold and inconsistently wound edges, and the median edge in
/// plan (of large meshes: of every k-th edge), over the facets whose corners are three different
/// vertices. O(n), about 50 MB of scratch at most.
void edge_facts(std::span<const Vec3> vertices, std::span<const std::array<std::uint32_t, 3>> triangles,
                TerrainFacts&);

}  // namespace rimstance
