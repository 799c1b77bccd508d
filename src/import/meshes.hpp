#pragma once
#include "rimstance/terrain/exchange.hpp"

namespace rimstance {

/// Reads a mesh by Assimp: every triangle mesh of the scene, at every node that shows it, transforms applied
/// in double. Throws InputError.
ImportedMesh read_mesh(const ImportRequest&);

}  // namespace rimstance
