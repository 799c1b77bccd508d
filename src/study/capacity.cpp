#include "rimstance/study/capacity.hpp"

#include <algorithm>
#include <cmath>

#include "limits.hpp"

namespace rimstance {
namespace {

/// As a share of the payload, or of the machine where it is heavier: what the search may leave open.
constexpr double kGap = 1e-6;
constexpr double kCurvedGap = 1e-5;  ///< the same where a margin is searched that no linear form tells
constexpr double kRounding = 1e-13;
constexpr int kMostCuts = 2000;    ///< of the curves of one cell
constexpr int kMostSections = 40;  ///< of a piece in the search for the best luff

/// One reach with its curves, or one setting of the boom.
struct Station {
  double reach = kUnset, luff = kUnset, extension = kUnset;
  std::vector<CurvePiece> curve;
  std::vector<std::vector<std::size_t>>
      suspects;  ///< of each piece: rules that something inside it may break
};

/// What one tip may carry.
struct Tip {
  TipPlace place;
  Bounded carries;
};

bool same(const CurveEnd& a, const CurveEnd& b) { return a.length == b.length && a.height == b.height; }
bool same_limit(const Governing& a, const Governing& b) {
  return a.limit == b.limit && a.load_case == b.load_case && a.edge == b.edge && a.foot == b.foot;
}
bool same_place(const Governing& a, const Governing& b) {
  return same_limit(a, b) && a.at.travel == b.at.travel && a.at.line == b.at.line &&
         a.at.units_left == b.at.units_left;
}

CurveEnd at_height(double ahead, double height) { return {std::hypot(ahead, height), height}; }

std::vector<Sector> tiles(const Interval& slew, double step) {
  const int cells = std::max(1, static_cast<int>(std::ceil(slew.width() / step - 1e-9)));
  std::vector<Sector> out;
  for (int k = 0; k < cells; ++k)
    out.emplace_back(Interval{slew.lo + slew.width() * k / cells,
                              k + 1 == cells ? slew.hi : slew.lo + slew.width() * (k + 1) / cells});
  return out;
}

class Study {
 public:
  Study(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
        std::vector<Edge> edges, const CapacityAsked& asked, const Control& control)
      : prepared_(prepared),
        asked_(asked),
        control_(control),
        sectors_(tiles(prepared.operation.slew, asked.slew_step)),
        limits_(prepared, levelling.X_WC, contacts, edges, sectors_) {
    out_.edges = std::move(edges);
    out_.by_setting = asked.reaches.empty();
  }

  Capacity run() {
    std::vector<Station> all = stations_asked();
    for (Station& station : all) {
      for (const CurvePiece& piece : station.curve) station.suspects.push_back(limits_.suspects(piece));
      for (std::size_t s = 0; s < sectors_.size(); ++s) {
        if (control_.stop.stop_requested()) throw Interrupted();
        out_.cells.push_back(cell_of(station, s));
      }
    }
    out_.evaluations = limits_.evaluations();
    return std::move(out_);
  }

 private:
  std::vector<Station> stations_asked() const {
    const Domain& operation = prepared_.operation;
    std::vector<Station> out;
    for (const double reach : asked_.reaches)
      out.push_back({reach, kUnset, kUnset, curve_at_reach(prepared_.loads, operation, reach), {}});
    if (!asked_.reaches.empty()) return out;
    for (const double luff : asked_.luffs)
      for (const double extension : asked_.extensions) out.push_back(setting(luff, extension));
    return out;
  }

  Station setting(double luff, double extension) const {
    const MachineLoads& loads = prepared_.loads;
    const double length = loads.boom->length(extension), ahead = length * std::cos(luff);
    Station out{reach(loads.machine.boom, *loads.boom, luff, extension), luff, extension, {}, {}};
    CraneState state = prepared_.reference;
    state.luff = luff;
    state.extension = extension;
    const CurveEnd end{length, length * std::sin(luff)};
    if (holds_state(loads, prepared_.operation, state)) out.curve.push_back({ahead, {end, end}});
    return out;
  }

