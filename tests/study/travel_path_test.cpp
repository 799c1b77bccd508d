// The least movement through intervals against dynamic programming over all their ends.
#include "../src/study/travel_path.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "cases.hpp"
#include "stance/draw.hpp"

namespace rimstance {
namespace {

struct Cost {
  double movement = 0;
  int changes = 0;
};
Cost cost(const std::vector<double>& path) {
  Cost c;
  for (std::size_t k = 1; k < path.size(); ++k) {
    c.movement += std::abs(path[k] - path[k - 1]);
    c.changes += path[k] != path[k - 1];
  }
  return c;
}

/// Some best path goes through ends of intervals only, because the cost is piecewise linear in each value.
/// Least movement first, then fewest changes.
Cost best(const std::vector<Interval>& intervals) {
  std::vector<double> values;
  for (const Interval& i : intervals) values.insert(values.end(), {i.lo, i.hi});
  const auto better = [](const Cost& a, const Cost& b) {
    return a.movement < b.movement - 1e-12 || (a.movement <= b.movement + 1e-12 && a.changes < b.changes);
  };
  std::vector<std::pair<double, Cost>> reached{{kUnset, {}}};
  for (const Interval& i : intervals) {
    std::vector<std::pair<double, Cost>> next;
    for (const double v : values) {
      if (!i.contains(v)) continue;
      Cost least{kInfinity, 0};
      for (const auto& [from, so_far] : reached) {
        Cost c = so_far;
        if (from == from) c.movement += std::abs(v - from), c.changes += v != from;
        if (better(c, least)) least = c;
      }
      next.emplace_back(v, least);
    }
    reached = next;
  }
  Cost least{kInfinity, 0};
  for (const auto& [value, c] : reached)
    if (better(c, least)) least = c;
  return least;
}

TEST_CASE("a path through intervals moves least, then changes least, and stays inside") {
  for (int i = 0; i < cases(); ++i) {
    Draw draw{71, static_cast<std::uint64_t>(i)};
    INFO(draw.text());
    std::vector<Interval> intervals;
    const int n = 1 + static_cast<int>(draw.in(0, 12));
    double drift = 0;
    for (int k = 0; k < n; ++k) {
      drift += draw.in(-0.6, 0.6);
      intervals.push_back({drift, drift + draw.in(0, 1)});
    }
    const std::vector<double> path = least_movement(intervals);
    REQUIRE(path.size() == intervals.size());
    for (std::size_t k = 0; k < path.size(); ++k) CHECK(intervals[k].contains(path[k]));
    const Cost least = best(intervals);
    CHECK(cost(path).movement == Approx(least.movement).margin(1e-12));
    CHECK(cost(path).changes == least.changes);
  }
}

TEST_CASE(
    "where nothing forces a move the travel is the middle of what all share, or stays near the one before") {
  const std::vector<Interval> all{{0, 2}, {0.5, 3}, {-1, 1.5}};
  CHECK(least_movement(all) == std::vector<double>(3, 1.0));
  CHECK(least_movement(all, 1.4) == std::vector<double>(3, 1.4));
  CHECK(least_movement(all, 9) == std::vector<double>(3, 1.5));
}

TEST_CASE("what is passed on the way is passed in the middle of what is left") {
  const std::vector<Interval> all{{0, 1}, {2, 3}, {4, 5}, {0, 0.5}};
  CHECK(least_movement(all) == std::vector<double>{1, 2.5, 4, 0.5});
}

}  // namespace
}  // namespace rimstance
