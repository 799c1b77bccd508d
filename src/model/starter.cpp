#include "rimstance/model/starter.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <utility>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/model/schema.hpp"

namespace rimstance {

namespace fs = std::filesystem;

namespace {

constexpr const char* kScenario = R"(# yaml-language-server: $schema=rimstance.schema.json
# A machine beside an invented pit. Change a value, then run:  rimstance stand scenario.yaml
# Every dimensioned value carries its unit; lists with one unit behind them stand in quotes.
rimstance: 1
title: Dunlin beside the Kettle
gravity: moon                     # moon, mars, earth or a value like 1.62 m/s2

terrain:
  file: terrain/kettle.asc        # put your own grid or mesh here
  unit: m                         # meshes also need the axis that points up, `up: z`
soil: { preset: lunar-disturbed }

machine: { include: dunlin.yaml } # keys beside `include` override single values of that file

spot:
  at: "[-12.5, 0] m"              # the chassis' origin, in map coordinates
  yaw: 0 deg                      # counter-clockwise from east: 0 looks at the pit here

payload: { mass: 14 kg, reach: 5.5 m }

operation:                        # all of this must be safe
  slew: "[-30, 30] deg"           # 0 is forward, counter-clockwise is positive
  luff: "[20, 65] deg"
  extension: "[0, 2.7] m"
  reach: "[1.8, 5.7] m"           # cuts the states of luff and extension outside it
  line: "[0, 40] m"
  counterweight: 1.1 m
  transit:                        # states on the way there
    slew: "[-180, 30] deg"
    luff: 65 deg
    extension: 0 m
    payload: none
    counterweight: "[0, 1.1] m"

criteria:
  preset: study-default           # keys beside it replace the preset's
  allowed_tilt: 0.5 deg
  set_error: 0.1 deg              # how well the machine is levelled
)";

constexpr const char* kMachine = R"(# yaml-language-server: $schema=machine.schema.json
# An invented carrier. Axes: x forward, y left, z up; the wheels touch z = 0.
name: Dunlin
chassis:
  suspension: rigid
  wheels:
    - { at: "[0.9, 0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
    - { at: "[0.9, -0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
    - { at: "[-0.9, 0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
    - { at: "[-0.9, -0.75, 0.25] m", radius: 0.25 m, width: 0.2 m, clearance: 0.02 m }
  belly: { outline: "[[-0.8, -0.4], [0.8, -0.4], [0.8, 0.4], [-0.8, 0.4]] m", height: 0.35 m, clearance: 0.05 m }
  bodies:
    # A value may say how sure it is and where it comes from.
    - name: frame
      mass: { value: 210 kg, sd: 4 kg, margin: 10 %, from: invented }
      at: "[0, 0, 0.55] m"
      subsystem: structure
    - { name: avionics, mass: 25 kg, margin: 5 %, at: "[0.1, 0, 0.6] m", subsystem: avionics }

outriggers:                       # `splay` opens all four alike
)";

constexpr const char* kOutrigger =
    R"(  - {{ name: {}, pivot: "[{}, {}, 0.5] m", arm: 1.6 m, splay: 40 deg, splay_range: "[0, 110] deg", drop: 0.25 m,
      stroke: "[0, 0.6] m", pad_radius: 0.15 m, pad_tilt: 20 deg, pad_friction: 0.4, stiffness: 55 kN/m,
      leg_limit: 3 kN, mass: 9 kg, margin: 10 %, centre_at: 0.5, subsystem: outriggers }}
)";

constexpr const char* kCrane = R"(
platform:
  axis: "[0, 0, 0.8] m"           # foot of the slew axis; the boom and the guide turn with it
  slew_range: "[-180, 180] deg"
  bodies:
    - { name: turntable, mass: 40 kg, margin: 10 %, at: "[0, 0, 0.1] m", subsystem: structure }

