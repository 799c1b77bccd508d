#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <clocale>
#include <cstdlib>
#include <cwctype>
#include <filesystem>
#include <locale>

#include "model/scenario_text.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/model/fields.hpp"
#include "rimstance/model/schema.hpp"

using namespace rimstance;
using namespace rimstance::texts;
namespace fs = std::filesystem;

// The process may stand in any locale (a host program sets it): numbers in files must not follow it.
// Each locale runs in a process of its own, so that the units database is read under it as well.

namespace {

class CommaPoint : public std::numpunct<char> {
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return "\3"; }
};

std::string own_program() {
  std::array<char, 4096> path{};
  const ssize_t n = readlink("/proc/self/exe", path.data(), path.size() - 1);
  REQUIRE(n > 0);
  return {path.data(), static_cast<std::size_t>(n)};
}

/// Makes a system locale with German numbers and Turkish letters (i and I are no pair there) in a folder
/// of its own; false where the tool or its sources are absent.
bool make_locale(const std::string& name, const fs::path& folder) {
  fs::create_directories(folder);
  const std::string source = (folder / "source").string();
  write_whole(source, "LC_NUMERIC\ncopy \"de_DE\"\nEND LC_NUMERIC\nLC_CTYPE\ncopy \"tr_TR\"\nEND LC_CTYPE\n");
  const std::string made = (folder / name).string();
  // -c: the categories left out are warnings, but the exit status counts them.
  const int status =
      std::system(("localedef -c -i " + source + " -f UTF-8 " + made + " >/dev/null 2>&1").c_str());
  return status != -1 && fs::exists(fs::path(made) / "LC_NUMERIC") && fs::exists(fs::path(made) / "LC_CTYPE");
}

}  // namespace

TEST_CASE("locale: in this one, the scenario is the same to the last bit", "[.in-locale]") {
  const char* const name = std::getenv("RIMSTANCE_TEST_LOCALE");
  REQUIRE(name != nullptr);
  if (std::string(name) == "comma") {
    std::locale::global(std::locale(std::locale::classic(), new CommaPoint));
  } else {
    REQUIRE(std::setlocale(LC_NUMERIC, name) != nullptr);
    REQUIRE(std::setlocale(LC_CTYPE, name) != nullptr);
    CHECK(std::towupper(L'i') != L'I');
    CHECK(std::string(std::localeconv()->decimal_point) == ",");
  }
  const Document document = load(dunlin());
  const Scenario& s = *document.scenario;
  // Each value as the same literal in this source, in SI.
  CHECK(get(s, "machine.outriggers.front-left.arm") == 1.6);
  CHECK(get(s, "machine.chassis.wheels.1.radius") == 0.25);
  CHECK(get(s, "machine.chassis.wheels.3.at.y") == -0.75);
  CHECK(get(s, "machine.outriggers.front-left.splay") == radians(40));
  CHECK(get(s, "machine.hoist.line_mass") == 0.05);
  CHECK(get(s, "criteria.load_cases.forward.load_factor") == 1.25);
  CHECK(load(dunlin(), {{"spot.under", "1 ft"}}).scenario->spot.under == 0.3048);
  CHECK_THAT(complaints(dunlin_with("gravity: moon", "gravity: 1,62 m/s2")),
             Catch::Contains("the decimal sign is a point"));
  CHECK_THAT(complaints(dunlin_with("yaw: 0 deg", "yaw: 400.5 deg")),
             Catch::Contains("\"400.5 deg\" is out of range; allowed: from -360 deg to 360 deg"));
  CHECK(json_schema().find("\"maximum\": 10000.0") != std::string::npos);
}

TEST_CASE("locale: decimal commas and Turkish letters set in the process change nothing") {
  const fs::path folder = fs::temp_directory_path() / "rimstance_locale_test";
  const auto passes = [&](const std::string& name) {
    const std::string command = "LOCPATH=" + folder.string() + " RIMSTANCE_TEST_LOCALE=" + name + " " +
                                own_program() + " '[in-locale]' >/dev/null 2>&1";
    return std::system(command.c_str()) == 0;
  };
  CHECK(passes("comma"));
  const std::string name = "mixed.UTF-8";
  if (make_locale(name, folder))
    CHECK(passes(name));
  else
    WARN("skipped: this system cannot make a locale");
  fs::remove_all(folder);
}
