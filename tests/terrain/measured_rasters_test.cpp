// Measured terrain that is not part of this project: what is known of each file is asserted where it is
// there. The figures were computed from the files by other programs (GDAL's and a few lines of numpy).
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "made_rasters.hpp"
#include "measured.hpp"

using namespace measured;

namespace {

std::string refused(const std::string& path, const TerrainOptions& options) {
  try {
    (void)load_terrain(path, options);
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

const TerrainOptions kMetres{.unit = 1.0};

}  // namespace

TEST_CASE("Measured: a Mars crop far from the origin keeps every digit of its heights", "[import]") {
  const std::string path = path_of("mars_hirise_1m_geotiff/missionDEM.tif");
  if (path.empty()) return;
  const LoadedTerrain t = load_terrain(path, kMetres);
  CHECK(t.facts.columns == 348);
  CHECK(t.facts.rows == 337);
  CHECK(t.facts.cell == Vec2(1, 1));
  CHECK(t.facts.holes == 0);
  CHECK(t.facts.vertices == 117276);
  CHECK(t.facts.lowest_corner.head<2>() == Vec2(8142406.5, -276455 - 337 + 0.5));
  CHECK(t.facts.lowest_corner.z() == -4472.669921875);
  CHECK(t.facts.highest_corner.z() == -4437.8828125);
  CHECK(post(t, 56, 40) == -4472.669921875);
  CHECK(post(t, 336, 347) == -4437.8828125);
  CHECK(post(t, 0, 0) == -4470.73974609375);
  CHECK(post(t, 168, 174) == -4458.70849609375);
  CHECK(close(mean_height(t), -4455.8678406, 1e-4));
  CHECK(t.facts.body_radius == 3396190);
  CHECK(t.facts.crs == "Mars2000 Equidistant Cylindrical clon0");
  // Central differences gave 6.75, 15.2, 17.9 (95 %), 23.5 and 40.2 at most; facets are a little steeper.
  CHECK(close(degrees(t.facts.slope_p50), 6.75, 0.3));
  CHECK(close(degrees(t.facts.slope_p90), 15.2, 0.5));
  CHECK(close(degrees(t.facts.slope_p99), 23.5, 1));
}

TEST_CASE("Measured: a polar crop, 77.65 m wide, in a system that is not the Earth's", "[import]") {
  const std::string path = path_of("moon_polar_geotiff/dem_moon.tif");
  if (path.empty()) return;
  const LoadedTerrain t = load_terrain(path, kMetres);
  CHECK(t.facts.columns == 33);
  CHECK(t.facts.rows == 33);
  CHECK(close(t.facts.highest_corner.x() - t.facts.lowest_corner.x(), 77.65, 0.005));
  CHECK(close(t.facts.cell.x(), 2.4266098485, 1e-9));
  CHECK(close(t.facts.lowest_corner.x() - 0.5 * t.facts.cell.x(), -53750, 1e-6));
  CHECK(close(t.facts.highest_corner.y() + 0.5 * t.facts.cell.y(), -51050, 1e-6));
  CHECK(close(33 * t.facts.cell.x(), 80.08, 0.005));
  CHECK(close(post(t, 14, 26), -212.29616, 1e-4));
  CHECK(close(post(t, 22, 3), -205.44009, 1e-4));
  CHECK(close(post(t, 0, 0), -206.00891, 1e-4));
  CHECK(close(post(t, 16, 16), -207.60550, 1e-4));
  CHECK(close(post(t, 32, 32), -208.63791, 1e-4));
  CHECK(close(mean_height(t), -207.450637, 1e-4));
  CHECK(close(t.facts.lowest_corner.z(), -212.29616, 1e-4));
  CHECK(close(t.facts.highest_corner.z(), -205.44009, 1e-4));
  CHECK(t.facts.body_radius == 1737400);
  CHECK(refused(path, {}).find("unit of its heights") != std::string::npos);
}

TEST_CASE("Measured: a crater with missing posts in oblong cells, and its twin with NaN", "[import]") {
  const std::string path = path_of("earth_volcano_nodata/dem_nodata.dem");
  if (path.empty()) return;
  const LoadedTerrain t = load_terrain(path, {});  // it states metres for both
  CHECK(t.facts.columns == 65);
  CHECK(t.facts.rows == 65);
  CHECK(close(t.facts.cell.x(), 150.923077, 1e-6));
  CHECK(t.facts.cell.y() == 216);
  CHECK(t.facts.holes == 96);
  CHECK(t.facts.quantum == 1);
  CHECK(t.facts.lowest_corner.z() == 682);
  CHECK(t.facts.highest_corner.z() == 2932);
  CHECK(close(t.facts.lowest_corner.x(), 557805 + 0.5 * 150.923076923, 1e-6));
  CHECK(close(t.facts.highest_corner.y(), 5122005 - 108, 1e-6));
  CHECK(close(post(t, 64, 36), 682, 1e-9));
  CHECK(close(post(t, 26, 31), 2932, 1e-9));
  CHECK(close(post(t, 10, 10), 1103, 1e-9));
  CHECK(close(post(t, 32, 32), 2385, 1e-9));
  CHECK(std::isnan(post(t, 64, 64)));

  const std::string twin = path_of("earth_volcano_nodata/dem_nodata_nan.nc");
  const LoadedTerrain n = load_terrain(twin, kMetres);
  CHECK(n.facts.columns == 53);
  CHECK(n.facts.rows == 75);
  CHECK(close(n.facts.cell.x(), 186.3247, 1e-4));
  CHECK(n.facts.holes == 103);
  CHECK(n.facts.body_radius == 6378206.4);  // Clarke 1866 (EPSG 7008)
  CHECK(n.facts.lowest_corner.z() == 682);
  CHECK(n.facts.highest_corner.z() == 2932);
}

TEST_CASE("Measured: a raster in degrees with undeclared voids is refused, for the degrees first",
          "[import]") {
  const std::string path = path_of("earth_volcano_nodata/dem_unfinished.tif");
  if (path.empty()) return;
  CHECK(says(refused(path, kMetres), {"degrees", "gdalwarp", "+ellps=WGS84"}));
}

TEST_CASE("Measured: a pit that nobody looked into is a hole of its own size, not a depth", "[import]") {
  const std::string path = path_of("moon_pit_heightmap8/heightmap_257_8bit.png");
  if (path.empty()) return;
  CHECK(says(refused(path, {}), {"terrain.image", "257 x 257"}));
  TerrainOptions options;
  options.image = TerrainOptions::Image{2, 119.0 / 255, -110};
  options.hole_below = -109.9;
  const LoadedTerrain t = load_terrain(path, options);
  CHECK(t.facts.columns == 257);
  CHECK(t.facts.rows == 257);
  CHECK(t.facts.holes == 2759);
  CHECK(close(t.facts.lowest_corner.z(), -10.133, 5e-4));
  CHECK(close(t.facts.highest_corner.z(), 8.533, 5e-4));
  CHECK(t.facts.highest_corner.head<2>() == Vec2(512, 512));
  CHECK(close(degrees(std::atan(t.facts.quantum / 2)), 13.1, 0.05));
  // The blob reaches over rows 53 to 119 and columns 100 to 166; a stray one lies in row 256, column 250.
  const auto hole = [&](int row, int column) {
    return t.terrain.ground->hole_at(Vec2(2.0 * column, 2.0 * (256 - row)));
  };
  CHECK(hole(86, 133));
  CHECK(hole(256, 250));
  CHECK_FALSE(hole(50, 133));
  CHECK_FALSE(hole(122, 133));
  CHECK_FALSE(hole(86, 97));
  CHECK_FALSE(hole(86, 169));
  // Without it there would be a floor at -110 m under walls of one post: nobody is told of that depth
  // unasked.
  options.hole_below = -kInfinity;
  CHECK(says(refused(path, options), {"2759 posts hold -110 m", "terrain.hole_below: -109.767 m"}));
  options.hole_below = -111;
  const LoadedTerrain flat = load_terrain(path, options);
  CHECK(flat.facts.lowest_corner.z() == -110);
  CHECK(degrees(flat.facts.slope_max) > 88);
}

TEST_CASE("Measured: a slope beside a rille, in steps of 5.5 degrees a post", "[import]") {
  const std::string path = path_of("moon_rille_heightmap8/heightmap_257_8bit.png");
  if (path.empty()) return;
  TerrainOptions options;
  options.image = TerrainOptions::Image{2, 49.0 / 255, -45};
  const LoadedTerrain t = load_terrain(path, options);
  CHECK(t.facts.lowest_corner.z() == -45);
  CHECK(close(t.facts.highest_corner.z(), 4, 1e-12));
  CHECK(close(mean_height(t), -4.47075, 1e-5));
  CHECK(close(post(t, 92, 256), -45, 1e-12));
  CHECK(close(post(t, 162, 0), 4, 1e-12));
  CHECK(close(degrees(std::atan(t.facts.quantum / 2)), 5.5, 0.05));
}

TEST_CASE("Measured: a globe without its label is refused with the header it needs, and reads with that",
          "[import]") {
  const std::string path = path_of("moon_global_pds_img/ldem_4.img");
  if (path.empty()) return;
  CHECK(says(refused(path, {}), {"2073600 bytes", "1440 x 720 posts of 2 bytes", "ldem_4.hdr"}));
  const made::Folder folder;
  const std::string data = folder / "ldem_4.img";
  std::filesystem::create_symlink(path, data);
  const std::string seven = "ENVI\nsamples = 1440\nlines = 720\nbands = 1\ndata type = 2\ninterleave = bsq\n";
  folder.write("ldem_4.hdr", seven + "byte order = 0\n");
  CHECK(says(refused(data, {}), {"terrain.image"}));
  TerrainOptions options;
  options.image = TerrainOptions::Image{7580, 0.5, 0};
  const LoadedTerrain t = load_terrain(data, options);
  CHECK(t.facts.lowest_corner.z() == -8878.5);
  CHECK(t.facts.highest_corner.z() == 10504.0);
  CHECK(close(post(t, 641, 750), -17757 * 0.5, 1e-9));
  CHECK(close(post(t, 338, 805), 21008 * 0.5, 1e-9));
  CHECK(close(post(t, 0, 0), -239 * 0.5, 1e-9));
  CHECK(close(post(t, 359, 719), 5295 * 0.5, 1e-9));
  CHECK(close(post(t, 360, 720), 5673 * 0.5, 1e-9));
  CHECK(close(post(t, 719, 1439), 182 * 0.5, 1e-9));
  folder.write("ldem_4.hdr", seven + "byte order = 1\n");
  CHECK(says(refused(data, options), {"other byte order"}));
  // With its place: degrees, which no crane stands on.
  folder.write("ldem_4.hdr",
               seven + "byte order = 0\nmap info = {Geographic Lat/Lon, 1, 1, 0, 90, 0.25, 0.25}\n");
  CHECK(says(refused(data, {}), {"degrees", "gdalwarp"}));
}
