#include "rimstance/model/quantity.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <regex>

#include "rimstance/base/frames.hpp"

using namespace rimstance;
using D = Dimension;

namespace {

double value(std::string_view text, D d) {
  const Reading<double> r = read_quantity(text, d);
  INFO(text << ": " << r.problem);
  REQUIRE(r.value);
  return *r.value;
}

std::string problem(std::string_view text, D d) {
  const Reading<double> r = read_quantity(text, d);
  CAPTURE(text);
  REQUIRE_FALSE(r.value);
  return r.problem + "; " + r.way_out;
}

}  // namespace

TEST_CASE("quantities: units of the SI Brochure have the factors it defines") {
  // BIPM, The International System of Units, 9th ed.: prefixes (table 7), derived units (table 4),
  // units accepted for use with it (table 8: degree, tonne, minute, hour).
  struct Row {
    const char* text;
    D dimension;
    double si;
  };
  const Row rows[] = {{"1 km", D::length, 1000},
                      {"1 cm", D::length, 1e-2},
                      {"1 mm", D::length, 1e-3},
                      {"1 um", D::length, 1e-6},
                      {"180 deg", D::angle, kPi},
                      {"1 mrad", D::angle, 1e-3},
                      {"1 g", D::mass, 1e-3},
                      {"1 t", D::mass, 1000},
                      {"1 kN", D::force, 1000},
                      {"1 mN", D::force, 1e-3},
                      {"1 MN", D::force, 1e6},
                      {"1 N m", D::moment, 1},
                      {"1 kN m", D::moment, 1000},
                      {"1 N mm", D::moment, 1e-3},
                      {"1 kJ", D::energy, 1000},
                      {"1 kN/m", D::stiffness, 1000},
                      {"1 N/mm", D::stiffness, 1 / 1e-3},
                      {"1 kN/mm", D::stiffness, 1000 / 1e-3},
                      {"1 kPa", D::pressure, 1000},
                      {"1 N/mm2", D::pressure, 1 / (1e-3 * 1e-3)},
                      {"1 N/cm2", D::pressure, 1 / (1e-2 * 1e-2)},
                      {"1 kN/m3", D::subgrade, 1000},
                      {"1 kPa/m", D::subgrade, 1000},
                      {"1 m/s2", D::acceleration, 1},
                      {"1 cm/s2", D::acceleration, 1e-2},
                      {"1 g/cm3", D::density, 1e-3 / 1e-6},
                      {"1 t/m3", D::density, 1000},
                      {"1 g/m", D::line_density, 1e-3},
                      {"1 kN m2", D::bending_stiffness, 1000},
                      {"1 N mm2", D::bending_stiffness, 1e-6},
                      {"1 m/min", D::speed, 1.0 / 60},
                      {"1 km/h", D::speed, 1000.0 / 3600},
                      {"1 %", D::share, 1e-2}};
  for (const Row& row : rows) {
    CAPTURE(row.text);
    CHECK(value(row.text, row.dimension) == Approx(row.si).epsilon(4e-16).margin(0));
  }
}

TEST_CASE("quantities: inch, foot and pound are those of the international agreement of 1959") {
  // 1 yd = 0.9144 m and 1 lb = 0.453 592 37 kg (NIST SP 811, app. B).
  CHECK(value("1 ft", D::length) == Approx(0.9144 / 3).epsilon(1e-15));
  CHECK(value("1 in", D::length) == Approx(0.9144 / 36).epsilon(1e-15));
  CHECK(value("1 lb", D::mass) == Approx(0.45359237).epsilon(1e-15));
}

TEST_CASE("quantities: a length is the same double in every decimal unit") {
  CHECK(value("80 cm", D::length) == 0.8);
  CHECK(value("700 mm", D::length) == 0.7);
  CHECK(value("0.1 kPa", D::pressure) == 100.0);
  CHECK(value("15 %", D::share) == 0.15);
}

