// Schedules as data: boxes, and the travels that a range of slew sees.
#include "rimstance/statics/schedule.hpp"

#include <catch2/catch.hpp>

namespace rimstance {
namespace {

Schedule two_ranges() {
  Schedule s;
  s.ranges.push_back({{-1, 0}, {{2, 0.5}, {4, 0.5}, {4, 0.9}, {6, 0.9}}});
  s.ranges.push_back({{0, 1}, {{2, 0.2}, {6, 0.2}}});
  return s;
}

bool equal(const Interval& a, double lo, double hi) { return a.lo == lo && a.hi == hi; }

TEST_CASE("from a row to the next one thing moves") {
  const std::vector<ScheduleRow> rows = two_ranges().ranges[0].rows;
  CHECK(first_after(rows, 0) == Mover::boom);
  CHECK(first_after(rows, 1) == Mover::cabinets);
  CHECK(first_after(rows, 2) == Mover::boom);
  CHECK(first_after(rows, 3) == Mover::none);
  CHECK(movement(two_ranges().ranges[0]) == 0.9 - 0.5);
  CHECK(movement(two_ranges().ranges[1]) == 0);
  const ScheduleRange there_and_back{{-1, 1}, {{2, 0.25}, {3, 0.75}, {4, 0.5}}};
  CHECK(movement(there_and_back) == 0.5 + 0.25);
}

TEST_CASE("at the reach of a change both travels are used and all between, elsewhere one") {
  const Schedule s = two_ranges();
  CHECK(equal(travels_at(s, {-1, -0.5}, 3), 0.5, 0.5));
  CHECK(equal(travels_at(s, {-1, -0.5}, 4), 0.5, 0.9));
  CHECK(equal(travels_at(s, {-1, -0.5}, 5), 0.9, 0.9));
  CHECK(equal(travels_at(s, {-1, -0.5}, 1), 0.5, 0.5));  // beyond the rows the nearest
  CHECK(equal(travels_at(s, {-1, -0.5}, 9), 0.9, 0.9));
  CHECK(equal(travels(s), 0.2, 0.9));
}

TEST_CASE(
    "a range of slew sees the schedules it shares more than an angle with, a single angle both at a border") {
  const Schedule s = two_ranges();
  CHECK(equal(travels_at(s, {0, 0.5}, 3), 0.2, 0.2));
  CHECK(equal(travels_at(s, {-0.5, 0.5}, 3), 0.2, 0.5));
  CHECK(equal(travels_at(s, {0, 0}, 3), 0.2, 0.5));
  CHECK(equal(travels_at(s, {0.7, 0.7}, 3), 0.2, 0.2));
}

TEST_CASE("the boxes of a schedule are its steps, and cover every reach of every range once") {
  Domain operation;
  operation.slew = {-1, 1};
  operation.luff = {0, 1};
  operation.extension = {0, 2};
  operation.line = {0, 5};
  operation.travel = {0, 1};
  operation.reach = {2, 6};
  const std::vector<Domain> all = boxes(two_ranges(), operation);
  REQUIRE(all.size() == 4);
  CHECK(equal(all[0].reach, 2, 4));
  CHECK(equal(all[0].travel, 0.5, 0.5));
  CHECK(equal(all[1].reach, 4, 4));
  CHECK(equal(all[1].travel, 0.5, 0.9));
  CHECK(equal(all[2].reach, 4, 6));
  CHECK(equal(all[3].reach, 2, 6));
  CHECK(equal(all[3].slew, 0, 1));
  for (const Domain& d : all) CHECK(equal(d.line, 0, 5));
}

TEST_CASE("a schedule of one row is one box") {
  Schedule s;
  s.ranges.push_back({{0, 1}, {{3, 0.4}}});
  Domain operation;
  const std::vector<Domain> all = boxes(s, operation);
  REQUIRE(all.size() == 1);
  CHECK(equal(all[0].reach, 3, 3));
  CHECK(equal(all[0].travel, 0.4, 0.4));
}

}  // namespace
}  // namespace rimstance
