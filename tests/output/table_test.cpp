#include "rimstance/output/table.hpp"

#include <bit>
#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "cases.hpp"
#include "draw.hpp"

using namespace rimstance;

namespace {

/// RFC 4180 read the slow way: fields of all records.
std::vector<std::vector<std::string>> read_csv(const std::string& text) {
  std::vector<std::vector<std::string>> records(1, std::vector<std::string>(1));
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string& field = records.back().back();
    if (quoted && text[i] == '"' && i + 1 < text.size() && text[i + 1] == '"')
      field += text[i++];
    else if (text[i] == '"')
      quoted = !quoted;
    else if (quoted)
      field += text[i];
    else if (text[i] == ',')
      records.back().emplace_back();
    else if (text[i] == '\r') {
      REQUIRE(text.at(++i) == '\n');
      records.emplace_back(1);
    } else {
      REQUIRE(text[i] != '\n');
      field += text[i];
    }
  }
  REQUIRE_FALSE(quoted);
  REQUIRE(records.back() == std::vector<std::string>{""});
  records.pop_back();
  return records;
}

}  // namespace

TEST_CASE("table: text columns line up, numbers to the right") {
  const Table table{{{"foot", "", -1}, {"stroke", "m", 3}, {"held", "", -1}},
                    {{"front-left", 0.125, true},
                     {"r\xC3\xBC"
                      "ck",
                      -10.5, false},
                     {"gone", nullptr, nullptr}}};
  CHECK(to_text(table) ==
        "foot         stroke  held\n"
        "                  m\n"
        "front-left    0.125  true\n"
        "r\xC3\xBC"
        "ck        -10.500  false\n"
        "gone              -  -\n");
}

TEST_CASE("table: without units there is no line of units") {
  CHECK(to_text({{{"a", "", -1}}, {{"x"}}}) == "a\nx\n");
  CHECK(to_text({{}, {}}) == "\n");
}

TEST_CASE("table: csv numbers read back bit for bit and are never guarded") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(47, number);
    const double x = std::bit_cast<double>(draw.bits());
    if (!std::isfinite(x)) continue;
    const auto records = read_csv(to_csv({{{"x", "m", 1}}, {{x}}}));
    double back = 0;
    const std::string& field = records.at(1).at(0);
    const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), back);
    CHECK(error == std::errc{});
    CHECK(end == field.data() + field.size());
    CHECK(back == x);
  }
  CHECK(to_csv({
            {{"x", "N m", -1}},
            {{-1250.5}},
        }) == "x [N m]\r\n-1250.5\r\n");
}

TEST_CASE("table: csv text that a spreadsheet would run as a formula gets an apostrophe") {
  for (const char* text : {"=1+1", "+1", "-1", "@sum", "\tx", "\rx"}) {
    const auto records = read_csv(to_csv({{{"name", "", -1}}, {{text}}}));
    CHECK(records.at(1).at(0) == "'" + std::string(text));
  }
  CHECK(to_csv({{{"=cmd", "", -1}}, {{"a=b"}}}) == "'=cmd\r\na=b\r\n");
}

TEST_CASE("table: csv fields survive commas, quotes, line ends and malformed bytes") {
  const std::string nasty = "a,\"b\"\r\nc\xC3\xA9";
  const auto records = read_csv(to_csv({{{"p", "", -1}, {"q", "", -1}}, {{nasty, nullptr}, {"\xFF", 7}}}));
  REQUIRE(records.size() == 3);
  CHECK(records[1] == std::vector<std::string>{nasty, ""});
  CHECK(records[2] == std::vector<std::string>{"\xEF\xBF\xBD", "7"});
}

TEST_CASE("table: a row of another length is the caller's mistake") {
  const Table table{{{"a", "", -1}, {"b", "", -1}}, {{1}}};
  CHECK_THROWS_AS(to_csv(table), std::logic_error);
  CHECK_THROWS_AS(to_text(table), std::logic_error);
}