container:                        # payload units carried along, where the boom can look back and pick them up
  mount: chassis
  empty: 8 kg
  units: 6
  at: "[-1.5, 0, 0.6] m"
  unit: { mass: 14 kg, radius: 0.3 m }

boom:
  kind: telescopic
  foot: "[0.2, 0, 0.35] m"
  luff_range: "[0, 75] deg"
  order: together
  sections:
    - { length: 3.2 m, mass: 18 kg, margin: 10 % }
    - { length: 3.0 m, stroke: 2.7 m, mass: 12 kg, margin: 10 % }
  structural_limit:
    rows: [{ reach: 2 m, load: 260 N }, { reach: 8 m, load: 65 N }]
    between: next

guide:                            # the counterweight travels backwards along it
  mount: platform
  start: "[-0.4, 0, 0.3] m"
  direction: [-1, 0, 0]
  travel: "[0, 1.4] m"
  bodies:
    - { name: cabinets, mass: 120 kg, margin: 10 %, subsystem: power }

hoist:
  line_pull: 100 N
  line_mass: 0.05 kg/m
  line_length: 60 m
  line_EA: 80 kN
  drum: "[-0.1, 0, 0.4] m"
  speed: 0.05 m/s
  head: { mass: 6 kg, radius: 0.35 m }
)";

std::string machine_text() {
  std::string out = kMachine;
  out += fmt::format(kOutrigger, "front-left", "0.7", "0.45");
  out += fmt::format(kOutrigger, "front-right", "0.7", "-0.45");
  out += fmt::format(kOutrigger, "rear-left", "-0.7", "0.45");
  out += fmt::format(kOutrigger, "rear-right", "-0.7", "-0.45");
  return out + kCrane;
}

/// Height of the starter's ground in map coordinates [m]; the void has a radius of 8 m about the origin.
double ground(double x, double y) {
  const double beyond_rim = std::hypot(x, y) - 8;
  const double funnel = std::max(0.0, 1 - beyond_rim / 3);  // 1 at the rim, 0 three metres away
  const double waves = 0.04 * std::sin(0.9 * x + 0.4) * std::cos(0.7 * y - 0.3);
  return 0.02 * y + waves - 0.5 * funnel * funnel;
}

}  // namespace

std::string starter_terrain() {
  constexpr int kColumns = 81, kRows = 65;
  constexpr double kCell = 0.25, kWest = -20, kNorth = 8;
  std::string out =
      fmt::format("ncols {}\nnrows {}\nxllcenter {}\nyllcenter {}\ncellsize {}\nNODATA_value -9999\n",
                  kColumns, kRows, kWest, kNorth - kCell * (kRows - 1), kCell);
  for (int row = 0; row < kRows; ++row)
    for (int column = 0; column < kColumns; ++column) {
      const double x = kWest + kCell * column, y = kNorth - kCell * row;
      const bool inside_void = std::hypot(x, y) < 8;
      out += inside_void ? "-9999" : fmt::format("{:.3f}", ground(x, y));
      out += column + 1 < kColumns ? ' ' : '\n';
    }
  return out;
}

std::vector<std::string> write_starter(const std::string& folder) {
  const fs::path root(folder);
  const std::vector<std::pair<fs::path, std::string>> files{
      {root / "scenario.yaml", kScenario},
      {root / "dunlin.yaml", machine_text()},
      {root / "terrain" / "kettle.asc", starter_terrain()},
      {root / "rimstance.schema.json", json_schema()},
      {root / "machine.schema.json", machine_schema("rimstance.schema.json")}};
  std::error_code error;
  for (const auto& [path, text] : files)
    if (fs::exists(path, error))
      throw InputError(Place{path.string(), 0, 0, {}}, "the file is there already", "choose an empty folder");
  make_directory(folder);
  make_directory((root / "terrain").string());
  std::vector<std::string> written;
  for (const auto& [path, text] : files) {
    write_whole(path.string(), text);
    written.push_back(path.string());
  }
  return written;
}

}  // namespace rimstance
