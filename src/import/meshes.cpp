#include "meshes.hpp"

#include <assimp/DefaultIOSystem.h>
#include <assimp/commonMetaData.h>
#include <assimp/importerdesc.h>
#include <assimp/mesh.h>
#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <fmt/format.h>

#include <algorithm>
#include <assimp/Importer.hpp>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <new>
#include <string_view>
#include <utility>

#include "package.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/base/words.hpp"

namespace rimstance {

namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const ImportRequest& request, std::string what, std::string way_out) {
  throw InputError(Place{request.path, 0, 0, {}}, std::move(what), std::move(way_out));
}

std::string lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + 32);
  return text;
}

// ---------------------------------------------------------------- files that a mesh may name

/// The mesh file itself and ordinary files beside it; of what else the file names, the first is kept for the
/// message.
class Folder : public Assimp::DefaultIOSystem {
 public:
  explicit Folder(const std::string& file) : file_(file) {}

  bool Exists(const char* name) const override { return allowed(name); }
  Assimp::IOStream* Open(const char* name, const char* mode) override {
    const bool reads = mode != nullptr && mode[0] == 'r';
    if (reads && allowed(name)) return DefaultIOSystem::Open(name, mode);
    if (refused_.empty()) refused_ = name;
    return nullptr;
  }
  const std::string& refused() const { return refused_; }

 private:
  bool allowed(const char* name) const {
    std::error_code error;
    const fs::path path(name);
    if (path == fs::path(file_)) return true;
    const auto folder = [](const fs::path& p) { return (p.parent_path() / "").lexically_normal(); };
    const bool beside = path.parent_path() == "." || path.parent_path().empty()
                            ? fs::path(file_).parent_path().empty()
                            : folder(path) == folder(file_);
    if (!beside || path.filename() == "..") return false;
    // Not through a link either, which may lead anywhere.
    return fs::symlink_status(path, error).type() == fs::file_type::regular;
  }

  std::string file_, refused_;
};

// ---------------------------------------------------------------- glTF, before Assimp sees it

std::uint32_t little_endian(std::string_view bytes, std::size_t at) {
  std::uint32_t value = 0;
  std::memcpy(&value, bytes.data() + at, sizeof value);
  return value;
}

/// The JSON of a glTF file. A binary one must be as long as it says, and so must each of its chunks.
std::string_view gltf_json(std::string_view bytes, const ImportRequest& request) {
  if (!bytes.starts_with("glTF")) return bytes;
  constexpr const char* kAgain = "get the file again whole";
  if (bytes.size() < 20)
    refuse(request, fmt::format("ends in its header, after {}", counted(bytes.size(), "byte")), kAgain);
  const std::uint32_t version = little_endian(bytes, 4), length = little_endian(bytes, 8);
  if (version != 2)
    refuse(request, fmt::format("is binary glTF of version {}; version 2 is read", version),
           "export it again as glTF 2");
  if (length != bytes.size())
    refuse(request, fmt::format("has {} bytes, but says that it has {}", bytes.size(), length), kAgain);
  std::string_view json;
  for (std::size_t at = 12; at < bytes.size();) {
    if (bytes.size() - at < 8 || little_endian(bytes, at) > bytes.size() - at - 8)
      refuse(request, fmt::format("the part at byte {} reaches beyond the end of the file", at), kAgain);
    const std::uint32_t size = little_endian(bytes, at);
    if (at == 12) json = bytes.substr(at + 8, size);
    at += 8 + std::size_t{size};
  }
  return json;
}

/// The texts of the list behind "extensionsRequired"; names of extensions hold no quotes or brackets.
std::vector<std::string> required_extensions(std::string_view json) {
  std::vector<std::string> names;
  constexpr std::string_view kKey = "\"extensionsRequired\"";
  const std::size_t key = json.find(kKey);
  if (key == std::string_view::npos) return names;
  const std::size_t open = json.find('[', key), close = json.find(']', key);
  if (open == std::string_view::npos || close == std::string_view::npos || close < open) return names;
  std::string_view list = json.substr(open + 1, close - open - 1);
  for (;;) {
    const std::size_t start = list.find('"');
    if (start == std::string_view::npos) return names;
    const std::size_t end = list.find('"', start + 1);
    if (end == std::string_view::npos) return names;
    names.emplace_back(list.substr(start + 1, end - start - 1));
    list.remove_prefix(end + 1);
  }
}

/// Extensions that say how a surface looks say nothing about where it is; of others the vertices would be
/// wrong.
void check_extensions(std::string_view json, const ImportRequest& request) {
  for (const std::string& name : required_extensions(json)) {
    if (name.starts_with("KHR_materials_") || name.starts_with("KHR_texture_") ||
        name.starts_with("KHR_lights_") || name.starts_with("EXT_texture_"))
      continue;
    const bool packed = name == "KHR_draco_mesh_compression" || name == "EXT_meshopt_compression" ||
                        name == "KHR_meshopt_compression";
    refuse(request,
           packed ? fmt::format("is compressed by {}, which is not read", name)
                  : fmt::format("cannot be understood without {}, which is not read", name),
           packed ? "export it again without compression" : "export it again without this extension");
  }
}

