#include "rimstance/output/capacity.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

Value edge_of(const Capacity& c, const Standing& s, int edge) {
  if (edge < 0) return nullptr;
  const Edge& e = c.edges[static_cast<std::size_t>(edge)];
  return Values{s.contacts[static_cast<std::size_t>(e.from)].name,
                s.contacts[static_cast<std::size_t>(e.to)].name};
}

Value payload_value(double payload) {
  return std::isfinite(payload) ? Value(payload) : Value::null("nothing limits it");
}

Value name_of_contact(int foot, const Standing& s) {
  return foot < 0 ? Value(nullptr) : Value(s.contacts[static_cast<std::size_t>(foot)].name);
}
Value name_of_case(int load_case, const Prepared& p) {
  return load_case < 0 ? Value(nullptr) : Value(p.load_cases[static_cast<std::size_t>(load_case)].name);
}

Values met_values(const CapacityCell& cell, const Capacity& c, const Standing& s, const Prepared& p) {
  Values out;
  for (const Governing& g : cell.met_without_load)
    out.push_back(Members{{"limit", name_of(g.limit)},
                          {"edge", edge_of(c, s, g.edge)},
                          {"load_case", name_of_case(g.load_case, p)},
                          {"foot", name_of_contact(g.foot, s)}});
  return out;
}

/// What governs, with its state; a cell asked by luff and extension has those of its own.
void add_governing(const CapacityCell& cell, const Capacity& c, const Standing& s, const Prepared& p,
                   Members& out) {
  const Governing& g = cell.governing;
  const bool set = g.limit != Limit::none;
  const auto at = [&](double x) { return set && std::isfinite(x) ? Value(x) : Value(nullptr); };
  if (!c.by_setting) {
    out.emplace_back("luff_deg", at(degrees(g.at.luff)));
    out.emplace_back("extension_m", at(g.at.extension));
  }
  out.emplace_back("governed_by", name_of(g.limit));
  out.emplace_back("without_load", g.without_load);
  out.emplace_back("edge", edge_of(c, s, g.edge));
  out.emplace_back("foot", name_of_contact(g.foot, s));
  out.emplace_back("load_case", name_of_case(g.load_case, p));
  out.emplace_back("slew_at_deg", at(degrees(g.at.slew)));
  out.emplace_back("travel_m", at(g.at.travel));
  out.emplace_back("line_m", at(g.at.line));
  out.emplace_back("units_left", set ? Value(g.at.units_left) : Value(nullptr));
  out.emplace_back("met_without_load", met_values(cell, c, s, p));
}

Value cell_value(const CapacityCell& cell, const Capacity& c, const Standing& s, const Prepared& p) {
  Members out{{"reach_m", cell.reach}, {"slew_deg", Values{degrees(cell.slew.lo), degrees(cell.slew.hi)}}};
  if (c.by_setting) {
    out.emplace_back("luff_deg", degrees(cell.luff));
    out.emplace_back("extension_m", cell.extension);
  }
  if (!cell.has_state) {
    const Value none =
        Value::null(c.by_setting ? "the cuts of the operation leave this luff and extension out"
                                 : "no luff and extension of the operation has this reach");
    if (!c.by_setting)
      for (const char* key : {"luff_deg", "extension_m"}) out.emplace_back(key, none);
    for (const char* key : {"capacity_kg", "capacity_best_kg", "governed_by"}) out.emplace_back(key, none);
    return out;
  }
  out.emplace_back("capacity_kg", payload_value(cell.capacity));
  out.emplace_back("certified_gap_kg", cell.gap);
  out.emplace_back("capacity_best_kg", payload_value(cell.best));
  out.emplace_back("best_gap_kg", std::isfinite(cell.best_gap)
                                      ? Value(cell.best_gap)
                                      : Value::null("searched, not proven: another luff may carry more"));
  out.emplace_back("best",
                   Members{{"luff_deg", degrees(cell.best_luff)}, {"extension_m", cell.best_extension}});
  add_governing(cell, c, s, p, out);
  return out;
}