TEST_CASE("quantities: products, powers and blanks may be written in the usual ways") {
  for (const char* text : {"2 N m", "2 N*m", "2 Nm", "2N m", "2 N\u00b7m", "+2 N  m", " 2.0e0 N m "})
    CHECK(value(text, D::moment) == 2);
  for (const char* text : {"1.62 m/s2", "1.62 m/s^2", "1.62 m/s\u00b2", "1.62 m / s2"})
    CHECK(value(text, D::acceleration) == 1.62);
  CHECK(value("50deg", D::angle) == value("50 \u00b0", D::angle));
}

TEST_CASE("quantities: a zero keeps its unit and passes, though the units library cannot parse it") {
  CHECK(value("0 N m", D::moment) == 0);
  CHECK(value("-0.0 m", D::length) == 0);
  CHECK(std::signbit(value("-0.0 m", D::length)));
}

TEST_CASE("quantities: what the units library would misread is refused") {
  CHECK_THAT(problem("1 kN/m^2.5", D::pressure), Catch::Contains("\"kN/m2.5\" is not known"));
  CHECK_THAT(problem("1 m m", D::length), Catch::Contains("not known"));
  CHECK_THAT(problem("1 kg @ 3", D::mass), Catch::Contains("not known"));
  CHECK_THAT(problem("1 nm", D::length), Catch::Contains("units of length: m, cm, mm"));
}

TEST_CASE("quantities: a bare number where a unit is needed names the dimension and an example") {
  CHECK(problem("35", D::angle) ==
        "\"35\" has no unit; an angle is expected; write it like \"35 deg\" or, in "
        "radians, like \"0.61 rad\"");
  CHECK_THAT(problem("0", D::mass), Catch::Contains("a mass is expected"));
}

TEST_CASE("quantities: a unit of another dimension is named as what it is") {
  CHECK(problem("5 kg", D::force) == "\"5 kg\" is a mass; a force is expected; write it like \"250 N\"");
  CHECK_THAT(problem("5 N", D::stiffness), Catch::Contains("is a force; a stiffness is expected"));
  CHECK_THAT(problem("5 m", D::number), Catch::Contains("is a length; a number is expected"));
}

TEST_CASE("quantities: numbers follow one decimal grammar") {
  CHECK(value(".5 m", D::length) == 0.5);
  CHECK(value("5. m", D::length) == 5);
  CHECK(value("1e3 m", D::length) == 1000);
  CHECK_THAT(problem("1,5 kg", D::mass),
             Catch::Contains("comma") && Catch::Contains("decimal sign is a point"));
  CHECK_THAT(problem("010 kg", D::mass), Catch::Contains("leading zero is ambiguous"));
  CHECK_THAT(problem("0x10 kg", D::mass), Catch::Contains("\"x10 kg\" is not known"));
  CHECK_THAT(problem("twelve kg", D::mass), Catch::Contains("is not a number"));
  CHECK_THAT(problem("", D::mass), Catch::Contains("is not a number"));
  CHECK_THAT(problem("- 3 m", D::length), Catch::Contains("is not a number"));
  for (const char* text : {"1e999 m", "-1e999 m"})
    CHECK_THAT(problem(text, D::length), Catch::Contains("range"));
  for (const char* text : {".nan", "nan m", ".inf m", "-.inf", "+.INF m", "Infinity kg", "NaN"})
    CHECK_THAT(problem(text, D::length), Catch::Contains("not a finite number"));
}

TEST_CASE("quantities: integers have no leading zeros, points, exponents or octal marks") {
  CHECK(*read_integer("6").value == 6);
  CHECK(*read_integer("-12").value == -12);
  CHECK(*read_integer("+3").value == 3);
  CHECK(*read_integer("0").value == 0);
  for (const char* text : {"010", "0123", "-01", "00"})
    CHECK_THAT(read_integer(text).problem, Catch::Contains("leading zero is ambiguous"));
  for (const char* text : {"0o3", "0x1F", "6.0", "1e3", "", "+", "six", "1_000"}) {
    CAPTURE(text);
    CHECK_FALSE(read_integer(text).value);
  }
  CHECK_THAT(read_integer("99999999999").problem, Catch::Contains("too large"));
}

