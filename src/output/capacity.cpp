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

Value cell_value(const CapacityCell& cell, const Capacity& c, const Standing& s, const Prepared& p) {
  Members out{{"reach_m", cell.reach}, {"slew_deg", Values{degrees(cell.slew.lo), degrees(cell.slew.hi)}}};
  if (!cell.has_state) {
    const std::string why = "no luff and extension of the operation has this reach";
    for (const char* key : {"luff_deg", "extension_m", "capacity_kg", "capacity_best_kg", "governed_by"})
      out.emplace_back(key, Value::null(why));
    return out;
  }
  const Governing& g = cell.governing;
  const auto name = [](int i, const auto& list) {
    return i < 0 ? Value(nullptr) : Value(list[static_cast<std::size_t>(i)].name);
  };
  const bool set = g.limit != Limit::none;
  const auto at = [&](double x) { return set && std::isfinite(x) ? Value(x) : Value(nullptr); };
  out.emplace_back("luff_deg", at(degrees(g.at.luff)));
  out.emplace_back("extension_m", at(g.at.extension));
  out.emplace_back("capacity_kg", payload_value(cell.capacity));
  out.emplace_back("certified_gap_kg", cell.gap);
  out.emplace_back("capacity_best_kg", payload_value(cell.best));
  out.emplace_back("best",
                   Members{{"luff_deg", degrees(cell.best_luff)}, {"extension_m", cell.best_extension}});
  out.emplace_back("governed_by", name_of(g.limit));
  out.emplace_back("without_load", g.without_load);
  out.emplace_back("edge", edge_of(c, s, g.edge));
  out.emplace_back("foot", name(g.foot, s.contacts));
  out.emplace_back("load_case", name(g.load_case, p.load_cases));
  out.emplace_back("slew_at_deg", at(degrees(g.at.slew)));
  out.emplace_back("travel_m", at(g.at.travel));
  out.emplace_back("line_m", at(g.at.line));
  out.emplace_back("units_left", set ? Value(g.at.units_left) : Value(nullptr));
  return out;
}

const CapacityCell* least_cell(const Capacity& c, double reach) {
  const CapacityCell* out = nullptr;
  for (const CapacityCell& cell : c.cells)
    if (cell.reach == reach && cell.has_state && (!out || cell.capacity < out->capacity)) out = &cell;
  return out;
}

std::vector<double> reaches_of(const Capacity& c) {
  std::vector<double> out;
  for (const CapacityCell& cell : c.cells)
    if (out.empty() || out.back() != cell.reach) out.push_back(cell.reach);
  return out;
}

Values violations(const Capacity& c, const Standing& s, const Prepared& p) {
  Values out;
  const double asked = p.scenario->payload.mass;
  if (c.edges.empty())
    out.push_back(
        Members{{"criterion", "support"}, {"where", c.reason}, {"value", nullptr}, {"limit", nullptr}});
  for (const double reach : reaches_of(c)) {
    const CapacityCell* cell = least_cell(c, reach);
    if (!cell || cell->capacity >= asked) continue;
    const Value edge = edge_of(c, s, cell->governing.edge);
    out.push_back(Members{{"criterion", "capacity"},
                          {"where", fmt::format("reach {} m, slew {} deg", rounded(reach, 4),
                                                rounded(degrees(cell->governing.at.slew), 4))},
                          {"value", cell->capacity},
                          {"limit", asked},
                          {"unit", "kg"}});
  }
  return out;
}

Values cautions(const Standing& s, const Prepared& p, const Document& document,
                const LoadedTerrain& terrain) {
  Values out;
  for (const Issue& caution : document.cautions) out.emplace_back(to_string(caution));
  for (const std::string& note : terrain.facts.notes) out.emplace_back(note);
  if (s.diagnostic)
    out.emplace_back("The machine cannot be levelled here: the numbers are diagnostic, not to work by.");
  std::string names;
  for (const std::string& n : p.not_evaluated) names += (names.empty() ? "" : ", ") + n;
  if (!names.empty()) out.emplace_back("Not evaluated, so no limit here: " + names + ".");
  out.emplace_back(
      "Between the reaches listed nothing is said; `stand` proves the whole operation at its payload.");
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
  for (const double reach : reaches_of(c))
    if (const CapacityCell* cell = least_cell(c, reach))
      least.push_back(cell_value(*cell, c, standing, prepared));
  Values assumed;
  for (const std::string& line : document.assumed) assumed.emplace_back(line);
  out.emplace_back("ok", carries_payload(c, prepared));
  out.emplace_back("violations", violations(c, standing, prepared));
  out.emplace_back("cautions", cautions(standing, prepared, document, terrain));
  out.emplace_back("payload_kg", prepared.scenario->payload.mass);
  out.emplace_back("least_by_reach", std::move(least));
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
           {"units left", "", -1}},
          {}};
  for (const Value& cell : std::get<Values>(v.at("cells").is))
    t.rows.push_back({or_null(cell, "reach_m"), or_null(cell, "slew_deg.0"), or_null(cell, "slew_deg.1"),
                      or_null(cell, "capacity_kg"), or_null(cell, "capacity_best_kg"),
                      or_null(cell, "governed_by"), edge_text(cell), or_null(cell, "foot"),
                      or_null(cell, "load_case"), or_null(cell, "slew_at_deg"), or_null(cell, "luff_deg"),
                      or_null(cell, "extension_m"), or_null(cell, "travel_m"), or_null(cell, "line_m"),
                      or_null(cell, "units_left")});
  return t;
}

std::string capacity_text(const Value& v) {
  const auto number = [&](const Value& value) {
    const auto* x = std::get_if<double>(&value.is);
    return x ? *x : kUnset;
  };
  const bool ok = std::get<bool>(v.at("ok").is);
  std::string out =
      fmt::format("{}: payload {} kg {} at every reach listed.\n\n", ok ? "CARRIES" : "DOES NOT CARRY",
                  rounded(number(v.at("payload_kg"))), ok ? "holds" : "does not hold");
  Table t{{{"reach", "m", 3},
           {"capacity", "kg", 2},
           {"best", "kg", 2},
           {"governed by", "", -1},
           {"edge or foot", "", -1},
           {"load case", "", -1},
           {"at slew", "deg", 1},
           {"luff", "deg", 1}},
          {}};
  for (const Value& cell : std::get<Values>(v.at("least_by_reach").is)) {
    const Value edge = edge_text(cell);
    t.rows.push_back({or_null(cell, "reach_m"), or_null(cell, "capacity_kg"),
                      or_null(cell, "capacity_best_kg"), or_null(cell, "governed_by"),
                      edge.is_null() ? or_null(cell, "foot") : edge, or_null(cell, "load_case"),
                      or_null(cell, "slew_at_deg"), or_null(cell, "luff_deg")});
  }
  out +=
      "Least net payload of each reach over slew, luff, travel, line and units left; best: at its best "
      "luff.\n\n";
  out += to_text(t) + "\nCautions:\n";
  for (const Value& caution : std::get<Values>(v.at("cautions").is))
    out += "  - " + one_line(std::get<std::string>(caution.is)) + '\n';
  return out;
}

}  // namespace rimstance
