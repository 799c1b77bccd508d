#include "rimstance/terrain/exchange.hpp"

#include <bit>
#include <catch2/catch.hpp>
#include <cstring>
#include <functional>
#include <limits>

#include "rimstance/base/files.hpp"

using namespace rimstance;

namespace {

ImportRequest request() {
  ImportRequest r;
  r.work = ImportRequest::Work::raster;
  r.path = "ground \xc3\xa9/a.tif";
  r.greatest_vertices = std::uint64_t{1} << 40;
  r.window = ImportRequest::Window{1, 2, 3, 4};
  r.most_posts = 77;
  return r;
}

ImportedMesh mesh() {
  ImportedMesh m;
  m.vertices = {Vec3(0.1, -2e6, 1.0 / 3), Vec3(5e-324, 1, 2), Vec3(-0.0, 3, 4), Vec3(7, 8, 9)};
  m.triangles = {{0, 1, 2}, {3, 2, 1}};
  m.format = "glTF 2.0";
  m.up = 1;
  m.unit = 0.0254;
  m.notes = {"", "a sentence"};
  return m;
}

ImportedRaster raster() {
  ImportedRaster r;
  r.columns = 100;
  r.rows = 50;
  r.first = Vec2(-1e6 / 3, 4e6);
  r.spacing = Vec2(0.1, 0.2);
  r.height_unit = 0.3048;
  r.geographic = true;
  r.body_radius = 1737400;
  r.crs = "polar stereographic";
  r.nodata_declared = true;
  r.window = {98, 47, 2, 3};
  r.heights = {1.5, kUnset, -0.1, 2, 3, 1e-300};
  r.format = "GeoTIFF, Float32";
  r.files = {"a.hdr"};
  r.from_file = {"one", "two"};
  return r;
}

RasterToWrite to_write() { return {Vec2(1, 2), Vec2(0.5, 0.25), 2, 2, {1, 2, kUnset, 4}}; }

/// Every kind: a message, and what reads it.
struct Kind {
  MessageKind kind;
  std::string bytes;
  std::function<std::string(std::string_view)> again;  ///< read, then written
};

std::vector<Kind> kinds() {
  return {{MessageKind::request, to_bytes(request()), [](auto b) { return to_bytes(import_request(b)); }},
          {MessageKind::mesh, to_bytes(mesh()), [](auto b) { return to_bytes(imported_mesh(b)); }},
          {MessageKind::raster, to_bytes(raster()), [](auto b) { return to_bytes(imported_raster(b)); }},
          {MessageKind::to_write, to_bytes(to_write()), [](auto b) { return to_bytes(raster_to_write(b)); }},
          {MessageKind::refusal, to_bytes(ImportRefusal{"is bad", "mend it"}),
           [](auto b) { return to_bytes(import_refusal(b)); }}};
}

bool refused(const Kind& kind, std::string_view bytes) {
  try {
    (void)kind.again(bytes);
  } catch (const BadMessage& bad) {
    return !bad.why.empty();
  }
  return false;
}

/// The message with another body and a header that is right for it: what a hostile sender would write.
/// The layout is that of the header in exchange.cpp: magic 8, digest 64, version 4, kind 4, length 8.
std::string with_body(const std::string& message, const std::string& body) {
  std::string out = message.substr(0, 88) + body;
  const std::uint64_t length = body.size();
  std::memcpy(&out[80], &length, sizeof length);
  out.replace(8, 64, sha256(std::string_view(out).substr(72)));
  return out;
}

bool same(double a, double b) { return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b); }

}  // namespace

TEST_CASE("A message comes back bit for bit, whatever its kind") {
  for (const Kind& kind : kinds()) {
    CHECK(kind_of(kind.bytes) == kind.kind);
    CHECK(kind.again(kind.bytes) == kind.bytes);
  }
  CHECK(kind_of(done_message()) == MessageKind::done);
}

TEST_CASE("What a message says is what was put into it") {
  const ImportRequest r = import_request(to_bytes(request()));
  CHECK(r.work == ImportRequest::Work::raster);
  CHECK(r.path == request().path);
  REQUIRE(r.window);
  CHECK((r.window->column == 1 && r.window->row == 2 && r.window->columns == 3 && r.window->rows == 4));
  CHECK((r.greatest_vertices == std::uint64_t{1} << 40 && r.most_posts == 77));

  const ImportedMesh m = imported_mesh(to_bytes(mesh()));
  REQUIRE(m.vertices.size() == 4);
  for (std::size_t i = 0; i < 4; ++i)
    for (int k = 0; k < 3; ++k) CHECK(same(m.vertices[i][k], mesh().vertices[i][k]));
  CHECK(m.triangles == mesh().triangles);
  CHECK((m.format == "glTF 2.0" && m.up == 1U && m.notes == mesh().notes));
  CHECK(same(m.unit.value(), 0.0254));

  const ImportedRaster g = imported_raster(to_bytes(raster()));
  CHECK((g.columns == 100 && g.rows == 50 && g.geographic && g.placed && g.nodata_declared));
  CHECK((g.first == raster().first && g.spacing == raster().spacing));
  CHECK((std::isnan(g.plan_unit) && same(g.height_unit, 0.3048) && std::isnan(g.quantum)));
  CHECK((g.window.column == 98 && g.window.row == 47 && g.window.columns == 2 && g.window.rows == 3));
  REQUIRE(g.heights.size() == 6);
  for (std::size_t i = 0; i < 6; ++i) CHECK(same(g.heights[i], raster().heights[i]));
  CHECK((g.crs == raster().crs && g.files == raster().files && g.from_file == raster().from_file));

  const ImportRefusal no = import_refusal(to_bytes(ImportRefusal{"is bad", "mend it"}));
  CHECK((no.what == "is bad" && no.way_out == "mend it"));
}

