#include <CLI/CLI.hpp>
#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/utf8.hpp"
#include "rimstance/base/version.hpp"
#include "rimstance/model/load.hpp"
#include "rimstance/model/nearby.hpp"
#include "rimstance/model/quantity.hpp"
#include "rimstance/model/schema.hpp"
#include "rimstance/model/starter.hpp"
#include "rimstance/output/capacity.hpp"
#include "rimstance/output/counterweight.hpp"
#include "rimstance/output/inspect.hpp"
#include "rimstance/output/json.hpp"
#include "rimstance/output/part_loads.hpp"
#include "rimstance/output/stand.hpp"
#include "rimstance/output/stand_figures.hpp"
#include "rimstance/output/terrain_figure.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"
#include "rimstance/terrain/posts.hpp"

// argv -> library -> exit status: 0 every criterion holds, 1 one does not, 2 the input is wrong,
// 3 the machine or system failed, 4 interrupted. No physics here.

namespace {

using namespace rimstance;

enum Status { kHolds = 0, kViolated = 1, kInput = 2, kSystem = 3, kInterrupted = 4 };

struct Common {
  bool json = false, quiet = false;
  std::string out;
  std::vector<std::string> set;
  double gap = kDefaultGap;
  int threads = 0;
};

void say(std::FILE* to, const std::string& text) {
  if (std::fwrite(text.data(), 1, text.size(), to) != text.size() || std::fflush(to) != 0)
    throw MachineError("standard output: cannot be written");
}

std::vector<Override> overrides(const std::vector<std::string>& set) {
  std::vector<Override> out;
  for (const std::string& s : set) {
    const std::size_t at = s.find('=');
    if (at == std::string::npos || at == 0)
      throw InputError(Place{"--set", 0, 0, ""}, "\"" + s + "\" has no path and value",
                       "write --set PATH=VALUE, as in --set spot.yaw=170deg");
    out.push_back({s.substr(0, at), s.substr(at + 1)});
  }
  return out;
}

/// Where the value at `path` was written; of a part without a value of its own, where its first value was.
const Origin* origin_of(const Document& document, const std::string& path) {
  const auto exact = document.origins.find(path);
  if (exact != document.origins.end()) return &exact->second;
  const Origin* first = nullptr;
  for (const auto& [key, origin] : document.origins) {
    const bool inside = !path.empty() && key.starts_with(path + ".") && origin.place.line > 0;
    if (inside && (!first || origin.place.line < first->place.line)) first = &origin;
  }
  return first;
}

/// Errors of the later stages name a field; the file and line where it was written are added here.
template <class Work>
auto placed(const Document& document, const Work& work) {
  try {
    return work();
  } catch (const InputError& error) {
    std::vector<Issue> issues = error.issues;
    for (Issue& issue : issues) {
      if (!issue.place.file.empty()) continue;
      if (const Origin* const origin = origin_of(document, issue.place.path)) {
        const std::string path = issue.place.path;
        issue.place = origin->place;
        issue.place.path = path;
      }
      if (issue.place.file.empty() && !document.files.empty()) issue.place.file = document.files[0];
    }
    throw InputError(std::move(issues));
  }
}

TerrainOptions terrain_options(const Scenario& scenario) {
  const TerrainSource& source = scenario.terrain;
  TerrainOptions options;
  if (source.up) options.up = static_cast<UpAxis>(*source.up);
  options.mostly_wall = source.mostly_wall;
  if (std::isfinite(source.unit)) options.unit = source.unit;
  options.hole_below = source.hole_below;
  options.weld = source.weld;
  options.longest_edge = source.longest_edge;
  options.classes = source.classes;
  if (source.image) options.image = {source.image->spacing, source.image->scale, source.image->offset};
  options.around = scenario.spot.at;
  options.edges = false;  // `inspect` tells of them
  return options;
}

void note_written(const Common& common, const std::string& path) {
  if (!common.quiet) say(stderr, "wrote " + printable(path) + "\n");
}

/// Progress of long work as lines on standard error, none before a second has passed and one a second then.
Control reporting(const Common& common) {
  Control control;
  control.threads = common.threads;
  if (common.quiet) return control;
  using Clock = std::chrono::steady_clock;
  control.progress = [last = Clock::now()](double share, std::string_view what) mutable {
    if (Clock::now() - last < std::chrono::seconds(1)) return;
    last = Clock::now();
    say(stderr, std::string(what) + ": " + std::to_string(std::lround(100 * share)) + " %\n");
  };
  return control;
}

/// A scenario and what follows from it and its ground before anything is asked.
struct Case {
  Document document;
  LoadedTerrain terrain;
  Prepared prepared;
};

bool scheduled(const Scenario& s) { return s.operation.scheduled || (s.transit && s.transit->scheduled); }

/// The counterweight's study on the levelled machine.
struct Travels {
  Prepared free;  ///< the counterweight anywhere on its guide
  Standing standing;
  Counterweight found;
};

Travels travels_of(const Document& document, const LoadedTerrain& terrain, int reaches, double slew_step,
                   const Common& common) {
  return placed(document, [&] {
    Travels out;
    out.free = prepare_free(*document.scenario);
    out.standing =
        stand(out.free, terrain.terrain, document.scenario->spot, Question::verdict, Control{}, common.gap);
    const CounterweightAsked asked{reach_stations(out.free, reaches), slew_step};
    out.found =
        counterweight(out.free, out.standing.levelling, out.standing.contacts, asked, reporting(common));
    return out;
  });
}

/// A scenario whose counterweight follows a schedule: computed first, and then as good as written.
void follow_schedule(Case& c, const Common& common) {
  const TravelPlan plan = travels_of(c.document, c.terrain, 21, radians(10), common).found.plan;
  c.prepared = placed(c.document, [&] { return prepare(c.document.scenario, {}, &plan.schedule); });
  const Origin* const origin = origin_of(c.document, "operation.counterweight");
  Place place = origin ? origin->place : Place{"", 0, 0, ""};
  place.path = "operation.counterweight";
  for (const std::string& note : plan.notes)
    c.document.cautions.push_back({place, note, "see `rimstance counterweight`"});
  c.prepared.assumed.push_back("operation.counterweight: a schedule over 21 reaches, reserve " +
                               shortest(plan.reserve) + " m (criteria.travel_reserve)");
}

Case load_case_of(const std::string& file, const Common& common) {
  Case out;
  out.document = load_scenario(file, overrides(common.set));
  const Scenario& scenario = *out.document.scenario;
  out.terrain =
      placed(out.document, [&] { return load_terrain(scenario.terrain.file, terrain_options(scenario)); });
  if (scheduled(scenario))
    follow_schedule(out, common);
  else
    out.prepared = placed(out.document, [&] { return prepare(out.document.scenario); });
  return out;
}

/// Writes one file of a result into the folder asked for.
void write_result(const Common& common, const char* name, const std::string& bytes) {
  const std::string path = (std::filesystem::path(common.out) / name).string();
  write_whole(path, bytes);
  note_written(common, path);
}

struct CapacityOptions {
  std::string by = "reach";
  int reaches = 21, luffs = 10, extensions = 10;
  std::string slew_step = "10deg";
};

double angle_asked(const char* option, const std::string& text) {
  const Reading<double> angle = read_quantity(text, Dimension::angle);
  if (!angle.value) throw InputError(Place{option, 0, 0, ""}, angle.problem, angle.way_out);
  if (!(*angle.value >= radians(0.1) && *angle.value <= 2 * kPi))
    throw InputError(Place{option, 0, 0, ""}, "\"" + text + "\" is not between 0.1 and 360 deg",
                     "write it like 10deg");
  return *angle.value;
}

int run_capacity(const std::string& file, const CapacityOptions& options, const Common& common) {
  CapacityAsked asked;
  asked.slew_step = angle_asked("--slew-step", options.slew_step);
  const Case c = load_case_of(file, common);
  if (options.by == "reach") {
    asked.reaches = reach_stations(c.prepared, options.reaches);
  } else {
    asked.luffs = stations(c.prepared.operation.luff, options.luffs);
    asked.extensions = stations(c.prepared.operation.extension, options.extensions);
  }
  const Standing standing = placed(c.document, [&] {
    return stand(c.prepared, c.terrain.terrain, c.document.scenario->spot, Question::verdict, Control{},
                 common.gap);
  });
  const Capacity found = capacity(c.prepared, standing.levelling, standing.contacts, asked, Control{});
  const Value result = describe(found, standing, c.prepared, c.document, c.terrain);
  if (!common.out.empty()) {
    make_directory(common.out);
    write_result(common, "capacity.json", to_json(result));
    write_result(common, "capacity.txt", capacity_text(result));
    write_result(common, "capacity.csv", to_csv(capacity_table(result)));
    write_result(common, "capacity.xlsx", to_xlsx(capacity_sheets(result)));
    if (!found.cells.empty() && found.by_setting)
      write_result(common, "capacity.svg", to_svg(capacity_setting_figure(found, standing, c.prepared)));
    if (!found.cells.empty() && !found.by_setting) {
      write_result(common, "capacity.svg", to_svg(capacity_figure(found, standing, c.prepared)));
      write_result(common, "capacity_polar.svg", to_svg(capacity_polar_figure(found, standing, c.prepared)));
    }
  }
  say(stdout, common.json ? to_json(result) : capacity_text(result));
  return carries_payload(found, c.prepared) ? kHolds : kViolated;
}

int run_counterweight(const std::string& file, const CapacityOptions& options, const Common& common) {
  const double slew_step = angle_asked("--slew-step", options.slew_step);
  const Document document = load_scenario(file, overrides(common.set));
  const Scenario& scenario = *document.scenario;
  const LoadedTerrain terrain =
      placed(document, [&] { return load_terrain(scenario.terrain.file, terrain_options(scenario)); });
  const auto [free, standing, found] = travels_of(document, terrain, options.reaches, slew_step, common);
  const Value result = describe(found, standing, free, document, terrain);
  if (!common.out.empty()) {
    make_directory(common.out);
    write_result(common, "counterweight.json", to_json(result));
    write_result(common, "counterweight.txt", counterweight_text(result));
    write_result(common, "windows.csv", to_csv(travel_windows_table(result)));
    write_result(common, "schedule.csv", to_csv(schedule_table(result)));
    write_result(common, "counterweight.svg", to_svg(counterweight_figure(found, free)));
  }
  say(stdout, common.json ? to_json(result) : counterweight_text(result));
  return std::get<bool>(result.at("ok").is) ? kHolds : kViolated;
}

int run_stand(const std::string& file, const Common& common) {
  const Case c = load_case_of(file, common);
  const auto& [document, terrain, prepared] = c;
  const Standing standing = placed(document, [&] {
    return stand(prepared, terrain.terrain, document.scenario->spot, Question::extremes, Control{},
                 common.gap);
  });
  Beside beside;
  beside.remedies = remedies(prepared, terrain.terrain, standing, reporting(common));
  beside.unloading = unloading(prepared, standing.levelling, standing.contacts, Control{});
  const Value result = describe(standing, prepared, document, terrain, beside);
  if (!common.out.empty()) {
    make_directory(common.out);
    write_result(common, "stand.json", to_json(result));
    write_result(common, "stand.txt", standing_text(result));
    if (const Table path = resultant_table(standing, prepared, terrain.terrain.map_offset);
        !path.rows.empty())
      write_result(common, "resultant.csv", to_csv(path));
    write_result(common, "plan.svg", to_svg(plan_figure(standing, prepared, terrain, result)));
    write_result(common, "side.svg", to_svg(side_figure(standing, prepared, terrain, result)));
  }
  say(stdout, common.json ? to_json(result) : standing_text(result));
  return standing.ok() ? kHolds : kViolated;
}

struct InspectAsked {
  std::string file, up, unit, pad, hole_below, weld, longest_edge, spacing, scale, offset, classes, posts;
  bool mostly_wall = false;
  std::vector<std::string> at;
};

Vec2 place_asked(const std::string& text) {
  const std::size_t comma = text.find(',');
  const auto read = [&](std::string_view s) -> std::optional<double> {
    double x = kUnset;
    const auto [end, error] = std::from_chars(s.data(), s.data() + s.size(), x);
    if (error != std::errc() || end != s.data() + s.size() || !std::isfinite(x)) return std::nullopt;
    return x;
  };
  const std::string_view view = text;
  if (comma != std::string::npos) {
    const auto x = read(view.substr(0, comma)), y = read(view.substr(comma + 1));
    if (x && y) return {*x, *y};
  }
  throw InputError(Place{"--at", 0, 0, ""}, "\"" + text + "\" is not a place",
                   "write --at X,Y in metres, as in --at 31.0,-4.5");
}

double unit_asked(const std::string& text) {
  const Reading<double> unit = read_unit(text, Dimension::length);
  if (!unit.value) throw InputError(Place{"--unit", 0, 0, ""}, unit.problem, unit.way_out);
  return *unit.value;
}

/// A length that an option states; empty text: `otherwise`. Anything below `least`, or equal to it where
/// `above` is set, is refused.
double length_asked(const char* option, const std::string& text, double otherwise, double least = -kInfinity,
                    bool above = false) {
  if (text.empty()) return otherwise;
  const Reading<double> length = read_quantity(text, Dimension::length);
  if (!length.value) throw InputError(Place{option, 0, 0, ""}, length.problem, length.way_out);
  if (!(above ? *length.value > least : *length.value >= least))
    throw InputError(
        Place{option, 0, 0, ""}, "\"" + text + "\" is too small",
        above ? "write a length above 0, as in 0.15m" : "write a length of 0 or more, as in 1mm");
  return *length.value;
}

std::vector<int> classes_asked(const std::string& text) {
  std::vector<int> out;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t comma = std::min(text.find(',', from), text.size());
    const Reading<int> one = read_integer(text.substr(from, comma - from));
    if (!one.value || *one.value < 0 || *one.value > 255 || comma + 1 == text.size())
      throw InputError(Place{"--classes", 0, 0, ""}, "\"" + text + "\" is no list of classes from 0 to 255",
                       "write --classes 2 or --classes 2,9");
    out.push_back(*one.value);
    from = comma + 1;
  }
  return out;
}

