#pragma once
// Raster files made byte by byte: TIFF 6.0 with the keys of GeoTIFF (OGC 19-008r4), and labels of PDS3, PDS4,
// ISIS3 cubes and ENVI with their data. The labels hold no more than the public descriptions of these formats
// ask for. All hold the heights that a formula gives.
#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "made_files.hpp"
#include "rimstance/base/frames.hpp"

namespace made {

using rimstance::Vec2;

/// A folder that is gone with this value.
class Folder {
 public:
  Folder() {
    static int count = 0;
    path_ =
        std::filesystem::temp_directory_path() / fmt::format("rimstance-rasters-{}-{}", ::getpid(), ++count);
    std::filesystem::create_directories(path_);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code error;
    std::filesystem::remove_all(path_, error);
  }
  std::string operator/(const std::string& name) const { return (path_ / name).string(); }
  std::string write(const std::string& name, std::string_view bytes) const {
    std::ofstream out(path_ / name, std::ios::binary);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    return *this / name;
  }

 private:
  std::filesystem::path path_;
};

/// Posts at first + (i, j) * spacing, j from the south, and what is stored there.
struct Posts {
  Vec2 first = Vec2::Zero(), spacing = Vec2(2, 2);
  int columns = 6, rows = 5;
  std::function<double(double, double)> stored;
};

/// One number of a type as bytes.
template <class T>
void append(std::string& out, double value, bool big_endian) {
  const T number = static_cast<T>(value);
  std::array<char, sizeof(T)> bytes;
  std::memcpy(bytes.data(), &number, sizeof number);
  if (big_endian != (std::endian::native == std::endian::big)) std::reverse(bytes.begin(), bytes.end());
  out.append(bytes.data(), bytes.size());
}

/// The stored values in file order, of the given type.
inline std::string raw(const Posts& p, const std::string& type, bool big_endian, bool south_up = false) {
  const std::map<std::string, void (*)(std::string&, double, bool)> kinds{
      {"char", append<std::int8_t>},     {"uchar", append<std::uint8_t>}, {"short", append<std::int16_t>},
      {"ushort", append<std::uint16_t>}, {"int", append<std::int32_t>},   {"uint", append<std::uint32_t>},
      {"float", append<float>},          {"double", append<double>}};
  const auto append_one = kinds.at(type);
  std::string out;
  for (int line = 0; line < p.rows; ++line) {
    const int j = south_up ? line : p.rows - 1 - line;
    for (int i = 0; i < p.columns; ++i)
      append_one(out, p.stored(p.first.x() + i * p.spacing.x(), p.first.y() + j * p.spacing.y()), big_endian);
  }
  return out;
}

struct TiffStyle {
  std::string type = "float";
  bool big_endian = false, point = false, south_up = false, placed = true;
  double turn = 0;  ///< rows that climb by so much per metre
  int bands = 1;    ///< all alike
  bool complex = false, palette = false, alpha = false, sparse = false;
  std::string nodata = {}, metadata = {};     ///< GDAL_NODATA text; XML items of GDAL_METADATA
  std::vector<std::array<int, 2>> keys = {};  ///< short GeoKeys beside the raster type
  std::vector<double> tie_points = {};        ///< six numbers each, without a pixel size
};

namespace tiff {

struct Tag {
  int id, type;
  std::uint32_t count;
  std::string bytes;
};

inline std::string numbers(const std::string& type, const std::vector<double>& values, bool big) {
  std::string out;
  for (const double v : values) put(out, type, v, big);
  return out;
}

}  // namespace tiff

/// One strip, uncompressed.
inline std::string tiff_file(const Posts& p, const TiffStyle& s) {
  const bool big = s.big_endian;
  const std::map<std::string, std::array<int, 2>> kinds{
      {"uchar", {8, 1}}, {"char", {8, 2}},  {"ushort", {16, 1}}, {"short", {16, 2}},
      {"int", {32, 2}},  {"uint", {32, 1}}, {"float", {32, 3}},  {"double", {64, 3}}};
  const auto [bits, format] = kinds.at(s.type);
  std::string data = raw(p, s.type, big, s.south_up);
  if (s.complex) {  // each followed by an imaginary part of zero
    const std::size_t size = static_cast<std::size_t>(bits) / 8;
    std::string doubled;
    for (std::size_t at = 0; at < data.size(); at += size)
      doubled += data.substr(at, size) + std::string(size, '\0');
    data = doubled;
  }
  const std::size_t one = data.size();
  for (int band = 1; band < s.bands; ++band)
    data += s.alpha && band == s.bands - 1 ? std::string(one, '\xff') : data.substr(0, one);
  std::vector<tiff::Tag> tags;
  const auto shorts = [&](int id, std::vector<int> values) {
    std::string bytes;
    for (const int v : values) put(bytes, "ushort", v, big);
    tags.push_back({id, 3, static_cast<std::uint32_t>(values.size()), bytes});
  };
  const auto longs = [&](int id, std::vector<double> values) {
    std::string bytes;
    for (const double v : values) put(bytes, "uint", v, big);
    tags.push_back({id, 4, static_cast<std::uint32_t>(values.size()), bytes});
  };
  const auto doubles = [&](int id, const std::vector<double>& values) {
    tags.push_back({id, 12, static_cast<std::uint32_t>(values.size()), tiff::numbers("double", values, big)});
  };
  const auto text = [&](int id, const std::string& words) {
    tags.push_back({id, 2, static_cast<std::uint32_t>(words.size() + 1), words + '\0'});
  };
  const auto all = static_cast<std::size_t>(s.bands);
  shorts(256, {p.columns});
  shorts(257, {p.rows});
  shorts(258, std::vector<int>(all, s.complex ? 2 * bits : bits));
  shorts(259, {1});
  shorts(262, {s.palette ? 3 : 1});
  const std::size_t strips_at = tags.size();
  longs(273, std::vector<double>(all, 0));
  shorts(277, {s.bands});
  shorts(278, {p.rows});
  longs(279, std::vector<double>(all, s.sparse ? 0 : static_cast<double>(one)));
  shorts(284, {s.bands > 1 ? 2 : 1});
  if (s.palette) shorts(320, std::vector<int>(3 * 256, 7));
  if (s.alpha) shorts(338, {2});
  shorts(339, std::vector<int>(all, s.complex ? 6 : format));
  const double dx = p.spacing.x(), dy = p.spacing.y();
  // Corner of the first pixel, or its centre if the file places points.
  const double half = s.point ? 0 : 0.5;
  const double x = p.first.x() - half * dx;
  const double y = s.south_up ? p.first.y() - half * dy : p.first.y() + (p.rows - 1 + half) * dy;
  if (s.placed && (s.south_up || s.turn != 0)) {
    const double north = s.south_up ? dy : -dy;
    doubles(34264, {dx, 0, 0, x, s.turn * dx, north, 0, y, 0, 0, 0, 0, 0, 0, 0, 1});
  } else if (s.placed) {
    doubles(33550, {dx, dy, 0});
    doubles(33922, {0, 0, 0, x, y, 0});
  }
  if (!s.tie_points.empty()) doubles(33922, s.tie_points);
  if (s.placed) {
    std::vector<std::array<int, 2>> keys{{1025, s.point ? 2 : 1}};
    keys.insert(keys.end(), s.keys.begin(), s.keys.end());
    std::sort(keys.begin(), keys.end());
    std::vector<int> values{1, 1, 1, static_cast<int>(keys.size())};
    for (const auto& [key, value] : keys) values.insert(values.end(), {key, 0, 1, value});
    shorts(34735, values);
  }
  if (!s.metadata.empty()) text(42112, "<GDALMetadata>" + s.metadata + "</GDALMetadata>");
  if (!s.nodata.empty()) text(42113, s.nodata);

  std::string out = big ? "MM" : "II";
  put(out, "ushort", 42, big);
  put(out, "uint", 8, big);
  const std::size_t directory = 2 + 12 * tags.size() + 4;
  std::size_t at = 8 + directory;
  std::vector<double> offsets;
  for (const tiff::Tag& tag : tags) {
    offsets.push_back(static_cast<double>(at));
    if (tag.bytes.size() > 4) at += tag.bytes.size() + tag.bytes.size() % 2;
  }
  std::string starts;
  for (std::size_t band = 0; band < all; ++band)
    put(starts, "uint", s.sparse ? 0 : static_cast<double>(at + band * one), big);
  tags[strips_at].bytes = starts;
  put(out, "ushort", static_cast<double>(tags.size()), big);
  std::string values;
  for (std::size_t k = 0; k < tags.size(); ++k) {
    const tiff::Tag& tag = tags[k];
    put(out, "ushort", tag.id, big);
    put(out, "ushort", tag.type, big);
    put(out, "uint", tag.count, big);
    if (tag.bytes.size() > 4) {
      put(out, "uint", offsets[k], big);
      values += tag.bytes + std::string(tag.bytes.size() % 2, '\0');
    } else {
      out += tag.bytes + std::string(4 - tag.bytes.size(), '\0');
    }
  }
  put(out, "uint", 0, big);
  return out + values + (s.sparse ? std::string() : data);
}

inline std::string item(const char* role, const std::string& value) {
  return fmt::format("<Item name=\"{0}\" sample=\"0\" role=\"{0}\">{1}</Item>", role, value);
}

/// `order` 0: the low byte comes first. `place`: ENVI's map info, empty for none.
inline std::string envi_header(const Posts& p, int data_type, int order, const std::string& place) {
  return fmt::format(
      "ENVI\nsamples = {}\nlines = {}\nbands = 1\ndata type = {}\ninterleave = bsq\nbyte order = {}\n{}",
      p.columns, p.rows, data_type, order, place.empty() ? "" : "map info = {" + place + "}\n");
}

/// Polar stereographic round the pole of a sphere of 1737.4 km, which needs no parallels. In PDS3 the offsets
/// place the origin of the projection in pixels from the first one.
inline std::string pds3_label(const Posts& p, const std::string& data, const std::string& image_keys) {
  const double north = p.first.y() + (p.rows - 1) * p.spacing.y();
  return fmt::format(
      "PDS_VERSION_ID = PDS3\r\nRECORD_TYPE = FIXED_LENGTH\r\nRECORD_BYTES = {2}\r\nFILE_RECORDS = {1}\r\n"
      "^IMAGE = {3}\r\nOBJECT = IMAGE\r\n  LINES = {1}\r\n  LINE_SAMPLES = {0}\r\n{4}END_OBJECT = IMAGE\r\n"
      "OBJECT = IMAGE_MAP_PROJECTION\r\n  MAP_PROJECTION_TYPE = \"POLAR STEREOGRAPHIC\"\r\n"
      "  A_AXIS_RADIUS = 1737.4 <KM>\r\n  B_AXIS_RADIUS = 1737.4 <KM>\r\n  C_AXIS_RADIUS = 1737.4 <KM>\r\n"
      "  CENTER_LATITUDE = 90.0 <DEG>\r\n  CENTER_LONGITUDE = 0.0 <DEG>\r\n  MAP_SCALE = {5} "
      "<METERS/PIXEL>\r\n"
      "  LINE_PROJECTION_OFFSET = {6} <PIXEL>\r\n  SAMPLE_PROJECTION_OFFSET = {7} <PIXEL>\r\n"
      "END_OBJECT = IMAGE_MAP_PROJECTION\r\nEND\r\n",
      p.columns, p.rows, 2 * p.columns, data, image_keys, p.spacing.x(), north / p.spacing.y(),
      -p.first.x() / p.spacing.x());
}

inline std::string pds4_label(const Posts& p, const std::string& data, const std::string& type,
                              const std::string& unit) {
  const double north = p.first.y() + (p.rows - 0.5) * p.spacing.y();
  return fmt::format(
      R"(<?xml version="1.0" encoding="UTF-8"?>
<Product_Observational xmlns="http://pds.nasa.gov/pds4/pds/v1" xmlns:cart="http://pds.nasa.gov/pds4/cart/v1">
 <Observation_Area><Discipline_Area><cart:Cartography>
  <cart:Spatial_Domain><cart:Bounding_Coordinates/></cart:Spatial_Domain>
  <cart:Spatial_Reference_Information><cart:Horizontal_Coordinate_System_Definition>
   <cart:Planar>
    <cart:Map_Projection>
     <cart:map_projection_name>Polar Stereographic</cart:map_projection_name>
     <cart:Polar_Stereographic>
      <cart:longitude_of_central_meridian unit="deg">0</cart:longitude_of_central_meridian>
      <cart:latitude_of_projection_origin unit="deg">90</cart:latitude_of_projection_origin>
      <cart:scale_factor_at_projection_origin>1</cart:scale_factor_at_projection_origin>
     </cart:Polar_Stereographic>
    </cart:Map_Projection>
    <cart:Planar_Coordinate_Information>
     <cart:planar_coordinate_encoding_method>Coordinate Pair</cart:planar_coordinate_encoding_method>
     <cart:Coordinate_Representation>
     <cart:pixel_resolution_x unit="m/pixel">{2}</cart:pixel_resolution_x>
     <cart:pixel_resolution_y unit="m/pixel">{3}</cart:pixel_resolution_y>
    </cart:Coordinate_Representation></cart:Planar_Coordinate_Information>
    <cart:Geo_Transformation>
     <cart:upperleft_corner_x unit="m">{4}</cart:upperleft_corner_x>
     <cart:upperleft_corner_y unit="m">{5}</cart:upperleft_corner_y>
    </cart:Geo_Transformation>
   </cart:Planar>
   <cart:Geodetic_Model>
    <cart:latitude_type>Planetocentric</cart:latitude_type>
    <cart:a_axis_radius unit="m">1737400</cart:a_axis_radius>
    <cart:b_axis_radius unit="m">1737400</cart:b_axis_radius>
    <cart:c_axis_radius unit="m">1737400</cart:c_axis_radius>
    <cart:longitude_direction>Positive East</cart:longitude_direction>
   </cart:Geodetic_Model>
  </cart:Horizontal_Coordinate_System_Definition></cart:Spatial_Reference_Information>
 </cart:Cartography></Discipline_Area></Observation_Area>
 <File_Area_Observational>
  <File><file_name>{6}</file_name></File>
  <Array_2D_Image>
   <offset unit="byte">0</offset><axes>2</axes><axis_index_order>Last Index Fastest</axis_index_order>
   <Element_Array><data_type>{7}</data_type><unit>{8}</unit></Element_Array>
   <Axis_Array><axis_name>Line</axis_name><elements>{1}</elements><sequence_number>1</sequence_number></Axis_Array>
   <Axis_Array><axis_name>Sample</axis_name><elements>{0}</elements><sequence_number>2</sequence_number></Axis_Array>
  </Array_2D_Image>
 </File_Area_Observational>
</Product_Observational>
)",
      p.columns, p.rows, p.spacing.x(), p.spacing.y(), p.first.x() - 0.5 * p.spacing.x(), north, data, type,
      unit);
}

