#include <algorithm>
#include <array>
#include <cmath>
#include <mutex>
#include <utility>

#include "plan.hpp"
#include "pyramid.hpp"
#include "rimstance/terrain/ground.hpp"

namespace rimstance {
namespace {

/// Entries of the index per triangle at which the bucket size settles: for even triangles a bucket is
/// then 1.4 of their width and lists about eleven of them.
constexpr double kEntriesPerTriangle = 3.0;

/// Rounding of a bucket's border, relative to its size.
constexpr double kBorder = 1e-9;

/// Ids found by one query. Most queries are feet and points, and fit the part on the stack.
class IdList {
 public:
  void append(const std::uint32_t* first, const std::uint32_t* last) {
    const auto more = static_cast<std::size_t>(last - first);
    if (many_.empty() && count_ + more <= few_.size()) {
      std::copy(first, last, few_.begin() + static_cast<std::ptrdiff_t>(count_));
      count_ += more;
      return;
    }
    if (many_.empty()) many_.assign(few_.begin(), few_.begin() + static_cast<std::ptrdiff_t>(count_));
    many_.insert(many_.end(), first, last);
  }
  /// Sorted, each once.
  std::pair<const std::uint32_t*, const std::uint32_t*> settle() {
    std::uint32_t* const first = many_.empty() ? few_.data() : many_.data();
    std::uint32_t* last = first + (many_.empty() ? count_ : many_.size());
    std::sort(first, last);
    return {first, std::unique(first, last)};
  }

 private:
  std::array<std::uint32_t, 512> few_;
  std::size_t count_ = 0;
  std::vector<std::uint32_t> many_;
};

class MeshGround final : public Ground {
 public:
  explicit MeshGround(std::shared_ptr<const TriangleMesh> mesh) : owner_(std::move(mesh)), mesh_(*owner_) {
    expects(mesh_.triangles.size() < (std::uint64_t{1} << 30), "mesh_ground: fewer than 2^30 triangles");
    const std::vector<char> listed = measure();
    if (columns_ > 0) index(listed);
  }

  Box2 extent() const override { return extent_; }

  void facets(const Box2& box, std::vector<Facet>& out) const override {
    collect(box, out, [](const Facet& f) { return plan::area2(f.a, f.b, f.c) != 0; });
  }

  void triangles(const Box2& box, std::vector<Facet>& out) const override {
    collect(box, out, [](const Facet& f) { return has_area(f); });
  }

  HeightBounds bounds(const Box2& box) const override {
    if (!meets_index(box)) return kNoGround;
    std::call_once(pyramid_built_, [this] { build_pyramid(); });
    HeightBounds found =
        pyramid_.over(column(box.lo.x()), column(box.hi.x()), row(box.lo.y()), row(box.hi.y()),
                      [&](std::size_t i, std::size_t j) { return pyramid_.finest(i, j); });
    found.hole = found.hole || !extent_.contains(box.lo) || !extent_.contains(box.hi);
    return found;
  }

  bool hole_at(const Vec2&) const override { return false; }

 private:
  static bool has_area(const Facet& f) { return ((f.b - f.a).cross(f.c - f.a)).squaredNorm() > 0; }

  Facet facet(std::size_t id) const {
    const auto& t = mesh_.triangles[id];
    return {mesh_.vertices[t[0]], mesh_.vertices[t[1]], mesh_.vertices[t[2]], id};
  }

  bool meets_index(const Box2& box) const {
    return columns_ > 0 && box.hi.x() >= index_box_.lo.x() && box.lo.x() <= index_box_.hi.x() &&
           box.hi.y() >= index_box_.lo.y() && box.lo.y() <= index_box_.hi.y();
  }
  std::size_t column(double x) const { return bucket_of(x - index_box_.lo.x(), columns_); }
  std::size_t row(double y) const { return bucket_of(y - index_box_.lo.y(), rows_); }
  std::size_t bucket_of(double along, std::size_t count) const {
    return static_cast<std::size_t>(std::clamp(along * inverse_size_, 0.0, static_cast<double>(count - 1)));
  }
  Box2 bucket_box(std::size_t i, std::size_t j) const {
    const Vec2 lo = index_box_.lo + size_ * Vec2(static_cast<double>(i), static_cast<double>(j));
    return {lo, lo + Vec2::Constant(size_)};
  }