/// What the options say of the file beside axis and unit.
void add_stated(const InspectAsked& asked, TerrainOptions& options) {
  options.hole_below = length_asked("--hole-below", asked.hole_below, -kInfinity);
  options.weld = length_asked("--weld", asked.weld, 0, 0);
  options.longest_edge = length_asked("--longest-edge", asked.longest_edge, kUnset, 0, true);
  options.classes = classes_asked(asked.classes);
  if (asked.spacing.empty() && asked.scale.empty() && asked.offset.empty()) return;
  if (asked.spacing.empty() || asked.scale.empty())
    throw InputError(Place{asked.spacing.empty() ? "--spacing" : "--scale", 0, 0, ""}, "is missing",
                     "an image of heights needs both, as in --spacing 2m --scale 0.5m [--offset -110m]");
  options.image = {length_asked("--spacing", asked.spacing, kUnset, 0, true),
                   length_asked("--scale", asked.scale, kUnset, 0, true),
                   length_asked("--offset", asked.offset, 0)};
}

/// Errors of the terrain stage name scenario keys; here the option that says the same is named as well.
template <class Work>
auto by_option(const Work& work) {
  constexpr std::pair<std::string_view, std::string_view> known[] = {
      {"terrain.up", "--up"},
      {"terrain.mostly_wall", "--mostly-wall"},
      {"terrain.unit", "--unit"},
      {"terrain.weld", "--weld"},
      {"terrain.hole_below", "--hole-below"},
      {"terrain.classes", "--classes"},
      {"terrain.longest_edge", "--longest-edge"},
      {"terrain.image", "--spacing, --scale and --offset"}};
  try {
    return work();
  } catch (const InputError& error) {
    std::vector<Issue> issues = error.issues;
    for (Issue& issue : issues) {
      std::string options;
      for (const auto& [key, option] : known)
        if ((issue.what + issue.way_out + issue.place.path).find(key) != std::string::npos &&
            issue.way_out.find(option) == std::string::npos)
          options += (options.empty() ? "" : "; ") + std::string(option);
      if (!options.empty()) issue.way_out += " (for inspect: " + options + ")";
    }
    throw InputError(std::move(issues));
  }
}

