#include "rimstance/output/text.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>

#include "cases.hpp"
#include "draw.hpp"

using namespace rimstance;

namespace {
const std::string kMark = "\xEF\xBF\xBD";
}

TEST_CASE("text: well-formed UTF-8 passes unchanged") {
  for (const char* text : {"", "plain",
                           "gr\xC3\xB6\xC3\x9F"
                           "er",
                           "\xE2\x82\xAC", "\xF0\x9F\x8C\x91", "\xEE\x80\x80"})
    CHECK(valid_utf8(text) == text);
}

TEST_CASE("text: malformed UTF-8 becomes U+FFFD, one per maximal beginning") {
  // The Unicode Standard 15.0, section 3.9, tables 3-8 to 3-11 (from memory): ill-formed sequences and
  // the number of replacement characters.
  CHECK(valid_utf8("\xC0\xAF\xE0\x80\xBF\xF0\x81\x82"
                   "A") == kMark + kMark + kMark + kMark + kMark + kMark + kMark + kMark + "A");
  CHECK(valid_utf8("\xED\xA0\x80\xED\xBF\xBF\xED\xAF"
                   "A") == kMark + kMark + kMark + kMark + kMark + kMark + kMark + kMark + "A");
  CHECK(valid_utf8("\xF4\x91\x92\x93\xFF"
                   "A\x80\xBF"
                   "B") == kMark + kMark + kMark + kMark + kMark + "A" + kMark + kMark + "B");
  CHECK(valid_utf8("\xE1\x80\xE2\xF0\x91\x92\xF1\xBF"
                   "A") == kMark + kMark + kMark + kMark + "A");
  CHECK(valid_utf8("end \xE2\x82") == "end " + kMark);
}

TEST_CASE("text: repairing twice is repairing once, for any bytes") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(48, number);
    const std::string bytes = draw.bytes(24);
    const std::string once = valid_utf8(bytes);
    CHECK(valid_utf8(once) == once);
    CHECK(one_line(once).find('\n') == std::string::npos);
  }
}

TEST_CASE("text: a name cannot steer the terminal or turn the writing direction") {
  CHECK(one_line("a\x1B[2Jb") == "a" + kMark + "[2Jb");
  CHECK(one_line("a\nb\tc") == "a" + kMark + "b" + kMark + "c");
  CHECK(one_line("a\xE2\x80\xAE"
                 "b") == "a" + kMark + "b");  // U+202E
  CHECK(one_line("\xC2\x9B"
                 "m") == kMark + "m");  // U+009B, the 8-bit control sequence introducer
}

TEST_CASE("text: width counts code points, not bytes") {
  CHECK(width("") == 0);
  CHECK(width("Gr\xC3\xB6\xC3\x9F"
              "e") == 5);
  CHECK(width("\xF0\x9F\x8C\x91") == 1);
}

TEST_CASE("text: fixed rounds to the decimals asked and knows no negative zero") {
  CHECK(fixed(2.0 / 3, 3) == "0.667");
  CHECK(fixed(-0.004, 2) == "0.00");
  CHECK(fixed(-0.0, 0) == "0");
  CHECK(fixed(-0.006, 2) == "-0.01");
  CHECK(fixed(std::nan(""), 2) == "-");
  CHECK_THROWS_AS(fixed(std::numeric_limits<double>::infinity(), 1), std::logic_error);
}

TEST_CASE("text: rounded keeps the significant digits and all digits before the point") {
  CHECK(rounded(1.0 / 3) == "0.3333");
  CHECK(rounded(12345.6) == "12346");
  CHECK(rounded(-98.76543) == "-98.77");
  CHECK(rounded(0.00123456) == "0.001235");
  CHECK(rounded(0) == "0.000");
  CHECK(rounded(2.5e-7, 2) == "2.5e-07");
  CHECK(rounded(1.5e9, 2) == "1.5e+09");
}

TEST_CASE("text: markup in a name stays text") {
  CHECK(xml_escaped("<a b='c'>&\"") == "&lt;a b=&#39;c&#39;&gt;&amp;&quot;");
  CHECK(xml_escaped(std::string("a\0b\x01\xFF", 5)) == "a" + kMark + "b" + kMark + kMark);
  CHECK(xml_escaped("\xEF\xBF\xBE") == kMark);  // U+FFFE is no XML character
}
