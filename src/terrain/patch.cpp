#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>

#include "disc.hpp"
#include "plan.hpp"

namespace rimstance {
namespace {

using disc::Corner;
using disc::Cut;
using disc::Moments;
using disc::Node;
using disc::Piece;
using disc::Plane;

/// A disc lacking no more of its plan area than this is full: rounding of some hundred clipped facets.
constexpr double kFull = 1e-9;

/// Slope from which a piece is a wall [m of height per disc radius].
constexpr double kWall = 1e3;
/// Arcs up to this [rad] are parabolas: a cap of angle t has t^3 / 12 of area, the error is t^2 of that.
constexpr double kShortArc = 1e-2;

/// How far beyond a visible side one looks for the hole that ends it, in disc radii.
constexpr double kBeyond = 1e-6;

/// Coordinates of the disc: plan over its radius about its centre, heights from `level`.
struct DiscFrame {
  Vec2 centre;
  double radius, level;
  Corner operator()(const Vec3& v) const { return {(v.head<2>() - centre) / radius, v.z() - level}; }
};

struct Triangle {
  std::array<Corner, 3> corners;  ///< counter-clockwise
  Plane plane;
};

/// False where rounding leaves no area in the disc's coordinates, or so little that no slope can be told: a
/// wall, too thin to bear anything.
bool to_disc(const DiscFrame& frame, const Facet& f, Triangle& t) {
  t.corners = {frame(f.a), frame(f.b), frame(f.c)};
  auto& [a, b, c] = t.corners;
  if (plan::area2(f.a, f.b, f.c) < 0) std::swap(b, c);
  const Vec2 u = b.p - a.p, v = c.p - a.p;
  const double du = b.z - a.z, dv = c.z - a.z, area = cross2(u, v);
  if (!(area > 0)) return false;
  t.plane.slope = Vec2(du * v.y() - dv * u.y(), dv * u.x() - du * v.x()) / area;
  t.plane.at_centre = a.z - t.plane.slope.dot(a.p);
  return std::isfinite(t.plane.slope.squaredNorm());
}

/// Mixed key of a plan position; of -0 and 0 the same.
std::uint64_t vertex_key(const Vec3& v) {
  return plan::mixed(std::bit_cast<std::uint64_t>(v.x() + 0.0) + 0x9e3779b97f4a7c15ULL) +
         std::rotl(plan::mixed(std::bit_cast<std::uint64_t>(v.y() + 0.0) + 0x9e3779b97f4a7c15ULL), 32);
}
/// Key of a directed side; the reverse one has the negative (modulo 2^64).
std::uint64_t side_key(std::uint64_t from, std::uint64_t to) {
  return plan::mixed(from ^ std::rotl(to, 17)) - plan::mixed(to ^ std::rotl(from, 17));
}

/// Keys of the sides within the disc. If all facets add up to 0 then each side in the disc has as many
/// facets on its left as on its right, and the number of layers is the same all over the disc.
std::uint64_t sides_key(const Facet& f, const Triangle& t) {
  const bool turned = plan::area2(f.a, f.b, f.c) < 0;
  const std::array<std::uint64_t, 3> key{vertex_key(f.a), vertex_key(turned ? f.c : f.b),
                                         vertex_key(turned ? f.b : f.c)};
  std::uint64_t sum = 0;
  for (std::size_t k = 0; k < 3; ++k)
    if (disc::enters(t.corners[k].p, t.corners[(k + 1) % 3].p)) sum += side_key(key[k], key[(k + 1) % 3]);
  return sum;
}

/// What of the ground the disc sees.
struct View {
  disc::List<Node> nodes;
  disc::List<Piece> pieces;
  double covered() const {
    double sum = 0;
    for (const Piece& p : pieces) sum += p.moments.one;
    return sum / kPi;
  }
};

/// The common case: one layer, none of it cut by `under`. False where it cannot be told to be so.
bool view_single_layer(const DiscFrame& frame, const std::vector<Facet>& facets, double under, View& view) {
  std::uint64_t unpaired = 0;
  for (const Facet& f : facets) {
    const double top = plan::highest(f);
    if (top > under && plan::lowest(f) <= under) return false;
    if (top > under) continue;
    Triangle t;
    if (!to_disc(frame, f, t)) return false;
    const std::size_t first = view.nodes.size();
    const Cut cut = disc::clip(t.corners.data(), 3, view.nodes);
    if (cut == Cut::nothing) continue;
    if (cut == Cut::part) unpaired += sides_key(f, t);
    const Moments m = cut == Cut::whole
                          ? disc::whole_disc()
                          : disc::moments(view.nodes.data() + first, view.nodes.data() + view.nodes.size());
    view.pieces.push_back({t.plane, m, first, view.nodes.size()});
  }
  return unpaired == 0 && view.covered() <= 1 + kFull;
}

/// The facet up to `under`; false if nothing of it meets the disc.
bool sheet_of(const DiscFrame& frame, const Facet& f, double under, disc::Sheet& sheet, View& view) {
  Triangle t;
  if (!to_disc(frame, f, t)) return false;
  const double top = under - frame.level;
  sheet.plane = t.plane;
  sheet.count = 0;
  for (std::size_t k = 0; k < 3; ++k) {
    const Corner &a = t.corners[k], &b = t.corners[(k + 1) % 3];
    if (a.z <= top) sheet.corners[sheet.count++] = a;
    if ((a.z < top && b.z > top) || (a.z > top && b.z < top))
      sheet.corners[sheet.count++] = {a.p + (top - a.z) / (b.z - a.z) * (b.p - a.p), top};
  }
  if (sheet.count < 3) return false;
  sheet.lo = kInfinity, sheet.hi = -kInfinity;
  for (std::size_t k = 0; k < sheet.count; ++k) {
    sheet.lo = std::min(sheet.lo, sheet.corners[k].z);
    sheet.hi = std::max(sheet.hi, sheet.corners[k].z);
  }
  const std::size_t mark = view.nodes.size();
  const bool meets = disc::clip(sheet.corners.data(), sheet.count, view.nodes) != Cut::nothing;
  view.nodes.resize(mark);
  return meets;
}

/// Any number of layers, cut by each other and by `under`.
void view_layers(const DiscFrame& frame, const std::vector<Facet>& facets, double under, View& view) {
  view.nodes.clear();
  view.pieces.clear();
  disc::List<disc::Sheet> sheets(view.nodes.get_allocator());
  disc::Sheet sheet;
  for (const Facet& f : facets)
    if (plan::lowest(f) <= under && sheet_of(frame, f, under, sheet, view)) sheets.push_back(sheet);
  disc::envelope(sheets, view.nodes, view.pieces);
}

/// A wall has hardly any plan area but a slope so great that the rounding of its moments, times that
/// slope, would be felt. It is summed up from the heights of its corners instead, part by part.
bool is_wall(const Piece& piece, const View& view) {
  if (piece.first == piece.last || piece.plane.slope.norm() < kWall) return false;
  for (std::size_t k = piece.first; k < piece.last; ++k)
    if (view.nodes[k].arc > kShortArc) return false;
  return true;
}

/// Part of a wall: the mean of u v over it is mean(u) mean(v) + the sum of off(u) off(v) / 12.
struct Part {
  double area;
  Corner mean;
  std::array<Corner, 3> off;
};

/// Triangles between the corners, and for each short arc the parabolic cap on its chord.
template <class Use>
void for_each_part(const Piece& piece, const View& view, const Use& use) {
  const auto node = [&](std::size_t k) -> const Node& {
    return view.nodes[k == piece.last ? piece.first : k];
  };
  const Node& a = node(piece.first);
  for (std::size_t k = piece.first + 1; k + 1 < piece.last; ++k) {
    const Node &b = node(k), &c = node(k + 1);
    const Corner mean{(a.p + b.p + c.p) / 3, (a.z + b.z + c.z) / 3};
    const auto off = [&mean](const Node& n) { return Corner{n.p - mean.p, n.z - mean.z}; };
    use(Part{0.5 * std::abs(cross2(b.p - a.p, c.p - a.p)), mean, {off(a), off(b), off(c)}});
  }
  for (std::size_t k = piece.first; k < piece.last; ++k) {
    const Node &from = node(k), &to = node(k + 1);
    const double turn = from.arc;
    if (!(turn > 0)) continue;
    // the cap's centre is three fifths of its height out; along the chord u it has mean u^2 = chord^2 / 20
    const Vec2 middle = 0.5 * (from.p + to.p), out = 0.6 * turn * turn / 8 * middle.normalized();
    const Corner mean{middle + out, 0.5 * (from.z + to.z) + piece.plane.slope.dot(out)};
    const double scale = std::sqrt(12.0 / 20.0);
    const Corner none{Vec2::Zero(), 0};
    use(Part{turn * turn * turn / 12,
             mean,
             {Corner{scale * (to.p - from.p), scale * (to.z - from.z)}, none, none}});
  }
}

/// Integrals of z, x z, y z over a piece.
Vec3 load_of(const Piece& piece, const View& view) {
  Vec3 load = Vec3::Zero();
  if (is_wall(piece, view)) {
    for_each_part(piece, view, [&](const Part& part) {
      load += part.area * part.mean.z * Vec3(1, part.mean.p.x(), part.mean.p.y());
      for (const Corner& o : part.off) load += part.area / 12 * o.z * Vec3(0, o.p.x(), o.p.y());
    });
    return load;
  }
  const double h = piece.plane.at_centre, gx = piece.plane.slope.x(), gy = piece.plane.slope.y();
  const Moments& m = piece.moments;
  return {h * m.one + gx * m.x + gy * m.y, h * m.x + gx * m.xx + gy * m.xy, h * m.y + gx * m.xy + gy * m.yy};
}

/// Plane of least squares, weighted by plan area.
Plane fitted(const View& view) {
  Moments all;
  Vec3 load = Vec3::Zero();
  for (const Piece& piece : view.pieces) {
    all += piece.moments;
    load += load_of(piece, view);
  }
  Mat3 normal;
  normal << all.one, all.x, all.y, all.x, all.xx, all.xy, all.y, all.xy, all.yy;
  const Vec3 solution = normal.inverse() * load;
  return {solution.x(), solution.tail<2>()};
}

/// Is the unit vector d on the arc that starts at a node?
bool on_arc(const Vec2& d, const Node& from, const Vec2& to) {
  if (from.arc <= kPi) return cross2(from.p, d) >= 0 && cross2(d, to) >= 0;
  return !(cross2(to, d) > 0 && cross2(d, from.p) > 0);
}

/// Greatest value of (height - reference) over a piece: at a corner, or on an arc where the difference
/// falls straight towards the centre.
double greatest_over(const Piece& piece, const View& view, const Plane& reference) {
  const Vec2 slope = piece.plane.slope - reference.slope;
  const double steepness = slope.norm();
  if (piece.first == piece.last) return piece.plane.at_centre - reference.at_centre + steepness;
  double greatest = -kInfinity;
  for (std::size_t k = piece.first; k < piece.last; ++k) {
    const Node& n = view.nodes[k];
    const double here = n.z - reference.at(n.p);
    greatest = std::max(greatest, here);
    if (!(n.arc > 0) || !(steepness > 0)) continue;
    const Vec2 up = slope / steepness;
    if (on_arc(up, n, view.nodes[k + 1 == piece.last ? piece.first : k + 1].p))
      greatest = std::max(greatest, here + slope.dot(up - n.p));
  }
  return greatest;
}

double squared_difference(const Piece& piece, const View& view, const Plane& reference) {
  if (is_wall(piece, view)) {
    double sum = 0;
    for_each_part(piece, view, [&](const Part& part) {
      const double mean = part.mean.z - reference.at(part.mean.p);
      sum += part.area * mean * mean;
      for (const Corner& o : part.off) {
        const double off = o.z - reference.slope.dot(o.p);
        sum += part.area / 12 * off * off;
      }
    });
    return sum;
  }
  const double h = piece.plane.at_centre - reference.at_centre;
  const Vec2 g = piece.plane.slope - reference.slope;
  const Moments& m = piece.moments;
  return h * h * m.one + 2 * h * (g.x() * m.x + g.y() * m.y) + g.x() * g.x() * m.xx +
         2 * g.x() * g.y() * m.xy + g.y() * g.y() * m.yy;
}

Patch rested(const DiscFrame& frame, const View& view, Patch result) {
  const Plane fit = fitted(view);
  double residual = 0, highest = -kInfinity, squares = 0, area = 0;
  for (const Piece& p : view.pieces) {
    residual = std::max(residual, greatest_over(p, view, fit));
    highest = std::max(highest, greatest_over(p, view, Plane{}));
    squares += squared_difference(p, view, fit);
    area += p.moments.one;
  }
  result.outcome = Patch::Outcome::full;
  result.plane_height = frame.level + fit.at_centre;
  result.rest_height = result.plane_height + residual;
  result.highest = frame.level + highest;
  result.residual = residual;
  result.rms = std::sqrt(std::max(squares / area, 0.0));
  result.normal = Vec3(-fit.slope.x(), -fit.slope.y(), frame.radius).normalized();
  return result;
}

/// Does a marked hole reach into the disc? It holds the centre or the circle, or it ends at a visible side.
bool hole_in(const Ground& ground, const DiscFrame& frame, const View& view) {
  const auto hole = [&](const Vec2& p) {
    return p.squaredNorm() <= 1 && ground.hole_at(frame.centre + frame.radius * p);
  };
  if (hole(Vec2::Zero())) return true;
  for (int k = 0; k < 16; ++k)
    if (const double a = kPi / 8 * k; hole((1 - kBeyond) * Vec2(std::cos(a), std::sin(a)))) return true;
  for (const Piece& piece : view.pieces)
    for (std::size_t k = piece.first; k < piece.last; ++k) {
      const Node& n = view.nodes[k];
      const Vec2 along = view.nodes[k + 1 == piece.last ? piece.first : k + 1].p - n.p;
      if (n.arc > 0 || !(along.norm() > 0)) continue;
      if (hole(n.p + 0.5 * along + kBeyond * Vec2(along.y(), -along.x()).normalized())) return true;
    }
  return false;
}

}  // namespace

Patch patch(const Terrain& terrain, const Vec2& centre, double radius, double under,
            std::vector<Facet>& scratch) {
  expects(centre.allFinite() && radius > 0 && std::isfinite(radius), "patch: finite centre, radius > 0");
  expects(!std::isnan(under), "patch: under is a height or infinite");
  const Box2 box{centre - Vec2::Constant(radius), centre + Vec2::Constant(radius)};
  scratch.clear();
  terrain.ground->facets(box, scratch);

  // Room for a foot on ground of its own scale; finer ground takes more from the heap.
  std::array<std::byte, 24 * 1024> room;
  std::pmr::monotonic_buffer_resource memory(room.data(), room.size());
  View view{disc::List<Node>(&memory), disc::List<Piece>(&memory)};
  view.nodes.reserve(5 * scratch.size());
  view.pieces.reserve(scratch.size());
  const DiscFrame frame{centre, radius, scratch.empty() ? 0.0 : scratch.front().a.z()};
  if (!view_single_layer(frame, scratch, under, view)) view_layers(frame, scratch, under, view);

  Patch result;
  const double share = view.covered();
  result.supported_share = std::clamp(share, 0.0, 1.0);
  if (share >= 1 - kFull) return rested(frame, view, result);
  const Box2 extent = terrain.ground->extent();
  if (hole_in(*terrain.ground, frame, view)) {
    result.outcome = Patch::Outcome::hole;
  } else if (!extent.contains(box.lo) || !extent.contains(box.hi)) {
    result.outcome = Patch::Outcome::off_map;
  }
  return result;
}

Patch patch(const Terrain& terrain, const Vec2& centre, double radius, double under) {
  std::vector<Facet> scratch;
  return patch(terrain, centre, radius, under, scratch);
}

}  // namespace rimstance
