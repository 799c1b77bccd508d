#include "rimstance/loads/boom.hpp"

#include <algorithm>

namespace rimstance {
namespace {

class Telescopic final : public BoomShape {
 public:
  explicit Telescopic(const Boom& boom) : sections_(boom.sections), order_(boom.order) {
    expects(!sections_.empty(), "boom_shape: a telescopic boom has sections");
    for (std::size_t k = 1; k < sections_.size(); ++k) strokes_ += sections_[k].stroke;
  }
  double greatest_extension() const override { return strokes_; }
  double length(double e) const override { return sections_[0].length + e; }
  int parts() const override { return static_cast<int>(sections_.size()); }
  BoomPart part(int k, double e) const override {
    const BoomSection& s = sections_[static_cast<std::size_t>(k)];
    const double inner_end = tip(k, e) - s.length;
    return {s.mass, s.mass * (inner_end + s.centre_at * s.length)};
  }
  double margin(int k) const override { return sections_[static_cast<std::size_t>(k)].margin; }
  std::vector<double> breakpoints() const override {
    std::vector<double> at;
    if (order_ == Boom::Order::in_order) {
      double sum = 0;
      for (std::size_t k = 1; k + 1 < sections_.size(); ++k) at.push_back(sum += sections_[k].stroke);
    }
    return at;
  }

 private:
  /// Outer end of section k, from the foot pin.
  double tip(int k, double e) const {
    double at = sections_[0].length, before = 0;
    for (std::size_t i = 1; i <= static_cast<std::size_t>(k); ++i) {
      const double stroke = sections_[i].stroke;
      if (order_ == Boom::Order::together)
        at += strokes_ > 0 ? e * stroke / strokes_ : 0;
      else
        at += std::clamp(e - before, 0.0, stroke);
      before += stroke;
    }
    return at;
  }
  std::vector<BoomSection> sections_;
  Boom::Order order_;
  double strokes_ = 0;
};

class Scissor final : public BoomShape {
 public:
  explicit Scissor(const Boom& boom) : boom_(boom) {}
  double greatest_extension() const override { return boom_.cells * boom_.bar - boom_.retracted; }
  double length(double e) const override { return boom_.retracted + e; }
  int parts() const override { return 1; }
  BoomPart part(int, double e) const override { return {boom_.mass, boom_.mass * length(e) / 2}; }
  double margin(int) const override { return boom_.margin; }

 private:
  Boom boom_;
};

class RigidChain final : public BoomShape {
 public:
  explicit RigidChain(const Boom& boom) : boom_(boom) {}
  double greatest_extension() const override { return boom_.chain_length - boom_.retracted; }
  double length(double e) const override { return boom_.retracted + e; }
  int parts() const override { return 1; }
  BoomPart part(int, double e) const override {
    const double outboard = boom_.chain_mass * length(e);
    return {outboard, outboard * length(e) / 2};
  }
  double margin(int) const override { return boom_.margin; }
  double in_magazine(double e) const override { return boom_.chain_mass * (boom_.chain_length - length(e)); }

 private:
  Boom boom_;
};

}  // namespace

std::shared_ptr<const BoomShape> boom_shape(const Boom& boom) {
  switch (boom.kind) {
    case Boom::Kind::telescopic:
      return std::make_shared<Telescopic>(boom);
    case Boom::Kind::scissor:
      return std::make_shared<Scissor>(boom);
    case Boom::Kind::rigid_chain:
      return std::make_shared<RigidChain>(boom);
  }
  expects(false, "boom_shape: a known kind");
  return nullptr;
}

double boom_equivalent(const BoomShape& boom, double extension) {
  double moment = 0;
  for (int k = 0; k < boom.parts(); ++k) moment += boom.part(k, extension).moment;
  return moment / boom.length(extension);
}

double structural_load(const StructuralLimit& limit, double reach) {
  const auto& rows = limit.rows;
  if (rows.empty()) return kInfinity;
  const auto next =
      std::find_if(rows.begin(), rows.end(), [&](const auto& row) { return row.reach >= reach; });
  if (next == rows.end()) return 0;
  if (next == rows.begin() || limit.between == StructuralLimit::Between::next) return next->load;
  const auto before = next - 1;
  const double share = (reach - before->reach) / (next->reach - before->reach);
  const double moment =
      before->load * before->reach + share * (next->load * next->reach - before->load * before->reach);
  return moment / reach;
}

}  // namespace rimstance
