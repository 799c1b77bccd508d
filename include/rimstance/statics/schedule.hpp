#pragma once
#include <span>
#include <vector>

#include "rimstance/statics/envelope.hpp"

namespace rimstance {

// A counterweight's travel over reach, as data. Rows in the order in which the boom runs out; from one row to
// the next one thing moves, the boom (the travel stays) or the cabinets (the reach stays), and coming in they
// move back in reverse order. So the states of a schedule are boxes: a range of reach at one travel, or one
// reach with a range of travel. Between two ranges of slew the cabinets move at the angle they share.

struct ScheduleRow {
  double reach = kUnset;   ///< [m], platform plane
  double travel = kUnset;  ///< [m]
  bool operator==(const ScheduleRow&) const = default;
};

/// Rows for a range of slew, at least one; reach never falls, the first and last are the operation's ends.
struct ScheduleRange {
  Interval slew;
  std::vector<ScheduleRow> rows;
};

/// Ranges of slew in rising order, each beginning where the one before ends.
struct Schedule {
  std::vector<ScheduleRange> ranges;
};

/// What moves from a row to the next; nothing after the last.
enum class Mover { boom, cabinets, none };
Mover first_after(std::span<const ScheduleRow>, std::size_t row);

/// All travels used; unset for an empty schedule.
Interval travels(const Schedule&);

/// Travels used at a reach by the ranges that share more than an angle with `slew` (or hold it, where it is a
/// single one), and all between; beyond the rows the nearest row's.
Interval travels_at(const Schedule&, const Interval& slew, double reach);

/// Sum of all ways of the cabinets while the boom runs out once, at any one slew of the range [m].
double movement(const ScheduleRange&);

/// The operation cut into the boxes of a schedule.
std::vector<Domain> boxes(const Schedule&, const Domain& operation);

}  // namespace rimstance