/// A file named on the command line is there, or is said to be missing with what is near.
void look_for(const std::string& file) {
  std::error_code error;
  if (std::filesystem::status(file, error).type() == std::filesystem::file_type::not_found)
    throw InputError(Place{file, 0, 0, {}}, "no such file", whereabouts(file, "", "the current folder"));
}

/// Heights for heights.tif, before anything is written: too many of them are an error of the command line.
std::optional<RasterToWrite> posts_asked(const Terrain& terrain, double spacing) {
  if (!(spacing > 0)) return std::nullopt;
  try {
    return sampled(terrain, spacing);
  } catch (InputError& error) {
    for (Issue& issue : error.issues) issue.place.file = "--posts";
    throw InputError(std::move(error.issues));
  }
}

int run_inspect(const InspectAsked& asked, const Common& common) {
  look_for(asked.file);
  TerrainOptions options;
  add_stated(asked, options);
  std::optional<double> pad;
  if (!asked.pad.empty()) pad = length_asked("--pad", asked.pad, kUnset, 0, true);
  if (asked.up == "x")
    options.up = UpAxis::x;
  else if (asked.up == "y")
    options.up = UpAxis::y;
  else if (asked.up == "z")
    options.up = UpAxis::z;
  options.mostly_wall = asked.mostly_wall;
  if (!asked.unit.empty()) options.unit = unit_asked(asked.unit);
  std::vector<Vec2> places;
  for (const std::string& at : asked.at) places.push_back(place_asked(at));
  const Inspection inspection = by_option([&] {
    Inspection out = inspect(asked.file, options, pad);
    look_closer(out, places);
    return out;
  });
  const double posts = length_asked("--posts", asked.posts, kUnset, 0, true);
  if (posts > 0 && common.out.empty())
    throw InputError(Place{"--posts", 0, 0, ""}, "needs a folder for heights.tif", "add -o DIR");
  const std::optional<RasterToWrite> heights = posts_asked(inspection.loaded.terrain, posts);
  const Value result = describe(inspection, places);
  if (!common.out.empty()) {
    make_directory(common.out);
    const std::string path = (std::filesystem::path(common.out) / "terrain.svg").string();
    write_whole(path, to_svg(terrain_figure(inspection.loaded, places, inspection.holes)));
    note_written(common, path);
    if (heights) {
      const std::string raster = (std::filesystem::path(common.out) / "heights.tif").string();
      write_posts(raster, *heights);
      note_written(common, raster);
    }
  }
  say(stdout, common.json ? to_json(result) : inspection_text(result));
  return kHolds;
}

