#pragma once
#include <string>
#include <string_view>

namespace rimstance {

/// Who reads a file: a reader here, or the import program (`scene`: meshes, `raster`: rasters).
enum class Format { ply, obj, stl, off, asc, las, xyz, scene, raster };

/// Which reader takes these bytes; the content decides where it can, the extension of `name` where it
/// must. Throws InputError with a way out for what is met often and not read.
Format format_of(std::string_view bytes, const std::string& name);

}  // namespace rimstance
