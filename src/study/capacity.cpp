#include "rimstance/study/capacity.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "leg_limits.hpp"
#include "rimstance/statics/curves.hpp"
#include "rules.hpp"

namespace rimstance {
namespace {

constexpr double kMost = 1e7;  ///< [kg], more than any crane that a carrier takes along: "nothing limits"

/// A payload and what holds it there.
struct Bounded {
  double payload = kMost;
  Governing governing;
  bool offer(double other, const Governing& by) {
    if (!(other < payload)) return false;
    payload = other;
    governing = by;
    return true;
  }
};

/// A state of the curve over all slew cells: what it may carry in each.
struct Node {
  double ahead;
  CurveEnd end;
  std::vector<Bounded> cells;
};

/// A piece between two nodes, with payloads that its inside cannot undercut.
struct Span {
  std::size_t first, second;  ///< nodes
  double ahead;
  std::array<CurveEnd, 2> end;
  std::vector<double> inside;  ///< lower bounds per slew cell
};

struct Station {
  double reach = kUnset;
  std::vector<Node> nodes;
  std::vector<Span> spans;
};

bool same(const CurveEnd& a, const CurveEnd& b) { return a.length == b.length && a.height == b.height; }

/// `parts` pieces of equal height out of each.
Station station(double reach, const std::vector<CurvePiece>& curve, int parts, std::size_t cells) {
  Station out;
  out.reach = reach;
  const auto node = [&](double ahead, const CurveEnd& end) {
    if (out.nodes.empty() || out.nodes.back().ahead != ahead || !same(out.nodes.back().end, end))
      out.nodes.push_back({ahead, end, std::vector<Bounded>(cells)});
    return out.nodes.size() - 1;
  };
  for (const CurvePiece& piece : curve) {
    const double lo = piece.end[0].height, hi = piece.end[1].height;
    const int n = hi > lo ? parts : 1;
    CurveEnd before = piece.end[0];
    for (int k = 1; k <= n; ++k) {
      const double z = lo + (hi - lo) * k / n;
      const CurveEnd after = k == n ? piece.end[1] : CurveEnd{std::hypot(piece.ahead, z), z};
      const std::size_t a = node(piece.ahead, before), b = node(piece.ahead, after);
      out.spans.push_back({a, b, piece.ahead, {before, after}, std::vector<double>(cells, kMost)});
      before = after;
    }
  }
  return out;
}

class Study {
 public:
  Study(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
        std::vector<Edge> edges, const CapacityAsked& asked, const Control& control)
      : prepared_(prepared), X_(levelling.X_WC), contacts_(contacts), asked_(asked), control_(control) {
    out_.edges = std::move(edges);
    const Interval slew = prepared.domains[0].slew;
    const int cells = std::max(1, static_cast<int>(std::ceil(slew.width() / asked.slew_step - 1e-9)));
    for (int k = 0; k < cells; ++k)
      sectors_.emplace_back(Interval{slew.lo + slew.width() * k / cells,
                                     k + 1 == cells ? slew.hi : slew.lo + slew.width() * (k + 1) / cells});
    rules_ = tipping_rules(prepared, X_, out_.edges);
    make_ready();
  }

  Capacity run() {
    for (std::size_t i = 0; i < asked_.reaches.size(); ++i) {
      if (control_.stop.stop_requested()) throw Interrupted();
      stations_.push_back(solved(i));
    }
    search_curved_margins();
    if (prepared_.scenario->criteria.foot_limits) bound_legs();
    collect();
    return std::move(out_);
  }

 private:
  /// A rule with what does not depend on the boom: the lumps, per corner and sector.
  struct Ready {
    Lever lever;
    std::vector<std::vector<Folded>> lumps;
  };
  void make_ready() {
    for (const Rule& rule : rules_) {
      ready_.push_back({Lever(prepared_.loads, rule), {}});
      Ready& r = ready_.back();
      for (const Lever::Corner& corner : r.lever.corners()) {
        r.lumps.emplace_back();
        for (const Sector& sector : sectors_) r.lumps.back().push_back(r.lever.lumps(corner, sector));
      }
    }
  }

  Station make_station(std::size_t i, int parts) const {
    const double reach = asked_.reaches[i];
    return station(reach, curve_at_reach(prepared_.loads, prepared_.domains[0], reach), parts,
                   sectors_.size());
  }

