#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

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

using Rings = std::vector<std::vector<Vec2>>;

/// All cells of a limit as one area, so that words may lie on it.
void draw_areas(const std::map<Limit, Rings>& areas, Figure& f) {
  for (const auto& [limit, rings] : areas) f.marks.push_back(Area{look_of(limit).look, rings});
}
void explain_areas(const std::map<Limit, Rings>& areas, Figure& f) {
  for (const LimitLook& l : kLimits)
    if (areas.contains(l.limit)) f.legend.push_back({l.look, l.words});
}

double round_up(double least) {
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double m : {1.0, 2.0, 5.0})
    if (m * power >= least * (1 - 1e-9)) return m * power;
  return 10 * power;
}

/// A step between lines of equal payload.
double step_of(const Interval& range) {
  return round_up(range.width() > 0.02 * range.hi ? range.width() / 6 : range.hi / 8);
}

std::string level_words(double level, double step) {
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  return fixed(level, decimals) + " kg";
}

std::string words(const Governing& g, const Capacity& c, const Standing& standing, const Prepared& prepared) {
  std::string out = name_of(g.limit);
  std::replace(out.begin(), out.end(), '_', ' ');
  if (g.load_case >= 0) out += ": " + prepared.load_cases[static_cast<std::size_t>(g.load_case)].name;
  const auto foot = [&](int i) { return standing.contacts[static_cast<std::size_t>(i)].name; };
  if (g.edge >= 0) {
    const Edge& e = c.edges[static_cast<std::size_t>(g.edge)];
    out += "\n" + foot(e.from) + " to " + foot(e.to);
  }
  if (g.foot >= 0) out += "\n" + foot(g.foot);
  return out;
}

/// Each limit is named where much of it is: in its cell nearest to the middle of all of them.
void name_groups(const std::map<std::string, std::vector<Vec2>>& groups, std::size_t cells, Figure& f) {
  for (const auto& [text, places] : groups) {
    if (static_cast<double>(places.size()) < 0.03 * static_cast<double>(cells)) continue;
    Vec2 middle = Vec2::Zero();
    for (const Vec2& p : places) middle += p / static_cast<double>(places.size());
    const auto nearest = std::min_element(places.begin(), places.end(), [&](const Vec2& a, const Vec2& b) {
      return (a - middle).squaredNorm() < (b - middle).squaredNorm();
    });
    f.marks.push_back(Note{"label", *nearest, text});
  }
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
        areas_[cell.governing.limit].push_back(outline(ring(g_.reaches, r), g_.sectors[k]));
      }
    draw_areas(areas_, f_);
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
    step_ = step_of(range);
    for (const Contour& line : contours(s, step_))
      f_.marks.push_back(Line{"payload-line", placed(line.points), false, level_words(line.level, step_)});
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
    double listed = g_.reaches.back();  // the first that is no nearer than the job
    for (const double r : g_.reaches)
      if (r >= reach - 1e-9) listed = std::min(listed, r);
    for (const CapacityCell& cell : c_.cells)
      if (cell.has_state && cell.reach == listed && (!least || cell.capacity < least->capacity))
        least = &cell;
    if (polar_) f_.marks.push_back(Symbol{"centre", Vec2::Zero()});
    if (!least || !std::isfinite(least->capacity)) return;
    const Vec2 there = at(reach, least->governing.at.slew);
    f_.marks.push_back(Symbol{"probe", there});
    f_.marks.push_back(
        Note{"label-strong", there,
             "job: " + rounded(prepared_.scenario->payload.mass) + " kg at " + rounded(reach, 3) +
                 " m\ncarries " + rounded(least->capacity) + " kg" +
                 (std::abs(listed - reach) > 1e-9 ? " at " + rounded(least->reach, 3) + " m" : "")});
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

  void names() {
    std::map<std::string, std::vector<Vec2>> groups;
    for (std::size_t r = 0; r < g_.reaches.size(); ++r)
      for (std::size_t k = 0; k < g_.sectors.size(); ++k)
        if (const CapacityCell& cell = *g_.at(c_, r, k); cell.has_state)
          groups[words(cell.governing, c_, standing_, prepared_)].push_back(
              at(g_.reaches[r], g_.sectors[k].middle()));
    name_groups(groups, c_.cells.size(), f_);
  }

  void legend() {
    explain_areas(areas_, f_);
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
  std::map<Limit, Rings> areas_;
  double step_ = 0;
  bool asked_drawn_ = false, worst_drawn_ = false;
};

