#pragma once
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "rimstance/base/frames.hpp"
#include "rimstance/output/palette.hpp"
#include "rimstance/output/png.hpp"

namespace rimstance {

// A picture as data: a frame in metres, marks with a look by name, words. It knows nothing of what the
// marks mean and holds no colour; to_svg() draws it, the palette says how. Both axes have the same scale.
// Coordinates are those of the frame [m]: map coordinates in a plan, distance and height in a section.

/// Grey pixels over a rectangle (row 0 at the top); level 0 lets what is below shine through.
struct Raster {
  Box2 box;
  GreyImage image;
};
/// Closed rings, filled by the even-odd rule: a ring inside another is an opening.
struct Area {
  std::string look;
  std::vector<std::vector<Vec2>> rings;
};
struct Line {
  std::string look;
  std::vector<Vec2> points;
  bool arrow = false;  ///< at its last point
  std::string along;   ///< words set into the line where it runs straight; left out if there is no room
};
/// A circle to scale.
struct Disc {
  std::string look;
  Vec2 centre;
  double radius;  ///< [m]
};
/// A sign of fixed size.
struct Symbol {
  std::string look;
  Vec2 at;
};
/// Words near a point, put where they cover least, with a leader if that is not right beside it.
/// Earlier notes choose first. May hold line breaks.
struct Note {
  std::string look;
  Vec2 at;
  std::string text;
};
/// A measured distance: arrows at both ends of a line parallel to from -> to, `aside` pixels to its left.
struct Measurement {
  std::string look;
  Vec2 from, to;
  double aside = 0;
  std::string text;
};
using Mark = std::variant<Raster, Area, Line, Disc, Symbol, Note, Measurement>;

struct Figure {
  std::string name =
      "figure";  ///< for identifiers: letters, digits, hyphens; differs between figures of a page
  std::string title, subtitle;
  Box2 frame;  ///< what is shown [m], both sides > 0; marks are clipped to it
  std::string x_label, y_label;
  double y_shows = 1;  ///< what the y axis is labelled with per metre of the frame: another quantity than x
  bool north_arrow = false, scale_bar = false;
  std::vector<Mark> marks;  ///< drawn in this order; notes and dimensions last
  struct Key {
    std::string look, text;
  };
  std::vector<Key> legend;
  struct Fact {
    std::string name, value;
    bool broken = false;  ///< a limit that does not hold: set off
  };
  std::vector<Fact> facts;  ///< the key numbers, beside or below the picture
  std::string caption;
};

/// SVG 1.1, self-contained, no scripts; every mark carries its look as class and as attributes. The
/// same figure gives the same bytes on every machine. Text from files is escaped.
/// A mark whose coordinates are not finite, or a frame without area: the caller is wrong.
std::string to_svg(const Figure&);

}  // namespace rimstance
