#include "rimstance/output/inspect.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"
#include "rimstance/output/json.hpp"
#include "rimstance/output/table.hpp"
#include "rimstance/output/text.hpp"
#include "top_facet.hpp"

namespace rimstance {
namespace {

constexpr double kAcross = 512;  // cells across the longer side, to look for holes of what is no grid

Value list(const Vec3& p) { return Values{p.x(), p.y(), p.z()}; }
Value list(const Vec2& p) { return Values{p.x(), p.y()}; }

std::string unit_text(double metres) {
  const std::pair<double, const char*> known[] = {
      {1, "m"}, {0.01, "cm"}, {0.001, "mm"}, {1000, "km"}, {0.3048, "ft"}};
  for (const auto& [size, name] : known)
    if (size == metres) return name;
  return shortest(metres) + " m";
}

const char* axis_text(UpAxis up) { return up == UpAxis::x ? "x" : up == UpAxis::y ? "y" : "z"; }

/// A file name as YAML: bare where that is safe, else in double quotes (a JSON string is one in YAML).
std::string yaml_text(const std::string& text) {
  constexpr std::string_view safe = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-./";
  const bool bare = !text.empty() && text.find_first_not_of(safe) == std::string::npos && text.front() != '-';
  if (bare) return text;
  const std::string quoted = to_json(Value(text));
  return quoted.substr(0, quoted.size() - 1);
}

std::string point_lines(const TerrainFacts& t) {
  std::string out = "  longest_edge: " + shortest(t.longest_edge) + " m\n", classes;
  for (const int c : t.classes) classes += (classes.empty() ? "" : ", ") + std::to_string(c);
  return classes.empty() ? out : out + "  classes: [" + classes + "]\n";
}

std::string scenario_lines(const Inspection& i) {
  std::string out = "terrain:\n  file: " + yaml_text(i.loaded.facts.file) + '\n';
  const bool turned = i.loaded.facts.kind == "points" && i.used.up != UpAxis::z;
  if (i.used.up && (turned || i.loaded.facts.kind == "mesh"))
    out += std::string("  up: ") + axis_text(*i.used.up) + '\n';
  if (i.used.mostly_wall && i.loaded.facts.kind == "mesh") out += "  mostly_wall: true\n";
  if (i.used.unit) out += "  unit: " + unit_text(*i.used.unit) + '\n';
  if (i.loaded.facts.kind == "points") out += point_lines(i.loaded.facts);
  if (const auto& image = i.used.image)
    out += "  image: { spacing: " + shortest(image->spacing) + " m, scale: " + shortest(image->scale) +
           " m, offset: " + shortest(image->offset) + " m }\n";
  if (i.used.weld > 0) out += "  weld: " + shortest(i.used.weld) + " m\n";
  if (std::isfinite(i.used.hole_below)) out += "  hole_below: " + shortest(i.used.hole_below) + " m\n";
  return out;
}

Members defects(const TerrainFacts& t) {
  return {{"degenerate_triangles", t.degenerate},       {"duplicate_triangles", t.duplicate},
          {"non_manifold_edges", t.non_manifold_edges}, {"inconsistent_edges", t.inconsistent_edges},
          {"boundary_edges", t.boundary_edges},         {"vertical_triangles", t.vertical},
          {"overhanging_triangles", t.overhanging}};
}

/// The body whose radius this is, by the radii of the IAU (Archinal et al. 2018: Moon 1737.4 km, Mars mean
/// 3389.5 and equatorial 3396.19 km) and of Earth (mean 6371.0, WGS 84 equatorial 6378.137 km).
Value body_like(double radius) {
  const std::pair<double, const char*> known[] = {{1737.4e3, "the Moon"},
                                                  {3389.5e3, "Mars"},
                                                  {3396.19e3, "Mars"},
                                                  {6371.0e3, "Earth"},
                                                  {6378.137e3, "Earth"}};
  for (const auto& [size, name] : known)
    if (std::abs(radius - size) <= 1e-3 * size) return name;
  return Value::null("no body known here is of that size");
}

Value given(double x, const char* else_why) { return std::isfinite(x) ? Value(x) : Value::null(else_why); }

Members against_pad(const Inspection& i) {
  const TerrainFacts& t = i.loaded.facts;
  const double step = std::atan(t.quantum / t.spacing);
  return {{"radius_m", i.pad},
          {"radius_assumed", i.pad_assumed},
          {"spacing_over_diameter", given(t.spacing / (2 * i.pad), "spacing not known")},
          {"resolved", t.spacing <= 2 * i.pad},
          {"height_step_m", given(t.quantum, "as fine as the file's numbers")},
          {"slope_of_one_step_deg", given(degrees(step), "as fine as the file's numbers")}};
}

Members holes_of(const HoleSurvey& s) {
  Values largest;
  for (const Hole& h : s.largest)
    largest.emplace_back(Members{{"area_m2", h.area},
                                 {"box_m", Values{list(h.box.lo), list(h.box.hi)}},
                                 {"place_m", list(h.place)},
                                 {"at_border", h.at_border},
                                 {"ground_round_it_m", Values{given(h.lowest, "no ground next to it"),
                                                              given(h.highest, "no ground next to it")}}});
  return {{"count", s.count},
          {"area_m2", s.area},
          {"share_of_extent", s.share},
          {"cell_m", s.cell.allFinite() ? list(s.cell) : Value::null("no extent")},
          {"largest", std::move(largest)}};
}

Value assumptions(const Inspection& i) {
  const TerrainFacts& t = i.loaded.facts;
  Values out;
  if (!t.assumed_up.empty())
    out.emplace_back("up axis " + t.assumed_up +
                     ": the file does not say; state it by --up here and `up` in the scenario");
  if (!t.assumed_unit.empty())
    out.emplace_back("unit " + t.assumed_unit +
                     ": the file does not say; state it by --unit here and `unit` in the scenario");
  for (const std::string& sentence : t.assumed) out.emplace_back(sentence);
  return out;
}

const char* name_of(TerrainFacts::Defect::Kind kind) {
  using Kind = TerrainFacts::Defect::Kind;
  return kind == Kind::non_manifold   ? "non-manifold edge"
         : kind == Kind::inconsistent ? "edge between facets wound against each other"
                                      : "overhanging facet";
}

Values defect_places(const TerrainFacts& t) {
  Values out;
  for (const TerrainFacts::Defect& d : t.defect_places)
    out.emplace_back(Members{{"what", name_of(d.kind)}, {"place_m", list(d.place)}});
  return out;
}

std::string missing_reason(const Terrain& terrain, const Vec2& p_W) {
  if (!terrain.ground->extent().contains(p_W)) return "off the map";
  return terrain.ground->hole_at(p_W) ? "no data here (hole)" : "no surface here (void)";
}

Value place(const Terrain& terrain, const Vec2& map) {
  const Vec2 p_W = map - terrain.map_offset.head<2>();
  Values heights;
  for (const double z : layers(terrain, p_W)) heights.emplace_back(z + terrain.map_offset.z());
  if (heights.empty()) {
    const std::string why = missing_reason(terrain, p_W);
    return Members{{"xy_m", list(map)},    {"height_m", nullptr},           {"layers_m", Values{}},
                   {"slope_deg", nullptr}, {"aspect_azimuth_deg", nullptr}, {"reason", why}};
  }
  std::vector<Facet> scratch;
  const SlopeAspect lie = slope_aspect(top_facet(*terrain.ground, p_W, kInfinity, scratch).normal);
  const Value aspect = lie.slope > 0 ? Value(degrees(azimuth_of(lie.downslope))) : Value::null("level");
  const Value height = heights.front();
  return Members{{"xy_m", list(map)},
                 {"height_m", height},
                 {"layers_m", std::move(heights)},
                 {"slope_deg", degrees(lie.slope)},
                 {"aspect_azimuth_deg", aspect},
                 {"reason", nullptr}};
}

Members grid_facts(const TerrainFacts& t) {
  return {
      {"columns", t.columns}, {"rows", t.rows}, {"cell_m", list(t.cell)}, {"posts_without_data", t.holes}};
}

// ---- for reading ----------------------------------------------------------------------------------

std::string text_of(const Value& v, std::string_view key) {
  return one_line(std::get<std::string>(v.at(key).is));
}
double number_of(const Value& v) {
  if (const auto* n = std::get_if<std::int64_t>(&v.is)) return static_cast<double>(*n);
  const auto* x = std::get_if<double>(&v.is);
  return x ? *x : kUnset;
}
double number_of(const Value& v, std::string_view dotted) {
  const Value* found = find_path(v, dotted);
  return found ? number_of(*found) : kUnset;
}
std::uint64_t count_of(const Value& v, std::string_view dotted) {
  return static_cast<std::uint64_t>(number_of(v, dotted));
}

std::string range(const Value& v, const std::string& axis) {
  const double lo = number_of(v, "extent_m.0." + axis), hi = number_of(v, "extent_m.1." + axis);
  return fixed(lo, 2) + " to " + fixed(hi, 2) + " m (" + fixed(hi - lo, 2) + " m)";
}

using Rows = std::vector<std::pair<std::string, std::string>>;

/// A section: its heading, and its rows with their names in one column.
std::string section(const char* heading, const Rows& rows) {
  constexpr std::size_t width = 22;
  std::string out = std::string(heading) + '\n';
  for (const auto& [name, text] : rows)
    out += "  " + std::string(name) + std::string(width - std::string_view(name).size(), ' ') + text + '\n';
  return out + '\n';
}

std::string where_text(const Value& v) {
  Rows rows{{"east", range(v, "0")}, {"north", range(v, "1")}};
  rows.emplace_back("local origin at", fixed(number_of(v, "map_offset_m.0"), 2) + ", " +
                                           fixed(number_of(v, "map_offset_m.1"), 2) + ", " +
                                           fixed(number_of(v, "map_offset_m.2"), 2) +
                                           " m (results and spots are in map coordinates, as above)");
  rows.emplace_back("coordinate system", v.at("crs").is_null() ? "not named by the file" : text_of(v, "crs"));
  if (const double radius = number_of(v, "body_radius_m"); std::isfinite(radius))
    rows.emplace_back("reference body",
                      "radius " + fixed(radius / 1000, 3) + " km, " +
                          (v.at("body_like").is_null() ? std::string("of no size known here")
                                                       : "the size of " + text_of(v, "body_like")));
  return section("1. Where", rows);
}

std::string spacing_text(const Value& v) {
  const double spacing = number_of(v, "spacing_m"), pad = number_of(v, "pad.radius_m");
  const double wide = number_of(v, "pad.spacing_over_diameter"), step = number_of(v, "pad.height_step_m");
  const bool grid = v.find("columns") != nullptr;
  const double dx = number_of(v, "cell_m.0"), dy = number_of(v, "cell_m.1");
  const std::string text = grid && dx != dy ? rounded(dx) + " x " + rounded(dy) : rounded(spacing);
  Rows rows{{grid ? "post spacing" : "median edge in plan", text + " m"}};
  if (const double k = number_of(v, "every_so_many_posts"); k > 1)
    rows.emplace_back("", "an overview: every " + fixed(k, 0) + ". post is looked at; not to stand on");
  const std::string of_pad = "a pad of radius " + rounded(pad) + " m";
  if (wide <= 1)
    rows.emplace_back("against a pad", of_pad + " covers about " +
                                           rounded(kPi * pad * pad / (spacing * spacing), 2) + " of them");
  else if (wide > 1)
    rows.emplace_back("against a pad", "one in " + rounded(wide, 2) + " pad diameters (" + of_pad +
                                           "): what lies under a pad is not known; strokes, pad tilt and "
                                           "contact heights would be those of the interpolated surface");
  if (std::isfinite(step))
    rows.emplace_back("step of heights", rounded(step) + " m: one step from one to the next is a slope of " +
                                             rounded(number_of(v, "pad.slope_of_one_step_deg"), 2) +
                                             " deg; less cannot be told");
  return section("2. Spacing against a pad", rows);
}

std::string heights_text(const Value& v) {
  Rows rows{{"height", range(v, "2")}};
  rows.emplace_back("slope", "half of the surface below " + fixed(number_of(v, "slope_deg.p50"), 1) +
                                 " deg, 90 % below " + fixed(number_of(v, "slope_deg.p90"), 1) +
                                 ", 99 % below " + fixed(number_of(v, "slope_deg.p99"), 1) + ", steepest " +
                                 fixed(number_of(v, "slope_deg.max"), 1));
  rows.emplace_back("area", rounded(number_of(v, "plan_area_m2")) + " m2 in plan, " +
                                rounded(number_of(v, "surface_area_m2")) + " m2 of surface");
  if (v.find("columns"))
    rows.emplace_back("size", fixed(number_of(v, "columns"), 0) + " x " + fixed(number_of(v, "rows"), 0) +
                                  " posts, " + fixed(number_of(v, "posts_without_data"), 0) +
                                  " without data");
  else
    rows.emplace_back("size", counted(count_of(v, "vertices"), "vertex", "vertices") + ", " +
                                  counted(count_of(v, "triangles"), "triangle"));
  return section("3. Heights and slopes", rows);
}

std::string between(const Value& lo, const Value& hi) {
  return lo.is_null()
             ? "no ground next to it"
             : "ground round it at " + fixed(number_of(lo), 2) + " to " + fixed(number_of(hi), 2) + " m";
}

std::string defects_text(const Value& v) {
  std::string out;
  for (const auto& [name, count] : std::get<Members>(v.at("defects").is)) {
    if (!(number_of(count) > 0)) continue;
    std::string words = name.substr(0, name.size() - 1);  // each name is a plural in s
    std::replace(words.begin(), words.end(), '_', ' ');
    out += (out.empty() ? "" : ", ") + counted(static_cast<std::uint64_t>(number_of(count)), words);
  }
  return out.empty() ? "none found" : out;
}

std::string bullets(const Value& sentences) {
  std::string out;
  for (const Value& s : std::get<Values>(sentences.is))
    out += "  - " + one_line(std::get<std::string>(s.is)) + '\n';
  return out;
}

std::string holes_text(const Value& v) {
  const Value& holes = v.at("hole_areas");
  const double count = number_of(holes, "count");
  Rows rows;
  rows.emplace_back("without ground",
                    count > 0 ? counted(static_cast<std::uint64_t>(count), "place") + ", " +
                                    rounded(number_of(holes, "area_m2")) + " m2, " +
                                    rounded(100 * number_of(holes, "share_of_extent"), 2) +
                                    " % of the extent; no data, not a depth"
                              : "nowhere, in cells of " + rounded(number_of(holes, "cell_m.0")) + " m");
  int number = 0;
  for (const Value& h : std::get<Values>(holes.at("largest").is)) {
    rows.emplace_back(
        "place " + std::to_string(++number),
        rounded(number_of(h, "area_m2")) + " m2, east " + fixed(number_of(h, "box_m.0.0"), 2) + " to " +
            fixed(number_of(h, "box_m.1.0"), 2) + ", north " + fixed(number_of(h, "box_m.0.1"), 2) + " to " +
            fixed(number_of(h, "box_m.1.1"), 2) + " m" +
            (std::get<bool>(h.at("at_border").is) ? " (at the map's border); " : "; ") +
            between(*find_path(h, "ground_round_it_m.0"), *find_path(h, "ground_round_it_m.1")));
  }
  rows.emplace_back("defects", defects_text(v));
  return section("4. Holes and defects", rows);
}

std::string assumed_text(const Value& v) {
  std::string lines = bullets(v.at("assumed")) + bullets(v.at("from_file"));
  if (std::get<bool>(v.at("pad").at("radius_assumed").is))
    lines += "  - pad radius " + rounded(number_of(v, "pad.radius_m")) + " m; state it by --pad\n";
  return "5. Assumed, or taken from the file\n" + (lines.empty() ? "  nothing: all was stated\n" : lines);
}

std::string places_text(const Value& places) {
  Table t{{{"east", "m", 2},
           {"north", "m", 2},
           {"height", "m", 3},
           {"layers", "", -1},
           {"slope", "deg", 1},
           {"falls towards", "deg from north", 0},
           {"", "", -1}},
          {}};
  for (const Value& p : std::get<Values>(places.is)) {
    const auto layers = static_cast<std::int64_t>(std::get<Values>(p.at("layers_m").is).size());
    const Value& reason = p.at("reason");
    t.rows.push_back({*find_path(p, "xy_m.0"), *find_path(p, "xy_m.1"), p.at("height_m"), layers,
                      p.at("slope_deg"), p.at("aspect_azimuth_deg"), reason.is_null() ? Value("") : reason});
  }
  return to_text(t);
}

}  // namespace

Inspection inspect(const std::string& file, const TerrainOptions& stated, std::optional<double> pad) {
  expects(!pad || *pad > 0, "inspect: pad > 0");
  TerrainOptions used = stated;
  if (!used.up) used.up = UpAxis::z, used.up_assumed = true;
  if (!used.unit) used.unit = 1, used.unit_assumed = true;
  used.points_assumed = true;
  if (!used.around) used.overview = true;
  Inspection out{load_terrain(file, used), used, {}, pad.value_or(kAssumedPad), !pad, {}};
  TerrainFacts& facts = out.loaded.facts;
  if (!stated.up && facts.assumed_up.empty()) out.used.up.reset();        // the file states it
  if (!stated.unit && facts.assumed_unit.empty()) out.used.unit.reset();  // the file states it
  const Box2 extent = out.loaded.terrain.ground->extent();
  const double across = (extent.hi - extent.lo).maxCoeff();
  const bool posts = facts.kind == "grid" && facts.cell.minCoeff() > 0;
  // Where many triangles reach to a place, looking at one takes long: then at fewer.
  const double cells = std::min(kMostHoleCells, 16 * kMostHoleCells / std::max(facts.crowding, 16.0));
  if (across > 0)
    out.holes =
        survey_holes(out.loaded.terrain, posts ? facts.cell : Vec2::Constant(across / kAcross), 5, cells);
  return out;
}

void look_closer(Inspection& inspection, const std::vector<Vec2>& asked) {
  inspection.closer.clear();
  const LoadedTerrain& all = inspection.loaded;
  if (all.facts.thinned <= 1) return;
  const Box2 extent{all.facts.lowest_corner.head<2>(), all.facts.highest_corner.head<2>()};  // of all posts
  for (const Vec2& place : asked) {
    TerrainOptions options = inspection.used;
    options.overview = false;
    options.around = place;
    const bool on_map = extent.contains(place);
    inspection.closer.push_back(on_map ? load_terrain(all.facts.file, options).terrain : all.terrain);
  }
}

Value describe(const Inspection& i, const std::vector<Vec2>& asked) {
  const TerrainFacts& t = i.loaded.facts;
  Members out{{"file", t.file},
              {"sha256", i.loaded.terrain.sha256},
              {"kind", t.kind},
              {"format", t.format},
              {"frame", i.loaded.terrain.frame},
              {"assumed", assumptions(i)},
              {"from_file", Values(t.from_file.begin(), t.from_file.end())},
              {"map_offset_m", list(i.loaded.terrain.map_offset)},
              {"crs", t.crs.empty() ? Value::null("the file names none") : Value(t.crs)},
              {"body_radius_m", given(t.body_radius, "the file names no reference body")},
              {"body_like", std::isfinite(t.body_radius) ? body_like(t.body_radius)
                                                         : Value::null("the file names no reference body")},
              {"extent_m", Values{list(t.lowest_corner), list(t.highest_corner)}},
              {"size_m", list(Vec3(t.highest_corner - t.lowest_corner))},
              {"spacing_m", t.spacing},
              {"every_so_many_posts", t.thinned},
              {"pad", against_pad(i)},
              {"hole_areas", holes_of(i.holes)}};
  if (t.kind == "grid")
    for (auto& member : grid_facts(t)) out.push_back(std::move(member));
  out.insert(out.end(), {{"vertices", t.vertices},
                         {"triangles", t.triangles},
                         {"welded_vertices", t.welded},
                         {"plan_area_m2", t.plan_area},
                         {"surface_area_m2", t.surface_area},
                         {"slope_deg", Members{{"p50", degrees(t.slope_p50)},
                                               {"p90", degrees(t.slope_p90)},
                                               {"p99", degrees(t.slope_p99)},
                                               {"max", degrees(t.slope_max)}}},
                         {"defects", defects(t)},
                         {"defect_places", defect_places(t)},
                         {"notes", Values(t.notes.begin(), t.notes.end())},
                         {"scenario_lines", scenario_lines(i)}});
  if (!asked.empty()) {
    Values places;
    for (std::size_t k = 0; k < asked.size(); ++k)
      places.push_back(place(k < i.closer.size() ? i.closer[k] : i.loaded.terrain, asked[k]));
    out.emplace_back("at", std::move(places));
  }
  return out;
}

std::string inspection_text(const Value& v) {
  std::string out = text_of(v, "file") + ": " + text_of(v, "kind") + ", " + text_of(v, "format") + "\n\n";
  out += where_text(v) + spacing_text(v) + heights_text(v) + holes_text(v) + assumed_text(v);
  if (const Value& notes = v.at("notes"); !std::get<Values>(notes.is).empty())
    out += "\nNotes\n" + bullets(notes);
  if (const Value* places = v.find("at")) out += "\nPlaces asked about:\n" + places_text(*places);
  return out + "\nLines for a scenario:\n\n" + std::get<std::string>(v.at("scenario_lines").is);
}

}  // namespace rimstance
