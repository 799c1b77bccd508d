#include "rimstance/stance/ways_out.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

namespace rimstance {
namespace {

constexpr double kStep = radians(0.5), kFine = radians(1e-3), kWidestTurn = radians(15);

/// Smallest change within `range` (which holds 0) that works, by steps and bisection; none: nothing.
std::optional<double> smallest(Interval range, const std::function<bool(double)>& works) {
  const double widest = std::max(-range.lo, range.hi);
  for (int k = 1; (k - 1) * kStep < widest; ++k)
    for (const double sign : {1.0, -1.0}) {
      const double end = sign > 0 ? range.hi : -range.lo, before = (k - 1) * kStep;
      if (!(end > before)) continue;
      double fails = before, holds = std::min(k * kStep, end);
      if (!works(sign * holds)) continue;
      while (holds - fails > kFine) {
        const double middle = 0.5 * (fails + holds);
        (works(sign * middle) ? holds : fails) = middle;
      }
      return sign * holds;
    }
  return {};
}

/// The machine with its legs kept `in_hand` from both ends: what levels within those bounds passes.
Machine with_stroke_in_hand(Machine machine, double in_hand) {
  for (Outrigger& o : machine.outriggers) o.stroke = {o.stroke.lo + in_hand, o.stroke.hi - in_hand};
  return machine;
}

}  // namespace

std::vector<WayOut> ways_out(const Machine& machine, const Terrain& terrain, const Spot& spot,
                             const LevellingNeeds& needs, std::span<const double> splay,
                             std::span<const double> sinkage) {
  const Machine kept = with_stroke_in_hand(machine, needs.stroke_left);
  const LevellingNeeds clearances{0, needs.wheel_clearance, needs.belly_clearance};
  const auto levels = [&](double turn, double open) {
    Spot turned = spot;
    turned.yaw += turn;
    std::vector<double> opened(splay.begin(), splay.end());
    for (double& s : opened) s += open;
    return can_level(kept, terrain, turned, clearances, opened, sinkage);
  };
  std::vector<WayOut> list;
  if (levels(0, 0)) return list;
  if (const auto turn = smallest({-kWidestTurn, kWidestTurn}, [&](double v) { return levels(v, 0); }))
    list.push_back({WayOut::Kind::yaw, *turn});
  Interval range{-kInfinity, kInfinity};
  for (std::size_t i = 0; i < splay.size(); ++i) {
    const Interval& allowed = machine.outriggers[i].splay_range;
    range = {std::max(range.lo, allowed.lo - splay[i]), std::min(range.hi, allowed.hi - splay[i])};
  }
  if (!(range.lo <= 0 && range.hi >= 0)) return list;
  if (const auto open = smallest(range, [&](double v) { return levels(0, v); }))
    list.push_back({WayOut::Kind::splay, *open});
  return list;
}

}  // namespace rimstance
