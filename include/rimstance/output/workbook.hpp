#pragma once
#include <span>
#include <string>

#include "rimstance/output/table.hpp"

namespace rimstance {

/// A sheet of a spreadsheet: its name (1 to 31 characters, none of []:*?/\ in it, different from the others')
/// and its rows.
struct Sheet {
  std::string name;
  Table table;
};

/// XLSX (ECMA-376, by libxlsxwriter), as bytes. Headings "name [unit]" in a first row that stays in view;
/// numbers as numbers, shown with the column's decimals and stored with 16 digits; text as text, never as a
/// formula whatever it starts with; null as an empty cell. No clock takes part: the same sheets give the same
/// bytes. The library works through files in the system's temporary folder; throws MachineError where that
/// fails.
std::string to_xlsx(std::span<const Sheet>);

}  // namespace rimstance
