#include <catch2/catch.hpp>
#include <cstdio>
#include <string>

#include "locales.hpp"
#include "rimstance/output/figure.hpp"
#include "rimstance/output/inspect.hpp"
#include "rimstance/output/json.hpp"
#include "rimstance/output/terrain_figure.hpp"
#include "rimstance/output/text.hpp"

using namespace rimstance;

namespace {

/// All that is told of one terrain file: JSON, text and picture.
std::string told(const std::string& file) {
  const Inspection found = inspect(file, TerrainOptions{.up = UpAxis::z, .unit = 1.0});
  const std::vector<Vec2> places{Vec2(1.25, 2.5)};
  const Value result = describe(found, places);
  return to_json(result) + inspection_text(result) + to_svg(terrain_figure(found.loaded, places));
}

}  // namespace

TEST_CASE("results: decimal commas and Turkish letters set in the process change no byte") {
  const std::string file =
      (std::filesystem::temp_directory_path() / ("rimstance_told_" + std::to_string(getpid()) + ".asc"))
          .string();
  std::string text = "ncols 40\nnrows 40\nxllcorner 1234.5\nyllcorner -3.25\ncellsize 0.5\n";
  for (int i = 0; i < 1600; ++i) text += shortest(1000.5 + 0.125 * (i % 7)) + (i % 40 == 39 ? "\n" : " ");
  write_whole(file, text);
  const std::string plain = told(file);
  CHECK(plain.find("1234.75") != std::string::npos);  // the first post
  {
    const locales::Mixed locale;
    char number[16];
    std::snprintf(number, sizeof number, "%.1f", 0.5);
    if (!locale.in_c()) WARN("only the locale of C++ is changed: this system cannot make one for C");
    CHECK(std::string(number) == (locale.in_c() ? "0,5" : "0.5"));
    CHECK(told(file) == plain);
  }
  std::filesystem::remove(file);
}
