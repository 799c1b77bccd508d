#pragma once
// Inside the drawing core only: elements, numbers and the size of words, in pixels with y downwards.
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/frames.hpp"
#include "rimstance/output/palette.hpp"

namespace rimstance::svg {

struct Rect {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  double width() const { return x1 - x0; }
  double height() const { return y1 - y0; }
  Rect grown(double by) const { return {x0 - by, y0 - by, x1 + by, y1 + by}; }
};
inline double overlap(const Rect& a, const Rect& b) {
  const double w = std::min(a.x1, b.x1) - std::max(a.x0, b.x0),
               h = std::min(a.y1, b.y1) - std::max(a.y0, b.y0);
  return w > 0 && h > 0 ? w * h : 0;
}

/// Hundredths of a pixel, no trailing zeros.
std::string number(double);
std::string point(const Vec2&);

/// Width of one line of words [px] in the widest of the fonts named in the file: an estimate by letter
/// classes, a few per cent on the safe side.
double text_width(std::string_view, double size);
std::vector<std::string> lines_of(std::string_view text);
/// Broken between words so that no line is wider than `room` (a single longer word stays whole).
std::vector<std::string> wrapped_lines(std::string_view text, double size, double room);

enum class Anchor { start, middle, end };
struct Words {
  double size = 12;
  Anchor anchor = Anchor::start;
  bool bold = false, halo = false;
  double turn = 0;  ///< clockwise [deg]
  std::string_view colour = "#1d2126";
};
/// One line with its baseline at `at`.
std::string words(const Vec2& at, std::string_view text, const Words&);

/// Attributes of a look: stroke, width, dash, fill. Identifiers of hatches start with `prefix`.
std::string stroke(const Look&);
std::string fill(const Look&, std::string_view prefix);
std::string hatch_definition(const Look&, std::string_view prefix);

std::string path(const std::vector<Vec2>& points, bool closed);
/// The sign of a look, centred at `at`.
std::string symbol(const Look&, const Vec2& at, std::string_view prefix);
std::string arrow_head(const Vec2& tip, const Vec2& direction, double length, std::string_view colour);

}  // namespace rimstance::svg
