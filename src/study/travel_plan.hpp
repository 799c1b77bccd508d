#pragma once
#include <memory>
#include <span>
#include <vector>

#include "travel_windows.hpp"

namespace rimstance {

/// A slew range with its windows, station by station.
struct TravelColumn {
  std::shared_ptr<TravelWindows> windows;
  std::vector<TravelState> stations;  ///< reach rising, at least one
};

/// The schedule over all columns, which have the same stations.
TravelPlan travel_plan(const Prepared&, const Levelling&, std::span<const Contact>, std::vector<TravelColumn>,
                       const Control&);

}  // namespace rimstance
