#include "rimstance/output/terrain_figure.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/base/errors.hpp"
#include "rimstance/output/text.hpp"
#include "top_facet.hpp"

namespace rimstance {
namespace {

constexpr int kPixels = 640;        // across the longer side of a plan
constexpr double kMostRows = 4096;  // of a view, however narrow its box
constexpr double kBetween = 34;     // pixels wanted between contours on ground of median slope
constexpr double kClosest = 3.2;    // contours closer than that many pixels are left out
constexpr double kShortest = 22;    // closed contours shorter than that many pixels are left out

/// Level of a pixel: 1 dark ... 255 light. Flat ground is light grey, so that marks stand out on it; what
/// lies deep (`depth` 0 ... 1 of the heights shown) is darker, so that a pit does not read as a hill.
std::uint8_t shade(const Vec3& normal, double depth) {
  const Vec3 light = Vec3(-1, 1, std::sqrt(2.0)) / 2;
  const double more = normal.dot(light) - light.z(), steep = 1 - normal.z();
  const double level =
      208 + (more > 0 ? 42 * std::tanh(3.2 * more) : 128 * std::tanh(1.9 * more)) - 42 * steep - 44 * depth;
  return static_cast<std::uint8_t>(std::clamp(level, 30.0, 250.0));
}

double median_slope(const GroundView& v) {
  std::vector<double> slopes;
  for (std::size_t k = 0; k < v.kinds.size(); ++k)
    if (v.kinds[k] == GroundView::Kind::ground)
      slopes.push_back(v.normals[k].head<2>().norm() / v.normals[k].z());
  if (slopes.empty()) return 0;
  const auto middle = slopes.begin() + static_cast<std::ptrdiff_t>(slopes.size() / 2);
  std::nth_element(slopes.begin(), middle, slopes.end());
  return *middle;
}

/// 1, 2 or 5 times a power of ten, the first that is not below `least`.
double round_up(double least) {
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double m : {1.0, 2.0, 5.0})
    if (m * power >= least * (1 - 1e-9)) return m * power;
  return 10 * power;
}

/// Every second sample: contours need less than the relief.
Samples thinned(const Samples& s) {
  Samples out{s.first, 2 * s.step, (s.columns + 1) / 2, (s.rows + 1) / 2, {}};
  for (int r = 0; r < s.rows; r += 2)
    for (int c = 0; c < s.columns; c += 2) out.values.push_back(s.at(c, r));
  return out;
}

double length_of(const std::vector<Vec2>& points) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) sum += (points[i + 1] - points[i]).norm();
  return sum;
}

Raster relief(const GroundView& v) {
  double lowest = kInfinity, highest = -kInfinity;
  for (const double z : v.heights.values) {
    lowest = std::fmin(lowest, z);
    highest = std::fmax(highest, z);
  }
  const double range = std::max(highest - lowest, 1e-9);
  Raster out{v.box, {v.heights.columns, v.heights.rows, {}}};
  for (int r = v.heights.rows - 1; r >= 0; --r)
    for (int c = 0; c < v.heights.columns; ++c) {
      const auto k = static_cast<std::size_t>(r) * static_cast<std::size_t>(v.heights.columns) +
                     static_cast<std::size_t>(c);
      out.image.levels.push_back(v.kinds[k] == GroundView::Kind::ground
                                     ? shade(v.normals[k], (highest - v.heights.values[k]) / range)
                                     : std::uint8_t{0});
    }
  return out;
}

void add_missing(const GroundView& v, GroundView::Kind kind, const char* name, const char* text,
                 TerrainLayer& layer) {
  Samples mask = v.heights;
  bool any = false;
  for (std::size_t k = 0; k < v.kinds.size(); ++k) {
    mask.values[k] = v.kinds[k] == kind ? 1 : 0;
    any = any || v.kinds[k] == kind;
  }
  if (!any) return;
  layer.marks.push_back(Area{name, outlines(mask)});
  layer.legend.push_back({name, text});
}

void add_contours(const GroundView& v, TerrainLayer& layer) {
  const double pixel = v.heights.step.x() * v.heights.columns / kPixels, slope = median_slope(v);
  const double wanted = slope * kBetween * pixel;
  if (!(wanted > 1e-6)) {
    layer.note = "The ground shown is level: no contours.";
    return;
  }
  layer.interval = round_up(wanted);
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(layer.interval) + 1e-9)));
  for (const Contour& c : contours(thinned(v.heights), layer.interval, layer.interval / (kClosest * pixel))) {
    if (length_of(c.points) < kShortest * pixel) continue;
    const bool index = std::llround(c.level / layer.interval) % 5 == 0;
    layer.marks.push_back(Line{index ? "contour-index" : "contour", c.points, false,
                               index ? fixed(c.level, decimals) : std::string()});
  }
  const std::string every = fixed(layer.interval, decimals) + " m";
  layer.legend.push_back(
      {"contour-index", "contours every " + every + ", each fifth thicker with its height in m"});
  layer.note = "Shaded relief, lit from the north-west. Contours every " + every +
               "; left out where the ground is so steep that they would run together.";
}

std::string metres(double x, int decimals) { return fixed(x, decimals) + " m"; }
std::string angle(double radians_) { return fixed(degrees(radians_), 1) + "\xC2\xB0"; }

