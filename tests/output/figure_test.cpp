#include "rimstance/output/figure.hpp"

#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "../../src/output/placement.hpp"
#include "cases.hpp"
#include "draw.hpp"
#include "rimstance/output/text.hpp"

using namespace rimstance;

namespace {

/// A figure with every kind of mark.
Figure everything() {
  Figure f;
  f.name = "all";
  f.title = "Title";
  f.subtitle = "what and where";
  f.frame = {Vec2(0, 0), Vec2(20, 10)};
  f.x_label = "east [m]";
  f.y_label = "north [m]";
  f.north_arrow = f.scale_bar = true;
  f.marks = {Raster{f.frame, {2, 1, {0, 200}}},
             Area{"hole", {{{1, 1}, {3, 1}, {3, 3}}}},
             Area{"polygon", {{{5, 1}, {9, 1}, {9, 5}, {5, 5}}, {{6, 2}, {7, 2}, {7, 3}}}},
             Line{"contour-index", {{0, 8}, {20, 9}}, false, "12.5"},
             Line{"boom", {{10, 5}, {15, 6}}, true, ""},
             Disc{"pad", {5, 1}, 0.3},
             Symbol{"centre", {7, 4}},
             Symbol{"state-worst", {8, 4}},
             Symbol{"probe", {8, 3}},
             Note{"label", {5, 1}, "front-left\n0.41 m"},
             Measurement{"dimension", {5, 1}, {9, 1}, 20, "4.00 m"}};
  f.legend = {{"hole", "no data"}, {"pad", "pads"}, {"centre", "centre of mass"}, {"boom", "boom"}};
  f.facts = {{"tilt", "0.00 deg"}, {"moment", "-5 N m", true}};
  f.caption = "First.\nSecond.";
  return f;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++n;
  return n;
}

/// Reads just enough XML to say whether tags nest, attributes are quoted once each and text is escaped.
bool well_formed(const std::string& xml) {
  std::vector<std::string> open;
  std::size_t i = 0;
  while (i < xml.size()) {
    if (xml[i] != '<') {
      if (xml[i] == '&') {
        const std::string entity = xml.substr(i, xml.find(';', i) - i);
        if (entity != "&amp" && entity != "&lt" && entity != "&gt" && entity != "&quot" && entity != "&#39")
          return false;
      }
      if (xml[i] == '>') return false;
      ++i;
      continue;
    }
    const bool closing = xml[i + 1] == '/';
    std::size_t name_end = xml.find_first_of(" />\n", i + 1 + closing);
    const std::string name = xml.substr(i + 1 + closing, name_end - i - 1 - closing);
    bool alone = false;
    for (i = name_end; xml[i] != '>'; ++i) {
      if (i + 1 >= xml.size() || xml[i] == '<') return false;
      if (xml[i] == '"') i = xml.find('"', i + 1);
      if (i == std::string::npos) return false;
      alone = xml[i] == '/';
    }
    ++i;
    if (closing) {
      if (open.empty() || open.back() != name) return false;
      open.pop_back();
    } else if (!alone) {
      open.push_back(name);
    }
  }
  return open.empty();
}

/// Numbers after each `key="`, of the elements that carry the class.
std::vector<double> attribute(const std::string& svg, const std::string& look, const std::string& key) {
  std::vector<double> out;
  const std::string mark = "class=\"" + look + "\"";
  for (std::size_t at = svg.find(mark); at != std::string::npos; at = svg.find(mark, at + 1)) {
    const std::size_t from = svg.find(' ' + key + "=\"", at) + key.size() + 3;
    double x = 0;
    std::from_chars(svg.data() + from, svg.data() + svg.size(), x);
    out.push_back(x);
  }
  return out;
}

}  // namespace

TEST_CASE("figure: every kind of mark gives well-formed SVG, the same bytes each time") {
  const std::string svg = to_svg(everything());
  CHECK(well_formed(svg));
  CHECK(svg == to_svg(everything()));
  for (const char* part :
       {"class=\"polygon\"", "class=\"boom\"", "class=\"pad\"", "class=\"centre\"", "data:image/png;base64,",
        "front-left", ">0.41 m<", ">4.00 m<", ">12.5<", ">N<", "no data", "does not hold", "Second."})
    CHECK(count(svg, part) >= 1);
}

TEST_CASE("figure: metres become pixels at one scale on both axes, north up") {
  Figure f;
  f.frame = {Vec2(100, -50), Vec2(130, -20)};
  f.marks = {Disc{"pad", {105, -45}, 1}, Disc{"pad", {115, -45}, 1}, Disc{"pad", {105, -25}, 1}};
  const std::string svg = to_svg(f);
  const auto cx = attribute(svg, "pad", "cx"), cy = attribute(svg, "pad", "cy"),
             r = attribute(svg, "pad", "r");
  REQUIRE(cx.size() == 3);
  const double tolerance = 0.011;  // two roundings to hundredths of a pixel, and the radius' ten times over
  CHECK(cx[1] - cx[0] == Approx(10 * r[0]).margin(10 * tolerance));
  CHECK(cy[0] - cy[2] == Approx(20 * r[0]).margin(20 * tolerance));
  CHECK(cx[2] == cx[0]);
  CHECK(cy[1] == cy[0]);
}

