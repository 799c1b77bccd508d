#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "rimstance/output/capacity.hpp"
#include "rimstance/output/contours.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

struct LimitLook {
  Limit limit;
  const char *look, *words;
};
constexpr LimitLook kLimits[] = {
    {Limit::tipping, "limit-tipping", "tipping: the margin of a load case over an edge"},
    {Limit::tipping_without_load, "limit-without-load", "tipping already without payload: nothing may hang"},
    {Limit::leg, "limit-leg", "greatest force on a foot"},
    {Limit::structural, "limit-boom", "what the boom may carry at that reach"},
    {Limit::boom_root, "limit-root", "moment at the boom's root"},
    {Limit::hoist, "limit-hoist", "pull of the line"},
    {Limit::none, "limit-none", "nothing limits the payload"}};

const LimitLook& look_of(Limit limit) {
  return *std::find_if(std::begin(kLimits), std::end(kLimits),
                       [&](const LimitLook& l) { return l.limit == limit; });
}

/// Seen from above, boom forward upwards, slew counter-clockwise.
Vec2 polar(double reach, double slew) { return reach * Vec2(-std::sin(slew), std::cos(slew)); }

/// Every cell reaches half way to its neighbours.
Interval ring(const std::vector<double>& reaches, std::size_t i) {
  const double before =
      i > 0 ? reaches[i - 1] : reaches[i] - (reaches.size() > 1 ? reaches[1] - reaches[0] : 0.2);
  const double after = i + 1 < reaches.size() ? reaches[i + 1] : reaches[i] + (reaches[i] - before);
  return {std::max(0.0, (before + reaches[i]) / 2), (reaches[i] + after) / 2};
}

std::vector<Vec2> annular(const Interval& r, const Interval& slew) {
  const int n = std::max(1, static_cast<int>(std::ceil(slew.width() / radians(5))));
  std::vector<Vec2> out;
  for (int k = 0; k <= n; ++k) out.push_back(polar(r.lo, slew.lo + slew.width() * k / n));
  for (int k = n; k >= 0; --k) out.push_back(polar(r.hi, slew.lo + slew.width() * k / n));
  return out;
}

struct Grid {
  std::vector<double> reaches;
  std::vector<Interval> sectors;
  const CapacityCell* at(const Capacity& c, std::size_t reach, std::size_t sector) const {
    return &c.cells[reach * sectors.size() + sector];
  }
};

Grid grid_of(const Capacity& c) {
  Grid g;
  for (const CapacityCell& cell : c.cells) {
    if (g.reaches.empty() || g.reaches.back() != cell.reach) g.reaches.push_back(cell.reach);
    if (g.reaches.size() == 1) g.sectors.push_back(cell.slew);
  }
  return g;
}

double round_up(double least) {
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double m : {1.0, 2.0, 5.0})
    if (m * power >= least * (1 - 1e-9)) return m * power;
  return 10 * power;
}

/// Lines of equal payload over the cells' middles.
double add_lines(const Capacity& c, const Grid& g, Figure& f) {
  Samples s{{0, 0}, {1, 1}, static_cast<int>(g.sectors.size()), static_cast<int>(g.reaches.size()), {}};
  double greatest = 0;
  for (std::size_t r = 0; r < g.reaches.size(); ++r)
    for (std::size_t k = 0; k < g.sectors.size(); ++k) {
      const CapacityCell& cell = *g.at(c, r, k);
      const bool known = cell.has_state && std::isfinite(cell.capacity);
      s.values.push_back(known ? cell.capacity : kUnset);
      if (known) greatest = std::max(greatest, cell.capacity);
    }
  if (!(greatest > 0)) return 0;
  const double step = round_up(greatest / 8);
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  const auto place = [&](const Vec2& p) {
    const auto between = [](double t, double a, double b) { return a + t * (b - a); };
    const auto i = static_cast<std::size_t>(p.x()), j = static_cast<std::size_t>(p.y());
    const std::size_t i2 = std::min(i + 1, g.sectors.size() - 1), j2 = std::min(j + 1, g.reaches.size() - 1);
    return polar(between(p.y() - static_cast<double>(j), g.reaches[j], g.reaches[j2]),
                 between(p.x() - static_cast<double>(i), g.sectors[i].middle(), g.sectors[i2].middle()));
  };
  for (const Contour& line : contours(s, step)) {
    std::vector<Vec2> points;
    for (const Vec2& p : line.points) points.push_back(place(p));
    f.marks.push_back(Line{"payload-line", points, false, ""});
    f.marks.push_back(Note{"label", points[points.size() / 2], fixed(line.level, decimals) + " kg"});
  }
  return step;
}

