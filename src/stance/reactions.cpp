#include "rimstance/stance/reactions.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

/// Twice a triangle's area over the square of the stance's size: below it three contacts are in line.
constexpr double kInLine = 1e-9;
/// A force above minus this share of the weight is a zero that was rounded.
constexpr double kNoForce = 1e-13;
/// Unbalanced share of the weight at which Newton's steps end.
constexpr double kBalanced = 1e-13;

/// The problem in plan about the contacts' centre, lengths over their size, so that its equations are
/// balanced: sum of g_i N_i = b, compression_i = g_i . q - gap_i.
struct Plan {
  std::vector<Vec3> g;  ///< (1, x, y)
  Vec3 b;               ///< weight, and its moments as (weight x, weight y)
  Vec2 centre;
  double size;
};

Plan plan(std::span<const Vec3> contacts, const Vec6& w) {
  Plan p;
  p.centre = Vec2::Zero();
  for (const Vec3& c : contacts) p.centre += c.head<2>() / static_cast<double>(contacts.size());
  p.size = 0;
  for (const Vec3& c : contacts) p.size = std::max(p.size, (c.head<2>() - p.centre).norm());
  if (!(p.size > 0)) p.size = 1;  // none, or all in one place: they hold nothing, and nothing is to be divided by
  for (const Vec3& c : contacts) {
    const Vec2 d = (c.head<2>() - p.centre) / p.size;
    p.g.emplace_back(1, d.x(), d.y());
  }
  const double weight = -w[2];
  p.b = Vec3(weight, (w[4] - weight * p.centre.x()) / p.size, (-w[3] - weight * p.centre.y()) / p.size);
  return p;
}

bool span_area(const std::vector<Vec3>& g, const std::vector<std::size_t>& among) {
  for (std::size_t i = 0; i < among.size(); ++i)
    for (std::size_t j = i + 1; j < among.size(); ++j)
      for (std::size_t k = j + 1; k < among.size(); ++k)
        if (std::abs(g[among[i]].dot(g[among[j]].cross(g[among[k]]))) > kInLine) return true;
  return false;
}

/// Linear springs N = k (g.q - gap) where that is positive.
struct Springs {
  std::vector<double> k, gap;
};

struct Balance {
  bool found = false;
  std::vector<double> force;
  Vec3 q = Vec3::Zero();
};

/// Least sum of N^2 / 2k + gap N with sum g N = b and N >= 0. Starts from all contacts pulling or pushing
/// as they like and pins the worst puller to zero, one at a time, letting go of pins that would have to
/// pull: the energy rises with every step, so no set of pins comes twice and the search ends.
class ActiveSet {
 public:
  ActiveSet(const std::vector<Vec3>& g, const Springs& s, const Vec3& b)
      : g_(g), s_(s), b_(b), pinned_(g.size(), false) {}

  Balance solve() {
    const std::size_t most = 100 * (g_.size() + 1);  // far beyond what any stance needs
    balance(none_, 0);
    for (std::size_t step = 0; step < most; ++step) {
      const std::size_t worst = worst_puller();
      if (worst == none_) return finished();
      if (!pin(worst)) return {};
    }
    return {};
  }

 private:
  static constexpr std::size_t none_ = static_cast<std::size_t>(-1);

  std::vector<std::size_t> free_but(std::size_t left_out) const {
    std::vector<std::size_t> list;
    for (std::size_t i = 0; i < g_.size(); ++i)
      if (!pinned_[i] && i != left_out) list.push_back(i);
    return list;
  }

  /// Forces of the free contacts, `p` being pushed up by the multiplier u on its way to zero.
  void balance(std::size_t p, double u) {
    Mat3 H = Mat3::Zero();
    Vec3 rhs = b_;
    for (std::size_t i : free_but(none_)) {
      const double gap = s_.gap[i] - (i == p ? u : 0);
      H += s_.k[i] * g_[i] * g_[i].transpose();
      rhs += s_.k[i] * gap * g_[i];
    }
    H_ = H.ldlt();
    q_ = H_.solve(rhs);
    force_.assign(g_.size(), 0.0);
    for (int refine = 0; refine < 2; ++refine) {
      Vec3 missing = b_;
      for (std::size_t i : free_but(none_)) {
        force_[i] = s_.k[i] * (g_[i].dot(q_) - s_.gap[i] + (i == p ? u : 0));
        missing -= force_[i] * g_[i];
      }
      const Vec3 dq = H_.solve(missing);
      q_ += dq;
      for (std::size_t i : free_but(none_)) force_[i] += s_.k[i] * g_[i].dot(dq);
    }
  }

