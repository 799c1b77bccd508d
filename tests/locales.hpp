#pragma once
#include <unistd.h>

#include <clocale>
#include <cstdlib>
#include <filesystem>
#include <locale>
#include <string>

#include "rimstance/base/files.hpp"

// Locales that a host program may have set, for tests that nothing follows them.
namespace rimstance::locales {

/// Streams of C++: decimal comma, thousands in points.
class CommaPoint : public std::numpunct<char> {
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return "\3"; }
};

/// While it lives, C and C++ use German numbers and Turkish letters (i and I are no pair there).
class Mixed {
 public:
  Mixed()
      : folder_(std::filesystem::temp_directory_path() / ("rimstance_locale_" + std::to_string(getpid()))) {
    std::filesystem::create_directories(folder_);
    const std::string source = (folder_ / "source").string(), made = (folder_ / "mixed.UTF-8").string();
    write_whole(source,
                "LC_NUMERIC\ncopy \"de_DE\"\nEND LC_NUMERIC\nLC_CTYPE\ncopy \"tr_TR\"\nEND LC_CTYPE\n");
    // -c: the categories left out are warnings, but the exit status counts them.
    (void)!std::system(("localedef -c -i " + source + " -f UTF-8 " + made + " >/dev/null 2>&1").c_str());
    setenv("LOCPATH", folder_.c_str(), 1);
    before_ = std::locale::global(std::locale(std::locale::classic(), new CommaPoint));
    in_c_ = std::setlocale(LC_NUMERIC, "mixed.UTF-8") && std::setlocale(LC_CTYPE, "mixed.UTF-8");
  }
  ~Mixed() {
    std::locale::global(before_);
    std::setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
    std::filesystem::remove_all(folder_);
  }
  Mixed(const Mixed&) = delete;
  Mixed& operator=(const Mixed&) = delete;

  /// False where this system cannot make a locale: then only C++ has another one.
  bool in_c() const { return in_c_; }

 private:
  std::filesystem::path folder_;
  std::locale before_;
  bool in_c_ = false;
};

}  // namespace rimstance::locales