  CapacityCell cell_of(const Station& station, std::size_t s) {
    CapacityCell out;
    out.reach = station.reach;
    out.luff = station.luff;
    out.extension = station.extension;
    out.slew = sectors_[s].slew;
    out.has_state = !station.curve.empty();
    if (!out.has_state) return out;
    std::vector<Tip> tips = ends(station, s);
    Bounded least = tips.front().carries;
    for (const Tip& tip : tips)
      if (by_payload(tip.carries, least)) least = tip.carries;
    least.met.clear();
    double gap = search_inside(station, s, least);
    if (limits_.curved() && !out_.by_setting && least.payload > kNothing)
      gap = std::max(gap, limits_.curved_at(station.reach, s, kCurvedGap * scale(least.payload), least));
    out.gap = least.payload < kMost ? gap : 0;
    out.capacity = least.payload < kMost ? std::max(0.0, least.payload - gap) : kInfinity;
    out.governing = least.governing;
    for (const Tip& tip : tips) note_met(tip.carries, out);
    note_met(least, out);
    find_best(station, s, tips, out);
    return out;
  }

  static bool by_payload(const Bounded& a, const Bounded& b) { return a.payload < b.payload; }

  /// The ends of the station's pieces, each once, in their order.
  std::vector<Tip> ends(const Station& station, std::size_t s) {
    std::vector<Tip> out;
    for (const CurvePiece& piece : station.curve)
      for (const CurveEnd& end : piece.end) {
        const bool known =
            !out.empty() && out.back().place.ahead == piece.ahead && same(out.back().place.end, end);
        if (known) continue;
        const TipPlace place{station.reach, piece.ahead, end};
        out.push_back({place, limits_.most(place, s)});
      }
    return out;
  }

  struct Open {
    CurvePiece piece;
    std::vector<std::size_t> suspects;
  };

  /// Lowers `least` to that of whole pieces; how far it may still lie above the true one. A piece is cut in
  /// two as long as some rule is not proven to hold all along it.
  double search_inside(const Station& station, std::size_t s, Bounded& least) {
    double gap = 0;
    std::vector<Open> open;
    for (std::size_t k = 0; k < station.curve.size(); ++k)
      if (const CurvePiece& piece = station.curve[k]; !same(piece.end[0], piece.end[1]))
        open.push_back({piece, station.suspects[k]});
    for (int cuts = 0; !open.empty() && least.payload > 0; ++cuts) {
      const Open now = std::move(open.back());
      open.pop_back();
      const double room = kGap * scale(least.payload);
      std::vector<std::size_t> left;
      for (const std::size_t suspect : now.suspects) {
        const double held = limits_.held_inside(suspect, now.piece, s, least.payload);
        if (held >= least.payload - kRounding * scale(least.payload)) continue;
        if (least.payload - held <= room || cuts >= kMostCuts)
          gap = std::max(gap, least.payload - std::max(0.0, held));
        else
          left.push_back(suspect);
      }
      if (!left.empty()) cut(now.piece, left, station.reach, s, least, open);
    }
    return gap;
  }
  double scale(double payload) const {
    const double mass = prepared_.reference_masses.mass;
    return payload < kMost ? std::max(mass, payload) : mass;
  }

  void cut(const CurvePiece& piece, const std::vector<std::size_t>& suspects, double reach, std::size_t s,
           Bounded& least, std::vector<Open>& open) {
    const double lo = piece.end[0].height, hi = piece.end[1].height;
    const CurveEnd middle = at_height(piece.ahead, lo + (hi - lo) / 2);
    for (const std::size_t suspect : suspects) limits_.offer(suspect, {reach, piece.ahead, middle}, s, least);
    open.push_back({{piece.ahead, {piece.end[0], middle}}, suspects});
    open.push_back({{piece.ahead, {middle, piece.end[1]}}, suspects});
  }

  static void note_met(const Bounded& from, CapacityCell& to) {
    for (const Governing& met : from.met) {
      const bool known = std::any_of(to.met_without_load.begin(), to.met_without_load.end(),
                                     [&](const Governing& g) { return same_limit(g, met); });
      if (!known) to.met_without_load.push_back(met);
    }
  }

