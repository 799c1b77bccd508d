#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace rimstance {

// A number and its unit, as people write them: "2.4 m", "35 deg", "25 N/mm", "[1.2, 0.8] m".
// The number follows one decimal grammar and never the locale; the unit must be one of a list per
// dimension, whose factors come from the udunits2 database. Nothing is guessed:
//   no unit where one is needed, a unit of another dimension, a decimal comma, a leading zero ("010"),
//   infinities and not-a-number are refused with a reason and a way out.

enum class Dimension {
  number,  ///< plain number; "%" is understood
  share,   ///< plain number or "%", shown in %
  length,
  angle,
  mass,
  force,
  moment,
  energy,
  stiffness,
  pressure,
  subgrade,  ///< pressure per length
  acceleration,
  density,
  line_density,
  bending_stiffness,
  speed
};
inline constexpr int kDimensions = 16;

std::string_view name(Dimension);       ///< "length"
std::string_view example(Dimension);    ///< "2.4 m"
std::string_view base_unit(Dimension);  ///< of values in memory: "m", "rad", ...; empty for plain numbers
const std::vector<std::string>& units(Dimension);  ///< accepted unit texts; the first is used for showing

/// A value read from text, or what is wrong with the text.
template <class T>
struct [[nodiscard]] Reading {
  std::optional<T> value;
  std::string problem, way_out;
};

/// "780 kg" -> SI. Throws MachineError only if the units database is not installed.
Reading<double> read_quantity(std::string_view text, Dimension);

/// "[1.2, 0.8, 0.45] m", "[1.2 m, 80 cm]" or, for plain numbers, "[1, 0, 0]".
Reading<std::vector<double>> read_quantities(std::string_view text, Dimension);

/// "[[0, 0], [1, 0], [1, 1]] m": rows of equal meaning.
Reading<std::vector<std::vector<double>>> read_rows(std::string_view text, Dimension);

/// Decimal integers without leading zeros.
Reading<int> read_integer(std::string_view text);

/// Metres (or radians, ...) per unit text: "mm" -> 0.001.
Reading<double> read_unit(std::string_view text, Dimension);

/// For messages: six digits in the unit shown, "35 deg".
std::string shown(double si, Dimension);

/// A regular expression (ECMA 262) for the texts that read_quantity() accepts, anchored.
std::string quantity_pattern(Dimension);
/// The same for lists in brackets with one unit behind or one unit each.
std::string quantities_pattern(Dimension);

}  // namespace rimstance
