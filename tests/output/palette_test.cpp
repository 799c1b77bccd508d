#include "rimstance/output/palette.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include "rimstance/base/frames.hpp"

using namespace rimstance;

namespace {

/// Linear light of "#rrggbb" (IEC 61966-2-1).
Vec3 linear(std::string_view colour) {
  Vec3 out;
  for (int k = 0; k < 3; ++k) {
    int byte = 0;
    const char* from = colour.data() + 1 + 2 * k;
    REQUIRE(std::from_chars(from, from + 2, byte, 16).ptr == from + 2);
    const double c = byte / 255.0;
    out[k] = c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  }
  return out;
}
double luminance(const Vec3& rgb) { return 0.2126 * rgb.x() + 0.7152 * rgb.y() + 0.0722 * rgb.z(); }
/// Contrast ratio of W3C, Web Content Accessibility Guidelines 2.1.
double contrast(double a, double b) { return (std::max(a, b) + 0.05) / (std::min(a, b) + 0.05); }

enum class Eye { normal, protanope, deuteranope };
/// What a dichromat sees, in linear light: Vienot, Brettel & Mollon 1999, Color Res. Appl. 24, 243
/// (coefficients from memory; white staying white is the check on them).
Vec3 seen(const Vec3& rgb, Eye eye) {
  Mat3 to_lms;
  to_lms << 17.8824, 43.5161, 4.11935, 3.45565, 27.1554, 3.86714, 0.0299566, 0.184309, 1.46709;
  Vec3 lms = to_lms * rgb;
  if (eye == Eye::protanope) lms.x() = 2.02344 * lms.y() - 2.52581 * lms.z();
  if (eye == Eye::deuteranope) lms.y() = 0.494207 * lms.x() + 1.24827 * lms.z();
  return to_lms.inverse() * lms;
}
constexpr std::array kEyes{Eye::normal, Eye::protanope, Eye::deuteranope};

/// A fill as it lies on ground of that grey level.
double darkness(const Look& l, double grey, Eye eye) {
  return luminance(seen(l.opacity * linear(l.fill) + (1 - l.opacity) * Vec3::Constant(grey), eye));
}

}  // namespace

TEST_CASE("palette: dichromat simulation leaves white white") {
  for (const Eye eye : kEyes) CHECK((seen(Vec3::Ones(), eye) - Vec3::Ones()).norm() < 2e-3);
}

TEST_CASE("palette: names are unique and an unknown one is the caller's mistake") {
  std::set<std::string_view> names;
  for (const Look& l : looks()) {
    CHECK(names.insert(l.name).second);
    CHECK(&look(l.name) == &l);
  }
  CHECK_THROWS_AS(look("no-such-look"), std::logic_error);
}

TEST_CASE("palette: words reach the contrast of 4.5 on white for every eye") {
  for (const char* name : {"label", "label-strong", "dimension", "contour", "contour-index"})
    for (const Eye eye : kEyes) CHECK(contrast(luminance(seen(linear(look(name).stroke), eye)), 1) >= 4.5);
}

TEST_CASE("palette: lines that may meet in a figure differ in darkness, dash or width") {
  const std::vector<const char*> lines{"contour",    "contour-index", "rim",    "arm",
                                       "leg",        "boom",          "line",   "guide",
                                       "edge-worst", "slew-sector",   "polygon"};
  for (const char* first : lines)
    for (const char* second : lines) {
      const Look &a = look(first), &b = look(second);
      if (&a == &b) continue;
      const double widths = std::max(a.width, b.width) / std::min(a.width, b.width);
      for (const Eye eye : kEyes) {
        INFO(first << " and " << second);
        const double ratio =
            contrast(luminance(seen(linear(a.stroke), eye)), luminance(seen(linear(b.stroke), eye)));
        CHECK((ratio >= 1.4 || a.dash != b.dash || widths >= 1.4));
      }
    }
}

TEST_CASE("palette: areas that may meet in a figure differ in darkness or hatch, on light and dark ground") {
  const std::vector<const char*> areas{"polygon",       "path", "machine", "wheel", "pad",
                                       "counterweight", "hole", "void",    "load"};
  for (const char* first : areas)
    for (const char* second : areas) {
      const Look &a = look(first), &b = look(second);
      if (&a == &b || a.hatch != b.hatch) continue;
      for (const Eye eye : kEyes) {
        INFO(first << " and " << second);
        CHECK(contrast(darkness(a, 0.62, eye), darkness(b, 0.62, eye)) >= 1.15);
      }
    }
}

TEST_CASE("palette: the lines and areas of a travel window are told apart without colour") {
  const std::vector<const char*> lines{"guide-end", "transit-window", "schedule", "schedule-best", "travel-window"};
  const std::vector<const char*> areas{"travel-window", "travel-beyond", "travel-none"};
  for (const Eye eye : kEyes) {
    for (const char* first : lines)
      for (const char* second : lines) {
        const Look &a = look(first), &b = look(second);
        if (&a == &b || a.dash != b.dash) continue;
        INFO(first << " and " << second);
        const double widths = std::max(a.width, b.width) / std::min(a.width, b.width);
        CHECK((widths >= 1.4 || contrast(luminance(seen(linear(a.stroke), eye)),
                                         luminance(seen(linear(b.stroke), eye))) >= 1.4));
      }
    for (const char* first : areas)
      for (const char* second : areas) {
        const Look &a = look(first), &b = look(second);
        if (&a == &b) continue;
        INFO(first << " and " << second);
        CHECK(a.hatch != b.hatch);
        CHECK(contrast(darkness(a, 1, eye), darkness(b, 1, eye)) >= 1.15);
      }
    // The schedule is read on top of what holds.
    CHECK(contrast(luminance(seen(linear(look("schedule").stroke), eye)), darkness(look("travel-window"), 1, eye)) >= 4.5);
  }
}

TEST_CASE("palette: signs differ in shape") {
  std::set<Shape> shapes;
  for (const Look& l : looks())
    if (l.shape != Shape::none) CHECK(shapes.insert(l.shape).second);
  CHECK(shapes.size() >= 3);
}
