// Spreadsheets as bytes: what is in them is looked at by tests/cli/capacity_test.py, which can unpack them.
#include "rimstance/output/workbook.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

/// The environment's folder for temporary files, for the life of this value.
class Temporary {
 public:
  explicit Temporary(const std::string& path) {
    if (const char* before = std::getenv("TMPDIR")) before_ = before;
    ::setenv("TMPDIR", path.c_str(), 1);
  }
  ~Temporary() {
    if (before_.empty())
      ::unsetenv("TMPDIR");
    else
      ::setenv("TMPDIR", before_.c_str(), 1);
  }

 private:
  std::string before_;
};

Sheet sheet(const char* name, double number) {
  Sheet out{name, {}};
  out.table.columns = {{"reach", "m", 3}, {"why", "", -1}};
  out.table.rows.resize(1);
  out.table.rows[0].emplace_back(number);
  out.table.rows[0].emplace_back("=1+1");
  return out;
}

TEST_CASE("the same sheets give the same bytes, other numbers others") {
  const std::vector<Sheet> one{sheet("a", 1.5), sheet("b", 2)}, other{sheet("a", 1.5), sheet("b", 3)};
  const std::string bytes = to_xlsx(one);
  CHECK(bytes.starts_with("PK"));  // a ZIP archive
  CHECK(to_xlsx(one) == bytes);
  CHECK(to_xlsx(other) != bytes);
}

TEST_CASE("a spreadsheet leaves nothing behind in the temporary folder, and says when it cannot use it") {
  const auto folder = std::filesystem::temp_directory_path() / "rimstance_workbook_test";
  std::filesystem::create_directories(folder);
  {
    const Temporary temporary(folder.string());
    CHECK(!to_xlsx(std::vector<Sheet>{sheet("a", 1)}).empty());
    CHECK(std::filesystem::is_empty(folder));
  }
  std::filesystem::remove_all(folder);
  const Temporary gone(folder.string());
  CHECK_THROWS_AS(to_xlsx(std::vector<Sheet>{sheet("a", 1)}), MachineError);
}

}  // namespace
}  // namespace rimstance