  template <class Wanted>
  void collect(const Box2& box, std::vector<Facet>& out, const Wanted& wanted) const {
    if (!meets_index(box)) return;
    const std::size_t i1 = column(box.hi.x()), j1 = row(box.hi.y());
    IdList ids;
    for (std::size_t j = row(box.lo.y()); j <= j1; ++j)
      for (std::size_t i = column(box.lo.x()); i <= i1; ++i) {
        const std::size_t b = j * columns_ + i;
        ids.append(entries_.data() + starts_[b], entries_.data() + starts_[b + 1]);
      }
    const auto [first, last] = ids.settle();
    for (const std::uint32_t* id = first; id != last; ++id) {
      const Facet f = facet(*id);
      if (plan::meets(f, box) && wanted(f)) out.push_back(f);
    }
  }

  /// Plan boxes of the vertices that triangles use: of those with an area, and of the facets among them.
  /// Where every triangle is a facet and every vertex is used, that is the box of the vertices.
  void measure_boxes(const std::vector<char>& listed, bool all_facets, const std::vector<char>& used) {
    Box2 all{Vec2::Constant(kInfinity), Vec2::Constant(-kInfinity)}, ground = all;
    const auto grow = [](Box2& box, const Vec3& p) {
      box.lo = box.lo.cwiseMin(p.head<2>());
      box.hi = box.hi.cwiseMax(p.head<2>());
    };
    if (all_facets) {
      for (std::size_t v = 0; v < mesh_.vertices.size(); ++v)
        if (used[v]) grow(all, mesh_.vertices[v]);
      ground = all;
    } else {
      for (std::size_t k = 0; k < mesh_.triangles.size(); ++k) {
        if (!listed[k]) continue;
        const Facet f = facet(k);
        const bool in_plan = plan::area2(f.a, f.b, f.c) != 0;
        for (const Vec3* p : {&f.a, &f.b, &f.c}) {
          grow(all, *p);
          if (in_plan) grow(ground, *p);
        }
      }
    }
    index_box_ = all;
    if (ground.lo.x() <= ground.hi.x()) extent_ = ground;
  }

  /// Extent, and the bucket size at which entries and buckets stay in proportion to the triangles.
  /// Says which triangles have an area and are listed.
  std::vector<char> measure() {
    std::vector<char> listed(mesh_.triangles.size(), 0), used(mesh_.vertices.size(), 0);
    double count = 0, sum_sides = 0, sum_boxes = 0;
    bool all_facets = true;
    for (const Vec3& p : mesh_.vertices) expects(p.allFinite(), "mesh_ground: vertices are finite");
    for (std::size_t k = 0; k < mesh_.triangles.size(); ++k) {
      const auto& t = mesh_.triangles[k];
      expects(std::max({t[0], t[1], t[2]}) < mesh_.vertices.size(), "mesh_ground: vertices exist");
      const Vec3 &a = mesh_.vertices[t[0]], &b = mesh_.vertices[t[1]], &c = mesh_.vertices[t[2]];
      const double in_plan = plan::area2(a, b, c);
      all_facets = all_facets && in_plan != 0;
      if (!(in_plan * in_plan > 0) && !has_area({a, b, c, k})) continue;  // the square may underflow
      listed[k] = used[t[0]] = used[t[1]] = used[t[2]] = 1;
      const double width = std::max({a.x(), b.x(), c.x()}) - std::min({a.x(), b.x(), c.x()});
      const double depth = std::max({a.y(), b.y(), c.y()}) - std::min({a.y(), b.y(), c.y()});
      count += 1, sum_sides += width + depth, sum_boxes += width * depth;
    }
    if (!(count > 0)) return listed;
    measure_boxes(listed, all_facets, used);
    // entries of size s: sum of (w / s + 1)(h / s + 1); a quadratic in 1 / s, solved without cancellation
    const double spare = (kEntriesPerTriangle - 1) * count;
    const double inverse = 2 * spare / (sum_sides + std::sqrt(sum_sides * sum_sides + 4 * spare * sum_boxes));
    const Vec2 side = index_box_.hi - index_box_.lo;
    size_ = std::isfinite(inverse) ? 1 / inverse : 1.0;
    size_ = std::max(size_, 1e-12 * side.maxCoeff());
    while ((side.x() / size_ + 1) * (side.y() / size_ + 1) > 2 * count + 16) size_ *= 1.25;
    inverse_size_ = 1 / size_;
    columns_ = static_cast<std::size_t>(side.x() / size_) + 1;
    rows_ = static_cast<std::size_t>(side.y() / size_) + 1;
    return listed;
  }

