#include "travel_path.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

struct Stretch {
  Interval shared;
  std::size_t count;
};

std::vector<Stretch> gathered(std::span<const Interval> intervals) {
  std::vector<Stretch> out;
  for (const Interval& next : intervals) {
    expects(next.lo <= next.hi, "least_movement: intervals that hold something");
    if (!out.empty()) {
      const Interval both{std::max(out.back().shared.lo, next.lo), std::min(out.back().shared.hi, next.hi)};
      if (both.lo <= both.hi) {
        out.back().shared = both;
        ++out.back().count;
        continue;
      }
    }
    out.push_back({next, 1});
  }
  return out;
}

/// Of a stretch between others: which end it leans on, +1 its upper, -1 its lower; 0: it is passed on the
/// way.
int lean(const std::vector<Stretch>& all, std::size_t k) {
  const auto side = [&](std::size_t other) { return all[other].shared.lo > all[k].shared.hi ? 1 : -1; };
  if (k == 0) return side(1);
  if (k + 1 == all.size()) return side(k - 1);
  return side(k - 1) == side(k + 1) ? side(k - 1) : 0;
}

}  // namespace

std::vector<double> least_movement(std::span<const Interval> intervals, double before) {
  const std::vector<Stretch> all = gathered(intervals);
  std::vector<double> out;
  for (std::size_t k = 0; k < all.size(); ++k) {
    const Interval& shared = all[k].shared;
    double value = shared.middle();
    if (all.size() == 1) {
      if (std::isfinite(before)) value = std::clamp(before, shared.lo, shared.hi);
    } else if (const int side = lean(all, k); side != 0) {
      value = side > 0 ? shared.hi : shared.lo;
    }
    out.insert(out.end(), all[k].count, value);
  }
  return out;
}

}  // namespace rimstance
