#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
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

/// Every cell reaches half way to its neighbours, the outermost as far again.
Interval ring(const std::vector<double>& reaches, std::size_t i) {
  const double before =
      i > 0 ? reaches[i - 1] : reaches[i] - (reaches.size() > 1 ? reaches[1] - reaches[0] : 0.2);
  const double after = i + 1 < reaches.size() ? reaches[i + 1] : reaches[i] + (reaches[i] - before);
  return {std::max(0.0, (before + reaches[i]) / 2), (reaches[i] + after) / 2};
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

/// One of the two charts: where a reach and a slew angle are in it.
class Chart {
 public:
  enum class Kind { polar, rectangular };
  Chart(const Capacity& c, const Standing& standing, const Prepared& prepared, Kind kind)
      : c_(c), standing_(standing), prepared_(prepared), g_(grid_of(c)), polar_(kind == Kind::polar) {
    const double out = ring(g_.reaches, g_.reaches.size() - 1).hi, in = ring(g_.reaches, 0).lo;
    if (!polar_) per_degree_ = 0.62 * (out - in) / degrees(all().width());
  }

  Figure draw() {
    frame();
    areas();
    lines();
    job();
    worst();
    names();
    legend();
    return std::move(f_);
  }

 private:
  Interval all() const { return {g_.sectors.front().lo, g_.sectors.back().hi}; }
  /// Seen from above, boom forward upwards, slew counter-clockwise; or reach to the right and slew upwards.
  Vec2 at(double reach, double slew) const {
    return polar_ ? Vec2(-reach * std::sin(slew), reach * std::cos(slew))
                  : Vec2(reach, degrees(slew) * per_degree_);
  }
  std::vector<Vec2> outline(const Interval& r, const Interval& slew) const {
    const int n = polar_ ? std::max(1, static_cast<int>(std::ceil(slew.width() / radians(2)))) : 1;
    std::vector<Vec2> out;
    for (int k = 0; k <= n; ++k) out.push_back(at(r.lo, slew.lo + slew.width() * k / n));
    for (int k = n; k >= 0; --k) out.push_back(at(r.hi, slew.lo + slew.width() * k / n));
    return out;
  }

  void frame() {
    f_.name = polar_ ? "capacity-polar" : "capacity";
    f_.title = "Capacity: " + one_line(prepared_.scenario->title);
    f_.subtitle = polar_ ? "net payload over reach and slew, seen from above; boom forward is up"
                         : "net payload over reach and slew; slew counter-clockwise, 0 is boom forward";
    f_.x_label = polar_ ? "across the carrier, left to right [m]" : "reach [m]";
    f_.y_label = polar_ ? "along the carrier [m]" : "slew [deg]";
    if (!polar_) f_.y_shows = 1 / per_degree_;
    const Interval in = ring(g_.reaches, 0), out = ring(g_.reaches, g_.reaches.size() - 1);
    Box2 box{at(out.hi, all().lo), at(out.hi, all().lo)};
    const auto hold = [&](const Vec2& p) {
      box.lo = box.lo.cwiseMin(p);
      box.hi = box.hi.cwiseMax(p);
    };
    if (polar_) hold(Vec2::Zero());
    for (const Interval& sector : g_.sectors)
      for (const Vec2& p : outline({in.lo, out.hi}, sector)) hold(p);
    const double room = (polar_ ? 0.08 : 0.03) * out.hi;
    f_.frame = {box.lo - Vec2::Constant(room), box.hi + Vec2::Constant(room)};
  }

  void areas() {
    for (std::size_t r = 0; r < g_.reaches.size(); ++r)
      for (std::size_t k = 0; k < g_.sectors.size(); ++k) {
        const CapacityCell& cell = *g_.at(c_, r, k);
        if (!cell.has_state) continue;
        met_.insert(cell.governing.limit);
        f_.marks.push_back(
            Area{look_of(cell.governing.limit).look, {outline(ring(g_.reaches, r), g_.sectors[k])}});
      }
  }

  /// Capacities at the cells' middles, and their range.
  Samples samples(Interval& range) const {
    Samples s{{0, 0}, {1, 1}, static_cast<int>(g_.sectors.size()), static_cast<int>(g_.reaches.size()), {}};
    for (const CapacityCell& cell : c_.cells) {
      const bool known = cell.has_state && std::isfinite(cell.capacity);
      s.values.push_back(known ? cell.capacity : kUnset);
      if (known) range = {std::min(range.lo, cell.capacity), std::max(range.hi, cell.capacity)};
    }
    return s;
  }
  /// From columns and rows of the samples.
  std::vector<Vec2> placed(const std::vector<Vec2>& points) const {
    const auto between = [](double t, double a, double b) { return a + t * (b - a); };
    std::vector<Vec2> out;
    for (const Vec2& p : points) {
      const auto i = static_cast<std::size_t>(p.x()), j = static_cast<std::size_t>(p.y());
      const std::size_t i2 = std::min(i + 1, g_.sectors.size() - 1),
                        j2 = std::min(j + 1, g_.reaches.size() - 1);
      out.push_back(
          at(between(p.y() - static_cast<double>(j), g_.reaches[j], g_.reaches[j2]),
             between(p.x() - static_cast<double>(i), g_.sectors[i].middle(), g_.sectors[i2].middle())));
    }
    return out;
  }

  /// Lines of equal payload, and the one of the payload asked for.
  void lines() {
    Interval range{kInfinity, 0};
    Samples s = samples(range);
    if (!(range.hi > 0)) return;
    step_ = round_up(range.width() > 0.02 * range.hi ? range.width() / 6 : range.hi / 8);
    const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step_) + 1e-9)));
    for (const Contour& line : contours(s, step_))
      f_.marks.push_back(
          Line{"payload-line", placed(line.points), false, fixed(line.level, decimals) + " kg"});
    const double asked = prepared_.scenario->payload.mass;
    if (!(asked > 0)) return;
    for (double& value : s.values) value /= asked;
    for (const Contour& line : contours(s, 1))
      if (line.level == 1) {
        f_.marks.push_back(Line{"payload-asked", placed(line.points), false, ""});
        asked_drawn_ = true;
      }
  }

  /// Where the payload has to be lifted to, and what is carried there.
  void job() {
    const double reach = std::isfinite(prepared_.scenario->payload.reach) ? prepared_.scenario->payload.reach
                                                                          : g_.reaches.back();
    std::vector<Vec2> way;
    for (int k = 0; k <= 72; ++k) way.push_back(at(reach, all().lo + all().width() * k / 72));
    f_.marks.push_back(Line{"slew-sector", way, false, ""});
    const CapacityCell* least = nullptr;
    double nearest = kInfinity;
    for (const CapacityCell& cell : c_.cells) nearest = std::min(nearest, std::abs(cell.reach - reach));
    for (const CapacityCell& cell : c_.cells)
      if (cell.has_state && std::abs(cell.reach - reach) <= nearest &&
          (!least || cell.capacity < least->capacity))
        least = &cell;
    if (polar_) f_.marks.push_back(Symbol{"centre", Vec2::Zero()});
    if (!least || !std::isfinite(least->capacity)) return;
    const Vec2 there = at(reach, least->governing.at.slew);
    f_.marks.push_back(Symbol{"probe", there});
    f_.marks.push_back(Note{"label-strong", there,
                            "job: " + rounded(prepared_.scenario->payload.mass) + " kg at " +
                                rounded(reach, 3) + " m\ncarries " + rounded(least->capacity) + " kg" +
                                (nearest > 1e-9 ? " at " + rounded(least->reach, 3) + " m" : "")});
  }

  void worst() {
    f_.facts.push_back({"payload asked for", rounded(prepared_.scenario->payload.mass) + " kg", false});
    const CapacityCell* least = nullptr;
    for (const CapacityCell& cell : c_.cells)
      if (cell.has_state && (!least || cell.capacity < least->capacity)) least = &cell;
    if (!least || !std::isfinite(least->capacity)) return;
    const bool broken = least->capacity < prepared_.scenario->payload.mass;
    f_.facts.push_back({"least capacity", rounded(least->capacity) + " kg", broken});
    f_.facts.push_back({"there", "reach " + rounded(least->reach, 3) + " m", false});
    f_.facts.push_back({"governed by", name_of(least->governing.limit), false});
    f_.marks.push_back(Symbol{"state-worst", at(least->reach, least->governing.at.slew)});
    worst_drawn_ = true;
  }

  std::string words(const Governing& g) const {
    std::string out = name_of(g.limit);
    std::replace(out.begin(), out.end(), '_', ' ');
    if (g.load_case >= 0) out += ": " + prepared_.load_cases[static_cast<std::size_t>(g.load_case)].name;
    const auto foot = [&](int i) { return standing_.contacts[static_cast<std::size_t>(i)].name; };
    if (g.edge >= 0) {
      const Edge& e = c_.edges[static_cast<std::size_t>(g.edge)];
      out += "\n" + foot(e.from) + " to " + foot(e.to);
    }
    if (g.foot >= 0) out += "\n" + foot(g.foot);
    return out;
  }

  /// Each limit is named where much of it is: in its cell nearest to the middle of all of them.
  void names() {
    std::map<std::string, std::vector<Vec2>> groups;
    for (std::size_t r = 0; r < g_.reaches.size(); ++r)
      for (std::size_t k = 0; k < g_.sectors.size(); ++k)
        if (const CapacityCell& cell = *g_.at(c_, r, k); cell.has_state)
          groups[words(cell.governing)].push_back(at(g_.reaches[r], g_.sectors[k].middle()));
    for (const auto& [text, places] : groups) {
      if (static_cast<double>(places.size()) < 0.03 * static_cast<double>(c_.cells.size())) continue;
      Vec2 middle = Vec2::Zero();
      for (const Vec2& p : places) middle += p / static_cast<double>(places.size());
      const auto nearest = std::min_element(places.begin(), places.end(), [&](const Vec2& a, const Vec2& b) {
        return (a - middle).squaredNorm() < (b - middle).squaredNorm();
      });
      f_.marks.push_back(Note{"label", *nearest, text});
    }
  }

  void legend() {
    for (const LimitLook& l : kLimits)
      if (met_.contains(l.limit)) f_.legend.push_back({l.look, l.words});
    if (step_ > 0)
      f_.legend.push_back({"payload-line", "lines of equal payload, every " + rounded(step_, 3) + " kg"});
    if (asked_drawn_) f_.legend.push_back({"payload-asked", "where just the payload asked for is carried"});
    f_.legend.push_back({"slew-sector", "reach the payload is lifted to"});
    f_.legend.push_back({"probe", "the job at its worst slew"});
    if (worst_drawn_) f_.legend.push_back({"state-worst", "least capacity anywhere"});
    if (polar_) f_.legend.push_back({"centre", "slew axis"});
    f_.caption =
        "Least net payload of each cell over luff, travel, line and units left. A design aid, no rated "
        "capacity.";
  }

  const Capacity& c_;
  const Standing& standing_;
  const Prepared& prepared_;
  Grid g_;
  bool polar_;
  double per_degree_ = 1;
  Figure f_;
  std::set<Limit> met_;
  double step_ = 0;
  bool asked_drawn_ = false, worst_drawn_ = false;
};

}  // namespace

Figure capacity_figure(const Capacity& c, const Standing& standing, const Prepared& prepared) {
  return Chart(c, standing, prepared, Chart::Kind::rectangular).draw();
}

Figure capacity_polar_figure(const Capacity& c, const Standing& standing, const Prepared& prepared) {
  return Chart(c, standing, prepared, Chart::Kind::polar).draw();
}

}  // namespace rimstance
