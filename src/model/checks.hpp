#pragma once
#include <map>
#include <string>
#include <vector>

#include "rimstance/model/scenario.hpp"
#include "yaml_tree.hpp"

namespace rimstance {

/// What must agree between the values of a scenario whose single values are read. Values that could
/// not be read are NaN and raise nothing here. `origins` gives each issue its place.
void check_scenario(const Scenario&, const std::map<std::string, Origin>& origins, IssueList& issues);

/// What is allowed but should be known.
std::vector<Issue> cautions(const Scenario&, const std::map<std::string, Origin>& origins);

/// Defaults that matter only because of other values, one sentence each.
std::vector<std::string> assumptions(const Scenario&, const std::map<std::string, Origin>& origins);

}  // namespace rimstance
