#pragma once
#include <string>

#include "rimstance/output/figure.hpp"
#include "rimstance/output/stand.hpp"
#include "rimstance/output/table.hpp"
#include "rimstance/study/counterweight.hpp"

namespace rimstance {

/// Windows, masses and schedule described by keys. `ok`: every state of the operation keeps its payload with
/// the travels the operation asks for, or, where it asks for a schedule, with that. `prepared`: as the study
/// had it, the counterweight free on its guide; `document` says what the operation asks for.
Value describe(const Counterweight&, const Standing&, const Prepared&, const Document&, const LoadedTerrain&);

/// The same for reading: the verdict, one line a state, the schedule step by step, from that description.
std::string counterweight_text(const Value& described);

/// One row a state; one row of the schedule each.
Table travel_windows_table(const Value& described);
Table schedule_table(const Value& described);

/// Travel over reach for the range of slew with least room: what holds, told by hatch and words as well as by
/// shade, the transit's window, the guide's ends, and the schedule as the steps it takes.
Figure counterweight_figure(const Counterweight&, const Prepared&);

}  // namespace rimstance