TEST_CASE("A message with any one byte changed is refused") {
  for (const Kind& kind : kinds())
    for (std::size_t at = 0; at < kind.bytes.size(); ++at)
      for (const int change : {1, 0x80, 0xff}) {
        std::string bytes = kind.bytes;
        bytes[at] = static_cast<char>(bytes[at] ^ change);
        if (!refused(kind, bytes)) FAIL("byte " << at << " of kind " << static_cast<int>(kind.kind));
      }
}

TEST_CASE("A message that was cut anywhere, or to which anything was added, is refused") {
  for (const Kind& kind : kinds()) {
    for (std::size_t size = 0; size < kind.bytes.size(); ++size)
      if (!refused(kind, std::string_view(kind.bytes).substr(0, size))) FAIL("cut at byte " << size);
    CHECK(refused(kind, kind.bytes + '\0'));
  }
}

TEST_CASE("A message is read as its own kind only") {
  const std::vector<Kind> all = kinds();
  for (const Kind& reader : all) {
    for (const Kind& message : all) CHECK(refused(reader, message.bytes) == (reader.kind != message.kind));
    CHECK(refused(reader, done_message()));
  }
}

TEST_CASE("A body that ends early or is too long is refused though its checksum is right") {
  for (const Kind& kind : kinds()) {
    const std::string body = kind.bytes.substr(88);
    REQUIRE(with_body(kind.bytes, body) == kind.bytes);
    for (std::size_t size = 0; size < body.size(); ++size)
      if (!refused(kind, with_body(kind.bytes, body.substr(0, size)))) FAIL("cut at byte " << size);
    CHECK(refused(kind, with_body(kind.bytes, body + "12345678")));
  }
}

TEST_CASE("A count larger than what follows is refused before anything is made of it") {
  const std::string whole = to_bytes(mesh());
  const Kind kind = kinds()[1];
  // A mesh begins with the number of its vertices; a vector of so many would throw something else.
  for (const std::uint64_t count :
       {std::uint64_t{5}, std::uint64_t{1} << 32, std::uint64_t{1} << 60, (std::uint64_t{1} << 62) / 3,
        std::numeric_limits<std::uint64_t>::max()}) {
    std::string body = whole.substr(88);
    std::memcpy(body.data(), &count, sizeof count);
    CHECK(refused(kind, with_body(whole, body)));
  }
}

TEST_CASE("A mesh with a vertex that is not finite or a corner that does not exist is refused") {
  const Kind kind = kinds()[1];
  for (const double bad : {kUnset, kInfinity, -kInfinity}) {
    ImportedMesh m = mesh();
    m.vertices[2].y() = bad;
    CHECK(refused(kind, to_bytes(m)));
  }
  ImportedMesh corner = mesh(), up = mesh(), unit = mesh();
  corner.triangles[1][2] = 4;
  CHECK(refused(kind, to_bytes(corner)));
  up.up = 3;
  CHECK(refused(kind, to_bytes(up)));
  for (const double bad : {0.0, -1.0, kUnset, kInfinity}) {
    unit.unit = bad;
    CHECK(refused(kind, to_bytes(unit)));
  }
}

TEST_CASE("A raster that contradicts itself is refused") {
  const Kind kind = kinds()[2];
  const auto with = [&](const std::function<void(ImportedRaster&)>& change) {
    ImportedRaster r = raster();
    change(r);
    return refused(kind, to_bytes(r));
  };
  CHECK_FALSE(with([](auto&) {}));
  CHECK(with([](auto& r) { r.columns = 0; }));
  CHECK(with([](auto& r) { r.spacing.y() = 0; }));
  CHECK(with([](auto& r) { r.spacing.x() = kUnset; }));
  CHECK(with([](auto& r) { r.first.x() = kInfinity; }));
  CHECK(with([](auto& r) { r.heights.pop_back(); }));
  CHECK(with([](auto& r) { r.heights[0] = -kInfinity; }));
  CHECK(with([](auto& r) { r.window.column = 99; }));
  CHECK(with([](auto& r) { r.window.row = std::numeric_limits<std::uint64_t>::max(); }));
  CHECK(with([](auto& r) { r.window.columns = std::uint64_t{1} << 63; }));
  CHECK(with([](auto& r) { r.height_unit = 0; }));
  CHECK(with([](auto& r) { r.body_radius = -1; }));
}