  struct Bucket {
    std::uint32_t i, j;
  };

  /// All that its plan bounding box meets: what a query finds does not hang on the size of the buckets.
  /// Columns and rows ascend with the coordinates, so those of the corners bound those of the box.
  /// `use(bucket, n)` uses it n times, once or not at all: up to two by two buckets, which is nearly always,
  /// take the same four steps, because a branch that nobody can guess costs more than they do.
  template <class Use>
  void for_each_bucket(const Bucket* of_vertex, const std::array<std::uint32_t, 3>& t, const Use& use) const {
    const Bucket a = of_vertex[t[0]], b = of_vertex[t[1]], c = of_vertex[t[2]];
    const std::uint32_t i0 = std::min({a.i, b.i, c.i}), i1 = std::max({a.i, b.i, c.i});
    const std::uint32_t j0 = std::min({a.j, b.j, c.j}), j1 = std::max({a.j, b.j, c.j});
    const std::uint32_t wider = i1 - i0, deeper = j1 - j0;
    if ((wider | deeper) <= 1) {
      const std::size_t first = j0 * columns_ + i0, above = j1 * columns_ + i0;
      use(first, 1U);
      use(first + wider, wider);
      use(above, deeper);
      use(above + wider, wider & deeper);
      return;
    }
    for (std::size_t j = j0; j <= j1; ++j)
      for (std::size_t i = i0; i <= i1; ++i) use(j * columns_ + i, 1U);
  }

  /// Counting sort of the triangles into the buckets they meet: starts_ and entries_.
  void index(const std::vector<char>& listed) {
    std::vector<Bucket> of_vertex(mesh_.vertices.size());
    std::transform(mesh_.vertices.begin(), mesh_.vertices.end(), of_vertex.begin(), [this](const Vec3& p) {
      return Bucket{static_cast<std::uint32_t>(column(p.x())), static_cast<std::uint32_t>(row(p.y()))};
    });
    const std::size_t buckets = columns_ * rows_, triangles = mesh_.triangles.size();
    const auto* const triangle = mesh_.triangles.data();
    std::uint64_t total = 0;
    starts_.assign(buckets + 1, 0);
    std::uint32_t* const count = starts_.data() + 1;
    for (std::size_t k = 0; k < triangles; ++k)
      if (listed[k])
        for_each_bucket(of_vertex.data(), triangle[k], [&](std::size_t b, std::uint32_t n) {
          count[b] += n;
          total += n;
        });
    expects(total < (std::uint64_t{1} << 32), "mesh_ground: index fits 32 bits");
    for (std::size_t b = 1; b <= buckets; ++b) starts_[b] += starts_[b - 1];
    entries_.resize(total + 1);  // the last takes what is used not at all
    std::uint32_t* const entries = entries_.data();
    std::vector<std::uint32_t> next = starts_;
    std::uint32_t* const slot = next.data();
    for (std::size_t k = 0; k < triangles; ++k)
      if (listed[k])
        for_each_bucket(of_vertex.data(), triangle[k], [&](std::size_t b, std::uint32_t n) {
          entries[n ? slot[b] : total] = static_cast<std::uint32_t>(k);
          slot[b] += n;
        });
  }

