// What a user reads when a terrain file is refused: where, what was found, what is allowed, what to do. Each
// row is one way to be wrong; the whole message is expected, so that none loses its place, its value or its
// way out.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include "terrain/reading.hpp"

using namespace rimstance;
using namespace reading;
using namespace std::string_literals;

namespace {

struct Refused {
  const char* file;
  std::string bytes;
  TerrainOptions options;
  std::string said;
};

/// Little-endian, as the machines are that run this.
template <class T>
std::string bytes_of(const std::vector<T>& values) {
  std::string out(values.size() * sizeof(T), '\0');
  std::memcpy(out.data(), values.data(), out.size());
  return out;
}

std::vector<Refused> refused() {
  const TerrainOptions nothing;
  TerrainOptions no_unit, few = kMetresZ, high = kMetresZ;
  no_unit.up = UpAxis::z;
  few.greatest_vertices = 2;
  high.hole_below = 5;
  return {
      // which reader
      {"a.ply", ""s, kMetresZ, "a.ply: is empty; get the file again"},
      {"a.ply", "lpy\n1 2"s, kMetresZ,
       "a.ply: is no PLY file: the first line is not \"ply\" but begins \"lpy\\x0A1 2\"; get the file again "
       "whole"},
      {"a.bin", "\x01\x02\"ab"s, kMetresZ,
       "a.bin: has a content that is not known (it begins \"\\x01\\x02\"ab\"); read are meshes (PLY, OBJ, "
       "STL, OFF, glTF, ...), grids (ESRI ASCII, GeoTIFF, ...) and points (LAS, x y z as text)"},
      {"a.zip", "PK\x03\x04...."s, kMetresZ,
       "a.zip: is a ZIP archive, which is not read as terrain; unpack it and give the terrain file in it"},
      {"a.gz", "\x1f\x8b...."s, kMetresZ,
       "a.gz: is a gzip file, which is not read as terrain; unpack it and give the terrain file in it"},
      {"a.txt", "\xff\xfev\n"s, kMetresZ,
       "a.txt: is UTF-16 text, which is not read as terrain; save it as UTF-8 text"},
      {"s.yaml", "rimstance: 1\n"s, kMetresZ,
       "s.yaml: is a scenario, not a terrain file; give it to `rimstance stand`; its ground is the file it "
       "names under terrain: file"},
      // text
      {"a.obj", "v 1,5 0 0\n"s, kMetresZ,
       "a.obj:1:3: x of a vertex is \"1,5\", written with a decimal comma; numbers have a decimal point; "
       "write \"1.5\""},
      {"a.obj", "v 1 0\n"s, kMetresZ,
       "a.obj:1:6: the line ends where z of a vertex is expected; complete the line"},
      {"a.obj", "v 1 0"s, kMetresZ,
       "a.obj:1:6: unexpected end of file: z of a vertex is missing; the file is cut; get it again whole"},
      {"a.obj", "v 1 nan 0\n"s, kMetresZ,
       "a.obj:1:5: y of a vertex is \"nan\", a finite number is expected; correct the value, or remove what "
       "uses it"},
      {"a.obj", "v 1 1e999 0\n"s, kMetresZ,
       "a.obj:1:5: y of a vertex is \"1e999\", a finite number is expected; correct the value, or remove "
       "what uses it"},
      {"a.off", "OFF\n3 1.5 0\n"s, kMetresZ,
       "a.off:2:3: the number of faces is \"1.5\", a whole number is expected; correct the file"},
      {"a.off", "OFF\n3 1 0 0\n"s, kMetresZ,
       "a.off:2:7: \"0\" stands after the three counts, where the line must end; remove it, or correct the "
       "line"},
      {"a.obj", "\xef\xbb\xbfv 0 0 0\r\nv 0 0x\r\n"s, kMetresZ,
       "a.obj:2:5: y of a vertex is \"0x\", a finite number is expected; correct the value, or remove what "
       "uses it"},
      // PLY header
      {"a.ply", "ply\nformat ascii 1.0\n"s, kMetresZ,
       "a.ply:3:1: unexpected end of file: the header has no end_header; get the file again whole"},
      {"a.ply", "ply\nfromat ascii 1.0\n"s, kMetresZ,
       "a.ply:2:1: \"fromat\" is not a statement of a PLY header; allowed are format, comment, obj_info, "
       "element, property and end_header"},
      {"a.ply", "ply x\n"s, kMetresZ,
       "a.ply:1:5: \"x\" stands after ply, where the line must end; remove it, or correct the line"},
      {"a.ply",
       "ply\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"s,
       kMetresZ, "a.ply:8:11: the header has no format statement; add format ascii 1.0, or its binary kind"},
      {"a.ply", "ply\nformat binary 1.0\n"s, kMetresZ,
       "a.ply:2:8: \"binary\" is not a PLY format; allowed are ascii, binary_little_endian and "
       "binary_big_endian"},
      {"a.ply", "ply\nformat ascii 2.0\n"s, kMetresZ,
       "a.ply:2:14: version \"2.0\" of PLY is not known, only 1.0 is; export as 1.0"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex -3\n"s, kMetresZ,
       "a.ply:3:9: the number of elements is -3, it cannot be negative; correct the header"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex\n"s, kMetresZ,
       "a.ply:3:15: the line ends where the number of elements is expected; complete the line"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex 3\nelement vertex 3\n"s, kMetresZ,
       "a.ply:4:9: element \"vertex\" is declared a second time; correct the header"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex 3\nproperty real x\n"s, kMetresZ,
       "a.ply:4:10: \"real\" is not a type of PLY; allowed are char, uchar, short, ushort, int, uint, float, "
       "double (int8 ... float64)"},
      {"a.ply", "ply\nformat ascii 1.0\nproperty float x\n"s, kMetresZ,
       "a.ply:3:9: a property stands before the first element; correct the header"},
      {"a.ply", "ply\nformat ascii 1.0\nelement face 1\nproperty list float int vertex_indices\n"s, kMetresZ,
       "a.ply:4:14: the length of a list has a floating-point type; lengths are whole numbers"},
      {"a.ply", "ply\nformat ascii 1.0\nelement face 1\nproperty list uchar float vertex_indices\n"s,
       kMetresZ,
       "a.ply:4:27: the corners of the faces have a floating-point type; indices are whole numbers"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex 3\nproperty float\n"s, kMetresZ,
       "a.ply:4:15: a property has no name; correct the header"},
      {"a.ply", "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float x\n"s, kMetresZ,
       "a.ply:5:16: property \"x\" is declared a second time; correct the header"},
      {"a.ply",
       "ply\r\nformat binary_little_endian 1.0\r\nelement vertex 3\r\nproperty float x\r\nproperty float y\r\nproperty float z\r\nelement face 1\r\nproperty list uchar int vertex_indices\r\nend_header\nabc"s,
       kMetresZ,
       "a.ply:9:11: end_header is not followed by the same end-of-line as the first line; the file was "
       "changed on its way (text mode transfer?); get it again unchanged"},
      // PLY elements
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float w\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"s,
       kMetresZ, "a.ply: the vertices have no property z; vertices need x, y and z"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n3 0 1 2\n"s,
       kMetresZ, "a.ply: holds no vertices; export the mesh again"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n1 0 0\n0 1 0\n"s,
       kMetresZ,
       "a.ply: terrain.longest_edge: holds 3 vertices but no faces: a cloud of points, not a mesh; state "
       "terrain.longest_edge, the longest side of a facet that is ground, to triangulate them; or give a "
       "mesh"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"s,
       kMetresZ,
       "a.ply: holds 3 vertices but no faces (triangle strips are not read); export the mesh with a face "
       "element"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty float quality\nend_header\n0 0 0\n1 0 0\n0 1 0\n1\n"s,
       kMetresZ, "a.ply: the faces have no list vertex_indices (or vertex_index); export the mesh again"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 9\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n"s,
       kMetresZ,
       "a.ply: expected 9 vertices, found fewer: 54 bytes or more are needed, 19 are left; the file ends "
       "in vertex 4 of 9; the header or the data are wrong; get the file again whole"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement marks 2\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n"s,
       kMetresZ, "a.ply: element \"marks\" has no properties; correct the header"},
      // PLY, text
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n\n\n\n\n\n\n\n\n\n\n"s,
       kMetresZ,
       "a.ply:23:1: unexpected end of file: expected 1 face, found 0; the file is cut; get it again whole"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n7 7\n"s,
       kMetresZ,
       "a.ply:14:1: \"7\" stands after the last element; the counts in the header do not match the content; "
       "correct them"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2 9\n"s,
       kMetresZ,
       "a.ply:13:9: \"9\" stands after the last property, where the line must end; remove it, or correct the "
       "line"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nproperty float w\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0 1\n1 0 0\n0 1 0 1\n3 0 1 2\n"s,
       kMetresZ,
       "a.ply: expected 1 face, found fewer: 8 bytes or more are needed, 7 are left; the file ends in "
       "face 1 of 1; the header or the data are wrong; get the file again whole"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n2 0 1            \n"s,
       kMetresZ, "a.ply:13:1: a list has the length 2, at least 3 is needed; correct the line"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement mark 1\nproperty list uchar float w\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n-1\n3 0 1 2\n"s,
       kMetresZ, "a.ply:15:1: a list has the length -1, at least 0 is needed; correct the line"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement mark 1\nproperty list uchar float w\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n2 7\n3 0 1 2\n"s,
       kMetresZ, "a.ply:15:4: the line ends inside a list; complete the line"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n"s,
       kMetresZ, "a.ply:13:7: a face refers to vertex 3, allowed are 0 to 2; correct the index"},
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0,5 0\n0 1 0\n3 0 1 2\n"s,
       kMetresZ,
       "a.ply:11:3: y of a vertex is \"0,5\", written with a decimal comma; numbers have a decimal point; "
       "write \"0.5\""},
      // PLY, binary
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, NAN}) + "\3" + bytes_of<int>({0, 1, 2}),
       kMetresZ,
       "a.ply: vertex 3 of 3 (byte 201): z is nan, a finite number is expected; remove the vertex and its "
       "faces, or export the mesh again"},
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, 0}) + "\3" + bytes_of<int>({0, 1, 2}) + "xy",
       kMetresZ,
       "a.ply: 2 bytes are left after the last element (byte 218); the header does not match the data, or "
       "the file was changed on its way; get it again"},
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, 0}) + "\4" + bytes_of<int>({0, 1, 2}),
       kMetresZ,
       "a.ply: the file ends in face 1 of 1: 16 bytes are needed there, 12 are left; the file is cut; get it "
       "again whole"},
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, 0}) + "\2" + bytes_of<int>({0, 1, 2}),
       kMetresZ,
       "a.ply: face 1 of 1 (byte 206): a face has 2 corners, at least 3 are needed; correct the file, or "
       "export it again"},
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, 0}) + "\3" + bytes_of<int>({0, 1, 3}),
       kMetresZ,
       "a.ply: face 1 of 1 (byte 214): refers to vertex 3, allowed are 0 to 2; correct the file, or export "
       "it again"},
      {"a.ply",
       "ply\nformat binary_little_endian 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty "
       "float z\nelement face 1\nproperty list char int vertex_indices\nend_header\n" +
           bytes_of<float>({0, 0, 0, 1, 0, 0, 0, 1, 0}) + "\xff" + bytes_of<int>({0, 1, 2}),
       kMetresZ,
       "a.ply: face 1 of 1 (byte 204): a list has the length -1; correct the file, or export it again"},
      // OBJ
      {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n"s, kMetresZ,
       "a.obj: holds 3 vertices but no face; the ground needs triangles; triangulate the points first"},
      {"a.obj", "v 0 0 0\nfaces 1 2 3\n"s, kMetresZ,
       "a.obj:2:1: \"faces\" is not a statement of an OBJ file (v, f, vt, vn, g, o, s ...); correct the "
       "line, or remove it if it says nothing about the shape"},
      {"a.obj", "v 0 0 0\ncurv 0 1 1 2\n"s, kMetresZ,
       "a.obj:2:1: \"curv\" belongs to a free-form surface, which is not read; export the surface as "
       "triangles"},
      {"a.obj", "v 0 0 0 1 1\n"s, kMetresZ,
       "a.obj:1:8: a vertex has 3 coordinates, then possibly a weight and three colour values; correct the "
       "line"},
      {"a.obj", "v 0 0 0 0.5\n"s, kMetresZ,
       "a.obj:1:8: a vertex has a weight other than 1: rational surfaces are not read; export the surface as "
       "triangles"},
      {"a.obj", "v 0 0 0\nf 1 2\n"s, kMetresZ,
       "a.obj:2:2: a face has 2 corners, at least 3 are needed; correct the line, or remove it"},
      {"a.obj", "v 0 0 0\nf 1 2,3 3\n"s, kMetresZ,
       "a.obj:2:5: \"2,3\" is not a corner of a face; corners are written v, v/vt, v//vn or v/vt/vn with "
       "whole numbers"},
      {"a.obj", "v 0 0 0\nf 0 1 2\n"s, kMetresZ,
       "a.obj:2:3: a face refers to vertex 0; vertices are numbered from 1; correct the index"},
      {"a.obj", "v 0 0 0\nf -2 1 1\n"s, kMetresZ,
       "a.obj:2:3: a face refers to vertex -2 counted back, only 1 were read so far; correct the index"},
      {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n"s, kMetresZ,
       "a.obj:4:7: a face refers to vertex 4, the file has 3; correct the index; if the file was cut, get it "
       "again whole"},
      {"a.obj", "v 0 0 0\nf 1 2 4294967296\n"s, kMetresZ,
       "a.obj:2:7: a face refers to vertex 4294967296, the file has 1; correct the index; if the file was "
       "cut, get it again whole"},
      // STL
      {"a.stl", "abc"s, kMetresZ,
       "a.stl: is no STL file: text would start with \"solid\", a binary file has at least 84 bytes and this "
       "one 3; get the file again whole"},
      {"a.stl", std::string(80, ' ') + bytes_of<int>({9}) + "abcdef", kMetresZ,
       "a.stl: the STL header announces 9 triangles, which need 534 bytes; the file has 90, enough for 0 "
       "triangles (and it is not STL text); get the file again whole, or export it again"},
      {"a.stl", "solid a\nendsolid a\n"s, kMetresZ, "a.stl: holds no triangle; export the mesh again"},
      {"a.stl",
       "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"s,
       kMetresZ,
       "a.stl:9:1: unexpected end of file after 1 triangle: endsolid is missing; the file is cut; get it "
       "again whole"},
      {"a.stl",
       "solid a\nfacet normal 0 0 1\ninner loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"s,
       kMetresZ,
       "a.stl:3:1: \"inner\" stands where \"outer\" is expected; correct the file, or export it again"},
      {"a.stl",
       "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 x 0\nvertex 0 1 0\nendloop\nendfacet\n"s,
       kMetresZ,
       "a.stl:5:10: y of a corner is \"x\", a finite number is expected; correct the value, or remove what "
       "uses it"},
      {"a.stl",
       std::string(80, ' ') + bytes_of<int>({1}) + bytes_of<float>({0, 0, 1, 0, 0, 0, 1, 0, 0, 0, NAN, 0}) +
           "\1\1",
       kMetresZ,
       "a.stl: corner 3 of triangle 1 (byte 120) is (0, nan, 0), which is not finite; remove the triangle, "
       "or export the mesh again"},
      // OFF
      {"a.off", "4OFF\n"s, kMetresZ,
       "a.off:1:1: \"4OFF\" is not a keyword of an OFF file that is read (OFF, COFF, NOFF, STOFF, CNOFF); "
       "export the mesh as plain OFF with three coordinates"},
      {"a.off", "OFF BINARY\n"s, kMetresZ,
       "a.off:1:5: binary OFF files are not read; export the mesh as text, or as PLY"},
      {"a.off", "OFF\n3\n"s, kMetresZ,
       "a.off:3:1: unexpected end of file: the number of faces is missing; get the file again whole"},
      {"a.off", "OFF\n-3 1 0\n"s, kMetresZ,
       "a.off:2:1: the number of vertices is -3, it cannot be negative; correct it"},
      {"a.off", "OFF\n3 9 0\n0 0 0\n1 0 0\n0 1 0\n"s, kMetresZ,
       "a.off:2:1: expected 3 vertices and 9 faces, found only 19 bytes after the counts; the counts or the "
       "file are wrong; get the file again whole"},
      {"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n\n\n\n\n\n\n\n\n"s, kMetresZ,
       "a.off:14:1: unexpected end of file: expected 1 face, found 0; the file is cut; get it again whole"},
      {"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n2 0 1     \n"s, kMetresZ,
       "a.off:6:1: a face has 2 corners, at least 3 are needed; correct the face"},
      {"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n"s, kMetresZ,
       "a.off:6:1: a face refers to vertex 3, allowed are 0 to 2; correct the index"},
      {"a.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 2\n"s, kMetresZ,
       "a.off:7:1: \"3\" stands after the last of 1 face; the counts at the top do not match the content; "
       "correct them"},
      {"a.off", "OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n"s, kMetresZ,
       "a.off: holds 3 vertices but no face; the ground needs triangles; triangulate the points first"},
      // ESRI ASCII grid
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nno_data 7\n1 2\n3 4\n"s, kMetresZ,
       "a.asc:6:1: \"no_data\" is not a key of an ESRI ASCII grid (ncols, nrows, xllcorner or xllcenter, "
       "yllcorner or yllcenter, cellsize or dx and dy, nodata_value); correct the header"},
      {"a.asc", "ncols 2\nNCOLS 2\n"s, kMetresZ,
       "a.asc:2:1: ncols is given a second time; remove one of them"},
      {"a.asc", "nrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header lacks ncols; add it; the keys are ncols, nrows, xllcorner or xllcenter, yllcorner "
       "or yllcenter, cellsize or dx and dy, nodata_value"},
      {"a.asc", "ncols 1.5\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: ncols is 1.5, a whole number from 2 on is expected; correct the header"},
      {"a.asc", "ncols 2\nnrows 2\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header has neither of xllcorner and xllcenter, exactly one is needed; add the one that "
       "applies"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nyllcenter 0\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header has both of yllcorner and yllcenter, exactly one is needed; remove one of them"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\ndx 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header has both of cellsize and dx, exactly one is needed; remove one of them"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header has neither of cellsize and dx, exactly one is needed; add cellsize, or dx and dy"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 0\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: cellsize is 0, it must be greater than 0; correct the header"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 0,5\n1 2\n3 4\n"s, kMetresZ,
       "a.asc:5:10: cellsize is \"0,5\", written with a decimal comma; numbers have a decimal point; write "
       "\"0.5\""},
      {"a.asc", "ncols 2\nnrows 200\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the header announces 2 x 200 = 400 values, only 8 bytes follow it; the counts or the file are "
       "wrong; get the file again whole"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3\n"s, kMetresZ,
       "a.asc:7:1: the row that starts here has 1 of 2 values (3 of 4 in the file so far); a value is "
       "missing or one too many; correct the row, or get the file again whole"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3\n4\n"s, kMetresZ,
       "a.asc:6:1: the row that starts here has 3 of 2 values (3 of 4 in the file so far); a value is "
       "missing or one too many; correct the row, or get the file again whole"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n5\n"s, kMetresZ,
       "a.asc:8:1: \"5\" stands after the last of 2 x 2 = 4 values; the counts in the header do not match "
       "the content; correct them"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4,5\n"s, kMetresZ,
       "a.asc:7:3: a height is \"4,5\", written with a decimal comma; numbers have a decimal point; write "
       "\"4.5\""},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3 4 5\n"s, kMetresZ,
       "a.asc:6:9: \"5\" stands after the last of 2 x 2 = 4 values; the counts in the header do not match "
       "the content; correct them"},
      // what every format shares
      {"a.ply",
       "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"s,
       few,
       "a.ply: holds 3 vertices, at most 2 are allowed; cut out the part that matters, or thin it (the limit "
       "is TerrainOptions::greatest_vertices)"},
      {"a.obj", "v 0 0 0\nv 4 0 0\nv 0 4 1\nf 1 2 3\n"s, few,
       "a.obj: holds 3 vertices, at most 2 are allowed; cut out the part that matters, or thin it (the limit "
       "is TerrainOptions::greatest_vertices)"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, few,
       "a.asc: holds 4 vertices, at most 2 are allowed; cut out the part that matters, or thin it (the limit "
       "is TerrainOptions::greatest_vertices)"},
      {"a.obj", "v 0 0 0\nv 4 0 0\nv 0 4 1\nf 1 2 3\n"s, nothing,
       "a.obj: terrain.up: the up axis of the mesh is not stated; half of the surface is flatter than 90.00 "
       "deg with x up, 75.96 deg with y up, 14.04 deg with z up; state terrain.up; z looks right\n"
       "a.obj: terrain.unit: the unit of the file is not stated; the content spans 4 x 4 x 1 of it; state "
       "terrain.unit, for instance m, ft or mm"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, no_unit,
       "a.asc: terrain.unit: the unit of the file is not stated; the content spans 1 x 1 x 3 of it; state "
       "terrain.unit, for instance m, ft or mm"},
      {"a.obj", "v 0 0 0\nv 4 0 0\nv 0 1 4\nf 1 2 3\n"s, kMetresZ,
       "a.obj: terrain.up: half of the surface is steeper than 75.96 deg, ground is not (at most 60 deg); it "
       "would be 90.00 deg with x up, 14.04 deg with y up, 75.96 deg with z up; the up axis looks wrong: "
       "state terrain.up: y; if z is up and more wall than ground was mapped, state terrain.mostly_wall: "
       "true"},
      {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\nf 1 3 4\nf 1 4 2\n"s, kMetresZ,
       "a.obj: terrain.up: half of the surface is steeper than 90.00 deg, ground is not (at most 60 deg); it "
       "would be 90.00 deg with x up, 90.00 deg with y up, 90.00 deg with z up; no up axis makes this a "
       "ground; check the file, give more of the ground round its walls, or state terrain.mostly_wall: true"},
      {"a.obj", "v 0 0 0\nv 4 0 0\nv 8 0 0\nf 1 2 3\n"s, kMetresZ,
       "a.obj: no triangle has an area; export the mesh again with more digits"},
      {"a.obj", "v 0 0 0\nv 2e9 0 0\nv 0 4 1\nf 1 2 3\n"s, kMetresZ,
       "a.obj: vertices lie up to (2e+09, 4, 1) m from zero, which is no place on ground; check "
       "terrain.unit, or state terrain.hole_below if the heights mark missing data"},
      {"a.obj", "v 0 0 -32767\nv 4 0 0\nv 0 4 1\nf 1 2 3\n"s, kMetresZ,
       "a.obj: triangle 1 near (0, 0) reaches from height -32767 to 1 m, which looks like a mark of missing "
       "data or a wrong unit; state terrain.hole_below, or check terrain.unit and terrain.up"},
      {"a.obj", "v 0 0 2e5\nv 4 0 2e5\nv 0 4 2e5\nf 1 2 3\n"s, kMetresZ,
       "a.obj: heights reach from 200000 to 200000 m, more than 100 km from zero; check terrain.unit and "
       "terrain.up, or state terrain.hole_below if they mark missing data"},
      {"a.obj", "v 0 0 0\nv 4 0 0\nv 0 4 1\nf 1 2 3\n"s, high,
       "a.obj: terrain.hole_below: every triangle reaches below 5 m; state a lower height"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nnodata_value -1\n-1 -1\n-1 -1\n"s,
       kMetresZ, "a.asc: every cell is without data; check NODATA_value and terrain.hole_below"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 2e5\n"s, kMetresZ,
       "a.asc: 1 cell lies more than 100 km from zero and looks like missing data: row 2, column 2 (line 7); "
       "declare the value as missing data in the file (NODATA_value of an ASCII grid, gdal_translate "
       "-a_nodata for others), or state terrain.hole_below"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 -9999\n"s, kMetresZ,
       "a.asc: 1 cell near the value -9999 m lies 10002 m from its neighbours and looks like missing data: "
       "row 2, column 2 (line 7); declare the value as missing data in the file (NODATA_value of an ASCII "
       "grid, gdal_translate -a_nodata for others), or state terrain.hole_below"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 0.0002777777777778\n1 2\n3 4\n"s,
       kMetresZ,
       "a.asc: the cell size 0.0002777777777778 looks like degrees: the posts span 0.000277778 x 0.000277778 "
       "units around (0.000138889, 0.000138889), the heights 3; project the grid to metres first; longitude "
       "and latitude are not lengths"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n0 5\n10 15\n"s, kMetresZ,
       "a.asc: terrain.unit: half of the surface is steeper than 84.89 deg, ground is not (at most 60 deg); "
       "check terrain.unit and the cell size: posts and heights must be in one unit, not degrees"},
      {"a.asc", "ncols 2\nnrows 2\nxllcorner 3e9\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"s, kMetresZ,
       "a.asc: the posts lie more than 1e9 m from the origin; check the header and terrain.unit"},
  };
}

}  // namespace

TEST_CASE("terrain messages: each says where, what was found, what is allowed and what to do") {
  for (const Refused& row : refused()) {
    INFO(row.file << ": " << row.bytes.substr(0, 200));
    CHECK(refusal(row.bytes, row.file, row.options) == row.said);
  }
}

TEST_CASE("terrain messages: every one has a way out and names its file") {
  for (const Refused& row : refused()) {
    INFO(row.said);
    try {
      (void)load_terrain_bytes(row.bytes, row.file, row.options);
      FAIL("accepted");
    } catch (const InputError& error) {
      for (const Issue& issue : error.issues) {
        CHECK(issue.place.file == row.file);
        CHECK_FALSE(issue.what.empty());
        CHECK_FALSE(issue.way_out.empty());
      }
    }
  }
}
