#include "rimstance/output/contours.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <utility>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

using Key = std::int64_t;
/// Directed pieces from key to key. A key may be left and entered by two pieces (corners of outlines).
using Pieces = std::multimap<Key, Key>;

/// Chains pieces to lines of keys: first those with a loose beginning, then the closed ones.
std::vector<std::vector<Key>> chained(Pieces pieces) {
  std::map<Key, int> loose;
  for (const auto& [from, to] : pieces) {
    ++loose[from];
    --loose[to];
  }
  std::vector<std::vector<Key>> lines;
  const auto follow = [&](Key start) {
    std::vector<Key> line{start};
    for (auto next = pieces.find(start); next != pieces.end(); next = pieces.find(line.back())) {
      line.push_back(next->second);
      pieces.erase(next);
      if (line.back() == start) break;
    }
    lines.push_back(std::move(line));
  };
  for (const auto& [key, surplus] : loose)
    for (int k = 0; k < surplus; ++k) follow(key);
  while (!pieces.empty()) follow(pieces.begin()->first);
  return lines;
}

/// Sides of cells by number: 2 * post for the side going east from it, 2 * post + 1 for that going north.
class Sides {
 public:
  explicit Sides(const Samples& s) : s_(s) {}
  Key east(int c, int r) const { return 2 * post(c, r); }
  Key north(int c, int r) const { return 2 * post(c, r) + 1; }
  /// Where the level crosses a side.
  Vec2 crossing(Key side, double level) const {
    const auto c = static_cast<int>(side / 2 % s_.columns), r = static_cast<int>(side / 2 / s_.columns);
    const bool up = side % 2 != 0;
    const double a = s_.at(c, r), b = up ? s_.at(c, r + 1) : s_.at(c + 1, r);
    const double share = (level - a) / (b - a);
    return s_.first + s_.step.cwiseProduct(Vec2(c + (up ? 0 : share), r + (up ? share : 0)));
  }

 private:
  Key post(int c, int r) const { return Key{r} * s_.columns + c; }
  const Samples& s_;
};

/// Pieces of one cell at a level: from each side where the line enters to where it leaves, high on the left.
void add_pieces(const std::array<double, 4>& z, const std::array<Key, 4>& sides, double level, Pieces& out) {
  // posts SW, SE, NE, NW; side k joins post k to post k + 1. Going round counter-clockwise, a side from
  // low to high is where a line with high ground on its left leaves the cell.
  std::array<Key, 2> enter{}, leave{};
  std::size_t entries = 0, exits = 0;
  for (std::size_t k = 0; k < 4; ++k) {
    const bool high = z[k] >= level, next_high = z[(k + 1) % 4] >= level;
    if (high && !next_high) enter[entries++] = sides[k];
    if (!high && next_high) leave[exits++] = sides[k];
  }
  if (entries == 0) return;
  if (entries == 1) {
    out.emplace(enter[0], leave[0]);
    return;
  }
  // Saddle: sides alternate. A line ends on the side before or after the one where it entered.
  const bool centre_high = (z[0] + z[1] + z[2] + z[3]) / 4 >= level;
  const bool starts_high =
      z[0] >= level;  // then enter = sides 0, 2 and leave = 1, 3; else enter = 1, 3, leave = 0, 2
  const bool straight = starts_high == centre_high;
  out.emplace(enter[0], leave[straight ? 0 : 1]);
  out.emplace(enter[1], leave[straight ? 1 : 0]);
}

bool usable(const std::array<double, 4>& z, const Vec2& step, double steepest) {
  const double east = 0.5 * (z[1] + z[2] - z[0] - z[3]) / step.x(),
               north = 0.5 * (z[2] + z[3] - z[0] - z[1]) / step.y();
  return std::hypot(east, north) <= steepest;  // false for NaN
}

}  // namespace

std::vector<Contour> contours(const Samples& s, double interval, double steepest) {
  expects(interval > 0, "contours: interval > 0");
  const Sides side(s);
  std::map<std::int64_t, Pieces> by_level;
  for (int r = 0; r + 1 < s.rows; ++r)
    for (int c = 0; c + 1 < s.columns; ++c) {
      const std::array<double, 4> z{s.at(c, r), s.at(c + 1, r), s.at(c + 1, r + 1), s.at(c, r + 1)};
      if (!usable(z, s.step, steepest)) continue;
      const auto [lo, hi] = std::minmax({z[0], z[1], z[2], z[3]});
      const std::array<Key, 4> sides{side.east(c, r), side.north(c + 1, r), side.east(c, r + 1),
                                     side.north(c, r)};
      for (auto k = static_cast<std::int64_t>(std::floor(lo / interval));
           static_cast<double>(k) * interval <= hi; ++k)
        add_pieces(z, sides, static_cast<double>(k) * interval, by_level[k]);
    }
  std::vector<Contour> out;
  for (const auto& [k, pieces] : by_level)
    for (const auto& keys : chained(pieces)) {
      Contour line{static_cast<double>(k) * interval, {}, keys.size() > 2 && keys.front() == keys.back()};
      for (const Key key : keys) line.points.push_back(side.crossing(key, line.level));
      out.push_back(std::move(line));
    }
  return out;
}

std::vector<std::vector<Vec2>> outlines(const Samples& s) {
  const auto inside = [&](int c, int r) {
    return c >= 0 && r >= 0 && c < s.columns && r < s.rows && s.at(c, r) > 0;
  };
  const Key wide = s.columns + 1;
  const auto corner = [&](int c, int r) { return r * wide + c; };
  Pieces pieces;
  for (int r = 0; r < s.rows; ++r)
    for (int c = 0; c < s.columns; ++c) {
      if (!inside(c, r)) continue;
      if (!inside(c, r - 1)) pieces.emplace(corner(c, r), corner(c + 1, r));
      if (!inside(c + 1, r)) pieces.emplace(corner(c + 1, r), corner(c + 1, r + 1));
      if (!inside(c, r + 1)) pieces.emplace(corner(c + 1, r + 1), corner(c, r + 1));
      if (!inside(c - 1, r)) pieces.emplace(corner(c, r + 1), corner(c, r));
    }
  std::vector<std::vector<Vec2>> rings;
  for (const auto& keys : chained(std::move(pieces))) {
    std::vector<Vec2> ring;
    for (std::size_t i = 0; i + 1 < keys.size(); ++i) {
      const Vec2 p(static_cast<double>(keys[i] % wide), static_cast<double>(keys[i] / wide));
      ring.push_back(s.first + s.step.cwiseProduct(p - Vec2(0.5, 0.5)));
    }
    rings.push_back(std::move(ring));
  }
  return rings;
}

}  // namespace rimstance