  std::size_t worst_puller() const {
    std::size_t worst = none_;
    double least = -kNoForce * b_[0];
    for (std::size_t i : free_but(none_))
      if (force_[i] < least) least = force_[i], worst = i;
    return worst;
  }

  /// The pin that must be let go first while u on p grows, and at which growth; none_ if all may stay.
  std::pair<std::size_t, double> first_to_go(std::size_t p) const {
    const Vec3 push = s_.k[p] * H_.solve(g_[p]);
    std::pair<std::size_t, double> first{none_, kInfinity};
    for (std::size_t i = 0; i < g_.size(); ++i) {
      const double rate = pinned_[i] ? g_[i].dot(push) : 0.0;
      if (!(rate < -1e-12)) continue;
      const double at = std::max(0.0, s_.gap[i] - g_[i].dot(q_)) / -rate;
      if (at < first.second) first = {i, at};
    }
    return first;
  }

  /// Growth of u on p that takes its force to zero; infinite where the others leave it no choice.
  double until_zero(std::size_t p) const {
    const std::vector<std::size_t> others = free_but(p);
    if (!span_area(g_, others)) return kInfinity;
    Mat3 H = Mat3::Zero();
    for (std::size_t i : others) H += s_.k[i] * g_[i] * g_[i].transpose();
    return -force_[p] * (1 / s_.k[p] + g_[p].dot(H.ldlt().solve(g_[p])));
  }

  bool pin(std::size_t p) {
    double u = 0;
    for (std::size_t let_go = 0; let_go <= g_.size(); ++let_go) {
      const double full = until_zero(p);
      const auto [i, partial] = first_to_go(p);
      if (i == none_ && full == kInfinity) return false;
      if (full <= partial) {
        pinned_[p] = true;
        balance(none_, 0);
        return true;
      }
      u += partial;
      pinned_[i] = false;
      balance(p, u);
    }
    return false;
  }

  Balance finished() {
    const std::vector<std::size_t> carry = free_but(none_);
    if (carry.size() == 3) {  // statics alone
      Mat3 G;
      for (Eigen::Index c = 0; c < 3; ++c) G.col(c) = g_[carry[static_cast<std::size_t>(c)]];
      const Vec3 N = G.partialPivLu().solve(b_);
      for (Eigen::Index c = 0; c < 3; ++c) force_[carry[static_cast<std::size_t>(c)]] = N[c];
    }
    for (double& f : force_) f = f > kNoForce * b_[0] ? f : 0.0;
    return {true, force_, q_};
  }

  const std::vector<Vec3>& g_;
  const Springs& s_;
  const Vec3 b_;
  std::vector<bool> pinned_;
  Eigen::LDLT<Mat3> H_;
  Vec3 q_ = Vec3::Zero();
  std::vector<double> force_;
};

/// Force of a support at a compression, and its slope there.
struct Answer {
  double force = 0, slope = 0;
};

/// Least sinkage at which the soil carries `force`; infinite if it never does.
double sinkage_at(const std::function<double(double)>& soil, double force) {
  if (!(force > 0)) return 0;
  double lo = 0, hi = 1e-6;
  for (int k = 0; soil(hi) < force; ++k, hi *= 2)
    if (k > 60) return kInfinity;
  for (int k = 0; k < 200 && hi - lo > 1e-16 * hi; ++k) {
    const double middle = 0.5 * (lo + hi);
    (soil(middle) < force ? lo : hi) = middle;
  }
  return hi;
}

