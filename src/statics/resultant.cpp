#include "rimstance/statics/resultant.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

Vec2 place(const std::vector<Part>& all, const Pose& X_WC, double slew) {
  double mass = 0;
  Vec3 moment = Vec3::Zero();
  for (const Part& part : all) {
    mass += part.mass;
    moment += part.mass * part.at(slew);
  }
  return (X_WC * (moment / mass)).head<2>();
}

void add_places(const Prepared& prepared, const Pose& X_WC, const Domain& domain, const LoadCase& load_case,
                std::vector<Vec2>& out) {
  const int steps = std::max(1, static_cast<int>(std::ceil(domain.slew.width() / radians(5))));
  for (const CraneState& corner : corner_states(prepared.loads, load_case, domain)) {
    const auto all = parts(prepared.loads, corner, load_case, domain.payload, true);
    for (int k = 0; k <= steps; ++k)
      out.push_back(place(all, X_WC, domain.slew.lo + domain.slew.width() * k / steps));
  }
}

/// Every five degrees over an interval, and one angle more.
std::vector<double> slews(const Interval& slew, double also) {
  const int steps = std::max(1, static_cast<int>(std::ceil(slew.width() / radians(5))));
  std::vector<double> out{also};
  for (int k = 0; k < steps; ++k) out.push_back(slew.lo + slew.width() * k / steps);
  out.push_back(slew.hi);
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

double inside_by(std::span<const Edge> edges, const Vec2& at_W) {
  double least = kInfinity;
  for (const Edge& e : edges) {
    const Vec2 along = e.a_W.head<2>().normalized();
    least = std::min(least, cross2(along, at_W - e.p_W.head<2>()));
  }
  return least;
}

}  // namespace

Vec2 resultant_W(const Prepared& prepared, const Pose& X_WC, const At& at) {
  bool payload = true;
  for (const Domain& d : prepared.domains)
    if (d.transit == at.transit) payload = d.payload;
  const LoadCase& load_case = prepared.load_cases[static_cast<std::size_t>(at.load_case)];
  return place(parts(prepared.loads, at.state, load_case, payload, true), X_WC, at.state.slew);
}

std::vector<Vec2> resultant_region_W(const Prepared& prepared, const Pose& X_WC) {
  std::vector<Vec2> places;
  for (const LoadCase& load_case : prepared.load_cases)
    for (const Domain& domain : prepared.domains)
      add_places(prepared, X_WC, narrowed(domain, load_case), load_case, places);
  std::vector<Vec2> outline;
  for (const std::size_t corner : convex_hull(places)) outline.push_back(places[corner]);
  return outline;
}

namespace {

struct Stretch {
  Interval slew;
  double travel;
};

/// Where a schedule moves the cabinets as the platform turns, its ranges of slew, each with the travel that
/// it has there at the state's reach and that lies nearest to the state's.
std::vector<Stretch> stretches(const Prepared& prepared, const Domain& domain, const LoadCase& load_case,
                               const CraneState& worst) {
  if (!prepared.schedule || domain.transit) return {{domain.slew, worst.travel}};
  const MachineLoads& loads = prepared.loads;
  const double at = reach(loads.machine.boom, *loads.boom, worst.luff, worst.extension);
  std::vector<Stretch> out;
  for (const ScheduleRange& range : prepared.schedule->ranges) {
    const Interval there = travels_at(*prepared.schedule, range.slew, at);
    const double nearest = std::clamp(worst.travel, there.lo, there.hi);
    out.push_back({range.slew, load_case.counterweight_end ? there.hi : nearest});
  }
  return out;
}

}  // namespace

std::vector<ResultantPath> resultant_paths(const Prepared& prepared, const Pose& X_WC,
                                           const Stability& stability) {
  std::vector<ResultantPath> out;
  for (const CaseResult& result : stability.cases) {
    const At& worst = result.worst.at;
    if (worst.load_case < 0) continue;
    const LoadCase& load_case = prepared.load_cases[static_cast<std::size_t>(worst.load_case)];
    ResultantPath path;
    path.load_case = worst.load_case;
    path.transit = worst.transit;
    const Domain& domain = worst.transit ? prepared.domains.back() : prepared.operation;
    for (const Stretch& stretch : stretches(prepared, domain, load_case, worst.state)) {
      CraneState state = worst.state;
      state.travel = stretch.travel;
      const auto all = parts(prepared.loads, state, load_case, domain.payload, true);
      const double also = std::clamp(state.slew, stretch.slew.lo, stretch.slew.hi);
      for (const double slew : slews(stretch.slew, also)) {
        const Vec2 at_W = place(all, X_WC, slew);
        path.points.push_back({slew, at_W, inside_by(stability.edges, at_W)});
      }
    }
    out.push_back(std::move(path));
  }
  return out;
}

}  // namespace rimstance
