#include "mesh_checks.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "plausible.hpp"
#include "quantiles.hpp"

namespace rimstance {

namespace {

constexpr double kFlatTriangle = 1e-12;     // height over longest side, below which a triangle has no area
constexpr double kHorizontalNormal = 1e-9;  // |normal z| below which a facet is vertical: 1 nm in a metre

using Triangle = std::array<std::uint32_t, 3>;

/// Twice the area vector; zero for a degenerate triangle.
Vec3 area_vector(std::span<const Vec3> vertices, const Triangle& t) {
  const Vec3 &a = vertices[t[0]], &b = vertices[t[1]], &c = vertices[t[2]];
  const Vec3 ab = b - a, ac = c - a;
  const Vec3 n = ab.cross(ac);
  const double longest = std::max({ab.squaredNorm(), ac.squaredNorm(), (c - b).squaredNorm()});
  return n.squaredNorm() > kFlatTriangle * kFlatTriangle * longest * longest ? n : Vec3(Vec3::Zero());
}

/// Squared tangent of the angle to the horizontal, which ascends with it; infinite for a vertical facet.
float squared_tangent(double across2, double along2) {
  constexpr double kMost = 1e38;  // below the greatest float
  return along2 * kMost > across2 ? static_cast<float>(across2 / along2)
                                  : std::numeric_limits<float>::infinity();
}

template <class T>
std::span<const T> half_of(std::span<const T> all, std::size_t part) {
  return part == 0 ? all.first(all.size() / 2) : all.subspan(all.size() / 2);
}

double slope_of(double squared_tangent) { return std::atan(std::sqrt(squared_tangent)); }

}  // namespace

std::array<double, 3> median_slopes(std::span<const Vec3> vertices, std::span<const Triangle> triangles) {
  std::array<double, 3> slopes{};
  for (int up = 0; up < 3; ++up) {
    const auto visit = [&](std::size_t part, auto&& sample) {
      for (const Triangle& t : half_of(triangles, part)) {
        const Vec3 n2 = area_vector(vertices, t).cwiseAbs2();
        const double weight = std::sqrt(n2.sum());
        if (weight > 0)
          sample(squared_tangent(n2[(up + 1) % 3] + n2[(up + 2) % 3], n2[up]), [weight] { return weight; });
      }
    };
    slopes[static_cast<std::size_t>(up)] =
        slope_of(weighted_quantiles(std::array{0.5}, triangles.size(), std::launch::deferred, visit)[0]);
  }
  return slopes;
}

std::optional<int> facing(std::span<const Vec3> vertices, std::span<const Triangle> triangles) {
  constexpr double kOfPlan = 0.2;
  Vec3 sum = Vec3::Zero(), plan = Vec3::Zero();
  for (const Triangle& t : triangles) {
    const Vec3 n = area_vector(vertices, t);
    sum += n;
    plan += n.cwiseAbs();
  }
  int axis = 0;
  const double most = sum.cwiseAbs().maxCoeff(&axis);
  const double across = std::hypot(sum[(axis + 1) % 3], sum[(axis + 2) % 3]);
  if (!(most > 2 * across) || !(most > kOfPlan * plan[axis])) return std::nullopt;
  return axis;
}

bool half_of_plan_is_flat(std::span<const Vec3> vertices, std::span<const Triangle> triangles) {
  const double tan2 = std::tan(kSteepestMedian) * std::tan(kSteepestMedian);
  double plan = 0, flat = 0;
  for (const Triangle& t : triangles) {
    const Vec3 n = area_vector(vertices, t);
    plan += std::abs(n.z());
    if (n.head<2>().squaredNorm() <= tan2 * n.z() * n.z()) flat += std::abs(n.z());
  }
  return flat > 0.5 * plan;
}

namespace {

/// What one pass over the triangles gathers.
struct Surface {
  struct Sample {
    float squared_tangent, area;
  };
  std::vector<Sample> samples;  ///< of the triangles with an area; areas doubled
  double area = 0, plan_up = 0, plan_down = 0;
  float steepest = 0;  ///< squared tangent
  std::uint64_t up = 0, down = 0, vertical = 0;
  std::vector<std::size_t> first_up, first_down;  ///< triangles
  std::optional<std::size_t> jump;