/// All cells and the slew axis, with some room around.
Box2 frame_of(const Grid& g) {
  const double out = ring(g.reaches, g.reaches.size() - 1).hi, room = 0.08 * out;
  Box2 box{Vec2::Zero(), Vec2::Zero()};
  for (const Interval& sector : g.sectors)
    for (const Vec2& p : annular({0, out}, sector)) {
      box.lo = box.lo.cwiseMin(p);
      box.hi = box.hi.cwiseMax(p);
    }
  return {box.lo - Vec2::Constant(room), box.hi + Vec2::Constant(room)};
}

}  // namespace

Figure capacity_figure(const Capacity& c, const Prepared& prepared) {
  const Grid g = grid_of(c);
  Figure f;
  f.name = "capacity";
  f.title = "Capacity: " + one_line(prepared.scenario->title);
  f.subtitle = "net payload over reach and slew, seen from above; boom forward is up";
  f.frame = frame_of(g);
  f.x_label = "across the carrier, left to right [m]";
  f.y_label = "along the carrier [m]";
  std::set<Limit> met;
  for (std::size_t r = 0; r < g.reaches.size(); ++r)
    for (std::size_t k = 0; k < g.sectors.size(); ++k) {
      const CapacityCell& cell = *g.at(c, r, k);
      if (!cell.has_state) continue;
      met.insert(cell.governing.limit);
      f.marks.push_back(
          Area{look_of(cell.governing.limit).look, {annular(ring(g.reaches, r), g.sectors[k])}});
    }
  const double step = add_lines(c, g, f);
  const double job =
      std::isfinite(prepared.scenario->payload.reach) ? prepared.scenario->payload.reach : g.reaches.back();
  const Interval all{g.sectors.front().lo, g.sectors.back().hi};
  std::vector<Vec2> arc;
  for (int k = 0; k <= 72; ++k) arc.push_back(polar(job, all.lo + all.width() * k / 72));
  f.marks.push_back(Line{"slew-sector", arc, false, ""});
  f.marks.push_back(Symbol{"centre", Vec2::Zero()});
  const CapacityCell* least = nullptr;
  for (const CapacityCell& cell : c.cells)
    if (cell.has_state && (!least || cell.capacity < least->capacity)) least = &cell;
  for (const LimitLook& l : kLimits)
    if (met.contains(l.limit)) f.legend.push_back({l.look, l.words});
  if (step > 0)
    f.legend.push_back({"payload-line", "lines of equal payload, every " + rounded(step, 3) + " kg"});
  f.legend.push_back({"slew-sector", "reach the payload is lifted to"});
  f.legend.push_back({"centre", "slew axis"});
  f.facts.push_back({"payload asked for", rounded(prepared.scenario->payload.mass) + " kg", false});
  if (least && std::isfinite(least->capacity)) {
    const bool broken = least->capacity < prepared.scenario->payload.mass;
    f.facts.push_back({"least capacity", rounded(least->capacity) + " kg", broken});
    f.facts.push_back({"there", "reach " + rounded(least->reach, 3) + " m", false});
    f.facts.push_back({"governed by", name_of(least->governing.limit), false});
    f.marks.push_back(Symbol{"state-worst", polar(least->reach, least->governing.at.slew)});
    f.legend.push_back({"state-worst", "least capacity anywhere"});
  }
  f.caption =
      "Least net payload of each cell over luff, travel, line and units left. A design aid, no rated "
      "capacity.";
  return f;
}

}  // namespace rimstance