/// The label before its data, 32-bit floating point.
inline std::string isis3_cube(const Posts& p, bool big_endian) {
  const double north = p.first.y() + (p.rows - 0.5) * p.spacing.y();
  std::string label = fmt::format(
      "Object = IsisCube\n  Object = Core\n    StartByte = 2049\n    Format = BandSequential\n    Group = "
      "Dimensions\n"
      "      Samples = {}\n      Lines = {}\n      Bands = 1\n    End_Group\n    Group = Pixels\n      Type "
      "= Real\n"
      "      ByteOrder = {}\n      Base = 0.0\n      Multiplier = 1.0\n    End_Group\n  End_Object\n"
      "  Group = Mapping\n    ProjectionName = PolarStereographic\n    CenterLongitude = 0.0\n"
      "    CenterLatitude = 90.0\n    TargetName = Moon\n    EquatorialRadius = 1737400.0 <meters>\n"
      "    PolarRadius = 1737400.0 <meters>\n    LatitudeType = Planetocentric\n"
      "    LongitudeDirection = PositiveEast\n    LongitudeDomain = 180\n    PixelResolution = {} "
      "<meters/pixel>\n"
      "    UpperLeftCornerX = {} <meters>\n    UpperLeftCornerY = {} <meters>\n  "
      "End_Group\nEnd_Object\nEnd\n",
      p.columns, p.rows, big_endian ? "Msb" : "Lsb", p.spacing.x(), p.first.x() - 0.5 * p.spacing.x(), north);
  label.resize(2048, '\0');
  return label + raw(p, "float", big_endian);
}

