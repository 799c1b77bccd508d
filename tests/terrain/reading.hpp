#pragma once
// What the reader tests share: reading from memory, probes in map coordinates, and what was refused.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <initializer_list>
#include <iterator>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/terrain/load.hpp"
#include "rimstance/terrain/terrain.hpp"

namespace reading {

using namespace rimstance;

inline constexpr TerrainOptions kMetresZ{.up = UpAxis::z, .unit = 1.0};

inline std::string file_bytes(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Ground height at a place in map coordinates [m], in map heights.
inline double map_height(const Terrain& t, double x, double y) {
  return height(t, Vec2(x, y) - t.map_offset.head<2>(), kInfinity) + t.map_offset.z();
}

/// Facet under a place: slope [rad] and direction of fall.
inline SlopeAspect map_slope(const Terrain& t, double x, double y) {
  const Vec2 p = Vec2(x, y) - t.map_offset.head<2>();
  std::vector<Facet> facets;
  t.ground->facets({p, p}, facets);
  for (const Facet& f : facets) {
    Vec3 n = (f.b - f.a).cross(f.c - f.a);
    if (n.z() < 0) n = -n;
    const auto side = [&](const Vec3& a, const Vec3& b) {
      return cross2((b - a).head<2>(), p - Vec2(a.head<2>()));
    };
    const double s1 = side(f.a, f.b), s2 = side(f.b, f.c), s3 = side(f.c, f.a);
    if ((s1 >= 0 && s2 >= 0 && s3 >= 0) || (s1 <= 0 && s2 <= 0 && s3 <= 0))
      return slope_aspect(n.normalized());
  }
  return {kUnset, kUnset};
}

/// The message with which `bytes` are refused; empty if they are accepted.
inline std::string refusal(std::string_view bytes, const std::string& name,
                           const TerrainOptions& options = kMetresZ) {
  try {
    (void)load_terrain_bytes(bytes, name, options);
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

inline bool says(const std::string& message, std::initializer_list<std::string_view> parts) {
  for (const std::string_view part : parts)
    if (message.find(part) == std::string::npos) return false;
  return true;
}

/// The number of facets, or nothing if refused.
inline std::optional<std::uint64_t> facets_accepted(std::string_view bytes, const std::string& name,
                                                    const TerrainOptions& options = kMetresZ) {
  try {
    return load_terrain_bytes(bytes, name, options).facts.triangles;
  } catch (const InputError&) {
    return std::nullopt;
  }
}

inline TerrainFacts facts_of(std::string_view bytes, const std::string& name,
                             const TerrainOptions& options = kMetresZ) {
  return load_terrain_bytes(bytes, name, options).facts;
}

/// Every height of the ground is finite and inside the stated corners.
inline bool all_finite(const LoadedTerrain& loaded) {
  std::vector<Facet> facets;
  loaded.terrain.ground->facets(loaded.terrain.ground->extent(), facets);
  for (const Facet& f : facets)
    if (!f.a.allFinite() || !f.b.allFinite() || !f.c.allFinite()) return false;
  return loaded.facts.lowest_corner.allFinite() && loaded.facts.highest_corner.allFinite();
}

}  // namespace reading
