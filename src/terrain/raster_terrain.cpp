#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "grid_checks.hpp"
#include "grids.hpp"
#include "import_program.hpp"
#include "kinds.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

using Window = ImportRequest::Window;

[[noreturn]] void fail(const std::string& name, const char* key, std::string what, std::string way_out) {
  throw InputError(Place{name, 0, 0, key}, std::move(what), std::move(way_out));
}

// ---------------------------------------------------------------- what cannot be ground

void refuse_degrees(const ImportedRaster& r, const std::string& name) {
  if (!r.geographic) return;
  const Vec2 posts(static_cast<double>(r.columns) - 1, static_cast<double>(r.rows) - 1);
  const Vec2 middle = r.first + 0.5 * r.spacing.cwiseProduct(posts);
  const bool earth = std::abs(r.body_radius - 6378137) < 1;  // WGS 84 and GRS 80
  const std::string body = earth               ? "+ellps=WGS84"
                           : r.body_radius > 0 ? fmt::format("+R={:.10g}", r.body_radius)
                                               : std::string("+R=RADIUS");
  fail(name, "",
       fmt::format("positions are degrees of longitude and latitude ({}), which are no lengths", r.crs),
       fmt::format("project it to metres first: gdalwarp {}-t_srs '+proj=aeqd +lat_0={:.6g} +lon_0={:.6g} {} "
                   "+units=m' IN OUT.tif",
                   r.body_radius > 0 ? "" : "-s_srs '+proj=longlat +R=RADIUS' ", middle.y(), middle.x(),
                   body));
}

void check_counts(const ImportedRaster& r, const std::string& name) {
  if (r.columns < 2 || r.rows < 2)
    fail(name, "", fmt::format("has {} x {} posts, ground takes at least 2 x 2", r.columns, r.rows),
         "give the raster of heights whole");
  constexpr std::uint64_t kMost = std::numeric_limits<std::uint32_t>::max();
  if (r.columns > kMost || r.rows > kMost)
    fail(name, "", fmt::format("has {} x {} posts, more than any file holds", r.columns, r.rows),
         "get the file again whole");
}

/// Large rasters are worth minutes, but not if their size is made up: the densest usual compression (DEFLATE)
/// makes 1 byte of 1032.
void check_size(const ImportedRaster& r, const std::string& name) {
  double bytes = static_cast<double>(FileBytes(name).size());
  for (const std::string& other : r.files) bytes += static_cast<double>(FileBytes(other).size());
  const double posts = static_cast<double>(r.columns) * static_cast<double>(r.rows);
  constexpr double kMostForBytes = 1032, kMostPassed = 17179869184.0;  // 2^34
  if (posts <= kMostForBytes * bytes && posts <= kMostPassed) return;
  fail(name, "",
       posts > kMostPassed
           ? fmt::format("has {} x {} posts, at most 2^34 are looked through", r.columns, r.rows)
           : fmt::format("promises {} x {} posts in {:.0f} bytes: it is damaged, or nearly empty", r.columns,
                         r.rows, bytes),
       "cut out the part that matters, for instance gdal_translate -srcwin, or get the file again");
}

void check_image(const ImportedRaster& r, const TerrainOptions& options, const std::string& name) {
  if (r.placed) {
    if (options.image)
      fail(name, "terrain.image", "is for images without a place, but the file has one", "leave it out");
    return;
  }
  if (!options.image)
    fail(name, "terrain.image",
         fmt::format(
             "the file is an image of {} x {} counts: it does not say how far apart its posts are nor what a "
             "count means",
             r.columns, r.rows),
         "state terrain.image with spacing, scale and offset, for instance { spacing: 2 m, scale: 0.5 m, "
         "offset: "
         "-110 m }; counts that mark missing data go with terrain.hole_below");
  if (!(options.image->spacing > 0) || !std::isfinite(options.image->spacing) ||
      !(options.image->scale > 0) || !std::isfinite(options.image->scale) ||
      !std::isfinite(options.image->offset))
    fail(name, "terrain.image", "needs a spacing and a scale above 0, and an offset", "state all three");
}

/// Posts that are held at once.
std::uint64_t most_held(const TerrainOptions& options) {
  return std::min(kMostPosts, options.greatest_vertices);
}

