#pragma once
// Scenes of meshes made byte by byte: glTF 2.0 (Khronos), COLLADA 1.4.1 (Khronos), 3MF core (3MF Consortium)
// and X3D (ISO/IEC 19775); no more of each than its description asks for.
#include <fmt/format.h>

#include <array>
#include <string>
#include <vector>

#include "made_files.hpp"

namespace made {

/// Meshes in a buffer, and the JSON around them. `nodes` is the JSON of the list of nodes, of which the first
/// is the root.
struct Gltf {
  std::string bin, views, accessors, meshes, more;
  int count = 0;

  int add_accessor(const std::string& bytes, const std::string& rest) {
    const auto comma = [](std::string& list) { list += list.empty() ? "" : ","; };
    comma(views);
    views += fmt::format(R"({{"buffer":0,"byteOffset":{},"byteLength":{}}})", bin.size(), bytes.size());
    comma(accessors);
    accessors += fmt::format(R"({{"bufferView":{},{}}})", count, rest);
    bin += bytes;
    bin.resize((bin.size() + 3) / 4 * 4);
    return count++;
  }
  /// `mode`: 4 triangles, 1 lines (of which the corners of each triangle are then pairs).
  void add(const TriangleMesh& mesh, int mode = 4) {
    std::string positions, corners;
    rimstance::Vec3 lo = mesh.vertices[0], hi = lo;
    for (const rimstance::Vec3& p : mesh.vertices) {
      for (int k = 0; k < 3; ++k) put(positions, "float", p[k], false);
      lo = lo.cwiseMin(p);
      hi = hi.cwiseMax(p);
    }
    std::size_t n = 0;
    for (const auto& t : mesh.triangles)
      for (std::size_t k = 0; k < (mode == 1 ? 2U : 3U); ++k, ++n) put(corners, "uint", t[k], false);
    const auto single = [](double x) { return static_cast<double>(static_cast<float>(x)); };
    const int position = add_accessor(
        positions,
        fmt::format(R"("componentType":5126,"count":{},"type":"VEC3","min":[{},{},{}],"max":[{},{},{}])",
                    mesh.vertices.size(), single(lo.x()), single(lo.y()), single(lo.z()), single(hi.x()),
                    single(hi.y()), single(hi.z())));
    const int index =
        add_accessor(corners, fmt::format(R"("componentType":5125,"count":{},"type":"SCALAR")", n));
    meshes += meshes.empty() ? "" : ",";
    meshes += fmt::format(R"({{"primitives":[{{"attributes":{{"POSITION":{}}},"indices":{},"mode":{}}}]}})",
                          position, index, mode);
  }
  std::string json(const std::string& nodes, const std::string& uri = "") const {
    return fmt::format(R"({{"asset":{{"version":"2.0"}},{}"scene":0,"scenes":[{{"nodes":[0]}}],"nodes":[{}],)"
                       R"("meshes":[{}],"accessors":[{}],"bufferViews":[{}],)"
                       R"("buffers":[{{{}"byteLength":{}}}]}})",
                       more, nodes, meshes, accessors, views, uri.empty() ? "" : "\"uri\":\"" + uri + "\",",
                       bin.size());
  }
  std::string glb(const std::string& nodes) const {
    std::string text = json(nodes), out = "glTF";
    text.resize((text.size() + 3) / 4 * 4, ' ');
    for (const std::size_t n : {std::size_t{2}, 12 + 8 + text.size() + 8 + bin.size(), text.size()})
      put(out, "uint", static_cast<double>(n), false);
    out += "JSON" + text;
    put(out, "uint", static_cast<double>(bin.size()), false);
    return out + std::string("BIN\0", 4) + bin;
  }
};

inline std::string glb(const TriangleMesh& mesh, const std::string& nodes = R"({"mesh":0})") {
  Gltf scene;
  scene.add(mesh);
  return scene.glb(nodes);
}

/// `asset`: what stands in <asset> beside the dates; `transform`: what stands before the mesh in its node.
inline std::string dae(const TriangleMesh& mesh, const std::string& asset,
                       const std::string& transform = "") {
  std::string positions, corners;
  for (const rimstance::Vec3& p : mesh.vertices) positions += fmt::format("{} {} {} ", p.x(), p.y(), p.z());
  for (const auto& t : mesh.triangles) corners += fmt::format("{} {} {} ", t[0], t[1], t[2]);
  return fmt::format(
      R"(<?xml version="1.0" encoding="utf-8"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset>{}</asset>
<library_geometries><geometry id="g"><mesh><source id="p"><float_array id="a" count="{}">{}</float_array>
<technique_common><accessor source="#a" count="{}" stride="3"><param name="X" type="float"/>
<param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
<triangles count="{}"><input semantic="VERTEX" source="#v" offset="0"/><p>{}</p></triangles></mesh></geometry>
</library_geometries><library_visual_scenes><visual_scene id="s"><node id="n">{}<instance_geometry url="#g"/></node>
</visual_scene></library_visual_scenes><scene><instance_visual_scene url="#s"/></scene></COLLADA>
)",
      asset, 3 * mesh.vertices.size(), positions, mesh.vertices.size(), mesh.triangles.size(), corners,
      transform);
}

