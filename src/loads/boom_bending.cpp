#include "rimstance/loads/boom_bending.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

/// Mass outboard of a cut, and its first moment about the cut.
struct Outboard {
  double mass = 0, moment = 0;
};

Outboard outboard(const Stretch& s, double at) {
  if (s.lo >= at) return {s.mass, s.mass * (s.centre() - at)};
  if (s.hi <= at) return {};
  const double part = s.mass * (s.hi - at) / (s.hi - s.lo);
  return {part, part * (s.hi - at) / 2};
}

}  // namespace

std::vector<Stretch> stretches(const Boom& boom, const BoomShape& shape, double extension) {
  std::vector<Stretch> out;
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomPart part = shape.part(k, extension);
    const double centre = part.mass > 0 ? part.moment / part.mass : 0;
    double half = centre;  // scissor and chain: from the pin to the tip
    if (boom.kind == Boom::Kind::telescopic) {
      const BoomSection& s = boom.sections[static_cast<std::size_t>(k)];
      half = s.length * std::min(s.centre_at, 1 - s.centre_at);
    }
    out.push_back({centre - half, centre + half, part.mass});
  }
  return out;
}

std::vector<double> section_ends(const Boom& boom, const BoomShape& shape, double extension) {
  if (boom.kind != Boom::Kind::telescopic) return {shape.length(extension)};
  std::vector<double> out;
  for (int k = 0; k < shape.parts(); ++k) {
    const BoomSection& s = boom.sections[static_cast<std::size_t>(k)];
    const BoomPart part = shape.part(k, extension);
    out.push_back(part.moment / part.mass + (1 - s.centre_at) * s.length);
  }
  return out;
}

BoomCut cut(const BoomLoad& load, double at) {
  BoomCut out{at, 0, 0, 0};
  double mass = 0, moment = 0;
  for (const Stretch& s : load.own) {
    const Outboard o = outboard(s, at);
    mass += o.mass;
    moment += o.moment;
  }
  if (at <= load.length) {
    mass += load.at_tip;
    moment += load.at_tip * (load.length - at);
  }
  out.moment = load.across * moment;
  out.shear = load.across * mass;
  out.axial = load.lengthwise * mass;
  return out;
}

double tip_deflection(const Boom& boom, const BoomShape& shape, double extension, const BoomLoad& load) {
  if (boom.kind != Boom::Kind::telescopic) return kUnset;
  const std::vector<double> ends = section_ends(boom, shape, extension);
  std::vector<double> knots = ends;
  knots.push_back(0);
  for (const Stretch& s : load.own)
    for (const double at : {s.lo, s.hi}) knots.push_back(std::clamp(at, 0.0, load.length));
  std::sort(knots.begin(), knots.end());
  // Between knots the moment is at most a square, times the lever to the tip a cube: Simpson is exact.
  double sum = 0;
  for (std::size_t i = 0; i + 1 < knots.size(); ++i) {
    const double a = knots[i], b = knots[i + 1], m = (a + b) / 2;
    if (!(b > a)) continue;
    const auto beyond = std::find_if(ends.begin(), ends.end() - 1, [&](double end) { return end > m; });
    const auto section = static_cast<std::size_t>(beyond - ends.begin());
    const double stiffness = boom.sections[section].bending_stiffness;
    const auto bends = [&](double at) { return cut(load, at).moment * (load.length - at); };
    sum += (b - a) / 6 * (bends(a) + 4 * bends(m) + bends(b)) / stiffness;
  }
  return sum;
}

}  // namespace rimstance