std::vector<Figure::Fact> facts_of(const TerrainFacts& t) {
  const Vec3 size = t.highest_corner - t.lowest_corner;
  std::vector<Figure::Fact> out{
      {"extent east x north", fixed(size.x(), 1) + " x " + fixed(size.y(), 1) + " m"},
      {"heights", fixed(t.lowest_corner.z(), 2) + " to " + metres(t.highest_corner.z(), 2)},
      {t.kind == "grid" ? "spacing of posts" : "median edge in plan", metres(t.spacing, 2)},
      {"slope, median of the surface", angle(t.slope_p50)},
      {"slope, 90 % of it below", angle(t.slope_p90)},
  };
  if (t.kind == "grid") out.push_back({"posts", std::to_string(t.columns) + " x " + std::to_string(t.rows)});
  if (t.kind == "grid") out.push_back({"posts without data", std::to_string(t.holes)});
  if (t.kind == "mesh") out.push_back({"triangles", std::to_string(t.triangles)});
  if (t.kind == "mesh") out.push_back({"overhanging triangles", std::to_string(t.overhanging)});
  return out;
}

/// Numbers of the largest places without ground, and signs where defects lie.
void add_findings(const TerrainFacts& t, const HoleSurvey& holes, Figure& f) {
  using Kind = TerrainFacts::Defect::Kind;
  const auto any = [&](bool overhang) {
    return std::any_of(t.defect_places.begin(), t.defect_places.end(),
                       [&](const auto& d) { return (d.kind == Kind::overhanging) == overhang; });
  };
  for (const TerrainFacts::Defect& d : t.defect_places)
    f.marks.push_back(
        Symbol{d.kind == Kind::overhanging ? "defect-overhang" : "defect-edge", d.place.head<2>()});
  if (any(true)) f.legend.push_back({"defect-overhang", "overhanging facets (the first 50)"});
  if (any(false))
    f.legend.push_back(
        {"defect-edge", "edges of three or more facets, or wound against each other (the first 50)"});
  for (std::size_t k = 0; k < holes.largest.size(); ++k)
    f.marks.push_back(Note{"label-strong", holes.largest[k].place, std::to_string(k + 1)});
}

}  // namespace

GroundView ground_view(const Terrain& terrain, const Box2& box, int columns, double under) {
  const Vec2 size = box.hi - box.lo;
  expects(size.x() > 0 && size.y() > 0 && size.allFinite(), "ground_view: the box has an area");
  expects(columns > 1, "ground_view: columns > 1");
  GroundView v;
  v.box = box;
  const int rows = static_cast<int>(std::clamp(std::round(columns * size.y() / size.x()), 2.0, kMostRows));
  v.heights = {Vec2::Zero(), Vec2(size.x() / columns, size.y() / rows), columns, rows, {}};
  v.heights.first = box.lo + 0.5 * v.heights.step;
  const Box2 extent = terrain.ground->extent();
  std::vector<Facet> facets;
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < columns; ++c) {
      const Vec2 p_W =
          v.heights.first + v.heights.step.cwiseProduct(Vec2(c, r)) - terrain.map_offset.head<2>();
      const TopFacet h = top_facet(*terrain.ground, p_W, under - terrain.map_offset.z(), facets);
      const bool ground = std::isfinite(h.z);
      v.heights.values.push_back(ground ? h.z + terrain.map_offset.z() : kUnset);
      v.normals.push_back(h.normal);
      v.kinds.push_back(ground                         ? GroundView::Kind::ground
                        : !extent.contains(p_W)        ? GroundView::Kind::off_map
                        : terrain.ground->hole_at(p_W) ? GroundView::Kind::hole
                                                       : GroundView::Kind::nothing);
    }
  return v;
}

TerrainLayer terrain_layer(const GroundView& v) {
  TerrainLayer layer;
  layer.marks.push_back(relief(v));
  add_contours(v, layer);
  add_missing(v, GroundView::Kind::hole, "hole", "no data (hole)", layer);
  add_missing(v, GroundView::Kind::nothing, "void", "no surface (void)", layer);
  return layer;
}

TerrainLayer terrain_layer(const Terrain& terrain, const Box2& box, double under) {
  const Vec2 size = box.hi - box.lo;
  const double columns = kPixels * std::min(1.0, size.x() / size.y());
  return terrain_layer(ground_view(terrain, box, std::max(2, static_cast<int>(columns)), under));
}

Figure terrain_figure(const LoadedTerrain& loaded, const std::vector<Vec2>& asked, const HoleSurvey& holes) {
  const TerrainFacts& t = loaded.facts;
  Figure f;
  f.name = "terrain";
  f.title = "Terrain: " + one_line(t.file.substr(t.file.find_last_of('/') + 1));
  f.subtitle = t.format;
  const Vec2 offset = loaded.terrain.map_offset.head<2>();
  const Box2 extent = loaded.terrain.ground->extent();
  f.frame = {extent.lo + offset, extent.hi + offset};
  f.x_label = "east [m]";
  f.y_label = "north [m]";
  f.north_arrow = f.scale_bar = true;
  TerrainLayer layer = terrain_layer(loaded.terrain, f.frame);
  f.marks = std::move(layer.marks);
  f.legend = std::move(layer.legend);
  add_findings(t, holes, f);
  for (std::size_t k = 0; k < asked.size(); ++k) {
    f.marks.push_back(Symbol{"probe", asked[k]});
    f.marks.push_back(Note{"label", asked[k], fixed(asked[k].x(), 2) + ", " + fixed(asked[k].y(), 2)});
  }
  if (!asked.empty()) f.legend.push_back({"probe", "places asked about: east, north in m"});
  f.facts = facts_of(t);
  f.caption = layer.note;
  for (const std::string& note : t.notes) f.caption += '\n' + one_line(note);
  return f;
}

}  // namespace rimstance
