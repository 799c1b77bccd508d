// Writes the invented pit "Kettle" (demo ground, CC0) into a directory:
//   kettle.ply      mesh, binary little-endian PLY, z up, metres, origin at the pit's centre
//   kettle_dem.asc  its twin for one who has heights only: top layer of that mesh at 0.5 m posts
// The same bytes on every machine: noise is counter-based and every coordinate is rounded to 2^-13 m
// before anything is decided by it, which swallows the last digit in which maths libraries differ.
//
// The surface is one sheet over (u, v): u turns about the pit's axis, v runs from the centre of the
// floor over the foot of the wall and up to the lip, then outwards to the edge of a square map. Where
// the wall leans back under the lip several layers lie above one another in plan. The sheet is cut by
// newest-vertex bisection on a power-of-two lattice: fine where machines stand, coarse elsewhere, and
// free of cracks because a lattice point is used only together with the two points it depends on.
#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <exception>
#include <map>
#include <string>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/frames.hpp"
#include "rimstance/base/random.hpp"

using namespace rimstance;

namespace {

constexpr std::uint64_t kSeed = 7;
enum Stream : std::uint64_t {
  kRough = 1,
  kWall = 100,
  kRubble = 200,
  kLip = 300,
  kStones = 400,
  kCraters = 500,
  kFloorStones = 600
};

constexpr double kHalfSide = 45.0;    // of the map [m]
constexpr double kFloorDepth = 38.0;  // of the floor below the plain [m]
constexpr double kPost = 1.0 / 8192;  // coordinates are multiples of this [m]
constexpr double kCell = 0.5;         // posts of the DEM [m]

// ---- noise ------------------------------------------------------------------------------------

double smooth_step(double from, double to, double x) {
  const double t = std::clamp((x - from) / (to - from), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

double slope_term(std::uint64_t stream, double ix, double iy, double dx, double dy) {
  const auto cell = static_cast<std::uint64_t>((static_cast<std::int64_t>(ix) + 100000) * 1000003 +
                                               static_cast<std::int64_t>(iy) + 100000);
  const double gx = 2 * random_uniform(kSeed, stream, 2 * cell) - 1;
  const double gy = 2 * random_uniform(kSeed, stream, 2 * cell + 1) - 1;
  return gx * dx + gy * dy;
}

/// Gradient noise (Perlin 1985, quintic fade of 2002) with a period of one, about in [-0.8, 0.8].
double noise(std::uint64_t stream, double x, double y) {
  const double ix = std::floor(x), iy = std::floor(y), fx = x - ix, fy = y - iy;
  const auto fade = [](double t) { return t * t * t * (t * (6 * t - 15) + 10); };
  const double u = fade(fx), v = fade(fy);
  const double south =
      std::lerp(slope_term(stream, ix, iy, fx, fy), slope_term(stream, ix + 1, iy, fx - 1, fy), u);
  const double north = std::lerp(slope_term(stream, ix, iy + 1, fx, fy - 1),
                                 slope_term(stream, ix + 1, iy + 1, fx - 1, fy - 1), u);
  return std::lerp(south, north, v);
}

/// Octaves of halving wavelength; each `fall` times as high as the one before.
double fractal(std::uint64_t stream, double x, double y, double wavelength, double height, double fall,
               int octaves) {
  double sum = 0;
  for (int k = 0; k < octaves; ++k, wavelength /= 2, height *= fall)
    sum += height * noise(stream + static_cast<std::uint64_t>(k), x / wavelength, y / wavelength);
  return sum;
}

// ---- what lies about ----------------------------------------------------------------------------

struct Stone {
  Vec2 at;
  double along, across, turn, height;  // half axes [m], turn [rad], height above the ground [m]
};
struct Crater {
  Vec2 at;
  double radius;
};
struct World {
  std::vector<Stone> stones, floor_stones;
  std::vector<Crater> craters;
};

/// How far p is from the middle of a sector [rad], and whether machines are meant to stand there.
double off_sector(double angle, double middle) { return std::abs(wrapped(angle - middle)); }
constexpr double kNorthWest = radians(145.0), kEast = radians(8.0), kUndercut = radians(26.0);

double smooth_rim(double angle) {
  return 23.0 + 0.7 * std::cos(2 * (angle - 0.4)) + 0.35 * std::cos(3 * angle + 1.0) +
         0.2 * std::cos(5 * angle);
}
/// Radius of the lip: bays and notches of some decimetres on the smooth outline.
double rim(double angle) {
  const double x = 23 * std::cos(angle), y = 23 * std::sin(angle);
  return smooth_rim(angle) + fractal(kLip, x, y, 5.0, 0.8, 0.55, 5);
}

/// A size between lo and hi [m] with many small ones (cumulative number falls with size^-2.2).
double stone_size(std::uint64_t stream, std::uint64_t k, double lo, double hi) {
  const double power = -2.2, p = random_uniform(kSeed, stream, k);
  return std::pow(std::lerp(std::pow(lo, power), std::pow(hi, power), p), 1 / power);
}

Stone stone(std::uint64_t stream, std::uint64_t k, const Vec2& at, double lo, double hi) {
  const auto draw = [&](std::uint64_t which) { return random_uniform(kSeed, stream + which, k); };
  const double size = stone_size(stream, k, lo, hi);
  return {at, 0.5 * size, 0.5 * size * (0.6 + 0.4 * draw(1)), kPi * draw(2), size * (0.35 + 0.3 * draw(3))};
}

World scatter() {
  World world;
  const auto anywhere = [](std::uint64_t stream, std::uint64_t k, double half) {
    return Vec2(half * (2 * random_uniform(kSeed, stream, k) - 1),
                half * (2 * random_uniform(kSeed, stream + 1, k) - 1));
  };
  const auto outside = [](const Vec2& p, double by) { return p.norm() > rim(std::atan2(p.y(), p.x())) + by; };
  for (std::uint64_t k = 0; k < 420; ++k)
    if (const Vec2 p = anywhere(kStones + 10, k, kHalfSide); outside(p, 0.8))
      world.stones.push_back(stone(kStones, k, p, 0.2, 1.2));
  for (std::uint64_t k = 0; k < 160; ++k) {  // more small ones where machines stand
    const double angle =
        (k % 2 ? kNorthWest : kEast) + radians(28) * (2 * random_uniform(kSeed, kStones + 20, k) - 1);
    const Vec2 p =
        (23 + 10 * random_uniform(kSeed, kStones + 21, k)) * Vec2(std::cos(angle), std::sin(angle));
    if (outside(p, 0.4)) world.stones.push_back(stone(kStones + 22, k, p, 0.2, 0.7));
  }
  for (std::uint64_t k = 0; k < 70; ++k)
    if (const Vec2 p = anywhere(kCraters, k, kHalfSide - 3); outside(p, 5))
      world.craters.push_back({p, stone_size(kCraters + 2, k, 0.5, 3.5)});
  for (std::uint64_t k = 0; k < 260; ++k)
    if (const Vec2 p = anywhere(kFloorStones + 10, k, 21); p.norm() < 19)
      world.floor_stones.push_back(stone(kFloorStones, k, p, 0.6, 3.0));
  return world;
}

double stones_at(const std::vector<Stone>& stones, const Vec2& p) {
  double highest = 0;
  for (const Stone& s : stones) {
    const Vec2 d = p - s.at;
    if (std::abs(d.x()) > s.along || std::abs(d.y()) > s.along) continue;
    const double c = std::cos(s.turn), n = std::sin(s.turn);
    const double x = (c * d.x() + n * d.y()) / s.along, y = (c * d.y() - n * d.x()) / s.across;
    if (const double rest = 1 - x * x - y * y; rest > 0)
      highest = std::max(highest, s.height * std::pow(rest, 0.4));
  }
  return highest;
}

/// Bowl a fifth of its radius deep, with a low wall that fades within two radii.
double craters_at(const std::vector<Crater>& craters, const Vec2& p) {
  double sum = 0;
  for (const Crater& c : craters) {
    const double r = (p - c.at).norm() / c.radius;
    if (r < 1)
      sum += c.radius * (0.26 * r * r - 0.2);
    else if (r < 2)
      sum += c.radius * 0.06 * (2 - r) * (2 - r);
  }
  return sum;
}

// ---- the three parts of the sheet -----------------------------------------------------------------

/// The plain, its lean, the funnel that sinks towards the lip (gentler in the north-west and east),
/// roughness.
double outer_height(const World& world, const Vec2& p) {
  const double angle = std::atan2(p.y(), p.x()), out = std::max(0.0, p.norm() - smooth_rim(angle) + 1);
  const double gentle = std::max(1 - smooth_step(0.5, 1.1, off_sector(angle, kNorthWest)),
                                 1 - smooth_step(0.45, 1.0, off_sector(angle, kEast)));
  const double sink = std::lerp(3.0, 0.8, gentle) * std::exp(-out / std::lerp(8.0, 9.0, gentle));
  return -0.022 * p.x() + 0.013 * p.y() - sink + fractal(kRough, p.x(), p.y(), 14.0, 0.45, 0.47, 6) +
         craters_at(world.craters, p) + stones_at(world.stones, p);
}

double foot_radius(double angle) {
  return smooth_rim(angle) - 2.6 +
         fractal(kWall + 50, 20 * std::cos(angle), 20 * std::sin(angle), 9.0, 1.2, 0.5, 3);
}

/// Rubble: a low heap in the middle, an apron of fallen rock at the foot of the wall.
double floor_height(const World& world, const Vec2& p) {
  const double angle = std::atan2(p.y(), p.x()), r = p.norm(), to_wall = foot_radius(angle) - r;
  return -kFloorDepth + 1.8 * std::exp(-(r * r) / 50) + 2.6 * std::exp(-std::max(0.0, to_wall) / 2.8) +
         fractal(kRubble, p.x(), p.y(), 7.0, 0.9, 0.55, 4) + stones_at(world.floor_stones, p);
}

/// Roughness of the wall, at an angle in [0, 2 pi): the last half radian fades into what lies before 0.
double wall_rough(double angle, double z) {
  const auto at = [&](double a) { return fractal(kWall, 23 * a, z, 6.0, 0.55, 0.5, 5); };
  return std::lerp(at(angle), at(angle - 2 * kPi), smooth_step(2 * kPi - 0.5, 2 * kPi, angle));
}

/// Point of the wall at `share` of the way from the lip (0) to the foot (1).
Vec3 wall_point(const World& world, double angle, double share) {
  const Vec2 out(std::cos(angle), std::sin(angle));
  const double top = rim(angle), foot = foot_radius(angle);
  const double z_top = outer_height(world, top * out), z_foot = floor_height(world, foot * out);
  const double z = std::lerp(z_top, z_foot, share), down = z_top - z;
  const double undercut = 1 - smooth_step(0.14, 0.36, off_sector(angle, kUndercut));
  const double recess = 2.6 * undercut * smooth_step(1.1, 2.8, down) * (1 - smooth_step(4.5, 15, down));
  const double ledge = 0.9 * smooth_step(11.5, 13.5, down) * (1 - smooth_step(14.0, 19.0, down)) *
                       (0.6 + noise(kWall + 70, 1.7 * std::cos(angle) + 9, 1.7 * std::sin(angle)));
  const double held = smooth_step(0, 0.04, share) * (1 - smooth_step(0.93, 1, share));
  const double rough = held * wall_rough(angle, z);
  const double r = std::lerp(top, foot, smooth_step(0, 1, share)) + recess - ledge + rough;
  return {r * out.x(), r * out.y(), z};
}

// ---- the lattice ------------------------------------------------------------------------------------

constexpr int kRoot = 32;                                                  // lattice steps of a root cell
constexpr int kAround = 24 * kRoot;                                        // of u, periodic
constexpr int kFoot = 3 * kRoot, kLipRow = 8 * kRoot, kEdge = 12 * kRoot;  // values of v
constexpr double kStep = 0.2;                                              // between rows near the lip [m]
constexpr int kEvenRows = 50;  // rows at that distance from one another

/// Distance from the lip of row `row` beyond it; the last one lies `width` from the lip.
double outer_distance(int row, double width) {
  if (row <= kEvenRows) return kStep * row;
  const double rows = kEdge - kLipRow - kEvenRows, t = (row - kEvenRows) / rows,
               rest = width - kStep * kEvenRows;
  const double start = kStep * rows / rest;
  return kStep * kEvenRows + rest * t * (start + (1 - start) * t);
}

Vec3 sheet(const World& world, int u, int v) {
  const double angle = 2 * kPi * u / kAround;
  const Vec2 out(std::cos(angle), std::sin(angle));
  if (v >= kFoot && v < kLipRow) return wall_point(world, angle, 1 - double(v - kFoot) / (kLipRow - kFoot));
  double r = foot_radius(angle) * v / kFoot;
  if (v >= kLipRow) {
    const double edge = kHalfSide / std::max(std::abs(out.x()), std::abs(out.y()));
    r = rim(angle) + outer_distance(v - kLipRow, edge - rim(angle));
  }
  const Vec2 p = r * out;
  return {p.x(), p.y(), v < kFoot ? floor_height(world, p) : outer_height(world, p)};
}

struct Lattice {
  std::vector<Vec3> points = std::vector<Vec3>(std::size_t{kAround} * (kEdge + 1));
  std::vector<char> used = std::vector<char>(points.size(), 0);
  static std::size_t index(int u, int v) {
    const int turned = (u % kAround + kAround) % kAround;
    return static_cast<std::size_t>(v) * kAround + static_cast<std::size_t>(turned);
  }
  const Vec3& at(int u, int v) const { return points[index(u, v)]; }
};

struct Node {
  int u, v;
};
/// What lattice point m at step h splits (the ends of a hypotenuse) and depends on (the two apexes).
struct Split {
  std::array<Node, 2> ends, apexes;
};
Split split_at(Node m, int h) {
  const bool odd_u = (m.u / h) % 2 != 0, odd_v = (m.v / h) % 2 != 0;
  if (odd_u && odd_v) {  // middle of a square: its diagonal joins the corners of even parity
    const bool rising = (((m.u - h) + (m.v - h)) / (2 * h)) % 2 == 0;
    const std::array<Node, 2> up{{{m.u - h, m.v - h}, {m.u + h, m.v + h}}},
        fall{{{m.u - h, m.v + h}, {m.u + h, m.v - h}}};
    return rising ? Split{up, fall} : Split{fall, up};
  }
  const std::array<Node, 2> along_u{{{m.u - h, m.v}, {m.u + h, m.v}}},
      along_v{{{m.u, m.v - h}, {m.u, m.v + h}}};
  return odd_u ? Split{along_u, along_v} : Split{along_v, along_u};
}

/// Longest edge and largest error of a chord that are wanted around p [m].
struct Wanted {
  double edge, error, least_edge;
};
Wanted wanted(const Vec3& p, int v) {
  const double angle = std::atan2(p.y(), p.x()), out = std::hypot(p.x(), p.y()) - smooth_rim(angle);
  const bool stands = off_sector(angle, kNorthWest) < radians(24) || off_sector(angle, kEast) < radians(22);
  if (v >= kLipRow) return stands && out < 9 ? Wanted{0.36, 1, 0} : Wanted{3.5, 0.045, 0.6};
  if (v >= kLipRow - 16 && stands) return {1.0, 0.1, 0.4};
  if (v > kFoot) return {3, 0.12, 0.8};
  return {2.5, 0.15, 0.8};
}

bool needed(const Lattice& lattice, Node m, const Split& s) {
  const Vec3 &a = lattice.at(s.ends[0].u, s.ends[0].v), &b = lattice.at(s.ends[1].u, s.ends[1].v);
  const Vec3& p = lattice.at(m.u, m.v);
  const Wanted want = wanted(p, m.v);
  const double edge = (b - a).norm(), error = (p - 0.5 * (a + b)).norm();
  return edge > want.edge || (error > want.error && edge > want.least_edge);
}

/// Marks the points that are used, from the finest step to the coarsest, each with its apexes.
void choose_points(Lattice& lattice) {
  const auto pass = [&](int h, bool middles) {
    for (int v = 0; v <= kEdge; v += h)
      for (int u = 0; u < kAround; u += h) {
        const bool odd_u = (u / h) % 2 != 0, odd_v = (v / h) % 2 != 0;
        if (!(middles ? odd_u && odd_v : odd_u != odd_v)) continue;
        const Split s = split_at({u, v}, h);
        char& used = lattice.used[Lattice::index(u, v)];
        if (needed(lattice, {u, v}, s)) used = 1;
        if (!used) continue;
        for (const Node& apex : s.apexes)
          if (apex.v >= 0 && apex.v <= kEdge) lattice.used[Lattice::index(apex.u, apex.v)] = 1;
      }
  };
  for (int h = 1; h < kRoot; h *= 2) {
    pass(h, false);
    pass(h, true);
  }
}

struct Mesh {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> triangles;
};

/// Cuts the root cells down to the used points. The row v = 0 is one point in space, the pit's centre:
/// it becomes one vertex, and triangles with two corners there vanish.
class Cutter {
 public:
  explicit Cutter(const Lattice& lattice) : lattice_(lattice) {}
  Mesh cut() {
    const int R = kRoot;
    for (int v = 0; v < kEdge; v += R)
      for (int u = 0; u < kAround; u += R) {
        const Node sw{u, v}, se{u + R, v}, nw{u, v + R}, ne{u + R, v + R};
        if ((u / R + v / R) % 2 == 0) {
          cut(sw, ne, se);
          cut(ne, sw, nw);
        } else {
          cut(nw, se, sw);
          cut(se, nw, ne);
        }
      }
    return std::move(mesh_);
  }

 private:
  std::uint32_t vertex(Node n) {
    const std::size_t key = n.v == 0 ? 0 : Lattice::index(n.u, n.v);
    const auto [found, fresh] = number_.try_emplace(key, static_cast<std::uint32_t>(mesh_.vertices.size()));
    if (fresh) mesh_.vertices.push_back(lattice_.at(n.u, n.v));
    return found->second;
  }
  /// a and b end the hypotenuse; a, b, apex run counter-clockwise seen from above the plain.
  void cut(Node a, Node b, Node apex) {
    const Node m{(a.u + b.u) / 2, (a.v + b.v) / 2};
    const bool on_lattice = (a.u + b.u) % 2 == 0 && (a.v + b.v) % 2 == 0;
    if (on_lattice && lattice_.used[Lattice::index(m.u, m.v)]) {
      cut(apex, a, m);
      cut(b, apex, m);
      return;
    }
    const std::array<std::uint32_t, 3> t{vertex(a), vertex(b), vertex(apex)};
    if (t[0] != t[1] && t[1] != t[2] && t[2] != t[0]) mesh_.triangles.push_back(t);
  }

  const Lattice& lattice_;
  Mesh mesh_;
  std::map<std::size_t, std::uint32_t> number_;
};

Mesh kettle() {
  const World world = scatter();
  Lattice lattice;
  for (int v = 0; v <= kEdge; ++v)
    for (int u = 0; u < kAround; ++u)
      lattice.points[Lattice::index(u, v)] =
          (sheet(world, u, v) / kPost).unaryExpr([](double x) { return std::nearbyint(x); }) * kPost;
  choose_points(lattice);
  return Cutter(lattice).cut();
}

// ---- files --------------------------------------------------------------------------------------------

void put(std::string& out, std::uint32_t bits) {
  for (int k = 0; k < 4; ++k) out += static_cast<char>(bits >> (8 * k) & 0xff);
}

/// Multiples of 2^-13 m below 64 m fit a float exactly.
std::string ply(const Mesh& mesh) {
  std::string out =
      "ply\nformat binary_little_endian 1.0\ncomment Kettle, an invented pit: demo data, CC0. z up, metres, "
      "origin "
      "at the pit's centre\nelement vertex " +
      std::to_string(mesh.vertices.size()) +
      "\nproperty float x\nproperty float y\nproperty float z\nelement face " +
      std::to_string(mesh.triangles.size()) + "\nproperty list uchar uint vertex_indices\nend_header\n";
  for (const Vec3& p : mesh.vertices)
    for (const double x : p) put(out, std::bit_cast<std::uint32_t>(static_cast<float>(x)));
  for (const auto& t : mesh.triangles) {
    out += '\3';
    for (const std::uint32_t corner : t) put(out, corner);
  }
  return out;
}

/// Highest layer of the mesh at the posts, row by row from the north; NaN where there is none.
std::vector<double> top_layer(const Mesh& mesh, int posts) {
  std::vector<double> top(static_cast<std::size_t>(posts) * static_cast<std::size_t>(posts), kUnset);
  const auto column = [](double x) { return (x + kHalfSide) / kCell - 0.5; };
  const auto first = [](double x) { return std::max(0, static_cast<int>(std::ceil(x))); };
  const auto last = [&](double x) { return std::min(posts - 1, static_cast<int>(std::floor(x))); };
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const Vec3 lo = a.cwiseMin(b).cwiseMin(c), hi = a.cwiseMax(b).cwiseMax(c);
    const double area = cross2((b - a).head<2>(), (c - a).head<2>());
    for (int i = first(column(lo.x())); area != 0 && i <= last(column(hi.x())); ++i)
      for (int j = first(column(lo.y())); j <= last(column(hi.y())); ++j) {
        const Vec2 p((i + 0.5) * kCell - kHalfSide, (j + 0.5) * kCell - kHalfSide);
        const double at_b = cross2(p - a.head<2>(), (c - a).head<2>()) / area;
        const double at_c = cross2((b - a).head<2>(), p - a.head<2>()) / area;
        if (at_b < 0 || at_c < 0 || at_b + at_c > 1) continue;
        double& z = top[static_cast<std::size_t>(posts - 1 - j) * static_cast<std::size_t>(posts) +
                        static_cast<std::size_t>(i)];
        z = std::fmax(z, a.z() + at_b * (b.z() - a.z()) + at_c * (c.z() - a.z()));
      }
  }
  return top;
}

/// A patch of the floor that stayed in shadow: the DEM has no data there.
bool in_shadow(const Vec2& p) {
  const Vec2 d = p - Vec2(9.5, -10.5);
  return d.x() * d.x() / 16 + d.y() * d.y() / 6 < 1 + 0.5 * noise(kRubble + 90, p.x() / 2, p.y() / 2);
}

std::string dem(const Mesh& mesh) {
  const int posts = static_cast<int>(2 * kHalfSide / kCell);
  const std::vector<double> top = top_layer(mesh, posts);
  const std::string side = std::to_string(posts);
  std::string out = "ncols " + side + "\nnrows " + side +
                    "\nxllcorner -45\nyllcorner -45\ncellsize 0.5\nNODATA_value -9999\n";
  for (int row = 0; row < posts; ++row)
    for (int i = 0; i < posts; ++i) {
      const Vec2 p((i + 0.5) * kCell - kHalfSide, kHalfSide - (row + 0.5) * kCell);
      const double z =
          top[static_cast<std::size_t>(row) * static_cast<std::size_t>(posts) + static_cast<std::size_t>(i)];
      std::array<char, 32> text{};
      const auto end =
          std::to_chars(text.data(), text.data() + text.size(), z, std::chars_format::fixed, 2).ptr;
      out += in_shadow(p) || !(z > -1000) ? std::string("-9999") : std::string(text.data(), end);
      out += i + 1 < posts ? ' ' : '\n';
    }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fputs("usage: make_terrain DIRECTORY\n", stderr);
    return 2;
  }
  try {
    const std::string directory = argv[1];
    make_directory(directory);
    const Mesh mesh = kettle();
    write_whole(directory + "/kettle.ply", ply(mesh));
    write_whole(directory + "/kettle_dem.asc", dem(mesh));
    std::printf("%zu vertices, %zu triangles\n", mesh.vertices.size(), mesh.triangles.size());
  } catch (const std::exception& failure) {
    std::fprintf(stderr, "make_terrain: %s\n", failure.what());
    return 3;
  }
}