  /// When bounds are first asked for: many uses of a ground never do.
  void build_pyramid() const {
    std::vector<HeightBounds> buckets(columns_ * rows_);
    for (std::size_t j = 0; j < rows_; ++j)
      for (std::size_t i = 0; i < columns_; ++i) buckets[j * columns_ + i] = bucket_bounds(i, j);
    pyramid_ = HeightPyramid(columns_, rows_, std::move(buckets));
  }

  /// A bucket is covered without doubt if its middle is and the number of layers is the same all over
  /// it: across each edge in it as many facets lie on one side as on the other. Each directed edge
  /// adds its mixed key, the reverse one takes it away; a sum of 0 pairs them all.
  HeightBounds bucket_bounds(std::size_t i, std::size_t j) const {
    const Box2 r = bucket_box(i, j);
    const Vec2 middle = 0.5 * (r.lo + r.hi);
    HeightBounds found = kNoGround;
    std::uint64_t unpaired = 0;
    bool middle_held = false;
    const std::size_t b = j * columns_ + i;
    for (std::uint32_t e = starts_[b]; e < starts_[b + 1]; ++e) {
      const Facet f = facet(entries_[e]);
      const double area = plan::area2(f.a, f.b, f.c);
      if (area == 0) continue;
      found.lo = std::min(found.lo, plan::lowest(f));
      found.hi = std::max(found.hi, plan::highest(f));
      middle_held = middle_held || plan::holds(f, middle);
      const auto& t = mesh_.triangles[f.id];
      for (std::size_t k = 0; k < 3; ++k)
        unpaired += edge_key(t[k], t[(k + 1) % 3], r) * (area > 0 ? 1 : std::uint64_t(-1));
    }
    found.hole = !middle_held || unpaired != 0;
    return found;
  }

  /// Key of the edge from vertex u to v where it may meet the rectangle, 0 where it does not; the
  /// reverse edge has the negative (modulo 2^64).
  std::uint64_t edge_key(std::uint32_t u, std::uint32_t v, const Box2& r) const {
    const bool reverse = u > v;
    if (reverse) std::swap(u, v);
    const Vec2 a = mesh_.vertices[u].head<2>(), b = mesh_.vertices[v].head<2>();
    const double slack = kBorder * size_;
    if (std::max(a.x(), b.x()) < r.lo.x() - slack || std::min(a.x(), b.x()) > r.hi.x() + slack ||
        std::max(a.y(), b.y()) < r.lo.y() - slack || std::min(a.y(), b.y()) > r.hi.y() + slack)
      return 0;
    const Vec2 n(a.y() - b.y(), b.x() - a.x());
    const double off = n.dot(0.5 * (r.lo + r.hi) - a), half = 0.5 * size_ + slack;
    if (std::abs(off) > half * (std::abs(n.x()) + std::abs(n.y()))) return 0;
    const std::uint64_t key = plan::mixed((std::uint64_t{u} << 32 | v) + 0x9e3779b97f4a7c15ULL);
    return reverse ? 0 - key : key;
  }

  std::shared_ptr<const TriangleMesh> owner_;
  const TriangleMesh& mesh_;
  Box2 extent_;        ///< of the facets with plan area; unset, so that it contains nothing, without any
  Box2 index_box_;     ///< of all triangles
  double size_ = 1.0;  ///< side of a bucket [m]
  double inverse_size_ = 1.0;
  std::size_t columns_ = 0, rows_ = 0;
  std::vector<std::uint32_t> starts_, entries_;
  mutable std::once_flag pyramid_built_;
  mutable HeightPyramid pyramid_;
};

}  // namespace

std::shared_ptr<const Ground> mesh_ground(TriangleMesh mesh) {
  return mesh_ground(std::make_shared<const TriangleMesh>(std::move(mesh)));
}

std::shared_ptr<const Ground> mesh_ground(std::shared_ptr<const TriangleMesh> mesh) {
  return std::make_shared<const MeshGround>(std::move(mesh));
}

void all_triangles(const Ground& ground, const Box2& box, std::vector<Facet>& out) {
  ground.triangles(box, out);
}

}  // namespace rimstance
