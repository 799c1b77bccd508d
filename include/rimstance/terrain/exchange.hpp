#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rimstance/base/frames.hpp"

namespace rimstance {

// What `rimstance` and `rimstance-import` say to each other: one message each way, in a memory file. A
// message is a header (magic, version, kind, length, SHA-256 of the rest) and a body of typed values; every
// count is checked against the bytes that are left before anything is allocated. Whoever wrote it, a message
// that is damaged, of another version or of another kind is refused.

/// What is to be done with a file.
struct ImportRequest {
  enum class Work : std::uint32_t { mesh, raster, write_raster };
  Work work = Work::mesh;
  std::string path;
  std::uint64_t greatest_vertices = 0;
  /// Raster: heights wanted, in columns from the west and rows from the NORTH, both counted in posts of
  /// the file. No window: the facts alone, and the heights too if there are at most `most_posts`.
  struct Window {
    std::uint64_t column = 0, row = 0, columns = 0, rows = 0;
  };
  std::optional<Window> window;
  std::uint64_t most_posts = 0;
};

/// A mesh in the axes and unit of the file, all its triangle meshes in one, node transforms applied in
/// double.
struct ImportedMesh {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> triangles;
  std::string format;               ///< "glTF 2 (binary)", ...
  std::optional<std::uint32_t> up;  ///< 0 x, 1 y, 2 z, where the format or the file says so
  std::optional<double> unit;       ///< metres per file unit, likewise
  std::vector<std::string> notes;   ///< sentences for the user
};

/// A raster or a window of it, in the plan unit and height unit of the file.
struct ImportedRaster {
  std::uint64_t columns = 0, rows = 0;  ///< of the whole raster
  Vec2 first = Vec2::Zero();            ///< plan position of the SOUTH-west post (centre of its pixel)
  Vec2 spacing = Vec2::Ones();          ///< > 0, whatever way the rows run in the file
  double plan_unit = kUnset;            ///< metres per unit of plan coordinates; NaN: the file does not say
  double height_unit = kUnset;          ///< metres per unit of height; NaN: the file does not say
  bool geographic = false;              ///< plan coordinates are degrees
  bool placed = true;                   ///< false: the file has no place at all (a bare image)
  double body_radius = kUnset;          ///< [m] semi-major axis of the reference body; NaN: not said
  std::string crs;                      ///< name of the coordinate system; empty: none
  double quantum = kUnset;  ///< least step of the stored heights, in height units; NaN: floating point
  bool nodata_declared = false;
  ImportRequest::Window window;        ///< which heights follow (none: 0 columns)
  std::vector<double> heights;         ///< window.rows * window.columns; row 0 SOUTHERN; NaN without data
  std::string format;                  ///< "GeoTIFF, Float32", ...
  std::vector<std::string> files;      ///< others that the raster is made of: a header, a label's data
  std::vector<std::string> from_file;  ///< sentences: what the file itself states
  std::vector<std::string> notes;      ///< sentences a user must have read
};

/// Heights to be written as a GeoTIFF (Float32, NaN without data) with plan coordinates in metres.
struct RasterToWrite {
  Vec2 first = Vec2::Zero();    ///< map position of the south-west post [m]
  Vec2 spacing = Vec2::Ones();  ///< [m]
  std::uint64_t columns = 0, rows = 0;
  std::vector<double> heights;  ///< rows * columns [m]; row 0 SOUTHERN
};

/// The other program's "this file is wrong", in the form of an Issue.
struct ImportRefusal {
  std::string what, way_out;
};

std::string to_bytes(const ImportRequest&);
std::string to_bytes(const ImportedMesh&);
std::string to_bytes(const ImportedRaster&);
std::string to_bytes(const RasterToWrite&);
std::string to_bytes(const ImportRefusal&);

/// The kind of a message whose header, length and checksum hold; throws BadMessage.
enum class MessageKind : std::uint32_t { request, mesh, raster, to_write, refusal, done };
MessageKind kind_of(std::string_view bytes);

/// Each throws BadMessage unless the bytes are one whole undamaged message of that kind.
ImportRequest import_request(std::string_view bytes);
ImportedMesh imported_mesh(std::string_view bytes);
ImportedRaster imported_raster(std::string_view bytes);
RasterToWrite raster_to_write(std::string_view bytes);
ImportRefusal import_refusal(std::string_view bytes);
/// "Done, nothing to tell."
std::string done_message();

struct BadMessage : std::exception {
  std::string why;
  explicit BadMessage(std::string w) : why(std::move(w)) {}
  const char* what() const noexcept override { return why.c_str(); }
};

}  // namespace rimstance
