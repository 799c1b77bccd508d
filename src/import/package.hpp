#pragma once
#include <string>
#include <string_view>

namespace rimstance {

/// Metres per unit of a 3MF file: the `unit` of its one model, millimetres if it has none (3MF core
/// specification, 3.4). Throws InputError naming `file`: no ZIP archive, no model or several, a unit that is
/// not known.
double unit_of_3mf(std::string_view bytes, const std::string& file);

}  // namespace rimstance
