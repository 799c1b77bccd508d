#include "plausible.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/statics/curves.hpp"
#include "rimstance/statics/foot_force.hpp"

namespace rimstance {
namespace {

constexpr double kRounding = 1e-9;  ///< share that sums in another order may differ by

class Bounds {
 public:
  Bounds(const Prepared& prepared, const Levelling& levelling, std::span<const Contact> contacts,
         const Stability& stability, const PartLoads& loads)
      : prepared_(prepared),
        levelling_(levelling),
        contacts_(contacts),
        stability_(stability),
        loads_(loads),
        forces_(prepared, levelling.X_WC, contacts) {}

  std::vector<Plausible> all() {
    mass();
    greatest_foot();
    sum_of_feet();
    centre_inside();
    bearing();
    luff();
    clearance();
    return std::move(out_);
  }

 private:
  double g() const { return prepared_.scenario->gravity; }

  void add(std::string what, double value, double low, double high, const char* unit) {
    const auto size = [](double x) { return std::isfinite(x) ? std::abs(x) : 0.0; };
    const double slack = kRounding * std::max({size(low), size(high), size(value)});
    out_.push_back({std::move(what), value, low - slack, high + slack, unit});
  }

  /// What hangs and the boom without factors and allowances, and with the heaviest of the cases.
  double hanging() const {
    const Hoist& hoist = prepared_.loads.machine.hoist;
    return prepared_.loads.payload + hoist.head_mass + hoist.line_mass * prepared_.reference.line;
  }
  double heaviest_hanging() const {
    double most = hanging();
    for (const LoadCase& c : prepared_.load_cases)
      for (const Domain& d : prepared_.domains) {
        const Hung load = hung(c, prepared_.loads.machine.hoist, prepared_.loads.payload, d.payload);
        most = std::max(most, load.fixed + load.per_line * d.line.hi - load.pull);
      }
    return most;
  }
  double heaviest_boom() const {
    double mass = 0;
    const double out = prepared_.loads.boom->greatest_extension();
    for (int k = 0; k < prepared_.loads.boom->parts(); ++k)
      mass += prepared_.loads.boom->part(k, out).mass * (1 + prepared_.loads.boom->margin(k));
    return mass;
  }

  /// Masses as declared, added up one by one.
  void mass() {
    const Machine& m = prepared_.loads.machine;
    double sum = hanging();
    for (const Body& b : m.chassis.bodies) sum += b.mass;
    for (const Outrigger& o : m.outriggers) sum += o.mass;
    for (const Body& b : m.platform.bodies) sum += b.mass;
    if (m.container) sum += m.container->empty + prepared_.reference.units_left * m.container->unit_mass;
    if (m.guide)
      for (const Body& b : m.guide->bodies) sum += b.mass;
    if (m.hoist.line_mass > 0) sum += m.hoist.line_mass * (m.hoist.line_length - prepared_.reference.line);
    if (m.boom.kind == Boom::Kind::telescopic)
      for (const BoomSection& s : m.boom.sections) sum += s.mass;
    if (m.boom.kind == Boom::Kind::scissor) sum += m.boom.mass;
    if (m.boom.kind == Boom::Kind::rigid_chain) sum += m.boom.chain_mass * m.boom.chain_length;
    add("mass of the machine: all that is declared, added up", prepared_.reference_masses.mass, sum, sum,
        "kg");
  }

  /// Of n feet that carry W together, one carries at least W / n and none more than W. (A machine that tips
  /// has no such state.)
  void greatest_foot() {
    if (loads_.feet.empty()) return;
    std::size_t foot = 0;
    for (std::size_t i = 1; i < loads_.feet.size(); ++i)
      if (loads_.feet[i].reaction.value > loads_.feet[foot].reaction.value) foot = i;
    const ReadOff& most = loads_.feet[foot].reaction;
    if (!std::isfinite(most.value)) return;
    const LoadCase& load_case = prepared_.load_cases[static_cast<std::size_t>(most.at.load_case)];
    bool payload = true;
    for (const Domain& d : prepared_.domains)
      if (d.transit == most.at.transit) payload = d.payload;
    const LinearForm& form = forces_.share(foot).most;
    double weight = 0;
    for (const Part& p : parts(prepared_.loads, most.at.state, load_case, payload, false)) {
      const double force = p.mass * (form.per_place.dot(p.at(most.at.state.slew)) + form.constant);
      weight += g() * p.mass * (force > 0 ? 1 + p.margin : 1);
    }
    const double upright =
        weight * std::cos(prepared_.scenario->criteria.set_error + prepared_.scenario->criteria.work_tilt);
    const auto n = static_cast<double>(loads_.feet.size());
    add("greatest reaction of a foot: from an equal share to all of the weight there", most.value,
        upright / n, upright, "N");
  }

