#include "rimstance/output/inspect.hpp"

#include <algorithm>
#include <cmath>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/output/json.hpp"
#include "rimstance/output/table.hpp"
#include "rimstance/output/text.hpp"
#include "top_facet.hpp"

namespace rimstance {
namespace {

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

std::string scenario_lines(const Inspection& i) {
  std::string out = "terrain:\n  file: " + yaml_text(i.loaded.facts.file) + '\n';
  if (i.loaded.facts.kind == "mesh")
    out += std::string("  up: ") + axis_text(i.used.up.value_or(UpAxis::z)) + '\n';
  out += "  unit: " + unit_text(i.used.unit.value_or(1)) + '\n';
  if (std::isfinite(i.used.hole_below)) out += "  hole_below: " + shortest(i.used.hole_below) + " m\n";
  return out;
}

Members defects(const TerrainFacts& t) {
  return {{"degenerate_triangles", t.degenerate},       {"duplicate_triangles", t.duplicate},
          {"non_manifold_edges", t.non_manifold_edges}, {"inconsistent_edges", t.inconsistent_edges},
          {"boundary_edges", t.boundary_edges},         {"vertical_triangles", t.vertical},
          {"overhanging_triangles", t.overhanging}};
}

Value assumptions(const TerrainFacts& t) {
  Values out;
  if (!t.assumed_up.empty())
    out.emplace_back("up axis " + t.assumed_up + ": the file does not say; state it in the scenario");
  if (!t.assumed_unit.empty())
    out.emplace_back("unit " + t.assumed_unit + ": the file does not say; state it in the scenario");
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

std::string range(const Value& v, const std::string& axis) {
  const double lo = number_of(v, "extent_m.0." + axis), hi = number_of(v, "extent_m.1." + axis);
  return fixed(lo, 2) + " to " + fixed(hi, 2) + " m (" + fixed(hi - lo, 2) + " m)";
}

Table facts_table(const Value& v) {
  Table t{{{"", "", -1}, {"", "", -1}}, {}};
  const auto row = [&](const char* name, std::string text) { t.rows.push_back({name, std::move(text)}); };
  row("kind", text_of(v, "kind") + ", " + text_of(v, "format"));
  row("east", range(v, "0"));
  row("north", range(v, "1"));
  row("height", range(v, "2"));
  const bool grid = v.find("columns") != nullptr;
  row(grid ? "post spacing" : "median edge in plan", rounded(number_of(v, "spacing_m")) + " m");
  if (grid)
    row("posts", fixed(number_of(v, "columns"), 0) + " x " + fixed(number_of(v, "rows"), 0) + ", " +
                     fixed(number_of(v, "posts_without_data"), 0) + " without data");
  else
    row("size", fixed(number_of(v, "vertices"), 0) + " vertices, " + fixed(number_of(v, "triangles"), 0) +
                    " triangles");
  row("area", rounded(number_of(v, "plan_area_m2")) + " m2 in plan, " +
                  rounded(number_of(v, "surface_area_m2")) + " m2 of surface");
  row("slope", "half of the surface below " + fixed(number_of(v, "slope_deg.p50"), 1) + " deg, 90 % below " +
                   fixed(number_of(v, "slope_deg.p90"), 1) + ", 99 % below " +
                   fixed(number_of(v, "slope_deg.p99"), 1) + ", steepest " +
                   fixed(number_of(v, "slope_deg.max"), 1));
  return t;
}

std::string defects_text(const Value& v) {
  std::string out;
  for (const auto& [name, count] : std::get<Members>(v.at("defects").is)) {
    if (!(number_of(count) > 0)) continue;
    std::string words = name;
    std::replace(words.begin(), words.end(), '_', ' ');
    out += (out.empty() ? "" : ", ") + fixed(number_of(count), 0) + ' ' + words;
  }
  return out.empty() ? "none found" : out;
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

std::string bullets(const Value& sentences) {
  std::string out;
  for (const Value& s : std::get<Values>(sentences.is))
    out += "  - " + one_line(std::get<std::string>(s.is)) + '\n';
  return out;
}

}  // namespace

Inspection inspect(const std::string& file, const TerrainOptions& stated) {
  TerrainOptions used = stated;
  if (!used.up) used.up = UpAxis::z;
  if (!used.unit) used.unit = 1;
  Inspection out{load_terrain(file, used), used};
  TerrainFacts& facts = out.loaded.facts;
  if (!stated.up && facts.kind == "mesh") facts.assumed_up = "z";
  if (!stated.unit) facts.assumed_unit = "m";
  return out;
}

Value describe(const Inspection& i, const std::vector<Vec2>& asked) {
  const TerrainFacts& t = i.loaded.facts;
  Members out{{"file", t.file},
              {"sha256", i.loaded.terrain.sha256},
              {"kind", t.kind},
              {"format", t.format},
              {"frame", i.loaded.terrain.frame},
              {"assumed", assumptions(t)},
              {"extent_m", Values{list(t.lowest_corner), list(t.highest_corner)}},
              {"size_m", list(Vec3(t.highest_corner - t.lowest_corner))},
              {"spacing_m", t.spacing}};
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
                         {"notes", Values(t.notes.begin(), t.notes.end())},
                         {"scenario_lines", scenario_lines(i)}});
  if (!asked.empty()) {
    Values places;
    for (const Vec2& p : asked) places.push_back(place(i.loaded.terrain, p));
    out.emplace_back("at", std::move(places));
  }
  return out;
}

std::string inspection_text(const Value& v) {
  std::string out = text_of(v, "file") + "\n\n";
  if (const Value& assumed = v.at("assumed"); !std::get<Values>(assumed.is).empty())
    out += "Assumed:\n" + bullets(assumed) + '\n';
  std::string facts = to_text(facts_table(v));
  facts.erase(0, facts.find('\n') + 1);  // the columns have no headings
  out += facts + "\nDefects: " + defects_text(v) + '\n';
  if (const Value& notes = v.at("notes"); !std::get<Values>(notes.is).empty())
    out += "\nNotes:\n" + bullets(notes);
  if (const Value* places = v.find("at")) out += "\nPlaces asked about:\n" + places_text(*places);
  return out + "\nLines for a scenario:\n\n" + std::get<std::string>(v.at("scenario_lines").is);
}

}  // namespace rimstance