  void find_best(const Station& station, std::size_t s, const std::vector<Tip>& tips, CapacityCell& out) {
    Tip best = *std::max_element(tips.begin(), tips.end(),
                                 [](const Tip& a, const Tip& b) { return by_payload(a.carries, b.carries); });
    double above = best.carries.payload;  // nothing on the curve carries more
    bool leg = false;
    for (std::size_t k = 0; k + 1 < tips.size(); ++k) {
      if (tips[k].place.ahead != tips[k + 1].place.ahead) continue;
      leg = leg || tips[k].carries.governing.limit == Limit::leg ||
            tips[k + 1].carries.governing.limit == Limit::leg;
      if (!same_place(tips[k].carries.governing, tips[k + 1].carries.governing))
        above = std::max(above, section(tips[k], tips[k + 1], s, best));
    }
    out.best = best.carries.payload < kMost ? best.carries.payload : kInfinity;
    const BoomSetting set = setting_of(prepared_.loads, best.place.ahead, best.place.end);
    out.best_luff = std::isfinite(station.luff) ? station.luff : set.luff;
    out.best_extension = std::isfinite(station.luff) ? station.extension : set.extension;
    const bool one = tips.size() == 1;
    if (one || (limits_.level() && !limits_.curved() && !leg))
      out.best_gap = one || !(best.carries.payload < kMost) ? 0 : above - best.carries.payload;
  }

  /// A measure along a piece in which its payloads are concave while heights play no part: F of a chain is
  /// linear in the boom's length, F of a telescope in one over it.
  double along(const TipPlace& p) const {
    return prepared_.loads.machine.boom.kind == Boom::Kind::rigid_chain ? p.end.length : -1 / p.end.length;
  }

  /// Golden sections of a piece whose ends are governed by different limits: the best luff lies where one
  /// takes over from the other. What no luff of the piece exceeds, as far as payloads are concave along it.
  double section(const Tip& from, const Tip& to, std::size_t s, Tip& best) {
    constexpr double kGolden = 0.6180339887498949;
    const double ahead = from.place.ahead;
    const auto at = [&](double height) {
      const TipPlace place{from.place.reach, ahead, at_height(ahead, height)};
      return Tip{place, limits_.most(place, s)};
    };
    Tip a = from, b = to;
    Tip c = at(b.place.end.height - kGolden * (b.place.end.height - a.place.end.height));
    Tip d = at(a.place.end.height + kGolden * (b.place.end.height - a.place.end.height));
    double above = kInfinity;
    for (int step = 0; step < kMostSections; ++step) {
      above = std::min(above, highest_between({&a, &c, &d, &b}));
      const double attained =
          std::max({a.carries.payload, b.carries.payload, c.carries.payload, d.carries.payload});
      if (above - attained <= kGap * scale(attained) || attained >= kMost) break;
      const bool left = c.carries.payload != d.carries.payload ? c.carries.payload > d.carries.payload
                                                               : a.carries.payload > b.carries.payload;
      if (left) {
        b = d;
        d = c;
        c = at(b.place.end.height - kGolden * (b.place.end.height - a.place.end.height));
      } else {
        a = c;
        c = d;
        d = at(a.place.end.height + kGolden * (b.place.end.height - a.place.end.height));
      }
    }
    for (const Tip* tip : {&a, &b, &c, &d})
      if (by_payload(best.carries, tip->carries)) best = *tip;
    return above;
  }

