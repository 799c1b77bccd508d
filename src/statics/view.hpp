#pragma once
#include <array>
#include <vector>

#include "about.hpp"
#include "rimstance/statics/envelope.hpp"
#include "rimstance/statics/slew.hpp"

namespace rimstance {

/// A box of crane states.
struct Cell {
  Interval slew, luff, extension, travel, line;
  int units_lo = 0, units_hi = 0;
};

/// A question at a level, as the sign of a form in the parts: nowhere negative on a cell proves it.
/// Of a unit weight (over g) with D = (r - c) . n and H = (r - c) . v, the value is
///   alpha D - gamma H - shift,   summed over the factored masses times g, plus delta.
/// The tip's pull, which is no weight, counts in D and in the shift; H is that of the weights, times the
/// share of them that presses down under the pull: what counts as height of the resultant.
struct Form {
  enum class Masses {
    adverse,       ///< every margined mass at the end that lowers the form
    least_moment,  ///< every margined mass at the end that gives the least restoring moment
    by_body        ///< adverse, and what is negative by body counts `ratio` times
  };
  Masses masses = Masses::adverse;
  double alpha = 0, gamma = 0, shift = 0, delta = 0, ratio = 1;
  /// Besides, so many times the height in the field that does not lean (TippingAxis::worst_way) of all that
  /// loads, the pull included, masses at least moment.
  double level_height = 0;
};

/// Lower bound of a form over a cell, and the corner that gave it.
struct Bound {
  double value = kUnset;
  CraneState hint;          ///< corner and slew angle of the bound; may violate the cuts
  bool indefinite = false;  ///< some margined part changes side within the cell: splitting the slew helps
};

/// Places of all parts about one axis, as waves of the slew angle: what the search evaluates.
class View {
 public:
  /// Bounds are for every payload from the loads' to `payload_to` where that is more; states are looked at
  /// with the one or the other.
  View(const MachineLoads&, const LoadCase&, const Domain&, const TippingAxis&, double payload_to = 0);
  /// Sums of `n`, and of `v` beside it: masses at least moment are those that lower the sum of `n`.
  View(const MachineLoads&, const LoadCase&, const Domain&, const LinearForm& n, const LinearForm& v = {});

  /// Shrinks luff and extension to what the cuts allow; false if nothing is left.
  bool contract(Cell&) const;
  Bound bound(const Cell&, const Form&) const;
  /// Coarse range over a cell of sum(m g (alpha d + beta h cos(psi))) along n and v, and of all that presses,
  /// for any masses between basic and with their growth allowance: no search, a sum of intervals.
  Interval range(const Cell&, double alpha, double beta) const;
  Interval weight_range(const Cell&) const;
  Measures at(const CraneState&, bool laden = false) const;
  /// Value of a form given outright at a state, at adverse masses.
  double form_at(const CraneState&) const;
  /// States of the cell that satisfy the cuts, near `hint` first; slew as in the hint.
  std::vector<CraneState> candidates(const Cell&, const CraneState& hint) const;
  std::vector<Cell> roots() const;

  const TippingAxis& axis() const { return axis_; }
  double length(double extension) const { return loads_.boom->length(extension); }  ///< foot pin to tip [m]
  /// A metre of line as a share of what the lumps weigh.
  double line_share() const;
  /// A release's (upward, > 0) or a stall's (< 0) pull at the tip, over gravity [kg].
  double pull() const { return laden_.pull; }
  bool has_pull() const { return hung_.pull != 0 || laden_.pull != 0; }
  bool has_payloads() const { return payloads_; }  ///< more than one

 private:
  struct LumpView {
    Wave n, v;  ///< of a unit mass at travel 0, times g
    Wave n_travel, v_travel;
    double mass, per_unit, per_line, margin;
    int body;
  };
  struct PartBox;
  struct BoomBox;
  struct Multipliers;
  struct Corner;
  struct Counts;
  class Sum;

  LumpView lump_view(const Lump&) const;
  Wave place(const Vec3& row, double constant, const Vec3& p, bool on_platform) const;
  void build();
  BoomBox boom_box(const Cell&) const;
  int moment_sign(const BoomBox&, const PartBox&, const Sector& slew) const;
  Counts counts(const Cell&, const Form&, const BoomBox&, const Sector& slew) const;
  void add_lumps(const Form&, const Corner&, const Counts*, Sum&) const;
  void add_boom(const Sector& slew, const Form&, const BoomBox&, const Multipliers&, const Corner&,
                Sum&) const;
  void add_magazine(const Form&, double mass, Sum&) const;
  void consider(const Cell&, const Sector& slew, const Form&, const BoomBox&, const Multipliers&,
                const Corner&, Sum lumps, Bound&) const;
  std::array<Multipliers, 2> multipliers(const Cell&, const Form&, const BoomBox&,
                                         const CraneState& at) const;
  Bound bound_in_cuts(const Cell&, const Form&, const BoomBox&) const;
  Bound bound_with(const Cell&, const Form&, const BoomBox&, const Multipliers&) const;
  Interval mass_range(const LumpView&, const Cell&) const;
  Interval hanging(const Cell&) const;
  bool feasible(double luff, double extension) const;
  double pulls_beside(const Form& form) const { return of_forces_ ? form.gamma : 0; }
  Wave level_height(const Form&, const Wave& n, const Wave& v) const;
  Interval press_share(const Cell&, const BoomBox&) const;
  Interval tip_x(const Cell&, double length_lo, double length_hi) const;

  const MachineLoads& loads_;
  Domain domain_;
  Hung hung_, laden_;  ///< under the least payload and the greatest: what hangs of either kind lies between
  bool payloads_ = false;
  bool margins_;
  bool cut_ = false;    ///< reach or tip height is cut
  Vec3 n_row_, v_row_;  ///< g n and g v
  double n_constant_, v_constant_;
  bool of_forces_ = false;  ///< n and v are sums of forces: a pull is one of them
  TippingAxis axis_{};
  double g_ = 0;
  std::pair<int, int> units_;
  std::vector<LumpView> lumps_;
  Wave foot_n_, foot_v_, along_n_, along_v_;  ///< unit mass at the foot pin; per metre along platform x
  double up_n_, up_v_;                        ///< per metre along platform z
  Wave magazine_n_, magazine_v_;
};

}  // namespace rimstance
