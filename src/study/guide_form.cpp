#include "guide_form.hpp"

#include <algorithm>
#include <cmath>

namespace rimstance {
namespace {

Folded whole(const Demand& d, double share, double moment, const Sector& sector) {
  Folded sum = d.rest;
  sum.smooth.a -= d.less.at(share);
  for (const Runner& r : *d.runners) sum.add(share * r.at_start + moment * r.per_metre, r.factor, sector);
  return sum;
}

}  // namespace

bool falls_below_zero(const Demand& d, double share, double moment, const Sector& sector, double less) {
  // First without trigonometry: everything at its basic mass, and what it may fall by, each at its own worst.
  const double off = d.less.at(share) + less;
  Wave plain = d.rest.smooth;
  plain.a -= off;
  double falls = 0;
  const auto add = [&](const Wave& w, double factor) {
    plain += w;
    falls += falls_by(w, factor, sector);
  };
  for (const Kinked& k : d.rest.kinked) add(k.wave, k.factor);
  for (const Runner& r : *d.runners) add(share * r.at_start + moment * r.per_metre, r.factor);
  plain.a += falls;
  if (!falls_below_zero(plain, sector)) return false;
  if (falls == 0) return true;
  Folded sum = whole(d, share, moment, sector);
  sum.smooth.a -= less;
  if (sum.kinked.empty()) return falls_below_zero(sum.smooth, sector);
  return least(sum.smooth, sum.kinked, sector).value < 0;
}

Tangent tangent(const Demand& d, double share, double moment, const Sector& sector) {
  const Folded sum = whole(d, share, moment, sector);
  const SlewLeast now = least(sum.smooth, sum.kinked, sector);
  Tangent out{now.value, now.slew, share < 1 ? -d.less.below : -d.less.above, 0};
  for (const Runner& r : *d.runners) {
    const double start = r.at_start.at(now.slew), metre = r.per_metre.at(now.slew);
    const double counts = share * start + moment * metre < 0 ? r.factor : 1;
    out.per_share += counts * start;
    out.per_moment += counts * metre;
  }
  return out;
}

void TravelWindow::raise(const Demand& d, int number, const Sector& sector) {
  for (int step = 0; step < 100 && falls_below_zero(d, 1, travel.lo, sector); ++step) {
    const Tangent t = tangent(d, 1, travel.lo, sector);
    if (!(t.value < 0)) return;
    const double next = t.per_moment > 0 ? travel.lo - t.value / t.per_moment : kInfinity;
    if (!(next <= kFar)) return close(t.per_moment > 0, number, t.slew);
    lower = number;
    lower_slew = t.slew;
    const bool settled = next - travel.lo <= 1e-15 * (1 + std::abs(next));
    travel.lo = next;
    if (settled) return;
  }
}

void TravelWindow::lower_to(const Demand& d, int number, const Sector& sector) {
  for (int step = 0; step < 100 && falls_below_zero(d, 1, travel.hi, sector); ++step) {
    const Tangent t = tangent(d, 1, travel.hi, sector);
    if (!(t.value < 0)) return;
    const double next = t.per_moment < 0 ? travel.hi - t.value / t.per_moment : -kInfinity;
    if (!(next >= -kFar)) return close(!(t.per_moment < 0), number, t.slew);
    upper = number;
    upper_slew = t.slew;
    const bool settled = travel.hi - next <= 1e-15 * (1 + std::abs(next));
    travel.hi = next;
    if (settled) return;
  }
}

/// No travel keeps both this demand and what has set the other end, or not even this demand alone.
void TravelWindow::close(bool asks_for_more, int number, double slew) {
  empty = true;
  if (asks_for_more || lower < 0) lower = number, lower_slew = slew;
  if (!asks_for_more || upper < 0) upper = number, upper_slew = slew;
}

void TravelWindow::keep(const Demand& d, int number, const Sector& sector) {
  if (empty) return;
  raise(d, number, sector);
  if (!empty) lower_to(d, number, sector);
  // Concave in the travel: not negative at both ends is not negative between them.
  if (travel.lo > travel.hi + 1e-12) empty = true;
}

Interval TravelWindow::ends() const {
  if (empty) return {};
  const double lo = std::min(travel.lo, travel.hi), hi = std::max(travel.lo, travel.hi);
  return {lo > -kFar ? lo : -kInfinity, hi < kFar ? hi : kInfinity};
}

ShareRegion::ShareRegion(const Interval& guide)
    : corners_{Vec2::Zero(), Vec2(kMost, kMost * guide.lo), Vec2(kMost, kMost * guide.hi)} {}

Vec2 ShareRegion::lightest() const {
  return *std::min_element(corners_.begin(), corners_.end(),
                           [](const Vec2& a, const Vec2& b) { return a.x() < b.x(); });
}
Vec2 ShareRegion::heaviest() const {
  return *std::max_element(corners_.begin(), corners_.end(),
                           [](const Vec2& a, const Vec2& b) { return a.x() < b.x(); });
}

/// Keeps what lies on the side of the half-plane where the tangent is not negative.
void ShareRegion::cut(const Tangent& t, const Vec2& at) {
  const auto value = [&](const Vec2& p) {
    return t.value + t.per_share * (p.x() - at.x()) + t.per_moment * (p.y() - at.y());
  };
  std::vector<Vec2> kept;
  for (std::size_t i = 0; i < corners_.size(); ++i) {
    const Vec2 &a = corners_[i], &b = corners_[(i + 1) % corners_.size()];
    const double va = value(a), vb = value(b);
    if (va >= 0) kept.push_back(a);
    if ((va < 0) != (vb < 0)) kept.push_back(a + va / (va - vb) * (b - a));
  }
  corners_ = std::move(kept);
}

bool ShareRegion::settle_corner(bool heavy, std::span<const Demand> demands, const Sector& sector,
                                double slack) {
  constexpr int kMostCuts = 2000;  // each goes on from where the last one led: tens are usual
  int cuts = 0;
  for (bool clean = false; !clean;) {
    clean = true;
    for (const Demand& d : demands)
      while (!empty() && cuts < kMostCuts) {
        const Vec2 at = heavy ? heaviest() : lightest();
        if (!falls_below_zero(d, at.x(), at.y(), sector)) break;
        const Tangent t = tangent(d, at.x(), at.y(), sector);
        if (!(t.value < -slack * (1 + std::abs(at.x())))) break;
        cut(t, at);
        ++cuts;
        clean = false;
      }
    if (empty()) return false;
  }
  return true;
}

bool ShareRegion::settle(std::span<const Demand> demands, const Sector& sector, double slack) {
  return !empty() && settle_corner(false, demands, sector, slack) &&
         settle_corner(true, demands, sector, slack);
}

}  // namespace rimstance
