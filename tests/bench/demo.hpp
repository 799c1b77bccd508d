#pragma once
#include <vector>

#include "rimstance/model/load.hpp"
#include "rimstance/statics/stand.hpp"
#include "rimstance/terrain/load.hpp"

namespace rimstance {

/// The demo machine, standing where its scenario puts it, with the fields named set otherwise.
struct Demo {
  Document document;
  Prepared prepared;
  Standing standing;

  /// `free`: without the schedule of its counterweight, as a study of that asks for it.
  explicit Demo(const std::vector<Override>& overrides, bool free = false)
      : document(
            load_scenario(RIMSTANCE_SOURCE_DIR "/examples/01_dunlin_at_kettle/scenario.yaml", overrides)),
        prepared(free ? prepare_free(*document.scenario) : prepare(document.scenario)) {
    const Terrain terrain =
        load_terrain(document.scenario->terrain.file, {.up = UpAxis::z, .unit = 1.0}).terrain;
    standing = stand(prepared, terrain, document.scenario->spot, Question::verdict, Control{});
  }
};

}  // namespace rimstance
