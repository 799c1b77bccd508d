#include "rimstance/base/words.hpp"

#include <catch2/catch.hpp>
#include <limits>

using rimstance::counted;
using rimstance::without_stop;

TEST_CASE("Only one is one: nought, two and the greatest count take the plural") {
  CHECK(counted(1, "facet") == "1 facet");
  CHECK(counted(0, "facet") == "0 facets");
  CHECK(counted(2, "facet") == "2 facets");
  CHECK(counted(11, "facet") == "11 facets");
  CHECK(counted(std::numeric_limits<std::uint64_t>::max(), "byte") == "18446744073709551615 bytes");
}

TEST_CASE("Words that take no s, and sentences that turn on the count, are given whole") {
  CHECK(counted(1, "vertex", "vertices") == "1 vertex");
  CHECK(counted(3, "vertex", "vertices") == "3 vertices");
  CHECK(counted(1, "cell is a hole", "cells are holes") == "1 cell is a hole");
  CHECK(counted(0, "cell is a hole", "cells are holes") == "0 cells are holes");
}

TEST_CASE("A sentence loses the stop at its end, and no other") {
  CHECK(without_stop("no reader for \"a.glb\".") == "no reader for \"a.glb\"");
  CHECK(without_stop("one. two.\n") == "one. two");
  CHECK(without_stop("whole") == "whole");
  CHECK(without_stop("...").empty());
}
