#include "rimstance/output/json.hpp"

#include <bit>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <limits>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "cases.hpp"
#include "draw.hpp"

using namespace rimstance;
using nlohmann::json;

TEST_CASE("json: every finite double reads back bit for bit; zero has no sign") {
  const auto same = [](double x) {
    const double back = json::parse(to_json(Members{{"x", x}}))["x"].get<double>();
    return std::bit_cast<std::uint64_t>(back) == std::bit_cast<std::uint64_t>(x);
  };
  using Limits = std::numeric_limits<double>;
  for (const double x : {0.0, 0.1, 1.0 / 3, 2.0, -17.0, 1e22, 1e23, Limits::max(), Limits::min(),
                         Limits::denorm_min(), 4503599627370497.5, 9007199254740993.0})
    CHECK(same(x));
  CHECK(to_json(Members{{"x", -0.0}}) == to_json(Members{{"x", 0.0}}));
  for (int number = 0; number < cases(); ++number) {
    Draws draw(44, number);
    const std::uint64_t bits = draw.bits();
    const double x = std::bit_cast<double>(bits);
    if (!std::isfinite(x) || x == 0) continue;
    CHECK(same(x));
  }
}

TEST_CASE("json: whole numbers keep all their digits") {
  const auto back = json::parse(to_json(Values{std::int64_t{9007199254740993}, std::int64_t{-5}}));
  CHECK(back[0].get<std::int64_t>() == 9007199254740993);
  CHECK(back[1].get<std::int64_t>() == -5);
}

TEST_CASE("json: any text reads back, with malformed bytes replaced") {
  const std::string hostile = "a\"b\\c\n\r\t\b\x1F\x7F/</script>\xC3\xA9\xF0\x9F\x8C\x91";
  CHECK(json::parse(to_json(Members{{hostile, hostile}}))[hostile] == hostile);
  CHECK(json::parse(to_json(Value("x\xFFy"))) == "x\xEF\xBF\xBDy");
  for (int number = 0; number < cases(); ++number) {
    Draws draw(45, number);
    const std::string bytes = draw.bytes(24);
    const json back = json::parse(to_json(Members{{"name", bytes}}));  // throws on malformed output
    CHECK(back["name"].is_string());
  }
}

TEST_CASE("json: members stay in the order in which they were put") {
  const std::string text = to_json(Members{{"zeta", 1}, {"alpha", 2}, {"mid", Members{}}});
  CHECK(text.find("zeta") < text.find("alpha"));
  CHECK(text.find("alpha") < text.find("mid"));
  CHECK(text.back() == '\n');
}

TEST_CASE("json: what does not exist is null and says why beside it") {
  const auto back =
      json::parse(to_json(Members{{"energy_J", Value::null("released load")}, {"tilt_deg", std::nan("")}}));
  CHECK(back["energy_J"].is_null());
  CHECK(back["energy_J_reason"] == "released load");
  CHECK(back["tilt_deg"].is_null());
  CHECK_FALSE(back.contains("tilt_deg_reason"));
}

TEST_CASE("json: nesting, lists and truth values read back as they are") {
  Values points;
  for (int i = 0; i < 20; ++i) points.push_back(Values{i * 0.5, true, nullptr, Members{{"k", Values{}}}});
  const auto back = json::parse(to_json(points));
  REQUIRE(back.size() == 20);
  CHECK(back[7] == json::parse(R"([3.5, true, null, {"k": []}])"));
}

TEST_CASE("value: infinity cannot be put in") {
  CHECK_THROWS_AS(Value(std::numeric_limits<double>::infinity()), std::logic_error);
  CHECK_THROWS_AS(Value(-std::numeric_limits<double>::infinity()), std::logic_error);
}

TEST_CASE("value: a dotted path finds members and list items, and nothing where there is nothing") {
  const Value v =
      Members{{"feet", Values{Members{{"stroke_m", 0.25}}, Members{{"stroke_m", 0.5}}}}, {"ok", true}};
  REQUIRE(find_path(v, "feet.1.stroke_m"));
  CHECK(std::get<double>(find_path(v, "feet.1.stroke_m")->is) == 0.5);
  CHECK(find_path(v, "feet.2.stroke_m") == nullptr);
  CHECK(find_path(v, "feet.1x.stroke_m") == nullptr);
  CHECK(find_path(v, "feet.-1") == nullptr);
  CHECK(find_path(v, "ok.deeper") == nullptr);
  CHECK(find_path(v, "") == &v);
  CHECK(v.find("absent") == nullptr);
  CHECK_THROWS_AS(v.at("absent"), std::logic_error);
}
