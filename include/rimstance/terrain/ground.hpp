#pragma once
#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "rimstance/terrain/terrain.hpp"

namespace rimstance {

/// Triangles over shared vertices, W [m].
struct TriangleMesh {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> triangles;
};

/// Heights at the posts of a regular grid, W [m]; NaN is a hole. Row 0 is the SOUTHERN row.
struct HeightGrid {
  Vec2 first = Vec2::Zero();            ///< plan position of post (0, 0), the south-west one
  Vec2 spacing = Vec2::Ones();          ///< > 0
  std::uint32_t columns = 0, rows = 0;  ///< >= 2
  std::vector<double> heights;          ///< rows * columns, west to east, row by row northwards
  /// The north-east post where it is stated; NaN: first + (count - 1) * spacing, of which it is a rounding.
  Vec2 last = Vec2::Constant(kUnset);
};

/// Ground of a mesh: a uniform bucket index in plan over its triangles, every layer kept. Facet ids are
/// triangle numbers. Orientation plays no part; triangles without plan area are no facets, those
/// without any area are ignored. Without a facet the extent is unset and contains nothing.
/// Neighbours must share vertices (weld first), or bounds() suspects holes between them.
/// O(n) to build, about a microsecond a query of foot size.
std::shared_ptr<const Ground> mesh_ground(TriangleMesh);
/// The same without taking the mesh over: others may read it meanwhile.
std::shared_ptr<const Ground> mesh_ground(std::shared_ptr<const TriangleMesh>);

/// Ground of a grid: each cell of four posts is two facets along the south-west to north-east diagonal,
/// made when asked. A facet with a NaN corner is a hole. Ids: 2 * cell (south-east of the diagonal), 2 * cell
/// + 1.
std::shared_ptr<const Ground> grid_ground(HeightGrid);

/// Every triangle of the ground as given, also vertical ones, that meets `box`: for rays and distances.
void all_triangles(const Ground&, const Box2& box, std::vector<Facet>& out);

}  // namespace rimstance
