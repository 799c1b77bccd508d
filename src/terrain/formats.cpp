#include "formats.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <optional>
#include <utility>

#include "readers.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

constexpr const char* kRead =
    "read are meshes (PLY, OBJ, STL, OFF, glTF, ...), grids (ESRI ASCII, GeoTIFF, ...) and points (LAS, x y "
    "z "
    "as text)";

std::string extension_of(const std::string& name) {
  const std::size_t dot = name.find_last_of("./");
  return dot == std::string::npos || name[dot] == '/' ? std::string() : lower_case(name.substr(dot + 1));
}

struct Magic {
  std::string_view start;
  Format format;
};

/// First bytes of the formats that the import program reads, and of LAS.
std::optional<Format> by_magic(std::string_view bytes) {
  using namespace std::string_view_literals;
  constexpr Magic kMagic[] = {
      {"LASF"sv, Format::las},       {"glTF"sv, Format::scene},     {"II*\0"sv, Format::raster},
      {"MM\0*"sv, Format::raster},   {"II+\0"sv, Format::raster},   {"MM\0+"sv, Format::raster},
      {"\x89PNG"sv, Format::raster}, {"CDF"sv, Format::raster},     {"\x89HDF"sv, Format::raster},
      {"PDS_"sv, Format::raster},    {"CCSD3ZF"sv, Format::raster}, {"Object = IsisCube"sv, Format::raster},
      {"ENVI"sv, Format::raster}};
  for (const Magic& m : kMagic)
    if (bytes.starts_with(m.start)) return m.format;
  return std::nullopt;
}

std::optional<Format> by_extension(const std::string& extension) {
  for (const char* scene : {"gltf", "glb", "dae", "3mf", "fbx", "3ds", "x3d", "lwo"})
    if (extension == scene) return Format::scene;
  for (const char* raster : {"tif", "tiff", "img", "lbl", "xml", "cub", "nc", "png", "hdr", "dem"})
    if (extension == raster) return Format::raster;
  for (const char* points : {"xyz", "txt", "csv", "pts"})
    if (extension == points) return Format::xyz;
  return std::nullopt;
}

/// Extensions of data without any magic, whose first bytes may look like anything.
bool is_raw(const std::string& extension) {
  for (const char* raw : {"img", "raw", "bsq", "bil", "bip", "flt"})
    if (extension == raw) return true;
  return false;
}

/// Does a header or label of a raster stand beside the file?
bool described_beside(const std::string& name) {
  std::error_code error;
  for (const char* label : {".hdr", ".HDR", ".lbl", ".LBL"})
    if (std::filesystem::is_regular_file(std::filesystem::path(name).replace_extension(label), error))
      return true;
  return std::filesystem::is_regular_file(name + ".hdr", error);
}

/// A kind that is often met and not read, and what to do instead.
struct OtherKind {
  std::string_view start;
  const char *kind, *way_out;
};

constexpr const char* kUnpack = "unpack it and give the terrain file in it";
constexpr const char* kPicture = "a picture has no heights; give the elevation data it was made from";
constexpr const char* kExport = "export the surface as PLY or OBJ";

const OtherKind* other_kind(std::string_view bytes) {
  using namespace std::string_view_literals;
  static constexpr OtherKind kKinds[] = {
      {"PK\x03\x04"sv, "a ZIP archive", kUnpack},
      {"\x1f\x8b"sv, "a gzip file", kUnpack},
      {"BZh"sv, "a bzip2 file", kUnpack},
      {"\xfd\x37zXZ\0"sv, "an xz file", kUnpack},
      {"7z\xbc\xaf"sv, "a 7-Zip archive", kUnpack},
      {"\x28\xb5\x2f\xfd"sv, "a Zstandard file", kUnpack},
      {"\xff\xfe"sv, "UTF-16 text", "save it as UTF-8 text"},
      {"\xfe\xff"sv, "UTF-16 text", "save it as UTF-8 text"},
      {"\xff\xd8\xff"sv, "a JPEG image", kPicture},
      {"GIF8"sv, "a GIF image", kPicture},
      {"%PDF"sv, "a PDF document", "a document has no heights; give the data it shows"},
      {"ASTM-E57"sv, "an E57 point cloud", "convert it to LAS, or to text with x y z on every line"},
      {"\0\0\x27\x0a"sv, "a shapefile", "make a grid of its contours or points, and give that"},
      {"PXR-USDC"sv, "a USD scene", kExport},
      {"#usda"sv, "a USD scene", kExport}};
  for (const OtherKind& k : kKinds)
    if (bytes.starts_with(k.start)) return &k;
  return nullptr;
}

std::uint32_t u32(std::string_view bytes, std::size_t at) {
  std::uint32_t out = 0;
  for (std::size_t k = 4; k-- > 0;) out = out << 8 | static_cast<unsigned char>(bytes[at + k]);
  return out;
}