bool same_place(const CapacityCell& a, const CapacityCell& b, bool by_setting) {
  return by_setting ? a.luff == b.luff && a.extension == b.extension : a.reach == b.reach;
}

/// Of each reach, or luff and extension, the cell of least capacity; those without a state are left out.
std::vector<const CapacityCell*> least_cells(const Capacity& c) {
  std::vector<const CapacityCell*> out;
  for (const CapacityCell& cell : c.cells) {
    if (!cell.has_state) continue;
    if (out.empty() || !same_place(*out.back(), cell, c.by_setting))
      out.push_back(&cell);
    else if (cell.capacity < out.back()->capacity)
      out.back() = &cell;
  }
  return out;
}

Values violations(const Capacity& c, const Prepared& p) {
  Values out;
  const double asked = p.scenario->payload.mass;
  if (c.edges.empty())
    out.push_back(
        Members{{"criterion", "support"}, {"where", c.reason}, {"value", nullptr}, {"limit", nullptr}});
  for (const CapacityCell* cell : least_cells(c)) {
    if (cell->capacity >= asked) continue;
    const std::string boom = c.by_setting
                                 ? fmt::format("luff {} deg, extension {} m", rounded(degrees(cell->luff), 4),
                                               rounded(cell->extension, 4))
                                 : fmt::format("reach {} m", rounded(cell->reach, 4));
    out.push_back(
        Members{{"criterion", "capacity"},
                {"where", fmt::format("{}, slew {} deg", boom, rounded(degrees(cell->governing.at.slew), 4))},
                {"value", cell->capacity},
                {"limit", asked},
                {"unit", "kg"}});
  }
  return out;
}

Values cautions(const Capacity& c, const Standing& s, const Prepared& p, const Document& document,
                const LoadedTerrain& terrain) {
  Values out;
  for (const Issue& caution : document.cautions) out.emplace_back(to_string(caution));
  for (const std::string& note : terrain.facts.notes) out.emplace_back(note);
  if (s.diagnostic)
    out.emplace_back("The machine cannot be levelled here: the numbers are diagnostic, not to work by.");
  std::string names;
  for (const std::string& n : p.not_evaluated) {
    const auto why = p.why_not_evaluated.find(n);
    names += (names.empty() ? "" : ", ") + n;
    if (why != p.why_not_evaluated.end()) names += " (" + why->second + ")";
  }
  if (!names.empty()) out.emplace_back("Not evaluated, so no limit here: " + names + ".");
  out.emplace_back(
      fmt::format("Between the {} listed nothing is said; `stand` proves the whole operation at its payload.",
                  c.by_setting ? "luffs and extensions" : "reaches"));
  out.emplace_back("Pose as set: feet on rigid ground; sinkage and elastic settling are not included.");
  out.emplace_back(
      "Terrestrial criteria are used by analogy. A design aid, no rated capacity: real lifts follow the "
      "local code, "
      "the maker's rated capacity and licensed practice.");
  return out;
}

std::string text_at(const Value& v, const char* path) {
  const Value* found = find_path(v, path);
  const auto* text = found ? std::get_if<std::string>(&found->is) : nullptr;
  return text ? one_line(*text) : std::string();
}

Value edge_text(const Value& cell) {
  const Value* edge = cell.find("edge");
  if (!edge || edge->is_null()) return nullptr;
  return text_at(cell, "edge.0") + " to " + text_at(cell, "edge.1");
}

Value or_null(const Value& cell, const char* key) {
  const Value* found = find_path(cell, key);
  return found ? *found : Value(nullptr);
}

double number(const Value& value) {
  const auto* x = std::get_if<double>(&value.is);
  return x ? *x : kUnset;
}

