#pragma once
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "rimstance/loads/mass_state.hpp"
#include "rimstance/statics/envelope.hpp"

namespace rimstance {

/// All that does not depend on the spot, for one splay set: shared over the whole terrain.
struct Prepared {
  std::shared_ptr<const Scenario> scenario;
  std::vector<double> splay;  ///< per outrigger [rad]
  MachineLoads loads;
  std::vector<Domain> domains;             ///< operation first, then transit
  std::vector<LoadCase> load_cases;        ///< those that are evaluated
  std::vector<std::string> not_evaluated;  ///< "load_case:snag", "bearing", ...
  CraneState reference;                    ///< see reference_state()
  MassState reference_masses;              ///< basic masses there, with payload, head and line
};

/// Slew of the operating sector nearest to 0 (modulo 360 deg; a tie takes the smaller number), least luff,
/// extension, line and travel, one unit less than the container's; cuts not applied.
CraneState reference_state(const MachineLoads&, const Domain& operation);

/// `splay` empty: the scenario's. Throws InputError where the operation holds no state of the boom, or asks
/// for a travel schedule, which is computed by a study and not here.
Prepared prepare(std::shared_ptr<const Scenario>, std::span<const double> splay = {});

}  // namespace rimstance
