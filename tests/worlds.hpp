#pragma once
// Ground for tests: formulas, drawings, and changes of a mesh that must not change its ground.
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/random.hpp"
#include "rimstance/terrain/ground.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace worlds {

using rimstance::Box2;
using rimstance::HeightGrid;
using rimstance::Mat3;
using rimstance::Terrain;
using rimstance::TriangleMesh;
using rimstance::Vec2;
using rimstance::Vec3;

/// Height [m] over a plan position [m].
using Formula = std::function<double(const Vec2&)>;

// ---- formulas ------------------------------------------------------------------------------------

/// z = a + b x + c y
inline Formula plane(double a, double b, double c) {
  return [=](const Vec2& p) { return a + b * p.x() + c * p.y(); };
}
/// z = x y / r: level at the origin, every slope known; no mesh reproduces it.
inline Formula saddle(double r) {
  return [=](const Vec2& p) { return p.x() * p.y() / r; };
}
/// z = -|x| tan(angle): a ridge along y, the same slope on both sides.
inline Formula ridge(double tangent) {
  return [=](const Vec2& p) { return -std::abs(p.x()) * tangent; };
}
/// A bowl z = (x^2 + y^2) / (2 r)
inline Formula bowl(double r) {
  return [=](const Vec2& p) { return p.squaredNorm() / (2 * r); };
}
/// Smooth bumps of one wave length [m], amplitude [m]; the same for the same seed on every machine.
inline Formula bumps(double wave, double amplitude, std::uint64_t seed) {
  return [=](const Vec2& p) {
    const auto post = [&](double i, double j) {
      const auto key = static_cast<std::uint64_t>(static_cast<std::int64_t>(i)) * 0x10001 +
                       static_cast<std::uint64_t>(static_cast<std::int64_t>(j));
      return 2 * rimstance::random_uniform(seed, 0, key) - 1;
    };
    const double x = p.x() / wave, y = p.y() / wave, i = std::floor(x), j = std::floor(y);
    const auto eased = [](double t) { return t * t * (3 - 2 * t); };
    const double u = eased(x - i), v = eased(y - j);
    return amplitude * ((1 - v) * ((1 - u) * post(i, j) + u * post(i + 1, j)) +
                        v * ((1 - u) * post(i, j + 1) + u * post(i + 1, j + 1)));
  };
}

// ---- meshes of formulas --------------------------------------------------------------------------

inline Box2 square(double half) { return {Vec2(-half, -half), Vec2(half, half)}; }

/// Posts about `spacing` apart over the box, two triangles a cell along the south-west to north-east
/// diagonal. `jitter` moves inner posts by up to that share of the spacing, for irregular triangles.
inline TriangleMesh meshed(const Formula& z, const Box2& box, double spacing, double jitter = 0,
                           std::uint64_t seed = 1) {
  const Vec2 side = box.hi - box.lo;
  const auto columns = static_cast<std::uint32_t>(std::lround(side.x() / spacing));
  const auto rows = static_cast<std::uint32_t>(std::lround(side.y() / spacing));
  TriangleMesh mesh;
  for (std::uint32_t j = 0; j <= rows; ++j)
    for (std::uint32_t i = 0; i <= columns; ++i) {
      Vec2 p = box.lo + Vec2(side.x() * i / columns, side.y() * j / rows);
      const std::uint64_t k = std::uint64_t{j} * (columns + 1) + i;
      if (i > 0 && i < columns) p.x() += jitter * spacing * (2 * rimstance::random_uniform(seed, 1, k) - 1);
      if (j > 0 && j < rows) p.y() += jitter * spacing * (2 * rimstance::random_uniform(seed, 2, k) - 1);
      mesh.vertices.emplace_back(p.x(), p.y(), z(p));
    }
  const auto at = [&](std::uint32_t i, std::uint32_t j) { return j * (columns + 1) + i; };
  for (std::uint32_t j = 0; j < rows; ++j)
    for (std::uint32_t i = 0; i < columns; ++i) {
      mesh.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
      mesh.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
    }
  return mesh;
}

inline Terrain terrain(std::shared_ptr<const rimstance::Ground> ground) {
  Terrain t;
  t.ground = std::move(ground);
  return t;
}
inline Terrain terrain(TriangleMesh mesh) { return terrain(rimstance::mesh_ground(std::move(mesh))); }
inline Terrain terrain(HeightGrid grid) { return terrain(rimstance::grid_ground(std::move(grid))); }

/// A formula over the square of half side 20 m about the origin, on posts 0.5 m apart.
inline Terrain terrain(const Formula& z, double half = 20, double spacing = 0.5) {
  return terrain(meshed(z, square(half), spacing));
}

/// Posts of a grid from a formula.
inline HeightGrid gridded(const Formula& z, const Box2& box, double spacing) {
  HeightGrid grid;
  grid.first = box.lo;
  grid.spacing = Vec2::Constant(spacing);
  grid.columns = static_cast<std::uint32_t>(std::lround((box.hi.x() - box.lo.x()) / spacing)) + 1;
  grid.rows = static_cast<std::uint32_t>(std::lround((box.hi.y() - box.lo.y()) / spacing)) + 1;
  for (std::uint32_t j = 0; j < grid.rows; ++j)
    for (std::uint32_t i = 0; i < grid.columns; ++i) grid.heights.push_back(z(box.lo + spacing * Vec2(i, j)));
  return grid;
}

