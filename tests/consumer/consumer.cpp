// A user's program: nothing but installed headers and Rimstance::rimstance. It touches the stages that
// bring libraries of their own (hashing, YAML, units), so a missing link dependency shows here.
#include <cmath>
#include <cstdio>

#include "rimstance/model/load.hpp"
#include "rimstance/terrain/load.hpp"

int main() {
  using namespace rimstance;
  // A plane that rises 0.5 m per metre eastwards: 2.5 m high at x = 5 m.
  const char* mesh =
      "OFF\n4 2 0\n"
      "0 0 0\n10 0 5\n10 10 5\n0 10 0\n"
      "3 0 1 2\n3 0 2 3\n";
  TerrainOptions options;
  options.up = UpAxis::z;
  options.unit = 1.0;
  const Terrain terrain = load_terrain_bytes(mesh, "plane.off", options).terrain;
  const Vec2 foot = Vec2(5, 4) - terrain.map_offset.head<2>();
  const double ground = height(terrain, foot, kInfinity) + terrain.map_offset.z();
  if (!(std::abs(ground - 2.5) <= 1e-12)) return 1;

  try {
    (void)load_scenario_text("rimstance: 1\ngravity: moom\n", "typo.yaml");
    return 1;
  } catch (const InputError& error) {
    if (error.issues.empty()) return 1;
  }
  std::printf("ground under the foot: %.1f m\n", ground);
  return 0;
}
