#include "rimstance/output/table.hpp"

#include <algorithm>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

bool is_number(const Value& v) {
  return std::holds_alternative<double>(v.is) || std::holds_alternative<std::int64_t>(v.is);
}

std::string readable(const Value& v, int decimals) {
  if (v.is_null()) return "-";
  if (const auto* b = std::get_if<bool>(&v.is)) return *b ? "true" : "false";
  if (const auto* n = std::get_if<std::int64_t>(&v.is)) return std::to_string(*n);
  if (const auto* x = std::get_if<double>(&v.is)) return decimals < 0 ? rounded(*x) : fixed(*x, decimals);
  const auto* text = std::get_if<std::string>(&v.is);
  expects(text != nullptr, "Table: a cell is not a list");
  return one_line(*text);
}

std::string csv_text(std::string_view raw) {
  std::string text = valid_utf8(raw);
  if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos)
    text.insert(text.begin(), '\'');
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string csv_cell(const Value& v) {
  if (v.is_null()) return {};
  if (const auto* x = std::get_if<double>(&v.is)) return shortest(*x);
  if (const auto* text = std::get_if<std::string>(&v.is)) return csv_text(*text);
  return readable(v, 0);
}

using Line = std::vector<std::string>;

/// All cells of a line padded to the columns' widths.
std::string padded(const Line& cells, const std::vector<std::size_t>& widths,
                   const std::vector<bool>& right) {
  std::string out;
  for (std::size_t c = 0; c < cells.size(); ++c) {
    const std::string blanks(widths[c] - width(cells[c]), ' ');
    out += c > 0 ? "  " : "";
    out += right[c] ? blanks + cells[c] : cells[c] + blanks;
  }
  out.erase(out.find_last_not_of(' ') + 1);
  return out + '\n';
}

}  // namespace

std::string to_text(const Table& table) {
  const std::size_t columns = table.columns.size();
  std::vector<Line> lines(2);
  std::vector<bool> right(columns, false);
  for (std::size_t c = 0; c < columns; ++c) {
    lines[0].push_back(one_line(table.columns[c].name));
    lines[1].push_back(one_line(table.columns[c].unit));
    right[c] = std::any_of(table.rows.begin(), table.rows.end(),
                           [&](const auto& row) { return c < row.size() && is_number(row[c]); });
  }
  if (std::all_of(lines[1].begin(), lines[1].end(), [](const auto& unit) { return unit.empty(); }))
    lines.pop_back();
  for (const auto& row : table.rows) {
    expects(row.size() == columns, "Table: every row has a cell for each column");
    Line line;
    for (std::size_t c = 0; c < columns; ++c) line.push_back(readable(row[c], table.columns[c].decimals));
    lines.push_back(std::move(line));
  }
  std::vector<std::size_t> widths(columns, 0);
  for (const Line& line : lines)
    for (std::size_t c = 0; c < columns; ++c) widths[c] = std::max(widths[c], width(line[c]));
  std::string out;
  for (const Line& line : lines) out += padded(line, widths, right);
  return out;
}

std::string to_csv(const Table& table) {
  std::string out;
  const auto row = [&](const auto& cells, const auto& text) {
    bool first = true;
    for (const auto& cell : cells) {
      if (!first) out += ',';
      first = false;
      out += text(cell);
    }
    out += "\r\n";
  };
  row(table.columns, [](const Table::Column& c) {
    return csv_text(c.unit.empty() ? c.name : c.name + " [" + c.unit + "]");
  });
  for (const auto& cells : table.rows) {
    expects(cells.size() == table.columns.size(), "Table: every row has a cell for each column");
    row(cells, csv_cell);
  }
  return out;
}

}  // namespace rimstance
