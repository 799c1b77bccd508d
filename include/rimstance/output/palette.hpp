#pragma once
#include <span>
#include <string_view>

namespace rimstance {

enum class Shape { none, disc, ring, square, diamond, triangle, cross, star };
enum class Hatch { none, rising, crossed, dots };

/// How marks of one class are drawn. Colours are #rrggbb or empty (not drawn); sizes in pixels.
struct Look {
  std::string_view name = {};
  std::string_view stroke = {};
  double width = 0;
  std::string_view dash = {};  ///< SVG dash lengths; empty: solid
  std::string_view fill = {};
  double opacity = 1;         ///< of the fill
  Hatch hatch = Hatch::none;  ///< over the fill, in the stroke's colour
  Shape shape = Shape::none;  ///< of symbols
  double size = 0;            ///< of symbols: diameter; of text: height of the letters' body
  bool halo = true;           ///< white around strokes and symbols, so that they stand off the relief
};

/// The looks of every figure, the one place with colours. What must be told apart differs in darkness
/// and in shape, dash or width, never in hue alone: figures survive black-and-white print and the common
/// kinds of colour blindness. Measured by the tests (relative luminance of IEC 61966-2-1; dichromats
/// after Vienot, Brettel & Mollon 1999).
std::span<const Look> looks();

/// The look called `name`; there is none: the caller is wrong.
const Look& look(std::string_view name);

}  // namespace rimstance