/// Extension to the right and luff upwards, each cell at its worst slew.
class SettingChart {
 public:
  SettingChart(const Capacity& c, const Standing& standing, const Prepared& prepared)
      : c_(c), standing_(standing), prepared_(prepared) {
    for (const CapacityCell& cell : c.cells) {
      if (luffs_.empty() || luffs_.back() != cell.luff) luffs_.push_back(cell.luff);
      if (luffs_.size() == 1 && (extensions_.empty() || extensions_.back() != cell.extension))
        extensions_.push_back(cell.extension);
      const bool same =
          !worst_.empty() && worst_.back()->luff == cell.luff && worst_.back()->extension == cell.extension;
      if (!same)
        worst_.push_back(&cell);
      else if (cell.has_state && (!worst_.back()->has_state || cell.capacity < worst_.back()->capacity))
        worst_.back() = &cell;
    }
    const Interval wide = span(extensions_, 0.2), high = span(luffs_, radians(2));
    per_radian_ = 0.62 * wide.width() / high.width();
    f_.frame = {at(high.lo, wide.lo), at(high.hi, wide.hi)};
    const double room = 0.04 * wide.width();
    f_.frame = {f_.frame.lo - Vec2::Constant(room), f_.frame.hi + Vec2::Constant(room)};
  }

  Figure draw() {
    f_.name = "capacity-setting";
    f_.title = "Capacity: " + one_line(prepared_.scenario->title);
    f_.subtitle = "net payload over extension and luff, each at its worst slew";
    f_.x_label = "extension [m]";
    f_.y_label = "luff [deg]";
    f_.y_shows = degrees(1) / per_radian_;
    areas();
    lines();
    job();
    least();
    explain_areas(areas_, f_);
    if (step_ > 0)
      f_.legend.push_back({"payload-line", "lines of equal payload, every " + rounded(step_, 3) + " kg"});
    if (job_drawn_) f_.legend.push_back({"slew-sector", "settings with the reach the payload is lifted to"});
    if (worst_drawn_) f_.legend.push_back({"state-worst", "least capacity anywhere"});
    f_.caption =
        "Least net payload of each cell over slew, travel, line and units left. A design aid, no rated "
        "capacity.";
    return std::move(f_);
  }

 private:
  Vec2 at(double luff, double extension) const { return {extension, luff * per_radian_}; }
  /// Half way to its neighbours, the outermost as far again; `alone` where there is none.
  static Interval tile(const std::vector<double>& all, std::size_t i, double alone) {
    if (all.size() < 2) return {all[i] - alone, all[i] + alone};
    const double before = i > 0 ? all[i - 1] : 2 * all[i] - all[i + 1];
    const double after = i + 1 < all.size() ? all[i + 1] : 2 * all[i] - all[i - 1];
    return {(before + all[i]) / 2, (all[i] + after) / 2};
  }
  static Interval span(const std::vector<double>& all, double alone) {
    return {tile(all, 0, alone).lo, tile(all, all.size() - 1, alone).hi};
  }

  void areas() {
    std::map<std::string, std::vector<Vec2>> groups;
    for (std::size_t k = 0; k < worst_.size(); ++k) {
      const CapacityCell& cell = *worst_[k];
      if (!cell.has_state) continue;
      const Interval y = tile(luffs_, k / extensions_.size(), radians(2)),
                     x = tile(extensions_, k % extensions_.size(), 0.2);
      areas_[cell.governing.limit].push_back(
          {at(y.lo, x.lo), at(y.lo, x.hi), at(y.hi, x.hi), at(y.hi, x.lo)});
      groups[words(cell.governing, c_, standing_, prepared_)].push_back(at(cell.luff, cell.extension));
    }
    draw_areas(areas_, f_);
    name_groups(groups, worst_.size(), f_);
  }

