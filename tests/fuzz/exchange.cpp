// The messages between the program and its importer.
#include "rimstance/terrain/exchange.hpp"

#include <cmath>
#include <cstring>
#include <string>

#include "rimstance/base/files.hpp"
#include "targets.hpp"

namespace {

using namespace rimstance;
using fuzz::require;

// Where a message holds its digest, and the length of its body; the digest covers what follows it.
constexpr std::size_t kDigest = 8, kDigestEnd = kDigest + 64, kLength = kDigestEnd + 8, kHeader = kLength + 8;

/// A fuzzer finds no digest by trying, so it is mended, and the length with it.
std::string mended(std::string_view bytes) {
  std::string message(bytes);
  const std::uint64_t length = message.size() - kHeader;
  std::memcpy(&message[kLength], &length, sizeof length);
  return message.replace(kDigest, 64, sha256(std::string_view(message).substr(kDigestEnd)));
}

void check(const ImportRequest&) {}
void check(const ImportRefusal&) {}
void check(const ImportedMesh& m) {
  for (const Vec3& p : m.vertices) require(p.allFinite(), "every vertex is finite");
  for (const auto& t : m.triangles)
    for (const std::uint32_t v : t) require(v < m.vertices.size(), "every corner is a vertex");
}
void check(const ImportedRaster& r) {
  require(r.heights.size() == r.window.columns * r.window.rows, "every post has its value");
  require(r.window.column + r.window.columns <= r.columns && r.window.row + r.window.rows <= r.rows,
          "the window is inside");
  require(r.first.allFinite() && r.spacing.allFinite() && r.spacing.minCoeff() > 0, "posts have a place");
  for (const double z : r.heights) require(!std::isinf(z), "every height is finite or missing");
}
void check(const RasterToWrite& r) {
  require(r.heights.size() == r.columns * r.rows, "every post has its value");
  require(r.first.allFinite() && r.spacing.allFinite() && r.spacing.minCoeff() > 0, "posts have a place");
}

/// What is accepted was written in no other way.
template <class Message>
void accept(std::string_view bytes, Message (*read)(std::string_view)) {
  try {
    const Message message = read(bytes);
    check(message);
    require(to_bytes(message) == bytes, "a message that was read is written the same");
  } catch (const BadMessage& bad) {
    require(!bad.why.empty(), "a refusal has a reason");
  }
}

void accept_any(std::string_view bytes) {
  accept(bytes, import_request);
  accept(bytes, imported_mesh);
  accept(bytes, imported_raster);
  accept(bytes, raster_to_write);
  accept(bytes, import_refusal);
}

}  // namespace

void fuzz::exchange(std::string_view bytes) {
  accept_any(bytes);
  if (bytes.size() >= kHeader) accept_any(mended(bytes));
}
