#pragma once
#include <string>
#include <vector>

namespace rimstance {

/// Writes a small commented scenario to start from: scenario.yaml, dunlin.yaml (the machine),
/// terrain/kettle.asc (invented ground with a void) and the schemas that editors check with.
/// The folder is made if need be; each file appears whole. Returns what was written, scenario first.
/// Throws InputError if one of the files is there already (nothing is written then), MachineError if
/// the system cannot write.
std::vector<std::string> write_starter(const std::string& folder);

/// The starter's ground as ESRI ASCII grid: a funnel around a void without data, gentle waves around.
std::string starter_terrain();

}  // namespace rimstance