  /// Pieces are cut finer until what lies between their ends is bounded closely enough.
  Station solved(std::size_t i) {
    constexpr double kGap = 2e-5;
    for (int parts = 1;; parts *= 4) {
      Station out = make_station(i, parts);
      bound_by_strength(out);
      for (const Ready& r : ready_) apply(r.lever, r.lumps, out);
      if (parts >= 256 || !(widest_gap(out) > kGap)) return out;
    }
  }

  /// Does the case allow a luff? It may be narrowed to the steepest.
  static bool in_case(const Rule& rule, double ahead, const CurveEnd& end) {
    const double luff = std::atan2(end.height, ahead);
    return luff >= rule.domain.luff.lo - 1e-9 && luff <= rule.domain.luff.hi + 1e-9;
  }

  void apply(const Lever& lever, const std::vector<std::vector<Folded>>& lumps, Station& station) {
    const Rule& rule = lever.rule();
    for (Node& node : station.nodes)
      if (in_case(rule, node.ahead, node.end)) bound_node(lever, lumps, node);
    if (rule.level()) return;  // concave between the ends: nothing lower inside
    for (Span& span : station.spans)
      if (span.first != span.second && in_case(rule, span.ahead, span.end[0]) &&
          in_case(rule, span.ahead, span.end[1]))
        bound_inside(lever, lumps, station, span);
  }

  void bound_node(const Lever& lever, const std::vector<std::vector<Folded>>& lumps, Node& node) {
    const Wave tip = lever.tip(node.ahead, node.end);
    const Wave per_kg = lever.rule().payload * tip;
    for (std::size_t s = 0; s < sectors_.size(); ++s) {
      const Folded boom = lever.boom(node.ahead, node.end, node.end, sectors_[s]);
      for (std::size_t c = 0; c < lever.corners().size(); ++c) {
        const Held h =
            hold(lever, lumps[c][s], boom, tip, per_kg, lever.corners()[c], s, node.cells[s].payload);
        if (h.without_load || h.payload < node.cells[s].payload)
          node.cells[s].offer(h.payload, governing(lever, h, node.ahead, node.end, lever.corners()[c]));
      }
    }
  }

  /// Lengths of one end with heights of the other: the sum is concave in either, so nothing inside is lower.
  void bound_inside(const Lever& lever, const std::vector<std::vector<Folded>>& lumps, const Station& station,
                    Span& span) {
    for (const int length : {0, 1}) {
      const CurveEnd& l = span.end[static_cast<std::size_t>(length)];
      const CurveEnd& z = span.end[static_cast<std::size_t>(1 - length)];
      const Wave tip = lever.tip(span.ahead, z);
      const Wave per_kg = lever.rule().payload * tip;
      for (std::size_t s = 0; s < sectors_.size(); ++s) {
        const double most = std::min({span.inside[s], station.nodes[span.first].cells[s].payload,
                                      station.nodes[span.second].cells[s].payload});
        const Folded boom = lever.boom(span.ahead, l, z, sectors_[s]);
        for (std::size_t c = 0; c < lever.corners().size(); ++c) {
          const Held h = hold(lever, lumps[c][s], boom, tip, per_kg, lever.corners()[c], s, most);
          span.inside[s] = std::min(span.inside[s], h.payload);
        }
      }
    }
  }

  Held hold(const Lever& lever, const Folded& lumps, const Folded& boom, const Wave& tip, const Wave& per_kg,
            const Lever::Corner& corner, std::size_t sector, double most) {
    ++out_.evaluations;
    Folded base = lumps;
    base += boom;
    if (lever.rule().masses != Rule::Masses::by_body) {
      base.smooth += lever.hanging(corner) * tip;
      return held(base, per_kg, sectors_[sector], most);
    }
    return held_by_body(lever, base, tip, per_kg, corner, sectors_[sector], most);
  }

  /// All that hangs is one body: where it overturns it counts `ratio` (>= 1) times, which is the lesser of
  /// counting once and counting `ratio` times.
  static Held held_by_body(const Lever& lever, const Folded& base, const Wave& tip, const Wave& per_kg,
                           const Lever::Corner& corner, const Sector& sector, double most) {
    Held out{most, kUnset, false};
    for (const double counts : {1.0, lever.rule().ratio}) {
      Folded all = base;
      all.smooth += counts * lever.hanging(corner) * tip;
      const Held h = held(all, counts * per_kg, sector, out.payload);
      if (h.without_load) return h;
      if (h.payload < out.payload) out = h;
    }
    return out;
  }