  static void note(std::vector<std::size_t>& first, std::size_t triangle) {
    if (first.size() < TerrainFacts::kPlacesPerKind) first.push_back(triangle);
  }
  void add(const Vec3& n, double norm, std::size_t triangle) {
    const double along = std::abs(n.z());
    const float slope = squared_tangent(n.x() * n.x() + n.y() * n.y(), along * along);
    samples.push_back({slope, static_cast<float>(norm)});
    steepest = std::max(steepest, slope);
    area += norm;
    if (along <= kHorizontalNormal * norm) {
      ++vertical;
    } else if (n.z() > 0) {
      ++up;
      note(first_up, triangle);
      plan_up += along;
    } else {
      ++down;
      note(first_down, triangle);
      plan_down += along;
    }
  }
};

bool falls_too_far(const Vec3& a, const Vec3& b, const Vec3& c) {
  const double fall = std::max({a.z(), b.z(), c.z()}) - std::min({a.z(), b.z(), c.z()});
  if (!(fall > kGreatestStep)) return false;
  return fall > kSteepestStep * (a.cwiseMax(b).cwiseMax(c) - a.cwiseMin(b).cwiseMin(c)).head<2>().norm();
}

}  // namespace

std::optional<std::size_t> surface_facts(std::span<const Vec3> vertices, std::span<const Triangle> triangles,
                                         TerrainFacts& facts) {
  Surface surface;
  surface.samples.reserve(triangles.size());
  for (std::size_t i = 0; i < triangles.size(); ++i) {
    const Triangle& t = triangles[i];
    const Vec3 n = area_vector(vertices, t);
    const double norm = n.norm();
    if (norm > 0) surface.add(n, norm, i);
    if (!surface.jump && falls_too_far(vertices[t[0]], vertices[t[1]], vertices[t[2]])) surface.jump = i;
  }
  facts.degenerate = triangles.size() - surface.samples.size();
  facts.surface_area = 0.5 * surface.area;
  facts.plan_area = 0.5 * std::max(surface.plan_up, surface.plan_down);
  facts.overhanging = surface.plan_up >= surface.plan_down ? surface.down : surface.up;
  facts.vertical = surface.vertical;
  std::erase_if(facts.defect_places,
                [](const auto& d) { return d.kind == TerrainFacts::Defect::Kind::overhanging; });
  for (const std::size_t i : surface.plan_up >= surface.plan_down ? surface.first_down : surface.first_up) {
    const Triangle& t = triangles[i];
    facts.defect_places.push_back(
        {TerrainFacts::Defect::Kind::overhanging, (vertices[t[0]] + vertices[t[1]] + vertices[t[2]]) / 3});
  }
  const auto visit = [&](std::size_t part, auto&& sample) {
    for (const Surface::Sample& s : half_of(std::span<const Surface::Sample>(surface.samples), part))
      sample(s.squared_tangent, [&s] { return static_cast<double>(s.area); });
  };
  const auto slopes =
      weighted_quantiles(std::array{0.5, 0.9, 0.99}, surface.samples.size(), std::launch::deferred, visit);
  facts.slope_p50 = slope_of(slopes[0]);
  facts.slope_p90 = slope_of(slopes[1]);
  facts.slope_p99 = slope_of(slopes[2]);
  if (!surface.samples.empty()) facts.slope_max = slope_of(static_cast<double>(surface.steepest));
  return surface.jump;
}

namespace {

/// Half-edges of the facets, gathered at the smaller vertex of each. `key` ascends by the larger vertex,
/// then by the third corner, then by the direction (1: from the smaller to the larger).
class HalfEdges {
 public:
  /// Those whose smaller vertex lies in [first, last).
  HalfEdges(std::span<const Triangle> triangles, std::uint32_t first, std::uint32_t last)
      : first_(first), last_(last) {
    starts_.assign(last - first + 1, 0);
    for_each(triangles, [&](std::uint32_t low, std::uint64_t) { ++starts_[low - first_ + 1]; });
    for (std::size_t v = 1; v < starts_.size(); ++v) starts_[v] += starts_[v - 1];
    keys_.resize(starts_.back());
    std::vector<std::uint32_t> next(starts_.begin(), starts_.end() - 1);
    for_each(triangles, [&](std::uint32_t low, std::uint64_t key) { keys_[next[low - first_]++] = key; });
  }

  std::span<std::uint64_t> at(std::uint32_t vertex) {
    const std::uint32_t* const start = &starts_[vertex - first_];
    return std::span(keys_).subspan(start[0], start[1] - start[0]);
  }

  static std::uint32_t high(std::uint64_t key) { return static_cast<std::uint32_t>(key >> 32); }
  static std::uint32_t third(std::uint64_t key) { return static_cast<std::uint32_t>(key >> 1) & 0x7fffffff; }
  static bool forward(std::uint64_t key) { return key & 1; }