/// Structure and soil in series on the soil's virgin curve: soil(z) = k (compression - z).
Answer virgin(const Support& s, double compression) {
  double lo = 0, hi = compression;
  for (int k = 0; k < 200 && hi - lo > 1e-16 * compression; ++k) {
    const double middle = 0.5 * (lo + hi);
    (s.soil_force(middle) < s.stiffness * (compression - middle) ? lo : hi) = middle;
  }
  const double z = 0.5 * (lo + hi), h = 1e-6 * z;
  const double soil_slope = h > 0 ? (s.soil_force(z + h) - s.soil_force(z - h)) / (2 * h) : kInfinity;
  const double slope = soil_slope > 0 ? 1 / (1 / s.stiffness + 1 / soil_slope) : 0.0;
  return {s.stiffness * (compression - z), slope};
}

/// A loaded soil gives back nothing: up to `greatest_before` only the structure springs, over the dent.
Answer answer(const Support& s, double compression, double dent) {
  if (!(compression > dent)) return {};
  const double force = s.stiffness * (compression - dent);
  if (!s.soil_force || force <= s.greatest_before) return {force, s.stiffness};
  return virgin(s, compression);
}

/// One energy with soil in it.
class Series {
 public:
  Series(const Plan& p, std::span<const Support> supports) : p_(p), supports_(supports) {
    for (const Support& s : supports)
      dents_.push_back(s.soil_force ? sinkage_at(s.soil_force, s.greatest_before) : 0);
  }

  Balance solve(const Balance& start) const {
    Balance at = start;
    for (int step = 0; step < 200; ++step) {
      const Springs tangent = evaluate(at);
      if (unbalanced(at.force).norm() <= kBalanced * p_.b[0]) return at;
      const Balance next = ActiveSet(p_.g, tangent, p_.b).solve();
      if (!next.found) return {};
      at.q += along(at.q, next.q - at.q) * (next.q - at.q);
    }
    (void)evaluate(at);
    at.found = unbalanced(at.force).norm() <= 1e-9 * p_.b[0];
    return at;
  }

 private:
  /// Forces at at.q, and the springs that touch the curves there.
  Springs evaluate(Balance& at) const {
    Springs tangent;
    for (std::size_t i = 0; i < supports_.size(); ++i) {
      const Support& s = supports_[i];
      const double reach = p_.g[i].dot(at.q);
      const Answer a = answer(s, reach - s.gap, dents_[i]);
      at.force[i] = a.force;
      const double k = a.force > 0 ? std::max(a.slope, 1e-6 * s.stiffness) : s.stiffness;
      tangent.k.push_back(k);
      tangent.gap.push_back(a.force > 0 ? reach - a.force / k : s.gap + dents_[i]);
    }
    return tangent;
  }

  Vec3 unbalanced(const std::vector<double>& force) const {
    Vec3 missing = p_.b;
    for (std::size_t i = 0; i < force.size(); ++i) missing -= force[i] * p_.g[i];
    return missing;
  }

  /// Share of the step at which the energy stops falling; its slope along the step only grows.
  double along(const Vec3& q, const Vec3& step) const {
    const auto slope = [&](double share) {
      Balance at{true, std::vector<double>(supports_.size()), q + share * step};
      (void)evaluate(at);
      return -unbalanced(at.force).dot(step);
    };
    const double first = std::abs(slope(0));
    double lo = 0, hi = 1;
    if (slope(hi) <= 0.1 * first) return 1;
    for (int k = 0; k < 60; ++k) {
      const double middle = 0.5 * (lo + hi), s = slope(middle);
      if (std::abs(s) <= 0.1 * first) return middle;
      (s > 0 ? hi : lo) = middle;
    }
    return lo;
  }

  const Plan& p_;
  std::span<const Support> supports_;
  std::vector<double> dents_;
};

Springs linear(std::span<const Support> supports) {
  Springs s;
  for (const Support& one : supports) {
    expects(one.stiffness > 0, "Support: stiffness > 0");
    s.k.push_back(one.stiffness);
    s.gap.push_back(one.gap);
  }
  return s;
}

std::vector<std::size_t> first_numbers(std::size_t n) {
  std::vector<std::size_t> list(n);
  for (std::size_t i = 0; i < n; ++i) list[i] = i;
  return list;
}