// ---------------------------------------------------------------- from the scene to one mesh

/// Upper three rows of a node's place in the scene.
struct Transform {
  Mat3 linear = Mat3::Identity();
  Vec3 shift = Vec3::Zero();
  Transform then_inside(const aiMatrix4x4& m) const {
    Transform own;
    own.linear << m.a1, m.a2, m.a3, m.b1, m.b2, m.b3, m.c1, m.c2, m.c3;
    own.shift = Vec3(m.a4, m.b4, m.c4);
    return {linear * own.linear, linear * own.shift + shift};
  }
};

/// Distance between neighbouring single-precision numbers at `size`.
double single_step(double size) {
  return size > 0 ? std::ldexp(1.0, std::max(std::ilogb(size), -126) - 23) : 0.0;
}

class Gatherer {
 public:
  Gatherer(const aiScene& scene, const ImportRequest& request) : scene_(scene), request_(request) {}

  ImportedMesh gather() {
    std::vector<std::pair<const aiNode*, Transform>> left{{scene_.mRootNode, Transform{}}};
    while (!left.empty()) {
      const auto [node, parent] = left.back();
      left.pop_back();
      const Transform own = parent.then_inside(node->mTransformation);
      step_ = std::max(step_, own_step(node->mTransformation, parent));
      for (unsigned i = 0; i < node->mNumMeshes; ++i) add(*scene_.mMeshes[node->mMeshes[i]], own);
      for (unsigned i = node->mNumChildren; i > 0; --i) left.emplace_back(node->mChildren[i - 1], own);
    }
    if (out_.triangles.empty()) refuse_empty();
    return std::move(out_);
  }

  /// Sentences about what was gathered; `unit` in metres or NaN.
  std::vector<std::string> notes(double unit) const {
    std::vector<std::string> notes;
    if (lines_ + points_ > 0)
      notes.push_back(fmt::format("{} and {}, which are no surface, were left out", counted(lines_, "line"),
                                  counted(points_, "point")));
    if (shown_ > 1) notes.push_back(fmt::format("{} meshes of the file were put together", shown_));
    if (mirrored_ > 0)
      notes.push_back(counted(mirrored_, "mesh is shown mirrored; its triangles were turned over",
                              "meshes are shown mirrored; their triangles were turned over"));
    if (moving_) notes.push_back("the file moves its vertices by bones or targets; they were taken at rest");
    const double step = std::isnan(unit) ? step_ : step_ * unit;
    if (step > 1e-3)
      notes.push_back(
          fmt::format("coordinates are held in single precision and are so large that they lie {:.3g} "
                      "{} apart; export the mesh with an origin near it",
                      step, std::isnan(unit) ? "of the file's unit" : "m"));
    return notes;
  }

 private:
  static double own_step(const aiMatrix4x4& m, const Transform& parent) {
    const double shift = std::max({std::abs(m.a4), std::abs(m.b4), std::abs(m.c4)});
    return single_step(shift) * parent.linear.colwise().norm().maxCoeff();
  }

  void add(const aiMesh& mesh, const Transform& transform) {
    std::uint64_t triangles = 0;
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) triangles += mesh.mFaces[f].mNumIndices == 3 ? 1 : 0;
    moving_ = moving_ || mesh.mNumBones > 0 || mesh.mNumAnimMeshes > 0;
    if (triangles == 0 && mesh.mNumFaces == 0) points_ += mesh.mNumVertices;
    if (triangles > 0) add_vertices(mesh, transform);
    const bool mirrored = transform.linear.determinant() < 0;
    mirrored_ += mirrored && triangles > 0 ? 1 : 0;
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) add_face(mesh.mFaces[f], mirrored);
    first_ = static_cast<std::uint32_t>(out_.vertices.size());
  }

  void add_vertices(const aiMesh& mesh, const Transform& transform) {
    const std::uint64_t all = out_.vertices.size() + std::uint64_t{mesh.mNumVertices};
    if (all > request_.greatest_vertices || all > 0x7fffffff)
      refuse(request_,
             fmt::format("shows more than {}, of which {} are allowed",
                         counted(out_.vertices.size(), "vertex", "vertices"), request_.greatest_vertices),
             "give a smaller piece of it");
    ++shown_;
    double largest = 0;
    for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
      const aiVector3D& p = mesh.mVertices[v];
      const Vec3 own(p.x, p.y, p.z);
      const Vec3 placed = transform.linear * own + transform.shift;
      if (!placed.allFinite())
        refuse(request_, fmt::format("vertex {} of mesh \"{}\" is not finite", v + 1, mesh.mName.C_Str()),
               "export the mesh again");
      largest = std::max(largest, own.cwiseAbs().maxCoeff());
      out_.vertices.push_back(placed);
    }
    step_ = std::max(step_, single_step(largest) * transform.linear.colwise().norm().maxCoeff());
  }

  void add_face(const aiFace& face, bool mirrored) {
    if (face.mNumIndices == 1) ++points_;
    if (face.mNumIndices == 2) ++lines_;
    if (face.mNumIndices != 3) return;
    std::array<std::uint32_t, 3> t{};
    for (unsigned k = 0; k < 3; ++k) {
      if (face.mIndices[k] >= out_.vertices.size() - first_)
        refuse(request_,
               fmt::format("a triangle names vertex {}, which its mesh does not have",
                           std::uint64_t{face.mIndices[k]} + 1),
               "export the mesh again");
      t[k] = first_ + face.mIndices[k];
    }
    if (mirrored) std::swap(t[1], t[2]);
    out_.triangles.push_back(t);
  }

  [[noreturn]] void refuse_empty() const {
    refuse(request_,
           lines_ + points_ > 0 ? fmt::format("holds no triangle, only {} and {}", counted(lines_, "line"),
                                              counted(points_, "point"))
                                : std::string("holds no triangle"),
           "export a surface of triangles; points are read from LAS and XYZ");
  }

  const aiScene& scene_;
  const ImportRequest& request_;
  ImportedMesh out_;
  std::uint32_t first_ = 0;  ///< number of the mesh's first vertex
  std::uint64_t lines_ = 0, points_ = 0, shown_ = 0, mirrored_ = 0;
  bool moving_ = false;
  double step_ = 0;  ///< greatest rounding of a coordinate [file unit]
};