  void lines() {
    Interval range{kInfinity, 0};
    Samples s{{0, 0}, {1, 1}, static_cast<int>(extensions_.size()), static_cast<int>(luffs_.size()), {}};
    for (const CapacityCell* cell : worst_) {
      const bool known = cell->has_state && std::isfinite(cell->capacity);
      s.values.push_back(known ? cell->capacity : kUnset);
      if (known) range = {std::min(range.lo, cell->capacity), std::max(range.hi, cell->capacity)};
    }
    if (!(range.hi > 0) || extensions_.size() < 2 || luffs_.size() < 2) return;
    step_ = step_of(range);
    const double wide = extensions_[1] - extensions_[0], high = luffs_[1] - luffs_[0];
    for (const Contour& line : contours(s, step_)) {
      std::vector<Vec2> placed;
      for (const Vec2& p : line.points)
        placed.push_back(at(luffs_[0] + p.y() * high, extensions_[0] + p.x() * wide));
      f_.marks.push_back(Line{"payload-line", placed, false, level_words(line.level, step_)});
    }
  }

  /// The settings that have the reach of the job.
  void job() {
    const Boom& boom = prepared_.loads.machine.boom;
    const BoomShape& shape = *prepared_.loads.boom;
    const Scenario& scenario = *prepared_.scenario;
    const double reach =
        std::isfinite(scenario.payload.reach) ? scenario.payload.reach : prepared_.operation.reach.hi;
    f_.facts.push_back({"payload asked for", rounded(scenario.payload.mass) + " kg", false});
    const double ahead = ahead_of_foot(boom, reach);
    const Interval wide = span(extensions_, 0.2), high = span(luffs_, radians(2));
    std::vector<Vec2> way;
    for (int k = 0; k <= 120; ++k) {
      const double e = std::clamp(wide.lo + wide.width() * k / 120, 0.0, shape.greatest_extension());
      const double share = ahead / shape.length(e);
      if (!(share >= -1 && share <= 1)) continue;
      if (const double luff = std::acos(share); high.contains(luff)) way.push_back(at(luff, e));
    }
    job_drawn_ = way.size() > 1;
    if (!job_drawn_) return;
    f_.marks.push_back(Line{"slew-sector", way, false, ""});
    f_.marks.push_back(Note{"label-strong", way[way.size() / 2],
                            "job: " + rounded(scenario.payload.mass) + " kg at " + rounded(reach, 3) + " m"});
  }

  void least() {
    const CapacityCell* least = nullptr;
    for (const CapacityCell* cell : worst_)
      if (cell->has_state && (!least || cell->capacity < least->capacity)) least = cell;
    if (!least || !std::isfinite(least->capacity)) return;
    const bool broken = least->capacity < prepared_.scenario->payload.mass;
    f_.facts.push_back({"least capacity", rounded(least->capacity) + " kg", broken});
    f_.facts.push_back(
        {"there",
         "luff " + fixed(degrees(least->luff), 1) + " deg, extension " + rounded(least->extension, 3) + " m",
         false});
    f_.facts.push_back({"governed by", name_of(least->governing.limit), false});
    f_.marks.push_back(Symbol{"state-worst", at(least->luff, least->extension)});
    worst_drawn_ = true;
  }

  const Capacity& c_;
  const Standing& standing_;
  const Prepared& prepared_;
  std::vector<double> luffs_, extensions_;
  std::vector<const CapacityCell*> worst_;  ///< of each setting, luff by luff
  double per_radian_ = 1, step_ = 0;
  bool job_drawn_ = false, worst_drawn_ = false;
  Figure f_;
  std::map<Limit, Rings> areas_;
};

}  // namespace

Figure capacity_figure(const Capacity& c, const Standing& standing, const Prepared& prepared) {
  return Chart(c, standing, prepared, Chart::Kind::rectangular).draw();
}

Figure capacity_polar_figure(const Capacity& c, const Standing& standing, const Prepared& prepared) {
  return Chart(c, standing, prepared, Chart::Kind::polar).draw();
}

Figure capacity_setting_figure(const Capacity& c, const Standing& standing, const Prepared& prepared) {
  return SettingChart(c, standing, prepared).draw();
}

}  // namespace rimstance
