#include "rimstance/statics/schedule.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

Interval hull(const Interval& a, const Interval& b) {
  if (!(a.lo <= a.hi)) return b;
  return {std::min(a.lo, b.lo), std::max(a.hi, b.hi)};
}

bool shares(const Interval& range, const Interval& slew) {
  constexpr double kSlack = 1e-12;
  if (slew.hi - slew.lo <= kSlack) return slew.lo >= range.lo - kSlack && slew.hi <= range.hi + kSlack;
  return std::min(range.hi, slew.hi) - std::max(range.lo, slew.lo) > kSlack;
}

/// Within the slack that states of a reach have.
Interval travels_at(std::span<const ScheduleRow> rows, double reach) {
  constexpr double kSlack = 1e-9;
  const double at = std::clamp(reach, rows.front().reach, rows.back().reach);
  Interval out;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const ScheduleRow &a = rows[i], &b = rows[std::min(i + 1, rows.size() - 1)];
    if (at < a.reach - kSlack || at > b.reach + kSlack) continue;
    out = hull(out, {std::min(a.travel, b.travel), std::max(a.travel, b.travel)});
  }
  return out;
}

}  // namespace

Mover first_after(std::span<const ScheduleRow> rows, std::size_t row) {
  if (row + 1 >= rows.size()) return Mover::none;
  return rows[row + 1].travel != rows[row].travel ? Mover::cabinets : Mover::boom;
}

Interval travels(const Schedule& schedule) {
  Interval out;
  for (const ScheduleRange& range : schedule.ranges)
    for (const ScheduleRow& row : range.rows) out = hull(out, {row.travel, row.travel});
  return out;
}

Interval travels_at(const Schedule& schedule, const Interval& slew, double reach) {
  Interval out;
  for (const ScheduleRange& range : schedule.ranges)
    if (shares(range.slew, slew)) out = hull(out, travels_at(range.rows, reach));
  return out;
}

double movement(const ScheduleRange& range) {
  double sum = 0;
  for (std::size_t i = 1; i < range.rows.size(); ++i)
    sum += std::abs(range.rows[i].travel - range.rows[i - 1].travel);
  return sum;
}

std::vector<Domain> boxes(const Schedule& schedule, const Domain& operation) {
  std::vector<Domain> out;
  for (const ScheduleRange& range : schedule.ranges) {
    Domain box = operation;
    box.slew = range.slew;
    for (std::size_t i = 0; i + 1 < range.rows.size() || i == 0; ++i) {
      const ScheduleRow &a = range.rows[i], &b = range.rows[std::min(i + 1, range.rows.size() - 1)];
      box.reach = {a.reach, b.reach};
      box.travel = {std::min(a.travel, b.travel), std::max(a.travel, b.travel)};
      out.push_back(box);
    }
  }
  return out;
}

}  // namespace rimstance