Reactions described(const Plan& p, const Balance& at) {
  Reactions r;
  r.normal = at.force;
  const bool all = std::all_of(at.force.begin(), at.force.end(), [](double f) { return f > 0; });
  r.outcome = all ? Reactions::Outcome::stands : Reactions::Outcome::lifted;
  const double turn_y = at.q[1] / p.size, turn_x = -at.q[2] / p.size;
  r.displacement = Vec3(at.q[0] - turn_y * p.centre.x() + turn_x * p.centre.y(), turn_x, turn_y);
  Vec3 missing = p.b;
  for (std::size_t i = 0; i < p.g.size(); ++i) missing -= at.force[i] * p.g[i];
  r.residual = missing.cwiseAbs().maxCoeff() / p.b[0];
  return r;
}

}  // namespace

std::vector<Support> supports(const Machine& machine) {
  std::vector<Support> list;
  for (const Outrigger& o : machine.outriggers) {
    Support s;
    s.stiffness = o.stiffness;
    list.push_back(s);
  }
  return list;
}

Reactions reactions(std::span<const Vec3> contacts, std::span<const Support> supports, const Vec6& w) {
  expects(contacts.size() == supports.size(), "reactions: one support per contact");
  const Springs springs = linear(supports);
  if (contacts.size() < 3 || !(-w[2] > 0)) return {};
  const Plan p = plan(contacts, w);
  if (!(p.size > 0) || !span_area(p.g, first_numbers(p.g.size()))) return {};
  Balance at = ActiveSet(p.g, springs, p.b).solve();
  const bool soil =
      std::any_of(supports.begin(), supports.end(), [](const Support& s) { return bool(s.soil_force); });
  if (at.found && soil) at = Series(p, supports).solve(at);
  return at.found ? described(p, at) : Reactions{};
}

Eigen::MatrixXd force_per_stroke(std::span<const Vec3> contacts, std::span<const Support> supports,
                                 const Reactions& at) {
  expects(at.normal.size() == contacts.size() && supports.size() == contacts.size(),
          "force_per_stroke: reactions of the same contacts");
  const Plan p = plan(contacts, Vec6::Zero());
  std::vector<double> k(contacts.size(), 0.0);
  Mat3 H = Mat3::Zero();
  for (std::size_t i = 0; i < contacts.size(); ++i) {
    if (!(at.normal[i] > 0)) continue;
    const Support& s = supports[i];
    const Vec3 c = contacts[i];
    const double compression =
        at.displacement[0] - at.displacement[1] * c.y() + at.displacement[2] * c.x() - s.gap;
    k[i] = answer(s, compression, s.soil_force ? sinkage_at(s.soil_force, s.greatest_before) : 0).slope;
    H += k[i] * p.g[i] * p.g[i].transpose();
  }
  const auto n = static_cast<Eigen::Index>(contacts.size());
  Eigen::MatrixXd change = Eigen::MatrixXd::Zero(n, n);
  std::vector<std::size_t> carry;
  for (std::size_t i = 0; i < k.size(); ++i)
    if (k[i] > 0) carry.push_back(i);
  if (carry.size() < 4 || !span_area(p.g, carry)) return change;
  const Mat3 inverse = H.inverse();
  for (std::size_t i : carry)
    for (std::size_t j : carry)
      change(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) =
          (i == j ? k[i] : 0.0) - k[i] * k[j] * p.g[i].dot(inverse * p.g[j]);
  return change;
}

std::vector<double> stress_free_gaps(std::span<const Vec3> contacts, std::span<const Support> supports,
                                     const Vec6& w) {
  std::vector<Support> without(supports.begin(), supports.end());
  for (Support& s : without) s.gap = 0;
  const Reactions r = reactions(contacts, without, w);
  std::vector<double> gaps;
  if (r.outcome == Reactions::Outcome::tips) return gaps;
  for (const Vec3& c : contacts)
    gaps.push_back(-(r.displacement[0] - r.displacement[1] * c.y() + r.displacement[2] * c.x()));
  return gaps;
}

}  // namespace rimstance