  Governing governing(const Lever& lever, const Held& h, double ahead, const CurveEnd& end,
                      const Lever::Corner& corner) const {
    const Rule& rule = lever.rule();
    const BoomSetting set = setting_of(prepared_.loads, ahead, end);
    Governing g;
    g.limit = rule.limit == Limit::tipping && h.without_load ? Limit::tipping_without_load : rule.limit;
    g.load_case = rule.load_case;
    g.edge = rule.edge;
    g.foot = rule.foot;
    g.at = {h.slew, set.luff, set.extension, corner.travel, corner.line, corner.units};
    g.without_load = h.without_load;
    return g;
  }

  /// Boom and hoist: forces on all that hangs, unfactored, in the platform's own plane.
  void bound_by_strength(Station& station) {
    const Machine& machine = prepared_.loads.machine;
    const double g = prepared_.scenario->gravity;
    const Domain& operation = prepared_.domains[0];
    const double hanging = machine.hoist.head_mass + machine.hoist.line_mass * operation.line.hi;
    for (Node& node : station.nodes) {
      const BoomSetting set = setting_of(prepared_.loads, node.ahead, node.end);
      const auto offer = [&](Limit limit, double force) {
        const double payload = force / g - hanging;
        Governing by;
        by.limit = limit;
        by.at = {operation.slew.lo, set.luff, set.extension, operation.travel.lo, operation.line.hi, 0};
        by.without_load = payload < 0;
        for (Bounded& cell : node.cells) cell.offer(std::max(payload, 0.0), by);
      };
      if (machine.boom.limit) {
        offer(Limit::structural, structural_load(*machine.boom.limit, station.reach));
        if (std::isfinite(machine.boom.limit->root_moment) && node.ahead > 0)
          offer(Limit::boom_root, machine.boom.limit->root_moment / node.ahead -
                                      g * boom_equivalent(*prepared_.loads.boom, set.extension));
      }
      if (std::isfinite(machine.hoist.line_pull)) offer(Limit::hoist, machine.hoist.line_pull);
    }
  }

  /// As a share of the payload, or of the machine where it is heavier.
  double widest_gap(const Station& station) const {
    double widest = 0;
    for (std::size_t s = 0; s < sectors_.size(); ++s) {
      double attained = prepared_.reference_masses.mass;
      for (const Node& node : station.nodes)
        if (node.cells[s].payload < kMost) attained = std::max(attained, node.cells[s].payload);
      widest = std::max(widest, gap(station, s) / attained);
    }
    return widest;
  }
  static double gap(const Station& station, std::size_t s) {
    double attained = kMost, bound = kMost;
    for (const Node& node : station.nodes) attained = std::min(attained, node.cells[s].payload);
    for (const Span& span : station.spans) bound = std::min(bound, span.inside[s]);
    return std::max(0.0, attained - bound);
  }

  /// Margins that no linear form tells: bisection of certified minima over the station's states.
  void search_curved_margins() {
    for (std::size_t i = 0; i < prepared_.load_cases.size(); ++i)
      for (const auto& [kind, margin] : required_margin(prepared_.load_cases[i]))
        if (!linear(prepared_.load_cases[i], kind, margin))
          for (Station& station : stations_)
            for (std::size_t s = 0; s < sectors_.size(); ++s) {
              if (control_.stop.stop_requested()) throw Interrupted();
              bisect(static_cast<int>(i), kind, margin, station, s);
            }
  }

