#pragma once
#include <string>
#include <vector>

#include "rimstance/output/value.hpp"

namespace rimstance {

/// Rows of values under named columns with units. Every row has as many cells as there are columns
/// (else the caller is wrong); a cell is a number, a truth value, text or null, never a list.
struct Table {
  struct Column {
    std::string name, unit;  ///< unit empty: none
    int decimals = -1;       ///< of numbers in to_text(); -1: about four significant digits
  };
  std::vector<Column> columns;
  std::vector<std::vector<Value>> rows;
};

/// For a terminal or a fixed-width page: a heading of names, one of units, then the rows. Numbers and
/// their headings to the right, text to the left, null as "-". No trailing blanks; ends with a newline.
std::string to_text(const Table&);

/// RFC 4180: comma, CRLF, quotes where needed, UTF-8 without mark, decimal point; headings are
/// "name [unit]". Numbers with full precision, null empty. Text that a spreadsheet would take for a
/// formula (it starts with = + - @, tab or carriage return) gets a leading apostrophe; numbers never
/// do, so -1250.5 stays a number.
std::string to_csv(const Table&);

}  // namespace rimstance