inline std::string x3d(const TriangleMesh& mesh) {
  std::string positions, corners;
  for (const rimstance::Vec3& p : mesh.vertices) positions += fmt::format("{} {} {} ", p.x(), p.y(), p.z());
  for (const auto& t : mesh.triangles) corners += fmt::format("{} {} {} -1 ", t[0], t[1], t[2]);
  return fmt::format(R"(<?xml version="1.0" encoding="UTF-8"?>
<X3D version="3.0" profile="Interchange"><Scene><Shape><IndexedFaceSet coordIndex="{}"><Coordinate point="{}"/>
</IndexedFaceSet></Shape></Scene></X3D>
)",
                     corners, positions);
}

/// CRC-32 of ISO 3309, bit by bit.
inline std::uint32_t crc32(std::string_view bytes) {
  std::uint32_t crc = 0xffffffff;
  for (const char c : bytes) {
    crc ^= static_cast<unsigned char>(c);
    for (int k = 0; k < 8; ++k) crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xedb88320U : 0U);
  }
  return ~crc;
}

/// A ZIP archive of stored (not packed) files.
inline std::string zip(const std::vector<std::pair<std::string, std::string>>& files) {
  std::string out, directory;
  const auto u16 = [](std::string& to, std::size_t v) { put(to, "ushort", static_cast<double>(v), false); };
  const auto u32 = [](std::string& to, std::size_t v) { put(to, "uint", static_cast<double>(v), false); };
  for (const auto& [name, bytes] : files) {
    std::string common;  // what both headers of a file hold
    for (const std::size_t v : {20, 0, 0, 0, 33}) u16(common, v);
    u32(common, crc32(bytes));
    u32(common, bytes.size());
    u32(common, bytes.size());
    u16(common, name.size());
    u16(common, 0);
    directory += "PK\1\2";
    u16(directory, 20);
    directory += common;
    for (int k = 0; k < 3; ++k) u16(directory, 0);
    u32(directory, 0);
    u32(directory, out.size());
    directory += name;
    out += "PK\3\4" + common + name + bytes;
  }
  const std::size_t start = out.size();
  out += directory + "PK\5\6";
  for (const std::size_t v : {std::size_t{0}, std::size_t{0}, files.size(), files.size()}) u16(out, v);
  u32(out, directory.size());
  u32(out, start);
  u16(out, 0);
  return out;
}

/// `unit`: the attribute, with its name; `item`: attributes of the mesh's place in the build.
inline std::string threemf(const TriangleMesh& mesh, const std::string& unit, const std::string& item = "") {
  std::string vertices, triangles;
  for (const rimstance::Vec3& p : mesh.vertices)
    vertices += fmt::format(R"(<vertex x="{}" y="{}" z="{}"/>)", p.x(), p.y(), p.z());
  for (const auto& t : mesh.triangles)
    triangles += fmt::format(R"(<triangle v1="{}" v2="{}" v3="{}"/>)", t[0], t[1], t[2]);
  const std::string model = fmt::format(
      R"(<?xml version="1.0" encoding="UTF-8"?>
<model {} xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" type="model">
<mesh><vertices>{}</vertices><triangles>{}</triangles></mesh></object></resources>
<build><item objectid="1" {}/></build></model>)",
      unit, vertices, triangles, item);
  const std::string types =
      R"(<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>)";
  const std::string relations =
      R"(<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship
Target="/3D/3dmodel.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>)";
  return zip({{"[Content_Types].xml", types}, {"_rels/.rels", relations}, {"3D/3dmodel.model", model}});
}

}  // namespace made