/// Posts drawn as text, north up, the south-west post at the origin, `spacing` apart; '.' is missing.
///   worlds::drawn(R"( 2 2 2 .
///                     2 2 . .
///                     2 2 2 2 )")
inline HeightGrid drawn(std::string_view picture, double spacing = 1) {
  std::vector<std::vector<double>> rows(1);
  for (std::size_t k = 0; k < picture.size();) {
    if (picture[k] == '\n') rows.emplace_back();
    if (picture[k] == '\n' || picture[k] == ' ') {
      ++k;
      continue;
    }
    const std::size_t end = std::min(picture.find_first_of(" \n", k), picture.size());
    double value = rimstance::kUnset;
    if (picture.substr(k, end - k) != ".") {
      const auto read = std::from_chars(picture.data() + k, picture.data() + end, value);
      rimstance::expects(read.ptr == picture.data() + end, "worlds::drawn: a number or '.'");
    }
    rows.back().push_back(value);
    k = end;
  }
  std::erase_if(rows, [](const auto& row) { return row.empty(); });
  HeightGrid grid;
  grid.spacing = Vec2::Constant(spacing);
  grid.columns = static_cast<std::uint32_t>(rows.front().size());
  grid.rows = static_cast<std::uint32_t>(rows.size());
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    rimstance::expects(row->size() == grid.columns, "worlds::drawn: rows of one length");
    grid.heights.insert(grid.heights.end(), row->begin(), row->end());
  }
  return grid;
}

/// Both meshes as one.
inline TriangleMesh joined(TriangleMesh a, const TriangleMesh& b) {
  const auto shift = static_cast<std::uint32_t>(a.vertices.size());
  a.vertices.insert(a.vertices.end(), b.vertices.begin(), b.vertices.end());
  for (const auto& t : b.triangles) a.triangles.push_back({t[0] + shift, t[1] + shift, t[2] + shift});
  return a;
}

/// Level ground at 0 west of x = `edge`; east of it a floor `depth` lower, which runs `under` metres in
/// below the western ground: an overhanging rim along y. Half side of everything: 20 m.
inline TriangleMesh overhang(double edge, double depth, double under, double spacing = 0.5) {
  return joined(meshed(plane(0, 0, 0), {Vec2(-20, -20), Vec2(edge, 20)}, spacing),
                meshed(plane(-depth, 0, 0), {Vec2(edge - under, -20), Vec2(20, 20)}, spacing));
}

// ---- changes -------------------------------------------------------------------------------------

/// Every vertex p -> R p + shift.
inline TriangleMesh moved(TriangleMesh mesh, const Mat3& R, const Vec3& shift = Vec3::Zero()) {
  for (Vec3& v : mesh.vertices) v = R * v + shift;
  return mesh;
}

/// The same surface with each triangle cut into four at the middles of its sides.
inline TriangleMesh split(const TriangleMesh& mesh) {
  TriangleMesh fine{mesh.vertices, {}};
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint32_t> middles;
  const auto middle = [&](std::uint32_t u, std::uint32_t v) {
    const auto [found, fresh] =
        middles.try_emplace(std::minmax(u, v), static_cast<std::uint32_t>(fine.vertices.size()));
    if (fresh) fine.vertices.push_back(0.5 * (mesh.vertices[u] + mesh.vertices[v]));
    return found->second;
  };
  for (const auto& [a, b, c] : mesh.triangles) {
    const std::uint32_t d = middle(a, b), e = middle(b, c), f = middle(c, a);
    for (const std::array<std::uint32_t, 3>& t : {std::array{a, d, f}, {d, b, e}, {f, e, c}, {d, e, f}})
      fine.triangles.push_back(t);
  }
  return fine;
}

/// Triangles in another order, starting at other corners and wound at random.
inline TriangleMesh shuffled(TriangleMesh mesh, std::uint64_t seed) {
  for (std::size_t k = mesh.triangles.size(); k > 1; --k)
    std::swap(mesh.triangles[k - 1], mesh.triangles[rimstance::random_bits(seed, 0, k) % k]);
  for (std::size_t k = 0; k < mesh.triangles.size(); ++k) {
    auto& t = mesh.triangles[k];
    std::rotate(t.begin(), t.begin() + static_cast<std::ptrdiff_t>(rimstance::random_bits(seed, 1, k) % 3),
                t.end());
    if (rimstance::random_bits(seed, 2, k) % 2 == 0) std::swap(t[0], t[1]);
  }
  return mesh;
}

/// Triangles whose middle lies in the box (the rest of the map cut away).
inline TriangleMesh cropped(TriangleMesh mesh, const Box2& box) {
  std::erase_if(mesh.triangles, [&](const auto& t) {
    const Vec3 middle = (mesh.vertices[t[0]] + mesh.vertices[t[1]] + mesh.vertices[t[2]]) / 3;
    return !box.contains(middle.head<2>());
  });
  return mesh;
}

}  // namespace worlds