/// What is met without payload, each limit with where it is.
Value met_text(const Value& cell) {
  std::string out;
  const Value* met = cell.find("met_without_load");
  for (const Value& one : met ? std::get<Values>(met->is) : Values{}) {
    const Value edge = edge_text(one);
    const std::string where = edge.is_null() ? text_at(one, "foot") : std::get<std::string>(edge.is);
    const std::string load_case = text_at(one, "load_case");
    out += (out.empty() ? "" : "; ") + text_at(one, "limit");
    if (!where.empty()) out += " (" + where + (load_case.empty() ? "" : ", " + load_case) + ")";
  }
  return out.empty() ? Value(nullptr) : Value(out);
}

}  // namespace

bool carries_payload(const Capacity& c, const Prepared& prepared) {
  return !c.edges.empty() && std::all_of(c.cells.begin(), c.cells.end(), [&](const CapacityCell& cell) {
    return !cell.has_state || cell.capacity >= prepared.scenario->payload.mass;
  });
}

Value describe(const Capacity& c, const Standing& standing, const Prepared& prepared,
               const Document& document, const LoadedTerrain& terrain) {
  Members out = result_head("capacity", document);
  Values cells, least;
  for (const CapacityCell& cell : c.cells) cells.push_back(cell_value(cell, c, standing, prepared));
  for (const CapacityCell* cell : least_cells(c)) least.push_back(cell_value(*cell, c, standing, prepared));
  Values assumed;
  for (const std::string& line : document.assumed) assumed.emplace_back(line);
  out.emplace_back("ok", carries_payload(c, prepared));
  out.emplace_back("violations", violations(c, prepared));
  out.emplace_back("cautions", cautions(c, standing, prepared, document, terrain));
  out.emplace_back("payload_kg", prepared.scenario->payload.mass);
  out.emplace_back("by", c.by_setting ? "setting" : "reach");
  out.emplace_back(c.by_setting ? "least_by_setting" : "least_by_reach", std::move(least));
  out.emplace_back("cells", cells);
  out.emplace_back("as_set", Members{{"cells", std::move(cells)}});
  out.emplace_back("assumed", std::move(assumed));
  return out;
}

Table capacity_table(const Value& v) {
  Table t{{{"reach", "m", -1},
           {"slew from", "deg", 1},
           {"slew to", "deg", 1},
           {"capacity", "kg", 2},
           {"best", "kg", 2},
           {"governed by", "", -1},
           {"edge", "", -1},
           {"foot", "", -1},
           {"load case", "", -1},
           {"slew", "deg", 1},
           {"luff", "deg", 2},
           {"extension", "m", 3},
           {"travel", "m", 3},
           {"line", "m", 2},
           {"units left", "", -1},
           {"met without load", "", -1}},
          {}};
  for (const Value& cell : std::get<Values>(v.at("cells").is))
    t.rows.push_back({or_null(cell, "reach_m"), or_null(cell, "slew_deg.0"), or_null(cell, "slew_deg.1"),
                      or_null(cell, "capacity_kg"), or_null(cell, "capacity_best_kg"),
                      or_null(cell, "governed_by"), edge_text(cell), or_null(cell, "foot"),
                      or_null(cell, "load_case"), or_null(cell, "slew_at_deg"), or_null(cell, "luff_deg"),
                      or_null(cell, "extension_m"), or_null(cell, "travel_m"), or_null(cell, "line_m"),
                      or_null(cell, "units_left"), met_text(cell)});
  return t;
}