// ---------------------------------------------------------------- the raster, or a part of it, as a grid

/// Asks the other program for one file, whole or by windows.
class Raster {
 public:
  Raster(const std::string& path, const TerrainOptions& options) : path_(path), options_(options) {
    all_ = import_raster(request(std::nullopt));
    check_counts(all_, path);
    refuse_degrees(all_, path);
    check_image(all_, options, path);
    if (!large()) return;
    check_size(all_, path);
    units_ = grid_units(plan_unit(), height_unit(), {size().x(), size().y(), kUnset}, path, options);
  }

  bool large() const { return all_.window.columns == 0; }
  const ImportedRaster& facts() const { return all_; }
  const GridUnits& units() const { return units_; }  ///< of a large one
  bool image() const { return !all_.placed; }
  double plan_unit() const { return image() ? 1 : all_.plan_unit; }
  double height_unit() const { return image() ? 1 : all_.height_unit; }
  Vec2 spacing() const { return image() ? Vec2::Constant(options_.image->spacing) : all_.spacing; }
  Vec2 first() const { return image() ? Vec2::Zero() : all_.first; }  ///< file units
  /// From the first to the last post, file units.
  Vec2 size() const {
    return spacing().cwiseProduct(
        Vec2(static_cast<double>(all_.columns) - 1, static_cast<double>(all_.rows) - 1));
  }
  double quantum() const {
    return image() ? all_.quantum * options_.image->scale : all_.quantum;  // [m] for an image
  }

  GridFile whole() { return grid(all_); }
  GridFile part(const Window& window) const {
    ImportedRaster r = import_raster(request(window));
    const Window& w = r.window;
    const bool same = r.columns == all_.columns && r.rows == all_.rows && w.column == window.column &&
                      w.row == window.row && w.columns == window.columns && w.rows == window.rows;
    if (!same) fail(path_, "", "changed while it was read", "try again");
    return grid(r);
  }

 private:
  ImportRequest request(const std::optional<Window>& window) const {
    ImportRequest r;
    r.work = ImportRequest::Work::raster;
    r.path = path_;
    r.greatest_vertices = options_.greatest_vertices;
    r.window = window;
    r.most_posts = most_held(options_);
    return r;
  }

  GridFile grid(ImportedRaster& r) const {
    const Window& w = r.window;
    GridFile out;
    out.spacing = spacing();
    const auto south = all_.rows - w.row - w.rows;
    out.first =
        first() + spacing().cwiseProduct(Vec2(static_cast<double>(w.column), static_cast<double>(south)));
    // The border of a part that ends with the whole is the whole's.
    out.last = first() + spacing().cwiseProduct(Vec2(static_cast<double>(w.column + w.columns - 1),
                                                     static_cast<double>(south + w.rows - 1)));
    out.columns = static_cast<std::uint32_t>(w.columns);
    out.rows = static_cast<std::uint32_t>(w.rows);
    out.north_row = w.row;
    out.west_column = w.column;
    out.plan_unit = plan_unit();
    out.height_unit = height_unit();
    out.heights = std::move(r.heights);
    if (image())
      for (double& z : out.heights) z = options_.image->offset + options_.image->scale * z;
    out.format = all_.format;
    return out;
  }

  std::string path_;
  const TerrainOptions& options_;
  ImportedRaster all_;
  GridUnits units_;
};

// ---------------------------------------------------------------- large rasters

/// Side of the window that is read round a place: as many posts as may be held.
std::uint64_t side(const TerrainOptions& options) {
  return static_cast<std::uint64_t>(std::sqrt(static_cast<double>(most_held(options))));
}

/// First of `kept` posts out of `all` round the one nearest to `at`.
std::uint64_t first_round(double at, std::uint64_t all, std::uint64_t kept) {
  const double most = static_cast<double>(all - kept);
  return static_cast<std::uint64_t>(std::clamp(std::round(at - 0.5 * static_cast<double>(kept)), 0.0, most));
}