  /// A concave function lies below its chords drawn out: over each of three intervals, the chord before it
  /// and the one after.
  double highest_between(const std::array<const Tip*, 4>& tips) const {
    std::array<double, 4> u{}, q{};
    for (std::size_t i = 0; i < 4; ++i) {
      u[i] = along(tips[i]->place);
      q[i] = tips[i]->carries.payload;
    }
    const auto chord = [&](std::size_t i, std::size_t j, double x) {
      return q[i] + (q[j] - q[i]) / (u[j] - u[i]) * (x - u[i]);
    };
    double most = *std::max_element(q.begin(), q.end());
    for (std::size_t k = 0; k < 3; ++k) {
      if (!(std::abs(u[k + 1] - u[k]) > 0)) continue;
      double there = kInfinity;
      if (k > 0) there = std::min(there, std::max(q[k], chord(k - 1, k, u[k + 1])));
      if (k < 2) there = std::min(there, std::max(q[k + 1], chord(k + 1, k + 2, u[k])));
      if (k == 1) there = std::min(there, meet(u, q));
      most = std::max(most, there);
    }
    return most;
  }
  /// Where the first chord and the last one meet.
  static double meet(const std::array<double, 4>& u, const std::array<double, 4>& q) {
    const double rise = (q[1] - q[0]) / (u[1] - u[0]), fall = (q[3] - q[2]) / (u[3] - u[2]);
    const double x = (q[2] - q[1] + rise * u[1] - fall * u[2]) / (rise - fall);
    return std::isfinite(x) ? q[1] + rise * (x - u[1]) : kInfinity;
  }

  const Prepared& prepared_;
  const CapacityAsked& asked_;
  const Control& control_;
  std::vector<Sector> sectors_;
  Limits limits_;
  Capacity out_;
};

/// Cell by cell: each with the travels that the schedule has there.
Capacity by_schedule(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
                     const std::vector<Edge>& edges, const CapacityAsked& asked, const Control& control) {
  Capacity out;
  out.edges = edges;
  out.by_setting = asked.reaches.empty();
  const auto solve = [&](double reach, const CapacityAsked& there) {
    for (const Sector& sector : tiles(prepared.operation.slew, asked.slew_step)) {
      Prepared one = prepared;
      one.operation.slew = sector.slew;
      one.operation.travel = travels_at(*prepared.schedule, sector.slew, reach);
      one.domains = {one.operation};
      Capacity found = Study(one, levelling, contacts, edges, there, control).run();
      out.cells.insert(out.cells.end(), found.cells.begin(), found.cells.end());
      out.evaluations += found.evaluations;
    }
  };
  constexpr double kOneCell = 10;  // [rad], more than a circle
  for (const double reach : asked.reaches) solve(reach, {{reach}, {}, {}, kOneCell});
  if (!out.by_setting) return out;
  const MachineLoads& loads = prepared.loads;
  for (const double luff : asked.luffs)
    for (const double extension : asked.extensions)
      solve(reach(loads.machine.boom, *loads.boom, luff, extension), {{}, {luff}, {extension}, kOneCell});
  return out;
}

}  // namespace

const char* name_of(Limit limit) {
  switch (limit) {
    case Limit::none:
      return "nothing";
    case Limit::tipping:
      return "tipping";
    case Limit::tipping_without_load:
      return "tipping without load";
    case Limit::leg:
      return "leg_limit";
    case Limit::structural:
      return "structural";
    case Limit::boom_root:
      return "boom root moment";
    case Limit::hoist:
      return "hoist";
  }
  return "";
}

std::vector<double> stations(const Interval& all, int count) {
  expects(count >= 2, "stations: count >= 2");
  if (!(all.width() > 0)) return {all.lo};
  std::vector<double> out;
  for (int k = 0; k < count; ++k)
    out.push_back(k + 1 == count ? all.hi : all.lo + all.width() * k / (count - 1));
  return out;
}

std::vector<double> reach_stations(const Prepared& prepared, int count) {
  return stations(reaches(prepared.loads, prepared.operation), count);
}

Capacity capacity(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
                  const CapacityAsked& asked, const Control& control) {
  std::vector<Edge> edges;
  const bool all_supported =
      std::all_of(contacts.begin(), contacts.end(), [](const Contact& c) { return c.supported; });
  const bool has_pose = std::isfinite(levelling.X_WC.p.z());
  if (all_supported && has_pose) edges = support_polygon(contacts, levelling.X_WC);
  if (edges.empty()) {
    Capacity out;
    out.reason = !all_supported ? "a foot has no ground under it"
                 : !has_pose    ? "no pose of the machine was found"
                                : "the contacts lie on one line: nothing stands";
    return out;
  }
  if (prepared.schedule) return by_schedule(prepared, levelling, contacts, edges, asked, control);
  return Study(prepared, levelling, contacts, std::move(edges), asked, control).run();
}

}  // namespace rimstance