Table capacity_matrix(const Value& v) {
  const bool by_setting = text_at(v, "by") == "setting";
  Table t;
  if (by_setting) {
    t.columns.push_back({"luff", "deg", 2});
    t.columns.push_back({"extension", "m", 3});
  }
  t.columns.push_back({"reach", "m", 3});
  for (const Value& cell : std::get<Values>(v.at("cells").is)) {
    std::vector<Value> head;
    if (by_setting)
      for (const char* key : {"luff_deg", "extension_m"}) head.push_back(or_null(cell, key));
    head.push_back(or_null(cell, "reach_m"));
    const double from = number(or_null(cell, "slew_deg.0")), to = number(or_null(cell, "slew_deg.1"));
    if (t.rows.empty() || !std::equal(head.begin(), head.end(), t.rows.back().begin(),
                                      [](const Value& a, const Value& b) { return number(a) == number(b); }))
      t.rows.push_back(head);
    if (t.rows.size() == 1)
      t.columns.push_back({"slew " + rounded(from, 4) + " to " + rounded(to, 4) + " deg", "kg", 2});
    t.rows.back().push_back(or_null(cell, "capacity_kg"));
  }
  return t;
}

std::vector<Sheet> capacity_sheets(const Value& v) {
  Table notes{{{"note", "", -1}, {"value", "", -1}}, {}};
  const auto note = [&](const char* name, const Value& value) {
    notes.rows.emplace_back();
    notes.rows.back().emplace_back(name);
    notes.rows.back().push_back(value);
  };
  note("scenario", text_at(v, "scenario.file"));
  note("payload asked for [kg]", v.at("payload_kg"));
  note("carried everywhere", v.at("ok"));
  for (const Value& caution : std::get<Values>(v.at("cautions").is)) note("caution", caution);
  std::vector<Sheet> out;
  out.push_back({"capacity", capacity_matrix(v)});
  out.push_back({"cells", capacity_table(v)});
  out.push_back({"notes", std::move(notes)});
  return out;
}

namespace {

/// The least of each reach, or of each luff and extension.
Table least_table(const Value& v, bool by_setting) {
  Table t;
  if (by_setting) {
    t.columns.push_back({"luff", "deg", 1});
    t.columns.push_back({"extension", "m", 3});
  }
  t.columns.push_back({"reach", "m", 3});
  t.columns.push_back({"capacity", "kg", 2});
  if (!by_setting) t.columns.push_back({"best", "kg", 2});
  for (const char* name : {"governed by", "edge or foot", "load case"}) t.columns.push_back({name, "", -1});
  t.columns.push_back({"at slew", "deg", 1});
  if (!by_setting) t.columns.push_back({"luff", "deg", 1});
  for (const Value& cell : std::get<Values>(v.at(by_setting ? "least_by_setting" : "least_by_reach").is)) {
    std::vector<Value> row;
    const auto add = [&](std::initializer_list<const char*> keys) {
      for (const char* key : keys) row.push_back(or_null(cell, key));
    };
    if (by_setting)
      add({"luff_deg", "extension_m", "reach_m", "capacity_kg", "governed_by"});
    else
      add({"reach_m", "capacity_kg", "capacity_best_kg", "governed_by"});
    const Value edge = edge_text(cell);
    row.push_back(edge.is_null() ? or_null(cell, "foot") : edge);
    add({"load_case", "slew_at_deg"});
    if (!by_setting) add({"luff_deg"});
    t.rows.push_back(std::move(row));
  }
  return t;
}

}  // namespace

std::string capacity_text(const Value& v) {
  const bool ok = std::get<bool>(v.at("ok").is), by_setting = text_at(v, "by") == "setting";
  std::string out = fmt::format("{}: payload {} kg {} at every {} listed.\n\n",
                                ok ? "CARRIES" : "DOES NOT CARRY", rounded(number(v.at("payload_kg"))),
                                ok ? "holds" : "does not hold", by_setting ? "luff and extension" : "reach");
  out += by_setting
             ? "Least net payload of each luff and extension over slew, travel, line and units left.\n\n"
             : "Least net payload of each reach over slew, luff, travel, line and units left; best: at its "
               "best luff.\n\n";
  out += to_text(least_table(v, by_setting)) + "\nCautions:\n";
  for (const Value& caution : std::get<Values>(v.at("cautions").is))
    out += "  - " + one_line(std::get<std::string>(caution.is)) + '\n';
  return out;
}

}  // namespace rimstance
