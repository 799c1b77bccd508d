#include "rimstance/output/workbook.hpp"

#include <xlsxwriter.h>

#include <algorithm>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <memory>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

constexpr std::time_t kCreated = 946'684'800;  ///< 2000-01-01: the bytes do not change with the clock
constexpr std::size_t kWidest = 60;            ///< of a column [characters]
constexpr std::size_t kLongest = 32'767;       ///< text in a cell [bytes]

/// A folder that goes with its files.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::error_code error;
    path_ = (std::filesystem::temp_directory_path(error) / "rimstance.XXXXXX").string();
    if (error || ::mkdtemp(path_.data()) == nullptr) throw MachineError(path_ + ": folder cannot be made");
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  std::string& path() { return path_; }

 private:
  std::string path_;
};

void check(lxw_error error) {
  if (error != LXW_NO_ERROR) throw MachineError(std::string("spreadsheet: ") + lxw_strerror(error));
}

std::string heading(const Table::Column& column) {
  return column.unit.empty() ? column.name : column.name + " [" + column.unit + "]";
}

std::string decimals_format(int decimals) {
  return decimals > 0 ? "0." + std::string(static_cast<std::size_t>(decimals), '0') : "0";
}

class Writer {
 public:
  explicit Writer(lxw_workbook* book) : book_(book), bold_(workbook_add_format(book)) {
    format_set_bold(bold_);
    format_set_bottom(bold_, LXW_BORDER_THIN);
    format_set_text_wrap(bold_);
  }

  void write(const Sheet& sheet) {
    lxw_worksheet* page = workbook_add_worksheet(book_, sheet.name.c_str());
    expects(page != nullptr, "to_xlsx: a sheet's name is short, plain and its own");
    const Table& t = sheet.table;
    for (std::size_t c = 0; c < t.columns.size(); ++c) {
      const auto column = static_cast<lxw_col_t>(c);
      check(worksheet_write_string(page, 0, column, valid_utf8(heading(t.columns[c])).c_str(), bold_));
      lxw_format* shown = nullptr;
      if (t.columns[c].decimals >= 0) {
        shown = workbook_add_format(book_);
        format_set_num_format(shown, decimals_format(t.columns[c].decimals).c_str());
      }
      std::size_t wide = 9;
      for (std::size_t r = 0; r < t.rows.size(); ++r) {
        expects(t.rows[r].size() == t.columns.size(), "to_xlsx: a cell for every column");
        wide = std::max(wide, put(page, static_cast<lxw_row_t>(r + 1), column, t.rows[r][c], shown));
      }
      check(worksheet_set_column(page, column, column, static_cast<double>(std::min(wide, kWidest)) + 2,
                                 nullptr));
    }
    worksheet_freeze_panes(page, 1, 0);
  }

 private:
  /// Returns how many characters wide.
  static std::size_t put(lxw_worksheet* page, lxw_row_t row, lxw_col_t column, const Value& v,
                         lxw_format* shown) {
    if (v.is_null()) return 0;
    if (const auto* b = std::get_if<bool>(&v.is)) {
      check(worksheet_write_boolean(page, row, column, *b, shown));
      return 5;
    }
    if (const auto* n = std::get_if<std::int64_t>(&v.is)) {
      check(worksheet_write_number(page, row, column, static_cast<double>(*n), shown));
      return 8;
    }
    if (const auto* x = std::get_if<double>(&v.is)) {
      check(worksheet_write_number(page, row, column, *x, shown));
      return 8;
    }
    const auto* text = std::get_if<std::string>(&v.is);
    expects(text != nullptr, "to_xlsx: a cell is not a list");
    const std::string line = one_line(text->substr(0, kLongest / 3));  // a byte becomes three at most
    check(worksheet_write_string(page, row, column, line.c_str(), nullptr));
    return width(line);
  }

  lxw_workbook* book_;
  lxw_format* bold_;
};

}  // namespace

std::string to_xlsx(std::span<const Sheet> sheets) {
  expects(!sheets.empty(), "to_xlsx: at least one sheet");
  TemporaryFolder folder;
  const std::string path = folder.path() + "/book.xlsx";
  lxw_workbook_options options{};
  options.tmpdir = folder.path().data();
  std::unique_ptr<lxw_workbook, decltype(&lxw_workbook_free)> book(workbook_new_opt(path.c_str(), &options),
                                                                   lxw_workbook_free);
  if (!book) throw MachineError("spreadsheet: out of memory");
  lxw_doc_properties properties{};
  properties.created = kCreated;
  check(workbook_set_properties(book.get(), &properties));
  Writer writer(book.get());
  for (const Sheet& sheet : sheets) writer.write(sheet);
  check(workbook_close(book.release()));  // frees it, also where it fails
  return std::string(FileBytes(path).text());
}

}  // namespace rimstance