  struct Answer {
    bool holds = true;
    Governing by;
  };
  Answer ask(int load_case, MarginKind kind, double margin, const Node& node, std::size_t s, double payload) {
    MachineLoads loads = prepared_.loads;
    loads.payload = payload;
    const BoomSetting set = setting_of(loads, node.ahead, node.end);
    Domain domain = prepared_.domains[0];
    domain.luff = {set.luff, set.luff};
    domain.extension = {set.extension, set.extension};
    domain.reach = domain.tip_height = {-kInfinity, kInfinity};
    domain.slew = sectors_[s].slew;
    const Scenario& scenario = *prepared_.scenario;
    const double rotated = scenario.criteria.set_error + scenario.criteria.work_tilt;
    for (std::size_t e = 0; e < out_.edges.size(); ++e) {
      const TippingAxis axis = tipping_axis(out_.edges[e], gravity_C(scenario, X_), rotated);
      const auto& the_case = prepared_.load_cases[static_cast<std::size_t>(load_case)];
      const auto found =
          least_over(loads, the_case, domain, axis, kind, {1e-9 * (1 + std::abs(margin)), margin});
      ++out_.evaluations;
      if (found.value >= margin && std::isfinite(found.gap)) continue;
      Governing by;
      by.limit = Limit::tipping;
      by.load_case = load_case;
      by.edge = static_cast<int>(e);
      by.at = found.at;
      return {false, by};
    }
    return {};
  }

  void bisect(int load_case, MarginKind kind, double margin, Station& station, std::size_t s) {
    for (Node& node : station.nodes) {
      Bounded& cell = node.cells[s];
      Answer bad = ask(load_case, kind, margin, node, s, cell.payload);
      if (bad.holds) continue;
      double lo = 0, hi = cell.payload;
      if (const Answer empty = ask(load_case, kind, margin, node, s, 0); !empty.holds) {
        bad = empty;
        bad.by.limit = Limit::tipping_without_load;
        bad.by.without_load = true;
        hi = 0;
      }
      while (hi - lo > 1e-9 * (1 + hi)) {
        const double middle = lo + (hi - lo) / 2;
        const Answer answer = ask(load_case, kind, margin, node, s, middle);
        (answer.holds ? lo : hi) = middle;
        if (!answer.holds) bad = answer;
      }
      cell.offer(lo, bad.by);
    }
  }

  void bound_legs() {
    const LegLimits legs(prepared_, X_, contacts_);
    for (Station& station : stations_)
      for (Node& node : station.nodes)
        for (std::size_t s = 0; s < sectors_.size(); ++s) {
          if (control_.stop.stop_requested()) throw Interrupted();
          const LegLimits::Found found = legs.most(node.ahead, node.end, sectors_[s], node.cells[s].payload);
          node.cells[s].offer(found.payload, found.governing);
        }
  }

  void collect() {
    for (const Station& station : stations_)
      for (std::size_t s = 0; s < sectors_.size(); ++s) out_.cells.push_back(cell_of(station, s));
  }

  CapacityCell cell_of(const Station& station, std::size_t s) const {
    CapacityCell out;
    out.reach = station.reach;
    out.slew = sectors_[s].slew;
    out.has_state = !station.nodes.empty();
    if (!out.has_state) return out;
    const auto payload = [s](const Node& n) { return n.cells[s].payload; };
    const auto by_payload = [&](const Node& a, const Node& b) { return payload(a) < payload(b); };
    const auto [least, best] = std::minmax_element(station.nodes.begin(), station.nodes.end(), by_payload);
    const auto finite = [](double q) { return q < kMost ? q : kInfinity; };
    out.gap = gap(station, s);
    out.capacity = std::max(0.0, finite(payload(*least) - out.gap));
    out.governing = least->cells[s].governing;
    out.best = finite(payload(*best));
    const BoomSetting set = setting_of(prepared_.loads, best->ahead, best->end);
    out.best_luff = set.luff;
    out.best_extension = set.extension;
    return out;
  }

  const Prepared& prepared_;
  const Pose& X_;
  std::span<const Contact> contacts_;
  const CapacityAsked& asked_;
  const Control& control_;
  std::vector<Sector> sectors_;
  std::vector<Rule> rules_;
  std::vector<Ready> ready_;  ///< of rules_, which stay where they are
  std::vector<Station> stations_;
  Capacity out_;
};

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

std::vector<double> reach_stations(const Prepared& prepared, int count) {
  expects(count >= 2, "reach_stations: count >= 2");
  const Interval all = reaches(prepared.loads, prepared.domains[0]);
  std::vector<double> out;
  for (int k = 0; k < count; ++k)
    out.push_back(k + 1 == count ? all.hi : all.lo + all.width() * k / (count - 1));
  return out;
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
  return Study(prepared, levelling, contacts, std::move(edges), asked, control).run();
}

}  // namespace rimstance
