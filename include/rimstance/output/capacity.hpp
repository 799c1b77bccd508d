#pragma once
#include <string>
#include <vector>

#include "rimstance/output/figure.hpp"
#include "rimstance/output/stand.hpp"
#include "rimstance/output/workbook.hpp"
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

/// One row a reach (or luff and extension), one column a slew cell, capacities in it.
Table capacity_matrix(const Value& described);

/// Both as a spreadsheet, with a sheet of notes: scenario, payload, cautions.
std::vector<Sheet> capacity_sheets(const Value& described);

/// Reach to the right and slew upwards: what may hang where, and by which limit, told by hatch and words as
/// well as by shade; lines of equal payload; the payload's own reach, and what is carried there. Of a
/// capacity by reach.
Figure capacity_figure(const Capacity&, const Standing&, const Prepared&);
/// The same seen from above, boom forward upwards.
Figure capacity_polar_figure(const Capacity&, const Standing&, const Prepared&);
/// Of a capacity by setting: extension to the right and luff upwards, each cell at its worst slew, likewise.
Figure capacity_setting_figure(const Capacity&, const Standing&, const Prepared&);

}  // namespace rimstance