  void sum_of_feet() {
    const Vec3 centre_W = levelling_.X_WC * prepared_.reference_masses.tipping_centre_C;
    const double weight = prepared_.reference_masses.mass * g();
    std::vector<Vec3> points;
    for (const Contact& c : contacts_) points.push_back(c.p_W - contacts_[0].p_W);
    const Reactions r = reactions(points, supports(prepared_.loads.machine),
                                  wrench({0, 0, -weight}, centre_W - contacts_[0].p_W));
    if (r.normal.empty()) return;
    double sum = 0;
    for (const double N : r.normal) sum += N;
    add("feet together at the reference state: the weight", sum, weight, weight, "N");
  }

  /// By areas: a point of a convex polygon makes triangles with its sides that add up to it.
  void centre_inside() {
    const Vec2 centre = (levelling_.X_WC * prepared_.reference_masses.tipping_centre_C).head<2>();
    double triangles = 0;
    for (const Edge& e : stability_.edges) {
      const Vec2 from = e.p_W.head<2>() - centre, to = from + e.length * e.a_W.head<2>();
      triangles += std::abs(cross2(from, to)) / 2;
    }
    const double area = plan_area(stability_.edges);
    if (!(stability_.worst.measures.moment >= 0))
      return;  // it tips somewhere: nothing says it is inside here
    add("triangles from the centre of mass to the sides: the polygon's area where it lies inside", triangles,
        area, area, "m2");
  }

  void bearing() {
    const MachineLoads& loads = prepared_.loads;
    const Boom& boom = loads.machine.boom;
    double least = 0, most = heaviest_hanging() + heaviest_boom();
    if (boom.kind == Boom::Kind::rigid_chain)
      most = heaviest_hanging() + (1 + boom.margin) * boom.chain_mass * boom.chain_length;
    for (const Lump& l : loads.lumps) {
      if (!l.on_platform) continue;
      least += l.mass_at(prepared_.operation.line.hi, 0);
      most += (1 + l.margin) * l.mass_at(0, l.per_unit > 0 ? loads.machine.container->units : 0);
    }
    const bool pulled = std::all_of(prepared_.load_cases.begin(), prepared_.load_cases.end(),
                                    [](const LoadCase& c) { return std::isfinite(c.release); });
    add("axial load of the slew bearing: from what stays on the platform to all of it with allowances and "
        "load",
        loads_.bearing.axial.value, pulled ? -kInfinity : least * g() * std::cos(tilt(levelling_.X_WC.R)),
        most * g(), "N");
  }

  void luff() {
    const Interval reach = reaches(prepared_.loads, prepared_.operation);
    const double ahead = ahead_of_foot(prepared_.loads.machine.boom, reach.hi);
    const double longest = prepared_.loads.boom->length(prepared_.loads.boom->greatest_extension());
    const Hung load = hung({}, prepared_.loads.machine.hoist, prepared_.loads.payload, true);
    const Criteria& criteria = prepared_.scenario->criteria;
    if (tilt(levelling_.X_WC.R) > 0 || !payload_in_some_case()) return;
    add("greatest luff moment: from the payload's own to all of boom and load at the longest lever",
        loads_.luff.greatest.value,
        load.fixed * g() * ahead * std::cos(criteria.set_error + criteria.work_tilt),
        (heaviest_boom() + heaviest_hanging()) * g() * longest, "N m");
  }
  bool payload_in_some_case() const {
    return std::any_of(prepared_.load_cases.begin(), prepared_.load_cases.end(), [&](const LoadCase& c) {
      const Hoist& hoist = prepared_.loads.machine.hoist;
      const Hung load = hung(c, hoist, prepared_.loads.payload, true);
      return !c.luff_steepest && load.fixed >= hung({}, hoist, prepared_.loads.payload, true).fixed;
    });
  }

  void clearance() {
    const auto found = stability_.least.find(MarginKind::clearance);
    if (found == stability_.least.end() || !std::isfinite(found->second.value)) return;
    add("least clearance: no deeper inside than any side is from the polygon's middle", found->second.value,
        -kInfinity, stability_.scale, "m");
  }

  const Prepared& prepared_;
  const Levelling& levelling_;
  std::span<const Contact> contacts_;
  const Stability& stability_;
  const PartLoads& loads_;
  FootForces forces_;
  std::vector<Plausible> out_;
};

}  // namespace

std::vector<Plausible> plausible(const Prepared& prepared, const Levelling& levelling,
                                 std::span<const Contact> contacts, const Stability& stability,
                                 const PartLoads& loads) {
  return Bounds(prepared, levelling, contacts, stability, loads).all();
}

}  // namespace rimstance