bool is_bitmap(std::string_view bytes) {
  return bytes.starts_with("BM") && bytes.size() >= 26 && u32(bytes, 2) == bytes.size();
}

/// A 3D tile (3D Tiles 1.0, batched model): a header, tables, and a binary glTF file as it is.
[[noreturn]] void refuse_tile(std::string_view bytes, const std::string& name) {
  std::uint64_t start = 28;
  if (bytes.size() >= start)
    for (std::size_t field = 12; field < 28; field += 4) start += u32(bytes, field);
  const bool found = start < bytes.size() && bytes.substr(start).starts_with("glTF");
  throw InputError(
      Place{name, 0, 0, {}}, "is a 3D tile (b3dm), which is not read as it is",
      found ? fmt::format("take the mesh out of it, tail -c +{} FILE > FILE.glb, and give that; of "
                          "tiles over one another give one",
                          start + 1)
            : "and its header does not lead to a mesh: get the file again whole");
}

/// Texts that stand in the place of data because something went wrong on the way.
void refuse_stand_in(std::string_view bytes, const std::string& name) {
  const Place place{name, 0, 0, {}};
  std::size_t at = bytes.starts_with("\xEF\xBB\xBF") ? 3 : 0;
  while (at < bytes.size() && at < 1024 && TextCursor::is_space(bytes[at])) ++at;
  const std::string start = lower_case(bytes.substr(at, 16));
  if (start.starts_with("<!doctype html") || start.starts_with("<html"))
    throw InputError(place,
                     "is a web page (HTML), perhaps an error message that was saved in place of the data",
                     "open it in a browser to see what it says, and get the data again");
  if (bytes.starts_with("version https://git-lfs"))
    throw InputError(place, "is a pointer of Git LFS, not the data",
                     "fetch the data with git lfs pull where it came from");
}

bool starts_with_word(std::string_view bytes, std::string_view word) {
  return bytes.starts_with(word) && bytes.size() > word.size() && TextCursor::is_space(bytes[word.size()]);
}

bool looks_like_off(std::string_view bytes) {
  const std::string none;
  TextCursor text(bytes.substr(0, 4096), none, {.comment = '#'});
  return text.more() && text.peek().size() <= 6 && text.peek().ends_with("OFF");
}

bool looks_like_obj(std::string_view bytes) {
  const std::string none;
  TextCursor text(bytes.substr(0, 65536), none, {.comment = '#'});
  if (!text.more()) return false;
  const std::string_view word = text.peek();
  return word == "v" || word == "mtllib" || word == "o" || word == "g" || word == "vn" || word == "vt";
}

}  // namespace

Format format_of(std::string_view bytes, const std::string& name) {
  const Place place{name, 0, 0, {}};
  if (bytes.empty()) throw InputError(place, "is empty", "get the file again");
  if (starts_with_word(bytes, "ply")) return Format::ply;
  const std::string extension = extension_of(name);
  refuse_stand_in(bytes, name);
  if (looks_like_stl(bytes)) return Format::stl;
  if (const auto format = by_magic(bytes)) return *format;
  if (is_raw(extension)) return Format::raster;
  if (extension == "3mf") return Format::scene;  // a ZIP archive of its own kind
  if (bytes.starts_with("b3dm")) refuse_tile(bytes, name);
  if (const OtherKind* const other = other_kind(bytes))
    throw InputError(place, fmt::format("is {}, which is not read as terrain", other->kind), other->way_out);
  if (is_bitmap(bytes)) throw InputError(place, "is a BMP image, which is not read as terrain", kPicture);
  if (looks_like_asc(bytes)) return Format::asc;
  if (looks_like_off(bytes)) return Format::off;
  if (extension == "obj" || looks_like_obj(bytes)) return Format::obj;
  if (extension == "stl") return Format::stl;  // its reader says what is wrong with it
  if (extension == "off") return Format::off;
  if (extension == "asc") return Format::asc;
  if (extension == "ply")
    throw InputError(place,
                     fmt::format("is no PLY file: the first line is not \"ply\" but begins {}",
                                 quoted(bytes.substr(0, 12))),
                     "get the file again whole");
  if (const auto format = by_extension(extension)) return *format;
  if (described_beside(name)) return Format::raster;
  if (looks_like_xyz(bytes)) return Format::xyz;
  if (bytes.starts_with('{') || bytes.starts_with('['))
    throw InputError(place, "looks like JSON, which is not read as terrain",
                     "give the data it describes, or write what it holds as an ESRI ASCII grid or lines of x "
                     "y z; a glTF scene "
                     "has the extension .gltf");
  if (extension == "yaml" || extension == "yml" || bytes.starts_with("rimstance:"))
    throw InputError(place, "is a scenario, not a terrain file",
                     "give it to `rimstance stand`; its ground is the file it names under terrain: file");
  throw InputError(place,
                   fmt::format("has a content that is not known (it begins {})", quoted(bytes.substr(0, 12))),
                   kRead);
}

}  // namespace rimstance