TEST_CASE("figure: large map coordinates keep their ticks and their shape") {
  Figure here, far;
  const Vec2 shift(500000, 4000000);
  here.frame = {Vec2(0, 0), Vec2(20, 10)};
  far.frame = {here.frame.lo + shift, here.frame.hi + shift};
  for (const Vec2& p : {Vec2(5, 1), Vec2(17.5, 8.25)}) {
    here.marks.push_back(Disc{"pad", p, 0.3});
    far.marks.push_back(Disc{"pad", p + shift, 0.3});
  }
  const std::string a = to_svg(here), b = to_svg(far);
  const auto across = [](const std::string& svg) {
    const auto cx = attribute(svg, "pad", "cx");
    return cx[1] - cx[0];
  };
  CHECK(across(a) == Approx(across(b)).margin(0.011));  // two roundings to hundredths of a pixel
  CHECK(attribute(a, "pad", "cy") == attribute(b, "pad", "cy"));
  CHECK(attribute(a, "pad", "cx")[0] + 20 < attribute(b, "pad", "cx")[0]);  // room for the wide numbers
  CHECK(count(b, ">500010<") == 1);
  CHECK(count(b, ">4000010<") == 1);
}

TEST_CASE("figure: names from files stay text") {
  Figure f = everything();
  const std::string hostile = "</text><script>alert('\"&')</script>\xFF\x01";
  f.title = f.subtitle = f.caption = f.x_label = hostile;
  f.marks.push_back(Note{"label", {12, 5}, hostile});
  f.legend.push_back({"rim", hostile});
  f.facts.push_back({hostile, hostile, true});
  const std::string svg = to_svg(f);
  CHECK(well_formed(svg));
  CHECK(count(svg, "<script") == 0);
  CHECK(svg == valid_utf8(svg));
}

TEST_CASE("figure: figures of one page do not share identifiers") {
  Figure a = everything(), b = everything();
  b.name = "other";
  const std::string first = to_svg(a), second = to_svg(b);
  for (std::size_t at = first.find(" id=\""); at != std::string::npos; at = first.find(" id=\"", at + 1))
    CHECK(count(second, first.substr(at, first.find('"', at + 5) - at + 1)) == 0);
  CHECK(count(first, "url(#all-") >= 2);
  CHECK(count(first, "id=\"all-hole\"") == 1);
}

TEST_CASE(
    "figure: a frame without area, coordinates that are no numbers, an unknown look: the caller is wrong") {
  Figure f = everything();
  f.frame.hi.x() = f.frame.lo.x();
  CHECK_THROWS_AS(to_svg(f), std::logic_error);
  f = everything();
  f.frame.hi.y() = kUnset;
  CHECK_THROWS_AS(to_svg(f), std::logic_error);
  f = everything();
  f.marks.push_back(Line{"boom", {{0, 0}, {kUnset, 1}}, false, ""});
  CHECK_THROWS_AS(to_svg(f), std::logic_error);
  f = everything();
  f.marks.push_back(Symbol{"no-such-look", {1, 1}});
  CHECK_THROWS_AS(to_svg(f), std::logic_error);
}

TEST_CASE("figure: a note outside the frame is not drawn, an empty line draws nothing") {
  Figure f = everything();
  f.marks = {Note{"label", {25, 5}, "elsewhere"}, Line{"boom", {}, true, "none"},
             Line{"boom", {{1, 1}}, true, ""}, Measurement{"dimension", {1, 1}, {1, 1}, 0, "nothing"}};
  const std::string svg = to_svg(f);
  CHECK(count(svg, "elsewhere") == 0);
  CHECK(count(svg, "class=\"boom\"") == 0);
  CHECK(count(svg, "nothing") == 0);
}

TEST_CASE("placement: words keep inside the frame and off one another where there is room") {
  for (int number = 0; number < cases(); ++number) {
    Draws draw(43, number);
    const svg::Rect room{0, 0, 800, 600};
    std::vector<svg::Obstacle> taken;
    for (int k = 0; k < 6; ++k) {
      const Vec2 at(draw.whole(0, 800), draw.whole(0, 600));
      const double w = draw.whole(20, 119), h = draw.whole(12, 39);
      const svg::Placed p = svg::place(at, 4, w, h, room, taken);
      CHECK((p.box.x0 >= -1e-9 && p.box.y0 >= -1e-9 && p.box.x1 <= 800 + 1e-9 && p.box.y1 <= 600 + 1e-9));
      CHECK(std::abs(p.box.width() - w) < 1e-9);
      CHECK(std::abs(p.box.height() - h) < 1e-9);
      for (const svg::Obstacle& o : taken) CHECK(svg::overlap(p.box, o.box) == 0);
      taken.push_back({p.box, 400});
    }
  }
}

TEST_CASE("placement: with nothing in the way words stand right beside their point, without a leader") {
  const svg::Placed p = svg::place({400, 300}, 4, 80, 15, {0, 0, 800, 600}, {});
  CHECK_FALSE(p.leader);
  const Vec2 nearest(std::clamp(400.0, p.box.x0, p.box.x1), std::clamp(300.0, p.box.y0, p.box.y1));
  CHECK((nearest - Vec2(400, 300)).norm() <= 7 + 1e-9);
}
