#pragma once
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "rimstance/loads/crane_state.hpp"
#include "rimstance/loads/load_case.hpp"

namespace rimstance {

/// A lump of mass whose place does not depend on luff and extension.
struct Lump {
  std::string name;
  int body = 0;                    ///< lumps of one declared body share a number (container and its units)
  bool on_platform = false;        ///< `at` in S and turning with the slew; else in C
  Vec3 at = Vec3::Zero();          ///< [m], at travel 0
  Vec3 per_travel = Vec3::Zero();  ///< unit vector of the guide, or zero
  double mass = 0;                 ///< basic [kg], without the two terms below
  double per_unit = 0;             ///< [kg] for each unit left in the container
  double per_line = 0;             ///< [kg/m] of line paid out (negative: it leaves the drum)
  double margin = 0;               ///< growth allowance, a share
  std::string subsystem;

  double mass_at(double line, int units_left) const { return mass + per_unit * units_left + per_line * line; }
  Vec3 at_travel(double travel) const { return at + travel * per_travel; }
};

/// Everything that loads the machine, in C, independent of spot and strokes: what the search and the
/// sums below work from. One per machine and splay set.
struct MachineLoads {
  Machine machine;
  std::vector<Lump> lumps;
  std::shared_ptr<const BoomShape> boom;
  int bodies = 0;      ///< numbers used by lumps; then boom (bodies) and hung load (bodies + 1)
  double payload = 0;  ///< net payload Q [kg]
  int boom_body() const { return bodies; }
  int hung_body() const { return bodies + 1; }
};

/// `splay` per outrigger [rad]. An outrigger's mass lies at centre_at * arm from the pivot at pivot
/// height and is not moved by the stroke. Line mass is conserved: what is paid out leaves the drum.
MachineLoads machine_loads(const Scenario&, std::span<const double> splay);

/// A wrench as a first harmonic of the slew angle: w(theta) = constant + cosine cos + sine sin.
struct Harmonic {
  Vec6 constant = Vec6::Zero(), cosine = Vec6::Zero(), sine = Vec6::Zero();
  Vec6 at(double slew) const { return constant + std::cos(slew) * cosine + std::sin(slew) * sine; }
};

/// One body's weight (or load's) in a state and case: a place that is a first harmonic of the slew angle,
/// r(theta) = fixed + cosine cos + sine sin in C [m], and a mass.
struct Part {
  std::string name;
  int body = 0;
  Vec3 fixed = Vec3::Zero(), cosine = Vec3::Zero(), sine = Vec3::Zero();
  double mass = 0;     ///< factored [kg]; a release's upward pull is a part with negative mass
  double margin = 0;   ///< growth allowance that applies in this case, a share
  bool weight = true;  ///< false for a release's or a stall's pull: a load, not a weight
  Vec3 at(double slew) const { return fixed + std::cos(slew) * cosine + std::sin(slew) * sine; }
};

/// All parts of a state and case; the state's slew is not used. `with_boom_factor`: b F hung at the tip
/// in addition, as part of the boom (in moments; foot loads are without it).
std::vector<Part> parts(const MachineLoads&, const CraneState&, const LoadCase&, bool payload_in_domain,
                        bool with_boom_factor);

/// Weight wrench of a part in C about C's origin, at basic (factored) mass: mass g at r, r x mass g.
/// `gravity_C`: vector [m/s2]. Linear in r, so a first harmonic as r is.
Harmonic weight(const Part&, const Vec3& gravity_C);

}  // namespace rimstance
