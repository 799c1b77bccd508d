#include "placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace rimstance::svg {
namespace {

/// The box whose nearest side or corner lies `away` from `at` in that direction.
Rect beside(const Vec2& at, double angle, double away, double width, double height) {
  const Vec2 d(std::cos(angle), std::sin(angle));
  const Vec2 anchor = at + away * d;
  const double x0 = anchor.x() - 0.5 * width * (1 - d.x()), y0 = anchor.y() - 0.5 * height * (1 - d.y());
  return {x0, y0, x0 + width, y0 + height};
}

double cost(const Rect& box, const Rect& room, const std::vector<Obstacle>& obstacles) {
  const double area = std::max(1.0, box.width() * box.height());
  double sum = 1e4 * (1 - overlap(box, room) / area);
  for (const Obstacle& o : obstacles) sum += o.weight * overlap(box.grown(2), o.box) / area;
  return sum;
}

}  // namespace

Placed place(const Vec2& at, double clear, double width, double height, const Rect& room,
             const std::vector<Obstacle>& obstacles) {
  constexpr std::array away{3.0, 14.0, 28.0, 46.0, 68.0, 95.0, 130.0};
  constexpr int directions = 16;
  Placed best{beside(at, 0, clear + away[0], width, height), false};
  double least = kInfinity;
  for (std::size_t ring = 0; ring < away.size(); ++ring)
    for (int k = 0; k < directions; ++k) {
      const double angle = -kPi / 4 + 2 * kPi * k / directions;  // up and to the right first
      const Rect box = beside(at, angle, clear + away[ring], width, height);
      const double total = cost(box, room, obstacles) + 1.5 * static_cast<double>(ring) + 0.01 * k;
      if (!(total < least)) continue;
      least = total;
      best = {box, ring > 0};
    }
  return best;
}

}  // namespace rimstance::svg
