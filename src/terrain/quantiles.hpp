#pragma once
#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <future>
#include <limits>
#include <vector>

namespace rimstance {

/// Weighted quantiles in two or three passes and little memory: the bits of floats >= 0 ascend like the
/// floats themselves, so the quantile is found digit by digit, 16 bits at a time. Exact to float. Of few
/// samples (`about` says how many, roughly) the histograms of such wide digits would cost more than the
/// samples, so their digits are narrower.
/// The samples come in two parts: `visit(part, f)` calls f(float key >= 0, weight) for every sample of part 0
/// or 1, each time the same way. `beside` says whether both may be visited at once; the result is the same.
/// `weight()` is asked only where it counts: for every sample in the first pass, for few in the other. The
/// result for share q is the least key at which the weight of all keys up to it reaches q of the total (q >
/// 0). No weight at all: every quantile is NaN.
template <std::size_t n, class Visit>
std::array<double, n> weighted_quantiles(const std::array<double, n>& shares, std::size_t about,
                                         std::launch beside, Visit&& visit) {
  struct Digit {
    int shift, bits;
  };
  struct Search {
    std::uint32_t found = 0;  ///< the digits so far
    double missing = 0;       ///< weight still to be reached among the keys that begin with them
    std::vector<double> bins;
  };
  std::array<Search, n> searches;
  bool any = true;
  const auto digits = about < 100'000 ? std::vector<Digit>{{21, 11}, {10, 11}, {0, 10}}
                                      : std::vector<Digit>{{16, 16}, {0, 16}};
  for (const Digit& digit : digits) {
    const std::uint32_t mask = (std::uint32_t{1} << digit.bits) - 1;
    const bool first = digit.shift + digit.bits == 32;  // no digit is known yet: one histogram serves all
    std::array<std::array<std::vector<double>, n>, 2> bins;
    const auto count = [&](std::size_t part) {
      for (std::size_t k = 0; k < (first ? 1 : n); ++k) bins[part][k].assign(mask + 1, 0.0);
      visit(part, [&, mine = bins[part].data()](float key, const auto& weight) {
        const auto all = std::uint64_t{std::bit_cast<std::uint32_t>(key)} >> digit.shift;
        if (first) {
          mine[0][all] += weight();
          return;
        }
        for (std::size_t k = 0; k < n; ++k)
          if (all >> digit.bits == searches[k].found) mine[k][all & mask] += weight();
      });
    };
    auto other = std::async(beside, count, 1);
    count(0);
    other.get();
    for (std::size_t k = 0; k < n; ++k) {
      const std::size_t own = first ? 0 : k;
      searches[k].bins.assign(mask + 1, 0.0);
      for (std::size_t bin = 0; bin <= mask; ++bin)
        searches[k].bins[bin] = bins[0][own][bin] + bins[1][own][bin];
    }
    for (std::size_t k = 0; k < n; ++k) {
      Search& s = searches[k];
      if (first) {
        for (const double weight : s.bins) s.missing += shares[k] * weight;
        any = any && s.missing > 0;
      }
      std::uint32_t bin = 0, last = 0;
      for (; bin <= mask; ++bin) {
        if (!(s.bins[bin] > 0)) continue;
        last = bin;
        if (s.bins[bin] >= s.missing) break;
        s.missing -= s.bins[bin];
      }
      if (bin > mask) bin = last;  // the sums were rounded
      s.found = s.found << digit.bits | bin;
    }
  }
  std::array<double, n> result{};
  for (std::size_t k = 0; k < n; ++k)
    result[k] = any ? static_cast<double>(std::bit_cast<float>(searches[k].found))
                    : std::numeric_limits<double>::quiet_NaN();
  return result;
}

}  // namespace rimstance
