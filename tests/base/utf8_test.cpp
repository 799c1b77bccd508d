#include "rimstance/base/utf8.hpp"

#include <catch2/catch.hpp>

#include "rimstance/base/errors.hpp"

using namespace rimstance;

// Table 3-7 of the Unicode Standard 15 gives the well-formed byte sequences.

TEST_CASE("UTF-8 is what the table of well-formed sequences allows") {
  for (const char* good : {"A", "\x7F", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF",
                           "\xEE\x80\x80", "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"}) {
    const std::string_view sequence = good;
    CHECK(utf8_length(sequence) == sequence.size());
    CHECK((sequence.size() == 1 || utf8_length(sequence.substr(0, sequence.size() - 1)) == 0));
    CHECK((sequence.size() == 1 || utf8_length(sequence.substr(1)) == 0));
  }
  for (const char* bad : {"\x80", "\xBF", "\xC0\x80", "\xC1\xBF", "\xE0\x9F\xBF", "\xED\xA0\x80",
                          "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\xFF",
                          "\xC2"
                          "A"})
    CHECK(utf8_length(bad) == 0);
}

TEST_CASE("Text that is shown steers no terminal and stays on its line") {
  CHECK(printable("a ~ \xC3\xA9 \xE2\x82\xAC \xF0\x9F\x99\x82") ==
        "a ~ \xC3\xA9 \xE2\x82\xAC \xF0\x9F\x99\x82");
  CHECK(printable("\x1B[31m\r\n\t\x7F") == "\\x1B[31m\\x0D\\x0A\\x09\\x7F");
  CHECK(printable(std::string_view("\0", 1)) == "\\x00");
  CHECK(printable("\xC2\x9B"
                  "2J") == "\\xC2\\x9B2J");  // the one-character command introducer
  CHECK(printable("\xE2\x80\xAE\xE2\x81\xA6") == "\\xE2\\x80\\xAE\\xE2\\x81\\xA6");  // U+202E, U+2066
  CHECK(printable("\xE2\x80\xA8") == "\\xE2\\x80\\xA8");                             // line separator
  CHECK(printable("\xE2\x80\xA7\xE2\x80\xAF") == "\xE2\x80\xA7\xE2\x80\xAF");        // their neighbours
  CHECK(printable("\x9B\xFF") == "\\x9B\\xFF");
}

TEST_CASE("A message is one line whatever it quotes") {
  const InputError error(Place{"new\nline.ply", 3, 1, "a.\x1B[2J"}, "\"\x07\" is wrong", "write \"\r\"");
  CHECK(std::string_view(error.what()) ==
        "new\\x0Aline.ply:3:1: a.\\x1B[2J: \"\\x07\" is wrong; write \"\\x0D\"");
}