LoadedTerrain window_round(const Raster& raster, const Vec2& place, const std::string& name,
                           const TerrainOptions& options) {
  const ImportedRaster& all = raster.facts();
  const double unit = raster.units().plan;
  const Vec2 lo = raster.first() * unit, hi = (raster.first() + raster.size()) * unit;
  if (!Box2{lo, hi}.contains(place))
    fail(name, "terrain.around",
         fmt::format(
             "({:.10g}, {:.10g}) m is off the raster, which reaches from ({:.10g}, {:.10g}) to ({:.10g}, "
             "{:.10g}) m",
             place.x(), place.y(), lo.x(), lo.y(), hi.x(), hi.y()),
         "state a place on it, in map coordinates");
  const Vec2 at = (place / unit - raster.first()).cwiseQuotient(raster.spacing());  // in posts
  Window window;
  window.columns = std::min(side(options), all.columns);
  window.rows = std::min(side(options), all.rows);
  window.column = first_round(at.x(), all.columns, window.columns);
  window.row = all.rows - window.rows - first_round(at.y(), all.rows, window.rows);
  LoadedTerrain out = grid_terrain(raster.part(window), name, options);
  out.facts.notes.push_back(
      fmt::format("of {} x {} posts only the {} x {} round ({:.10g}, {:.10g}) m were read: columns {} to {}, "
                  "rows {} to {} from the "
                  "north",
                  all.columns, all.rows, window.columns, window.rows, place.x(), place.y(), window.column + 1,
                  window.column + window.columns, window.row + 1, window.row + window.rows));
  return out;
}

/// Least step at which no more posts are kept than may be held.
std::uint64_t thinning(std::uint64_t columns, std::uint64_t rows, std::uint64_t most) {
  std::uint64_t step = 1;
  while (((columns - 1) / step + 1) * ((rows - 1) / step + 1) > most) ++step;
  return step;
}

/// Every post passes by once, in bands of rows from the south.
GridSurvey surveyed(const Raster& raster, std::uint64_t step, const std::string& name,
                    const TerrainOptions& options) {
  const ImportedRaster& all = raster.facts();
  GridSurvey survey(all.columns, all.rows, step);
  const std::uint64_t rows = std::max<std::uint64_t>(most_held(options) / all.columns, 2);
  for (std::uint64_t south = 0; south + 1 < all.rows; south += rows - 1) {
    Window window{0, 0, all.columns, std::min(rows, all.rows - south)};
    window.row = all.rows - south - window.rows;
    GridFile band = raster.part(window);
    to_metres(band, raster.units());
    cut_holes(band, options.hole_below);
    check_cells(band, raster.units().height, name);
    survey.add(band, south);
  }
  return survey;
}

LoadedTerrain overview(const Raster& raster, const std::string& name, const TerrainOptions& options) {
  const ImportedRaster& all = raster.facts();
  const std::uint64_t step = thinning(all.columns, all.rows, most_held(options));
  if (all.columns > most_held(options) / 2 || all.columns <= step || all.rows <= step)
    fail(name, "", fmt::format("has {} x {} posts, which is no shape of ground", all.columns, all.rows),
         "cut out the part that matters, for instance gdal_translate -srcwin");
  GridSurvey survey = surveyed(raster, step, name, options);
  GridFile kept = survey.take_kept();
  kept.first = raster.first() * raster.units().plan;
  kept.spacing = raster.spacing() * raster.units().plan * static_cast<double>(step);
  if (survey.known() == 0) check_known(kept, name);
  LoadedTerrain out;
  TerrainFacts& facts = out.facts;
  facts.kind = "grid";
  facts.format = all.format;
  facts.assumed_unit = raster.units().assumed;
  facts.columns = all.columns;
  facts.rows = all.rows;
  facts.thinned = step;
  facts.cell = raster.spacing() * raster.units().plan;
  facts.spacing = facts.cell.maxCoeff();
  facts.lowest_corner << kept.first, survey.lowest();
  facts.highest_corner << (raster.first() + raster.size()) * raster.units().plan, survey.highest();
  survey.finish(facts);
  const Bounds bounds{facts.lowest_corner, facts.highest_corner};
  check_grid_place(bounds, name);
  check_grid_slope(kept, facts, name);
  facts.notes.push_back(
      fmt::format("the raster has more posts than are held at once ({}): this is an overview of every {}th "
                  "post, in which holes "
                  "look up to {} posts wider; heights, slopes and holes are counted over all posts",
                  most_held(options), step, step));
  out.terrain = grid_at_origin(std::move(kept), local_origin(bounds));
  return out;
}

