#pragma once
#include <string>

#include "rimstance/output/figure.hpp"
#include "rimstance/output/stand.hpp"
#include "rimstance/output/table.hpp"
#include "rimstance/study/capacity.hpp"

namespace rimstance {

/// A capacity described by keys: cells, the least of each reach, what the payload asked for meets.
Value describe(const Capacity&, const Standing&, const Prepared&, const Document&, const LoadedTerrain&);

/// Does every cell carry the scenario's payload?
bool carries_payload(const Capacity&, const Prepared&);

/// The same for reading: the verdict, then one line a reach with its worst slew, from that description.
std::string capacity_text(const Value& described);

/// One row a cell.
Table capacity_table(const Value& described);

/// Reach over slew seen from above, boom forward to the right: what may hang where, and by which limit, told
/// by hatch and letter as well as by shade; lines of equal payload; the payload's own reach.
Figure capacity_figure(const Capacity&, const Prepared&);

}  // namespace rimstance