// ---------------------------------------------------------------- which format

std::string text_of(const aiMetadata* data, const char* key) {
  aiString text;
  return data != nullptr && data->Get(key, text) ? std::string(text.C_Str()) : std::string();
}

/// What the format says of itself: its name, and where its standard or the file fixes them, up and unit.
void describe(const Assimp::Importer& importer, const aiScene& scene, const std::string& extension,
              std::string_view bytes, const std::string& file, ImportedMesh& mesh) {
  const std::string version = text_of(scene.mMetaData, AI_METADATA_SOURCE_FORMAT_VERSION);
  const auto with_version = [&](const char* name) {
    return version.empty() ? std::string(name) : fmt::format("{} {}", name, version);
  };
  if (extension == "gltf" || extension == "glb" || bytes.starts_with("glTF")) {
    mesh.format = with_version("glTF") + (bytes.starts_with("glTF") ? " (binary)" : "");
    mesh.up = 1;  // "glTF defines +Y as up", "the units for all linear distances are meters" (glTF 2.0, 3.4)
    mesh.unit = 1;
  } else if (extension == "dae") {
    mesh.format = with_version("COLLADA");
    // <up_axis> and <unit> of the file are in the transform of the scene's root by now.
    mesh.up = 1;
    mesh.unit = 1;
  } else if (extension == "3mf") {
    mesh.format = "3MF";
    mesh.up = 2;  // "the coordinate system is right-handed", z up from the build plate (3MF core, 2.1)
    mesh.unit = unit_of_3mf(bytes, file);
  } else {
    const int index = importer.GetPropertyInteger("importerIndex", -1);
    const aiImporterDesc* const description =
        index < 0 ? nullptr : importer.GetImporterInfo(static_cast<std::size_t>(index));
    mesh.format = description != nullptr ? description->mName : extension;
  }
}

[[noreturn]] void refuse_unread(const ImportRequest& request, const std::string& why, const Folder& folder) {
  if (why.find("bad_alloc") != std::string::npos) throw std::bad_alloc();
  if (!folder.refused().empty())
    refuse(request,
           fmt::format("needs the file \"{}\", which is not an ordinary file in the same folder",
                       folder.refused()),
           "put all files of the mesh into one folder, or export it as one file (GLB)");
  refuse(request,
         why.empty() ? std::string("cannot be read") : fmt::format("cannot be read: {}", without_stop(why)),
         "get the file again whole, or export it again as GLB or PLY");
}

}  // namespace

ImportedMesh read_mesh(const ImportRequest& request) {
  const FileBytes file(request.path);
  std::string extension = lower(fs::path(request.path).extension().string());
  if (!extension.empty()) extension.erase(0, 1);
  if (file.text().starts_with("glTF") || extension == "gltf" || extension == "glb")
    check_extensions(gltf_json(file.text(), request), request);
  else if (extension == "3mf")
    (void)unit_of_3mf(file.text(),
                      request.path);  // of a damaged archive Assimp says only that it fails to open it

  Assimp::Importer importer;
  auto* const folder = new Folder(request.path);  // the importer's from here on
  importer.SetIOHandler(folder);
  const aiScene* const scene =
      importer.ReadFile(request.path, aiProcess_Triangulate | aiProcess_ValidateDataStructure);
  if (scene == nullptr || scene->mRootNode == nullptr)
    refuse_unread(request, importer.GetErrorString(), *folder);
  Gatherer gatherer(*scene, request);
  ImportedMesh mesh = gatherer.gather();
  describe(importer, *scene, extension, file.text(), request.path, mesh);
  mesh.notes = gatherer.notes(mesh.unit.value_or(kUnset));
  return mesh;
}

}  // namespace rimstance
