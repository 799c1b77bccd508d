#pragma once
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rimstance/loads/mass_state.hpp"
#include "rimstance/statics/envelope.hpp"
#include "rimstance/statics/schedule.hpp"

namespace rimstance {

/// Factor on what hangs in a case that lifts it off; NaN where none or where it was stated.
struct Lifting {
  double factor = kUnset;             ///< phi
  double factor_at_longest = kUnset;  ///< of the softest and heaviest pick-up, for comparison
  double stiffness = kUnset;          ///< of the pick-up that phi is of [N/m]
};

/// All that does not depend on the spot, for one splay set: shared over the whole terrain.
struct Prepared {
  std::shared_ptr<const Scenario> scenario;
  std::vector<double> splay;  ///< per outrigger [rad]
  MachineLoads loads;
  Domain operation;                  ///< the whole of it, with all travels that a schedule uses
  std::optional<Schedule> schedule;  ///< of the counterweight, where the scenario asks for one
  std::vector<Domain> domains;                           ///< operation (cut into the boxes of a schedule), then transit
  std::vector<LoadCase> load_cases;                      ///< those that are evaluated, resolved()
  std::vector<std::string> not_evaluated;                ///< "load_case:snag", "bearing", ...
  std::map<std::string, std::string> why_not_evaluated;  ///< of load cases, by that name
  std::vector<Lifting> lifting;                          ///< as load_cases
  std::vector<std::string> assumed;                      ///< what the cases took for granted, a sentence each
  CraneState reference;                                  ///< see reference_state()
  MassState reference_masses;                            ///< basic masses there, with payload, head and line
};

/// Slew of the operating sector nearest to 0 (modulo 360 deg; a tie takes the smaller number), least luff,
/// extension, line and travel, one unit less than the container's; cuts not applied.
CraneState reference_state(const MachineLoads&, const Domain& operation);

/// `splay` empty: the scenario's. Throws InputError where the operation holds no state of the boom, or asks
/// for a travel schedule and none is given: a study computes it, from what prepare_free() gives. A scheduled
/// transit has all travels that the schedule uses.
Prepared prepare(std::shared_ptr<const Scenario>, std::span<const double> splay = {},
                 const Schedule* = nullptr);

/// With the counterweight anywhere on its guide, whatever the operation says of it; so is a transit whose
/// travel follows a schedule. Throws InputError where the machine has no guide.
Prepared prepare_free(const Scenario&, std::span<const double> splay = {});

}  // namespace rimstance
