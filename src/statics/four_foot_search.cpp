#include "four_foot_search.hpp"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <queue>

#include "view.hpp"

namespace rimstance {
namespace {

constexpr double kOfStress = 1e-9;  ///< a foot with less of the self-stress than this takes no part in it
constexpr int kMostCells = 20'000;

LinearForm times(double factor, const LinearForm& f) { return {factor * f.per_place, factor * f.constant}; }

/// A sum of forces: E_f, or with `share` of E_k beside it.
struct Sum {
  View view;
  Form form;
};

struct Open {
  Cell cell;
  double key;
  int number;
  bool operator<(const Open& o) const { return key != o.key ? key > o.key : number > o.number; }
};

/// Least over a domain of one way (side 1) or the other of the minimum of maxima.
class Search {
 public:
  Search(int side, double gap, double not_above) : side_(side), gap_(gap), not_above_(not_above) {
    best_.value = kInfinity;
  }
  std::vector<Sum> options, caps;

  Certified<CraneState> run() {
    for (const Cell& root : options.front().view.roots()) push(root, -kInfinity);
    for (int cells = 0; !open_.empty(); ++cells) {
      if (cells > kMostCells) return best_;
      const Cell cell = open_.top().cell;
      open_.pop();
      visit(cell);
    }
    best_.gap = gap_;
    if (best_.value > not_above_) best_.value = kInfinity;
    return best_;
  }

 private:
  double level() const { return std::min(best_.value, not_above_) - gap_; }
  void push(const Cell& cell, double key) { open_.push({cell, key, made_++}); }

  /// Bound of the least over a cell, at most; `hint` of the sum that gives it. Each view holds side * -S.
  double bound(const Cell& cell, Bound& hint, bool& indefinite) {
    const auto of = [&](const Sum& sum) {
      ++best_.evaluations;
      Bound b = sum.view.bound(cell, sum.form);
      indefinite = indefinite || b.indefinite;
      return b;
    };
    // -min(max(a), c) = max(min(-a), -c), of which the bounds follow; on the other side min(max(a), c).
    const auto better = [&](const Bound& x, const Bound& y, bool greater) {
      return (x.value > y.value) == greater ? x : y;
    };
    hint = of(options.front());
    for (std::size_t i = 1; i < options.size(); ++i) hint = better(hint, of(options[i]), side_ < 0);
    for (const Sum& cap : caps) hint = better(hint, of(cap), side_ > 0);
    return hint.value;
  }

  void try_states(const Cell& cell, const Bound& hint) {
    for (CraneState s : options.front().view.candidates(cell, hint.hint))
      for (const double slew : {s.slew, cell.slew.lo, cell.slew.middle(), cell.slew.hi}) {
        const Cell at{{slew, slew},         {s.luff, s.luff}, {s.extension, s.extension},
                      {s.travel, s.travel}, {s.line, s.line}, s.units_left,
                      s.units_left};
        Bound there;
        bool ignored = false;
        const double value = bound(at, there, ignored);
        if (!(value < best_.value)) continue;
        best_.value = value;
        best_.at = s;
        best_.at.slew = slew;
      }
  }

  void visit(const Cell& cell) {
    Bound hint;
    bool indefinite = false;
    if (bound(cell, hint, indefinite) >= level()) return;
    try_states(cell, hint);
    if (hint.value >= level()) return;
    split(cell, hint);
  }

  /// Halves the side over which the bound at the cell's middle moves most.
  void split(const Cell& cell, const Bound& hint) {
    double widest = -1;
    Cell lower = cell, upper = cell;
    for (Interval Cell::*side : {&Cell::slew, &Cell::luff, &Cell::extension, &Cell::travel, &Cell::line}) {
      const Interval& whole = cell.*side;
      if (!(whole.width() > 1e-12)) continue;
      double lo = kInfinity, hi = -kInfinity;
      for (const double x : {whole.lo, whole.middle(), whole.hi}) {
        Cell at = middle_of(cell);
        at.*side = {x, x};
        Bound there;
        bool ignored = false;
        const double value = bound(at, there, ignored);
        lo = std::min(lo, value);
        hi = std::max(hi, value);
      }
      if (hi - lo + 1e-12 * whole.width() <= widest) continue;
      widest = hi - lo + 1e-12 * whole.width();
      lower = upper = cell;
      lower.*side = {whole.lo, whole.middle()};
      upper.*side = {whole.middle(), whole.hi};
    }
    if (cell.units_hi > cell.units_lo) {
      Bound there;
      bool ignored = false;
      Cell at = middle_of(cell);
      const double lo = bound(at, there, ignored);
      at.units_lo = at.units_hi = cell.units_hi;
      if (const double moved = std::abs(bound(at, there, ignored) - lo); moved > widest) {
        widest = moved;
        lower = upper = cell;
        lower.units_hi = (cell.units_lo + cell.units_hi) / 2;
        upper.units_lo = lower.units_hi + 1;
      }
    }
    if (widest < 0) return;  // too small to halve: rounding is all that is left
    for (Cell* half : {&lower, &upper})
      if (options.front().view.contract(*half)) push(*half, hint.value);
  }
  static Cell middle_of(const Cell& cell) {
    Cell at = cell;
    for (Interval Cell::*side : {&Cell::slew, &Cell::luff, &Cell::extension, &Cell::travel, &Cell::line}) {
      const double middle = (cell.*side).middle();
      at.*side = {middle, middle};
    }
    at.units_hi = at.units_lo;
    return at;
  }

  int side_;
  double gap_, not_above_;
  Certified<CraneState> best_;
  std::priority_queue<Open> open_;
  int made_ = 0;
};

}  // namespace

FourFootSearch::FourFootSearch(const FootForces& forces, std::span<const Vec3> points,
                               const MachineLoads& loads, double gap)
    : forces_(forces), loads_(loads), gap_(gap) {
  std::array<Vec3, 4> four;
  std::copy_n(points.begin(), 4, four.begin());
  self_stress_ = self_stress(four);
}

Certified<CraneState> FourFootSearch::extreme(const LoadCase& load_case, const Domain& domain,
                                              std::size_t foot, int side, double not_above) const {
  double greatest = 0;
  for (const double w : self_stress_) greatest = std::max(greatest, std::abs(w));
  const auto takes_part = [&](std::size_t i) { return std::abs(self_stress_[i]) > kOfStress * greatest; };
  Search search(side, gap_, not_above);
  const LinearForm own = times(-side, forces_.all_carry(foot, foot, side));
  Form form;
  form.masses = Form::Masses::least_moment;
  form.alpha = 1;
  search.options.push_back({View(loads_, load_case, domain, own), form});
  for (std::size_t k = 0; k < 4; ++k) {
    if (k == foot || !takes_part(k) || !takes_part(foot)) continue;
    const double share = self_stress_[foot] / self_stress_[k];
    form.gamma = share;  // own - share * (-side E_k)
    Sum sum{View(loads_, load_case, domain, own, times(-side, forces_.all_carry(k, foot, side))), form};
    (share > 0 ? search.options : search.caps).push_back(std::move(sum));
  }
  return search.run();
}

}  // namespace rimstance