TEST_CASE("quantities: a list takes one unit behind it or one for each number, never both") {
  const std::vector<double> expected{1.2, 0.8, 0.45};
  CHECK(*read_quantities("[1.2, 0.8, 0.45] m", D::length).value == expected);
  CHECK(*read_quantities("[1.2 m, 80 cm, 450 mm]", D::length).value == expected);
  CHECK(*read_quantities("[-1, 0, 0]", D::number).value == std::vector<double>{-1, 0, 0});
  CHECK_THAT(read_quantities("[1.2 m, 0.8] m", D::length).problem, Catch::Contains("unit of its own"));
  CHECK_THAT(read_quantities("[1.2, 0.8]", D::length).problem, Catch::Contains("\"1.2\" has no unit"));
  CHECK_THAT(read_quantities("[1.2, , 0.8] m", D::length).problem, Catch::Contains("not a list"));
  CHECK_THAT(read_quantities("[1.2, 0.8 m", D::length).problem, Catch::Contains("not a list"));
  CHECK_THAT(read_quantities("[1, 2] kg", D::length).problem, Catch::Contains("is a mass"));
  const auto rows = read_rows("[[0, 0], [1, 0], [1, 1]] m", D::length);
  CHECK(*rows.value == std::vector<std::vector<double>>{{0, 0}, {1, 0}, {1, 1}});
  CHECK(*read_rows("[[0, 0] m, [100, 0] cm]", D::length).value ==
        std::vector<std::vector<double>>{{0, 0}, {1, 0}});
}

TEST_CASE("quantities: the unit of a file is a unit alone") {
  CHECK(*read_unit("mm", D::length).value == 1e-3);
  CHECK(*read_unit("m", D::length).value == 1);
  CHECK_THAT(read_unit("1 m", D::length).problem, Catch::Contains("is not a unit"));
  CHECK_THAT(read_unit("kg", D::length).problem, Catch::Contains("is a mass"));
}

TEST_CASE("quantities: the schema's pattern accepts what is read and refuses what is not") {
  for (int i = 0; i < kDimensions; ++i) {
    const auto d = static_cast<D>(i);
    const std::regex one(quantity_pattern(d)), list(quantities_pattern(d));
    for (const std::string& unit : units(d)) {
      const std::string text = "-1.25e-1 " + unit;
      CAPTURE(text, quantity_pattern(d));
      CHECK(read_quantity(text, d).value);
      CHECK(std::regex_match(text, one));
      CHECK(std::regex_match("[1, 2] " + unit, list));
      CHECK(std::regex_match("[1 " + unit + ", 2 " + unit + "]", list));
    }
    for (const char* text : {"", "x", "010 m", "1 parsec", "1 m m", ".nan", "1,5 kg"}) {
      CAPTURE(text, quantity_pattern(d));
      CHECK_FALSE(read_quantity(text, d).value);
      CHECK_FALSE(std::regex_match(text, one));
    }
  }
}

TEST_CASE("quantities: an example of a dimension is a value of that dimension") {
  for (int i = 0; i < kDimensions; ++i) {
    const auto d = static_cast<D>(i);
    CAPTURE(example(d));
    CHECK(read_quantity(example(d), d).value);
  }
}

TEST_CASE("quantities: numbers beyond any machine, ground or map are slips of exponent or unit") {
  CHECK(value("1000 t", D::mass) == 1e6);
  CHECK(value("-1e8 m", D::length) == -1e8);
  for (int i = 0; i < kDimensions; ++i) {
    const auto d = static_cast<Dimension>(i);
    for (const char* number : {"1e300 ", "-1e300 "}) {
      const std::string text = number + units(d).back();
      CHECK_THAT(problem(text, d), Catch::Contains("beyond any machine or ground (at most "));
    }
  }
  CHECK_THAT(problem("1001 t", D::mass),
             Catch::Contains("\"1001 t\" is beyond") && Catch::Contains("check the exponent and the unit"));
}