// ---------------------------------------------------------------- what the file says

/// An image has no mark of missing data, so its least count often stands for it. Then it lies farther below
/// the next one than all others lie apart, and would be read as a floor under walls of one post. A statement
/// about holes settles it either way.
void check_least_count(const GridFile& grid, double count, const TerrainOptions& options,
                       const std::string& name) {
  constexpr double kGap = 20;  // counts
  if (options.hole_below > -kInfinity || grid.heights.empty()) return;
  const auto [lowest, highest] = std::minmax_element(grid.heights.begin(), grid.heights.end());
  const double least = *lowest;
  double next = kInfinity;
  for (const double z : grid.heights)
    if (z > least) next = std::min(next, z);
  if (!std::isfinite(next) || !(next - least > std::max(kGap * count, *highest - next))) return;
  const auto alone = std::count(grid.heights.begin(), grid.heights.end(), least);
  fail(name, "terrain.hole_below",
       fmt::format("{} {:.6g} m, the least count, and no other is below {:.6g} m: that looks like missing "
                   "data, not like a floor",
                   counted(static_cast<std::uint64_t>(alone), "post holds", "posts hold"), least, next),
       fmt::format("state terrain.hole_below: {:.6g} m if it marks missing data, {:.6g} m if it is ground",
                   least + count / 2, least - count / 2));
}

LoadedTerrain whole_terrain(Raster& raster, const std::string& path, const TerrainOptions& options) {
  GridFile grid = raster.whole();
  if (raster.image()) check_least_count(grid, raster.quantum(), options, path);
  return grid_terrain(std::move(grid), path, options);
}

void add_image_notes(const Raster& raster, const TerrainOptions& options, TerrainFacts& facts) {
  if (!raster.image()) return;
  facts.notes.push_back("the image has no place: its south-west post is (0, 0) of the map, rows run east");
  if (raster.quantum() > 0)
    facts.notes.push_back(
        fmt::format("heights come in steps of {:.6g} m, one count; over one post of {:.6g} m that is a slope "
                    "of {:.1f} deg, and "
                    "what is flatter or lower than that cannot be seen in them",
                    raster.quantum(), options.image->spacing,
                    degrees(std::atan(raster.quantum() / options.image->spacing))));
}

void add_file_facts(const Raster& raster, double height_unit, TerrainFacts& facts) {
  const ImportedRaster& r = raster.facts();
  facts.crs = r.crs;
  facts.body_radius = r.body_radius;
  facts.quantum = raster.quantum() * height_unit;
  facts.from_file = r.from_file;
  facts.notes.insert(facts.notes.begin(), r.notes.begin(), r.notes.end());
}

/// One name for all files that the raster is made of.
std::string digest_of(const std::string& path, const std::vector<std::string>& others) {
  std::string digests = sha256(FileBytes(path).text());
  for (const std::string& other : others) digests += '\n' + sha256(FileBytes(other).text());
  return sha256(digests);
}

}  // namespace

LoadedTerrain raster_terrain(const std::string& path, const TerrainOptions& options) {
  Raster raster(path, options);
  if (raster.large() && !options.around && !options.overview)
    fail(path, "terrain.around",
         fmt::format("the raster has {} x {} posts, at most {} are held at once", raster.facts().columns,
                     raster.facts().rows, most_held(options)),
         fmt::format("state terrain.around, a place in map coordinates, to read the {} x {} posts round it; "
                     "or cut out "
                     "the part that matters, for instance gdal_translate -srcwin",
                     side(options), side(options)));
  LoadedTerrain out = !raster.large()  ? whole_terrain(raster, path, options)
                      : options.around ? window_round(raster, *options.around, path, options)
                                       : overview(raster, path, options);
  const double stated = options.unit.value_or(1);
  add_file_facts(raster, raster.height_unit() > 0 ? raster.height_unit() : stated, out.facts);
  add_image_notes(raster, options, out.facts);
  if (!raster.facts().files.empty()) out.terrain.sha256 = digest_of(path, raster.facts().files);
  return out;
}

}  // namespace rimstance
