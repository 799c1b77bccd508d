#include "rimstance/model/fields.hpp"

#include <fmt/format.h>

#include <cmath>
#include <functional>

#include "checks.hpp"
#include "rimstance/base/errors.hpp"
#include "table.hpp"
#include "yaml_tree.hpp"

namespace rimstance {

namespace {

/// One number somewhere in a scenario.
struct Number {
  std::string path;
  const Field* field = nullptr;
  std::function<double()> read;
  std::function<void(double)> write;
};
using Visit = std::function<void(const Number&)>;

std::string joined(const std::string& a, const std::string& b) { return a.empty() ? b : a + "." + b; }

void visit_double(const Field& f, const std::string& path, double& x, const Visit& visit) {
  visit({path, &f, [&x] { return x; }, [&x](double v) { x = v; }});
}

void visit_leaf(const Field& f, const std::string& path, void* value, const Visit& visit) {
  static const char* const kAxes[] = {".x", ".y", ".z"};
  if (f.form == Form::quantity) {
    visit_double(f, path, *static_cast<double*>(value), visit);
  } else if (f.form == Form::integer) {
    int& n = *static_cast<int*>(value);
    visit({path, &f, [&n] { return n; }, [&n](double v) { n = static_cast<int>(v); }});
  } else if (f.form == Form::point && !f.direction) {
    for (int i = 0; i < f.size; ++i) visit_double(f, path + kAxes[i], static_cast<double*>(value)[i], visit);
  } else if (f.form == Form::interval) {
    Interval& interval = *static_cast<Interval*>(value);
    visit_double(f, path + ".lo", interval.lo, visit);
    visit_double(f, path + ".hi", interval.hi, visit);
    visit({path, &f, [&] { return interval.lo == interval.hi ? interval.lo : kUnset; },
           [&](double v) {
             interval = {v, v};
           }});
  } else if (f.form == Form::outline) {
    auto& corners = *static_cast<std::vector<Vec2>*>(value);
    for (std::size_t i = 0; i < corners.size(); ++i)
      for (int k = 0; k < 2; ++k)
        visit_double(f, fmt::format("{}.{}{}", path, i, kAxes[k]), corners[i][k], visit);
  }
}

/// Whether what lies at or below `path` can be the number at `target`; an empty target is all.
bool leads_to(std::string_view path, std::string_view target) {
  return target.empty() ||
         (target.starts_with(path) && (target.size() == path.size() || target[path.size()] == '.'));
}

void visit_shape(const Shape& shape, void* owner, const std::string& path, std::string_view target,
                 const Visit& visit) {
  for (const Field& f : shape.fields) {
    const std::string into = joined(path, f.key);
    void* const value = leads_to(into, target) ? f.at(owner, false) : nullptr;
    if (!value) continue;
    if (f.form == Form::group) {
      visit_shape(*f.shape, value, into, target, visit);
    } else if (f.form == Form::list) {
      for (std::size_t i = 0; i < f.items.size(value); ++i)
        if (const std::string item = joined(into, segment(f, value, i)); leads_to(item, target))
          visit_shape(*f.shape, f.items.item(value, i), item, target, visit);
    } else {
      visit_leaf(f, into, value, visit);
    }
  }
}

/// The visitor only writes where its caller asks it to, on a scenario of its own.
void visit_all(const Scenario& s, const Visit& visit, std::string_view target = {}) {
  visit_shape(scenario_shape(), const_cast<Scenario*>(&s), {}, target, visit);
}

bool matches(std::string_view pattern, std::string_view path) {
  if (pattern == "**") return true;
  for (;;) {
    const std::size_t a = pattern.find('.'), b = path.find('.');
    const std::string_view key = pattern.substr(0, a);
    if (key != "*" && key != path.substr(0, b)) return false;
    if (a == std::string_view::npos || b == std::string_view::npos) return a == b;
    pattern.remove_prefix(a + 1);
    path.remove_prefix(b + 1);
  }
}

[[noreturn]] void unknown(const Scenario& s, std::string_view path) {
  std::vector<std::string> known;
  visit_all(s, [&](const Number& n) { known.push_back(n.path); });
  const std::string near = nearest(path, known);
  throw InputError(
      Place{{}, 0, 0, std::string(path)}, "there is no number of that name in the scenario",
      near.empty() ? "`rimstance schema` lists the keys" : fmt::format("did you mean \"{}\"?", near));
}

/// Calls `use` with the number at `path`.
void find(const Scenario& s, std::string_view path, const Visit& use) {
  bool found = false;
  const Visit visit = [&](const Number& n) {
    if (n.path != path || found) return;
    found = true;
    use(n);
  };
  if (!path.empty()) visit_all(s, visit, path);
  if (!found) unknown(s, path);
}

void require_allowed(const Number& n, double si) {
  const Field& f = *n.field;
  if (!std::isfinite(si) || !f.range.holds(si))
    throw InputError(Place{{}, 0, 0, n.path},
                     std::isfinite(si) ? fmt::format("{} is out of range", shown(si, f.dimension))
                                       : "the value is not finite",
                     "allowed: " + text(f.range, f.dimension));
  if (f.form == Form::integer && si != std::floor(si))
    throw InputError(Place{{}, 0, 0, n.path}, fmt::format("{} is not a whole number", shown(si, f.dimension)),
                     "write it like \"6\"");
}

/// Paths that cover `path`: an interval's key for its ends, a point's for its coordinates.
void written_now(std::set<std::string>& derived, std::string_view path) {
  for (std::string p(path);;) {
    derived.erase(p);
    const std::size_t dot = p.rfind('.');
    if (dot == std::string::npos) return;
    p.resize(dot);
  }
}

}  // namespace

std::vector<std::string> paths(const Scenario& s, std::string_view pattern) {
  std::vector<std::string> out;
  visit_all(s, [&](const Number& n) {
    if (matches(pattern, n.path)) out.push_back(n.path);
  });
  return out;
}

double get(const Scenario& s, std::string_view path) {
  double value = kUnset;
  find(s, path, [&](const Number& n) { value = n.read(); });
  return value;
}

std::shared_ptr<const Scenario> with(const Scenario& s, std::string_view path, double si) {
  auto changed = std::make_shared<Scenario>(s);
  find(*changed, path, [&](const Number& n) {
    require_allowed(n, si);
    n.write(si);
  });
  written_now(changed->derived, path);
  if (path.starts_with("operation.slew")) changed->operation.slew_all = false;
  if (path.starts_with("operation.counterweight")) changed->operation.scheduled = false;
  if (path.starts_with("operation.transit.slew")) changed->transit->slew_all = false;
  if (path.starts_with("operation.transit.counterweight")) changed->transit->scheduled = false;
  derive(*changed);
  return changed;
}

std::vector<Issue> disagreements(const Scenario& s) {
  IssueList issues;
  visit_all(s, [&](const Number& n) {
    if (n.field->form != Form::interval || !n.path.ends_with(".lo")) return;
    const std::string path = n.path.substr(0, n.path.size() - 3);
    if (get(s, n.path) > get(s, path + ".hi"))
      issues.add({{}, 0, 0, path}, "the first end lies above the second", "swap the ends");
  });
  check_scenario(s, {}, issues);
  return issues.issues;
}

FieldFacts facts(const Scenario& s, std::string_view path) {
  FieldFacts out{Dimension::number, {}, {}};
  find(s, path, [&](const Number& n) {
    out = {n.field->dimension, n.field->doc, text(n.field->range, n.field->dimension)};
  });
  return out;
}

}  // namespace rimstance