int run_new(const std::string& folder, const Common& common) {
  const std::vector<std::string> files = write_starter(folder);
  for (const std::string& file : files) note_written(common, file);
  if (!common.quiet)
    say(stderr, printable("next: rimstance stand " + files.front() + " -o " + folder + "/out") + "\n");
  return kHolds;
}

std::string not_empty(const std::string& name) {
  return name.empty() ? "a name is missing between the quotes" : "";
}

std::string share_of_one(const std::string& text) {
  double share = kUnset;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), share);
  const bool whole = error == std::errc() && end == text.data() + text.size();
  if (whole && share >= 1e-9 && share <= 1) return {};
  return "\"" + text + "\" is not a number from 1e-9 to 1; write it like 0.001";
}

void add_common(CLI::App& command, Common& common, bool scenario) {
  command.add_flag("--json", common.json, "Print the result as JSON, and nothing else, on standard output");
  command.add_option("-o", common.out, "Folder for files and pictures")->type_name("DIR");
  command.add_flag("--quiet", common.quiet, "No progress and no notes on standard error");
  if (!scenario) return;
  command.add_option("--set", common.set, "Override a scenario value; repeatable")->type_name("PATH=VALUE");
  command
      .add_option(
          "--gap", common.gap,
          "How tightly curved measures are certified, as a share of their value at the reference state")
      ->check(share_of_one)
      ->type_name("SHARE");
  command.add_option("--threads", common.threads, "Threads; never changes a result")
      ->check(CLI::Range(1, 1024));
}

