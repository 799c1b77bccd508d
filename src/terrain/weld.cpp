#include <bit>
#include <cmath>
#include <numeric>
#include <span>
#include <vector>

#include "mesh_checks.hpp"

namespace rimstance {

namespace {

constexpr std::uint32_t kEmpty = 0xffffffff;

std::uint64_t mixed(std::uint64_t x, std::uint64_t y, std::uint64_t z) {
  std::uint64_t h = x * 0x9e3779b97f4a7c15ULL;
  h = (std::rotl(h, 29) ^ y) * 0xbf58476d1ce4e5b9ULL;
  h = (std::rotl(h, 29) ^ z) * 0x94d049bb133111ebULL;
  return h ^ (h >> 32);
}

/// Open addressing over vertex numbers: at most half full, slots follow one another.
struct Table {
  explicit Table(std::size_t entries)
      : slots(std::bit_ceil(2 * entries + 1), kEmpty), mask(slots.size() - 1) {}
  std::vector<std::uint32_t> slots;
  std::uint64_t mask;
};

std::uint64_t position_hash(const Vec3& p) {
  return mixed(std::bit_cast<std::uint64_t>(p.x()), std::bit_cast<std::uint64_t>(p.y()),
               std::bit_cast<std::uint64_t>(p.z()));
}

/// New number of every vertex among the kept ones, empty if none is equal to another.
std::vector<std::uint32_t> numbers_of_equal(std::span<const Vec3> vertices) {
  constexpr std::size_t kAhead = 16;  // a table larger than the caches is asked this many vertices ahead
  const std::size_t count = vertices.size();
  Table table(count);
  std::vector<std::uint32_t> number;
  std::array<std::uint64_t, kAhead> hashes{};
  std::uint32_t kept = 0;
  for (std::size_t block = 0; block < count; block += kAhead) {
    const std::size_t size = std::min(kAhead, count - block);
    for (std::size_t k = 0; k < size; ++k) {
      hashes[k] = position_hash(vertices[block + k]) & table.mask;
      __builtin_prefetch(&table.slots[hashes[k]]);
    }
    for (std::size_t k = 0; k < size; ++k) {
      const auto v = static_cast<std::uint32_t>(block + k);
      std::uint64_t slot = hashes[k];
      while (table.slots[slot] != kEmpty && vertices[table.slots[slot]] != vertices[v])
        slot = (slot + 1) & table.mask;
      const bool known = table.slots[slot] != kEmpty;
      if (!known) table.slots[slot] = v;
      if (known && number.empty()) {  // the first that vanishes: up to here every number stayed
        number.resize(count);
        std::iota(number.begin(), number.begin() + v, 0U);
      }
      if (!number.empty()) number[v] = known ? number[table.slots[slot]] : kept;
      kept += !known;
    }
  }
  return number;
}

using Cell = std::array<std::int64_t, 3>;

Cell cell_of(const Vec3& p, double size) {
  Cell cell{};
  for (int axis = 0; axis < 3; ++axis)
    cell[static_cast<std::size_t>(axis)] = static_cast<std::int64_t>(std::floor(p[axis] / size));
  return cell;
}
std::uint64_t cell_hash(const Cell& cell) {
  return mixed(static_cast<std::uint64_t>(cell[0]), static_cast<std::uint64_t>(cell[1]),
               static_cast<std::uint64_t>(cell[2]));
}

/// The first kept vertex within the tolerance, over the 27 cells that can hold one.
std::uint32_t near_vertex(const Table& table, std::span<const Vec3> kept, const Vec3& p, const Cell& centre,
                          double tolerance) {
  std::uint32_t best = kEmpty;
  for (std::int64_t i = 0; i < 27; ++i) {
    const Cell cell{centre[0] + i % 3 - 1, centre[1] + i / 3 % 3 - 1, centre[2] + i / 9 - 1};
    for (std::uint64_t s = cell_hash(cell) & table.mask; table.slots[s] != kEmpty; s = (s + 1) & table.mask)
      if (table.slots[s] < best && (kept[table.slots[s]] - p).norm() <= tolerance) best = table.slots[s];
  }
  return best;
}

/// The same for vertices near one another.
std::vector<std::uint32_t> numbers_of_near(std::span<const Vec3> vertices, double tolerance) {
  // Cells smaller than the spacing of doubles at the far end of the ground would not separate anything.
  double reach = 1;
  for (const Vec3& p : vertices) reach = std::max(reach, p.cwiseAbs().maxCoeff());
  const double size = std::max(tolerance, reach * 1e-15);
  Table table(vertices.size());
  std::vector<std::uint32_t> number(vertices.size());
  std::vector<Vec3> kept;
  for (std::size_t i = 0; i < vertices.size(); ++i) {
    const Cell cell = cell_of(vertices[i], size);
    std::uint32_t found = near_vertex(table, kept, vertices[i], cell, tolerance);
    if (found == kEmpty) {
      found = static_cast<std::uint32_t>(kept.size());
      std::uint64_t s = cell_hash(cell) & table.mask;
      while (table.slots[s] != kEmpty) s = (s + 1) & table.mask;
      table.slots[s] = found;
      kept.push_back(vertices[i]);
    }
    number[i] = found;
  }
  if (kept.size() == vertices.size()) number.clear();
  return number;
}

}  // namespace

std::vector<std::uint32_t> welded_numbers(std::span<const Vec3> vertices, double tolerance) {
  expects(tolerance >= 0 && std::isfinite(tolerance), "weld: tolerance >= 0, finite");
  return tolerance > 0 ? numbers_of_near(vertices, tolerance) : numbers_of_equal(vertices);
}

std::uint64_t renumber(TriangleMesh& mesh, const std::vector<std::uint32_t>& number) {
  if (number.empty()) return 0;
  expects(number.size() == mesh.vertices.size(), "renumber: one number a vertex");
  std::uint32_t kept = 0;
  for (std::size_t v = 0; v < number.size(); ++v)
    if (number[v] == kept)
      mesh.vertices[kept++] = mesh.vertices[v];  // numbers ascend: first come, first kept
  const std::uint64_t gone = number.size() - kept;
  mesh.vertices.resize(kept);
  for (auto& triangle : mesh.triangles)
    for (std::uint32_t& corner : triangle) corner = number[corner];
  return gone;
}

}  // namespace rimstance