 private:
  template <class Use>
  void for_each(std::span<const Triangle> triangles, Use&& use) const {
    for (const Triangle& t : triangles) {
      if (t[0] == t[1] || t[1] == t[2] || t[2] == t[0]) continue;
      const std::uint32_t low = std::min({t[0], t[1], t[2]}), high = std::max({t[0], t[1], t[2]});
      const std::uint32_t middle = t[0] ^ t[1] ^ t[2] ^ low ^ high;
      // Wound low - middle - high - low, or the other way round?
      const bool reversed = ((t[0] < t[1]) != (t[1] < t[2])) != (t[2] < t[0]);
      if (low - first_ < last_ - first_) {
        use(low, key(middle, high, !reversed));
        use(low, key(high, middle, reversed));
      }
      if (middle - first_ < last_ - first_) use(middle, key(high, low, !reversed));
    }
  }
  static std::uint64_t key(std::uint32_t high, std::uint32_t third, bool forward) {
    return std::uint64_t{high} << 32 | std::uint64_t{third} << 1 | std::uint64_t{forward};
  }

  std::uint32_t first_, last_;
  std::vector<std::uint32_t> starts_;
  std::vector<std::uint64_t> keys_;
};

/// One edge with all the facets on it, sorted.
void count_edge(std::span<const Vec3> vertices, std::uint32_t low, std::span<const std::uint64_t> uses,
                TerrainFacts& facts) {
  using Kind = TerrainFacts::Defect::Kind;
  const auto found = [&](Kind kind, std::uint64_t& count) {
    if (count++ < TerrainFacts::kPlacesPerKind)
      facts.defect_places.push_back({kind, 0.5 * (vertices[low] + vertices[HalfEdges::high(uses[0])])});
  };
  facts.boundary_edges += uses.size() == 1;
  if (uses.size() > 2) found(Kind::non_manifold, facts.non_manifold_edges);
  if (uses.size() == 2 && HalfEdges::forward(uses[0]) == HalfEdges::forward(uses[1]))
    found(Kind::inconsistent, facts.inconsistent_edges);
  for (std::size_t k = 1; k < uses.size(); ++k) {
    // The edge of the two smallest vertices stands for its facet, so that each facet is seen once.
    const bool own = HalfEdges::third(uses[k]) > HalfEdges::high(uses[k]) && HalfEdges::third(uses[k]) > low;
    facts.duplicate += own && HalfEdges::third(uses[k]) == HalfEdges::third(uses[k - 1]);
  }
}

void sort_few(std::span<std::uint64_t> keys) {
  if (keys.size() > 24) return std::sort(keys.begin(), keys.end());
  for (std::size_t i = 1; i < keys.size(); ++i) {
    const std::uint64_t key = keys[i];
    std::size_t k = i;
    for (; k > 0 && keys[k - 1] > key; --k) keys[k] = keys[k - 1];
    keys[k] = key;
  }
}

}  // namespace

void edge_facts(std::span<const Vec3> vertices, std::span<const Triangle> triangles, TerrainFacts& facts) {
  // Slices of the vertices bound the scratch: about three half-edges of 8 bytes a triangle and slice.
  constexpr std::uint64_t kHalfEdgesPerSlice = 6'000'000;
  const std::uint64_t slices = 1 + 3 * triangles.size() / kHalfEdgesPerSlice;
  const auto count = static_cast<std::uint64_t>(vertices.size());
  const std::uint64_t stride = 1 + triangles.size() / 200'000;  // of the edges whose length is taken
  std::uint64_t edge_number = 0;
  std::vector<float> lengths;
  for (std::uint64_t slice = 0; slice < slices; ++slice) {
    const auto first = static_cast<std::uint32_t>(count * slice / slices);
    const auto last = static_cast<std::uint32_t>(count * (slice + 1) / slices);
    HalfEdges edges(triangles, first, last);
    for (std::uint32_t low = first; low < last; ++low) {
      const std::span<std::uint64_t> keys = edges.at(low);
      sort_few(keys);
      for (std::size_t begin = 0, end = 0; begin < keys.size(); begin = end) {
        const std::uint32_t high = HalfEdges::high(keys[begin]);
        while (end < keys.size() && HalfEdges::high(keys[end]) == high) ++end;
        count_edge(vertices, low, keys.subspan(begin, end - begin), facts);
        if (edge_number++ % stride != 0) continue;
        const Vec3 edge = vertices[high] - vertices[low];
        lengths.push_back(static_cast<float>(std::sqrt(edge.x() * edge.x() + edge.y() * edge.y())));
      }
    }
  }
  if (lengths.empty()) return;
  const auto middle = lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2);
  std::nth_element(lengths.begin(), middle, lengths.end());
  facts.spacing = static_cast<double>(*middle);
}

}  // namespace rimstance