/// What is wrong with the command line, in the form of all other messages.
int refuse_usage(const CLI::App& app, const CLI::ParseError& error, int argc, char** argv) {
  std::string what = error.what(), commands;
  bool known = argc < 2 || argv[1][0] == '-';
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    commands += (commands.empty() ? "" : ", ") + command->get_name();
    known = known || command->get_name() == argv[1];
  }
  if (!known) what = "\"" + std::string(argv[1]) + "\" is not a command; write one of " + commands;
  if (argc < 2) what = "a command is missing; write one of " + commands;
  for (int k = 2; k < argc; ++k) {
    std::error_code none;
    if (argv[k][0] == '-' && std::filesystem::exists(argv[k], none))
      what += std::string("; the file ") + argv[k] + " is written ./" + argv[k] +
              ", for its name begins like an option";
  }
  say(stderr, "rimstance: " + printable(what) + "\nRun with --help for more information.\n");
  return kInput;
}

int run(int argc, char** argv) {
  CLI::App app{"Does a rover-mounted crane stand here? Levelling, support, tipping margins on real terrain."};
  app.name("rimstance");
  app.set_version_flag("--version", std::string("rimstance ") + kVersion);
  app.require_subcommand(1);
  Common common;
  std::string scenario, folder;
  InspectAsked asked;

  CLI::App* inspect_command = app.add_subcommand("inspect", "Facts about a terrain file");
  inspect_command->add_option("FILE", asked.file, "Terrain: mesh, raster or points")
      ->required()
      ->check(not_empty);
  inspect_command->add_option("--up", asked.up, "Axis that points up in a mesh (assumed: z)")
      ->check(CLI::IsMember({"x", "y", "z"}));
  inspect_command->add_flag("--mostly-wall", asked.mostly_wall,
                            "Meshes: more wall than ground was mapped, --up is right");
  inspect_command->add_option("--unit", asked.unit, "Unit of lengths (assumed: m)");
  const auto length_option = [&](const char* name, std::string& to, const char* text) {
    inspect_command->add_option(name, to, text)->type_name("LENGTH");
  };
  length_option("--pad", asked.pad, "Radius of a pad, to compare the spacing with (assumed: 0.15m)");
  length_option("--hole-below", asked.hole_below, "Heights below this are holes");
  length_option("--weld", asked.weld, "Meshes: vertices closer than this are one");
  length_option("--longest-edge", asked.longest_edge, "Points: facets with a longer side are holes");
  inspect_command->add_option("--classes", asked.classes, "Points: classes that are ground, as in 2,9")
      ->type_name("LIST");
  length_option("--spacing", asked.spacing, "Images of heights: between posts");
  length_option("--scale", asked.scale, "Images of heights: height of one count");
  length_option("--offset", asked.offset, "Images of heights: height of count 0");
  length_option("--posts", asked.posts, "With -o: write heights.tif, posts that far apart, highest layer");
  inspect_command
      ->add_option("--at", asked.at, "Height and slope at a place, map coordinates in metres; repeatable")
      ->type_name("X,Y");
  add_common(*inspect_command, common, false);

  CLI::App* stand_command =
      app.add_subcommand("stand", "Place, level and assess the machine at the scenario's spot");
  stand_command->add_option("SCENARIO", scenario, "Scenario file (YAML)")->required()->check(not_empty);
  add_common(*stand_command, common, true);

  CapacityOptions capacity_options;
  CLI::App* capacity_command =
      app.add_subcommand("capacity", "Payload over reach and slew, with what limits it");
  capacity_command->add_option("SCENARIO", scenario, "Scenario file (YAML)")->required()->check(not_empty);
  capacity_command
      ->add_option("--by", capacity_options.by,
                   "Stations over reach, or over luff and extension (assumed: reach)")
      ->check(CLI::IsMember({"reach", "setting"}));
  capacity_command->add_option("--reaches", capacity_options.reaches, "Stations over the operation's reach")
      ->check(CLI::Range(2, 1000));
  capacity_command->add_option("--luffs", capacity_options.luffs, "By setting: stations over the luff")
      ->check(CLI::Range(2, 1000));
  capacity_command
      ->add_option("--extensions", capacity_options.extensions, "By setting: stations over the extension")
      ->check(CLI::Range(2, 1000));
  capacity_command->add_option("--slew-step", capacity_options.slew_step, "Width of the slew cells")
      ->type_name("ANGLE");
  add_common(*capacity_command, common, true);

  CLI::App* counterweight_command = app.add_subcommand(
      "counterweight", "Travels and masses of the counterweight that hold, and a schedule");
  counterweight_command->add_option("SCENARIO", scenario, "Scenario file (YAML)")
      ->required()
      ->check(not_empty);
  counterweight_command
      ->add_option("--reaches", capacity_options.reaches, "Stations over the operation's reach")
      ->check(CLI::Range(2, 1000));
  counterweight_command
      ->add_option("--slew-step", capacity_options.slew_step,
                   "Width of the slew ranges of a guide on the chassis")
      ->type_name("ANGLE");
  add_common(*counterweight_command, common, true);

  CLI::App* new_command = app.add_subcommand("new", "Write a commented starter scenario with its terrain");
  new_command->add_option("DIR", folder, "Folder to make")->required()->check(not_empty);
  new_command->add_flag("--quiet", common.quiet, "No notes on standard error");

  CLI::App* schema_command =
      app.add_subcommand("schema", "JSON Schema of scenario files, for editors and checks");

  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return app.exit(error) == 0 ? kHolds : kInput;
    return refuse_usage(app, error, argc, argv);
  }
  if (*inspect_command) return run_inspect(asked, common);
  if (*stand_command) return run_stand(scenario, common);
  if (*capacity_command) return run_capacity(scenario, capacity_options, common);
  if (*counterweight_command) return run_counterweight(scenario, capacity_options, common);
  if (*new_command) return run_new(folder, common);
  if (*schema_command) say(stdout, json_schema());
  return kHolds;
}

}  // namespace

int main(int argc, char** argv) {
  // A full disk or a closed pipe is reported by the write that fails, not by a signal.
  std::signal(SIGXFSZ, SIG_IGN);
  std::signal(SIGPIPE, SIG_IGN);
  try {
    return run(argc, argv);
  } catch (const rimstance::InputError& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return kInput;
  } catch (const rimstance::Interrupted&) {
    std::fprintf(stderr, "interrupted\n");
    return kInterrupted;
  } catch (const rimstance::MachineError& error) {
    std::fprintf(stderr, "%s\n", rimstance::printable(error.what()).c_str());
    return kSystem;
  } catch (const std::bad_alloc&) {
    std::fprintf(stderr, "out of memory\n");
    return kSystem;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "internal error: %s\n", rimstance::printable(error.what()).c_str());
    return kSystem;
  }
}
