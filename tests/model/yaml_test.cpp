#include <catch2/catch.hpp>

#include "model/scenario_text.hpp"

using namespace rimstance;
using namespace rimstance::texts;
using Catch::Contains;

TEST_CASE("YAML: a second document is refused") {
  CHECK_THAT(complaints(dunlin() + "---\nrimstance: 1\n"), Contains("a second document starts here"));
  CHECK(complaints("---\n" + dunlin() + "...\n") == "");
}

TEST_CASE("YAML: tags and merge keys are refused") {
  CHECK_THAT(complaints(dunlin_with("title: Dunlin beside a hole", "title: !!str Dunlin")),
             Contains("tag \"tag:yaml.org,2002:str\" is not allowed"));
  CHECK_THAT(complaints(dunlin_with("title: Dunlin beside a hole", "<<: { title: x }")),
             Contains("merge keys (<<) are not allowed"));
  CHECK_THAT(complaints(dunlin_with("title: Dunlin beside a hole", "[a, b]: x")),
             Contains("a key must be plain text"));
}

TEST_CASE("YAML: byte order mark and foreign line ends change nothing") {
  std::string crlf, cr;
  for (const char c : dunlin()) {
    crlf += c == '\n' ? "\r\n" : std::string(1, c);
    cr += c == '\n' ? '\r' : c;
  }
  CHECK(complaints("\xEF\xBB\xBF" + dunlin()) == "");
  CHECK(complaints(crlf) == "");
  CHECK(complaints(cr) == "");
  CHECK_THAT(complaints(edited(crlf, "spot: {", "spoot: {")),
             Contains(complaints(dunlin_with("spot: {", "spoot: {")).substr(0, 20)));
}

TEST_CASE("YAML: what is not UTF-8 text is refused, with its place") {
  CHECK_THAT(complaints("\xFF\xFEr\0i\0"), Contains("UTF-16"));
  CHECK_THAT(complaints("rimstance: 1\ntitle: a\xFFz\n"),
             Contains("dunlin.yaml:2:9: the bytes here are not UTF-8 text"));
  CHECK_THAT(complaints("title: \xC0\xAF\n"), Contains("dunlin.yaml:1:8: the bytes here"));  // overlong '/'
  CHECK_THAT(complaints("title: \xED\xA0\x80\n"), Contains("dunlin.yaml:1:8: the bytes here"));  // surrogate
  CHECK_THAT(complaints(std::string("ti\0tle: x\n", 10)), Contains("control character 0x00"));
  CHECK(complaints(dunlin_with("title: Dunlin beside a hole", "title: Gru\u00df \u2014 \U0001F600")) == "");
}

TEST_CASE("YAML: an empty file, a lone value and a list are no scenario") {
  CHECK_THAT(complaints(""), Contains("the file is empty"));
  CHECK_THAT(complaints("# nothing\n"), Contains("dunlin.yaml: the file"));
  CHECK_THAT(complaints("a:1\n"), Contains("\"a:1\" does not fit; `key: value` pairs are expected"));
  CHECK_THAT(complaints("- 1\n"), Contains("`key: value` pairs are expected"));
}

TEST_CASE("YAML: a list with its unit outside quotes is explained") {
  const std::string said = complaints(dunlin_with("slew: \"[-30, 30] deg\"", "slew: [-30, 30] deg"));
  CHECK_THAT(said, Contains("not valid YAML") && Contains("stands in quotes: \"[1, 2] m\""));
}

// YAML 1.2.2, sections 7.3.1 and 7.3.2: what closes a quote, and what stands for one in the text.
TEST_CASE("YAML: a quote that is open at the end of the file is refused where it opens") {
  const std::string title = "title: Dunlin beside a hole";
  for (const char* open : {"\"Dunlin\n", "\"Dunlin", "\"Dunlin\\\"\n", "\"Dunlin 'a'\n# '\n"})
    CHECK_THAT(
        complaints(std::string("rimstance: 1\ntitle: ") + open),
        Contains("dunlin.yaml:2:8: the quote that opens here is not closed; write \" behind the text"));
  CHECK_THAT(complaints("title: 'it''\n"),
             Contains("dunlin.yaml:1:8: the quote that opens here is not closed; write ' behind the text"));
  for (const char* closed : {"title: \"a \\\"b\\\\\"", "title: 'it''s'", "title: ''", "title: a \"b"})
    CHECK(complaints(dunlin_with(title, closed)) == "");
}

TEST_CASE("YAML: a tab in front is explained") {
  CHECK_THAT(complaints(dunlin_with("  counterweight: 1.1 m\n", "\tcounterweight: 1.1 m\n")),
             Contains("indent with blanks, not with tabs"));
}

TEST_CASE("YAML: files over one megabyte and floods of values are refused") {
  CHECK_THAT(complaints(std::string((1 << 20) + 1, '#')), Contains("a scenario file has at most 1048576"));
  std::string flood = "x: [1";
  for (int i = 0; i < 150000; ++i) flood += ",1";
  CHECK_THAT(complaints(flood + "]\n"), Contains("more than 100000 values"));
}

TEST_CASE("YAML: a key without a value is an error that shows how to write it") {
  CHECK_THAT(complaints(dunlin_with("yaw: 0 deg }", "yaw: }")),
             Contains("spot.yaw: nothing is written here; write it like \"35 deg\""));
  CHECK_THAT(complaints(dunlin_with("yaw: 0 deg }", "yaw }")), Contains("spot.yaw: nothing is written here"));
  CHECK_THAT(complaints(dunlin_with("yaw: 0 deg }", "yaw: null }")),
             Contains("spot.yaw: nothing is written here"));
}

TEST_CASE("YAML: at most a hundred issues are listed, the rest is counted") {
  std::string text = dunlin();
  for (int i = 0; i < 250; ++i) text += "unknown_" + std::to_string(i) + ": 1\n";
  try {
    (void)load(text);
    FAIL("loads");
  } catch (const InputError& error) {
    REQUIRE(error.issues.size() == 100);
    CHECK(error.issues.back().what == "151 more issues are not shown");
  }
}

TEST_CASE("YAML: issues come in the order of their places") {
  std::string text = dunlin_with("gravity: moon", "gravity: moo");
  text = edited(text, "units: 6", "units: six");
  text = edited(text, "spot: {", "spoot: {");
  try {
    (void)load(text);
    FAIL("loads");
  } catch (const InputError& error) {
    int line = 0;
    std::size_t placed = 0;
    for (const Issue& issue : error.issues) {
      CHECK(issue.place.line >= line);
      CHECK(issue.place.file == "dunlin.yaml");
      line = issue.place.line;
      placed += issue.place.line > 0 && issue.place.column > 0;
    }
    CHECK(placed == error.issues.size());
    CHECK(error.issues.size() == 4);  // three defects, and `spot` that is missing now
  }
}