/// CDF-1 ("NetCDF Classic Format Specification", Unidata): x and y with their units, then one variable for
/// each name, all alike, in rows from the north.
inline std::string netcdf_file(const Posts& p, const std::vector<std::string>& names,
                               const std::string& unit) {
  std::string out("CDF\x01", 4);
  const auto word = [&](double value) { put(out, "int", value, true); };
  const auto text = [&](const std::string& words) {
    word(static_cast<double>(words.size()));
    out += words + std::string((4 - words.size() % 4) % 4, '\0');
  };
  const auto attributes = [&](const std::vector<std::array<std::string, 2>>& all) {
    word(all.empty() ? 0 : 12);
    word(static_cast<double>(all.size()));
    for (const auto& [name, value] : all) text(name), word(2), text(value);
  };
  word(0);   // records
  word(10);  // dimensions
  word(2);
  text("y"), word(p.rows), text("x"), word(p.columns);
  attributes({});
  word(11);  // variables
  word(static_cast<double>(names.size() + 2));
  struct Start {
    std::size_t at, size;
  };
  std::vector<Start> starts;
  const auto variable = [&](const std::string& name, std::vector<int> dims, const std::string& its_unit,
                            int type, std::size_t size) {
    text(name);
    word(static_cast<double>(dims.size()));
    for (const int d : dims) word(d);
    std::vector<std::array<std::string, 2>> all{{"units", its_unit}};
    if (dims.size() == 1) all.push_back({"standard_name", "projection_" + name + "_coordinate"});
    if (its_unit.empty()) all.clear();
    attributes(all);
    word(type);
    word(static_cast<double>(size));
    starts.push_back({out.size(), size});
    word(0);
  };
  const auto columns = static_cast<std::size_t>(p.columns), rows = static_cast<std::size_t>(p.rows);
  variable("x", {1}, "m", 6, 8 * columns);
  variable("y", {0}, "m", 6, 8 * rows);
  for (const std::string& name : names) variable(name, {0, 1}, unit, 5, 4 * columns * rows);
  std::size_t at = out.size();
  for (const Start& start : starts) {
    std::string where;
    put(where, "int", static_cast<double>(at), true);
    out.replace(start.at, 4, where);
    at += start.size;
  }
  for (int i = 0; i < p.columns; ++i) put(out, "double", p.first.x() + i * p.spacing.x(), true);
  for (int j = 0; j < p.rows; ++j) put(out, "double", p.first.y() + (p.rows - 1 - j) * p.spacing.y(), true);
  for (std::size_t k = 0; k < names.size(); ++k) out += raw(p, "float", true);
  return out;
}

