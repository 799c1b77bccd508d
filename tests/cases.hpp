#pragma once

namespace rimstance {

/// How many random cases a property test of its own loop draws: the environment's RIMSTANCE_CASES,
/// else 200. rapidcheck draws as many (see cases.cpp), from a fixed seed, so a run can be repeated;
/// RIMSTANCE_SEED changes it.
int cases();

}  // namespace rimstance
