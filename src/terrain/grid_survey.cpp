#include <algorithm>
#include <bit>
#include <cmath>

#include "grid_facets.hpp"
#include "grids.hpp"

namespace rimstance {

namespace {

/// Bits of a float that are dropped: 12 of the 23 digits of the significand stay.
constexpr int kDropped = 11;
constexpr std::size_t kBins = std::size_t{0x7f800000} >> kDropped;

/// Middle of the tangents of a bin.
double tangent_of(std::size_t bin) {
  if (bin == 0) return 0;
  return static_cast<double>(
      std::bit_cast<float>((static_cast<std::uint32_t>(bin) << kDropped) | (1U << (kDropped - 1))));
}

}  // namespace

GridSurvey::GridSurvey(std::uint64_t columns, std::uint64_t rows, std::uint64_t step)
    : columns_(columns), rows_(rows), step_(step), by_slope_(kBins, 0.0) {
  expects(step >= 1 && columns > step && rows > step, "GridSurvey: two posts at least are kept each way");
  kept_.columns = static_cast<std::uint32_t>((columns - 1) / step + 1);
  kept_.rows = static_cast<std::uint32_t>((rows - 1) / step + 1);
  kept_.heights.assign(std::size_t{kept_.columns} * kept_.rows, kUnset);
}

void GridSurvey::add(const GridFile& band, std::uint64_t south) {
  expects(band.columns == columns_ && south + band.rows <= rows_, "GridSurvey: a band of the grid");
  for (std::uint64_t row = south == 0 ? 0 : 1; row < band.rows; ++row) {  // its first row is known already
    const double* const z = band.heights.data() + row * columns_;
    for (std::uint64_t i = 0; i < columns_; ++i) {
      if (!std::isfinite(z[i])) continue;
      ++known_;
      lowest_ = std::min(lowest_, z[i]);
      highest_ = std::max(highest_, z[i]);
    }
    keep_row(z, south + row);
  }
  half_ = 0.5 * band.spacing.x() * band.spacing.y();
  for_each_grid_facet(band, 0, band.rows - 1, [&](double tangent2) {
    const double tangent = std::sqrt(tangent2), size = half_ * std::sqrt(1 + tangent2);
    ++facets_;
    area_ += size;
    steepest_ = std::max(steepest_, tangent);
    const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(std::min(tangent, 1e30)));
    by_slope_[bits >> kDropped] += size;
  });
}

void GridSurvey::keep_row(const double* z, std::uint64_t row) {
  double* const kept = kept_.heights.data() + (row / step_) * kept_.columns;
  const bool first = row % step_ == 0;
  for (std::uint64_t i = 0, k = 0; i < columns_; i += step_, ++k) {
    if (first) kept[k] = z[i];
    const auto end = std::min(i + step_, columns_);
    if (std::any_of(z + i, z + end, [](double height) { return std::isnan(height); })) kept[k] = kUnset;
  }
}

void GridSurvey::finish(TerrainFacts& facts) const {
  const auto quantile = [&](double share) {
    double missing = share * area_, last = kUnset;
    for (std::size_t bin = 0; bin < kBins; ++bin) {
      if (!(by_slope_[bin] > 0)) continue;
      last = std::atan(std::min(tangent_of(bin), steepest_));
      if (by_slope_[bin] >= missing) break;
      missing -= by_slope_[bin];
    }
    return last;
  };
  facts.slope_p50 = quantile(0.5);
  facts.slope_p90 = quantile(0.9);
  facts.slope_p99 = quantile(0.99);
  facts.slope_max = facets_ > 0 ? std::atan(steepest_) : kUnset;
  facts.triangles = facets_;
  facts.surface_area = area_;
  facts.plan_area = half_ * static_cast<double>(facets_);
  facts.vertices = known_;
  facts.holes = columns_ * rows_ - known_;
}

GridFile GridSurvey::take_kept() { return std::move(kept_); }

}  // namespace rimstance