/// Grey PNG (ISO/IEC 15948) of 8 or 16 bits, in stored blocks; palette: colour type 3.
inline std::string png_file(const Posts& p, int bits, bool palette = false) {
  const auto crc = [](std::string_view bytes) {
    std::uint32_t c = 0xffffffffU;
    for (const char byte : bytes) {
      c ^= static_cast<unsigned char>(byte);
      for (int k = 0; k < 8; ++k) c = (c & 1U) != 0 ? 0xedb88320U ^ (c >> 1) : c >> 1;
    }
    return ~c;
  };
  std::string out("\x89PNG\r\n\x1a\n");
  const auto chunk = [&](const std::string& kind, const std::string& body) {
    put(out, "uint", static_cast<double>(body.size()), true);
    out += kind + body;
    put(out, "uint", crc(kind + body), true);
  };
  std::string head, pixels, packed("\x78\x01");
  put(head, "uint", p.columns, true);
  put(head, "uint", p.rows, true);
  for (const int byte : {bits, palette ? 3 : 0, 0, 0, 0}) head += static_cast<char>(byte);
  const std::string data = raw(p, bits == 8 ? "uchar" : "ushort", true);
  const std::size_t line = data.size() / static_cast<std::size_t>(p.rows);
  for (std::size_t at = 0; at < data.size(); at += line) pixels += '\0' + data.substr(at, line);
  std::uint32_t low = 1, high = 0;
  for (const char byte : pixels) {
    low = (low + static_cast<unsigned char>(byte)) % 65521;
    high = (high + low) % 65521;
  }
  const std::size_t most = 60000;
  for (std::size_t at = 0; at < pixels.size(); at += most) {
    const std::string piece = pixels.substr(at, most);
    packed += static_cast<char>(at + most >= pixels.size());
    put(packed, "ushort", static_cast<double>(piece.size()), false);
    put(packed, "ushort", 65535 - static_cast<double>(piece.size()), false);
    packed += piece;
  }
  put(packed, "uint", high * 65536.0 + low, true);
  chunk("IHDR", head);
  if (palette) chunk("PLTE", std::string(3 * 256, '\7'));
  chunk("IDAT", packed);
  chunk("IEND", "");
  return out;
}

}  // namespace made
