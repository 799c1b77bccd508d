#include "cases.hpp"
#include "made_files.hpp"
#include "made_points.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

struct Seed {
  std::string name, bytes;
  TerrainOptions options = kMetresZ;
};

constexpr TerrainOptions kPoints{.unit = 1.0, .longest_edge = 1e3};

std::vector<Seed> seeds() {
  const TriangleMesh mesh =
      made::sheet(3, 1, [](double x, double y) { return 5 + 0.25 * x - 0.125 * x * y; });
  made::PlyStyle little, big;
  little.format = "binary_little_endian";
  big.format = "binary_big_endian";
  big.face_extras = big.other_elements = true;
  big.vertex = {{"float", "x"}, {"uchar", "history", true}, {"double", "z"}, {"float", "y"}};
  return {{"a.ply", made::ply(mesh, {})},
          {"b.ply", made::ply(mesh, little)},
          {"c.ply", made::ply(mesh, big)},
          {"a.obj", made::obj(mesh)},
          {"a.off", made::off(mesh)},
          {"a.stl", made::stl_text(mesh)},
          {"b.stl", made::stl_binary(mesh)},
          {"a.asc", made::asc(mesh, 3, 1)},
          {"a.xyz", made::xyz(mesh.vertices), kPoints},
          {"a.las", made::las(made::of_class(mesh.vertices, 2)), kPoints}};
}

/// One to four small accidents: a byte or a digit changed, bytes lost, repeated or put elsewhere.
std::string mutant(std::string bytes, std::uint64_t seed) {
  std::uint64_t index = 0;
  const auto draw = [&](std::size_t n) {
    return static_cast<std::size_t>(random_bits(seed, 77, index++) % n);
  };
  for (std::size_t k = 1 + draw(4); k > 0 && !bytes.empty(); --k) {
    const std::size_t at = draw(bytes.size()), size = 1 + draw(std::min<std::size_t>(bytes.size() - at, 24));
    switch (draw(6)) {
      case 0:
        bytes[at] = static_cast<char>(draw(256));
        break;
      case 1:
        bytes[at] = "0123456789-+.eEnN \n"[draw(19)];
        break;
      case 2:
        bytes.erase(at, size);
        break;
      case 3:
        bytes.insert(at, bytes.substr(draw(bytes.size()), size));
        break;
      case 4:
        bytes[at] = static_cast<char>(bytes[at] ^ (1 << draw(8)));
        break;
      default:
        bytes.resize(at);
    }
  }
  return bytes;
}

}  // namespace

TEST_CASE("Damaged files are refused with a reason or give finite ground") {
  const std::uint64_t kMutants = 25 * static_cast<std::uint64_t>(cases());
  const std::vector<Seed> all = seeds();
  for (const Seed& seed : all) REQUIRE(refusal(seed.bytes, seed.name, seed.options).empty());
  std::uint64_t accepted = 0, refused = 0;
  for (std::uint64_t i = 0; i < kMutants; ++i) {
    const Seed& seed = all[i % all.size()];
    const std::string bytes = mutant(seed.bytes, i);
    try {
      const LoadedTerrain t = load_terrain_bytes(bytes, seed.name, seed.options);
      ++accepted;
      if (!all_finite(t)) FAIL("mutant " << i << " of " << seed.name << " gives ground that is not finite");
    } catch (const InputError& error) {
      ++refused;
      if (error.issues.empty() || error.issues[0].what.empty())
        FAIL("mutant " << i << " is refused without a reason");
    }
  }
  // Both ways are taken, else the accidents are too mild or too wild to say anything.
  CHECK(accepted > kMutants / 50);
  CHECK(refused > kMutants / 5);
}
