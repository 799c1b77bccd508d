#include "import_program.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <thread>

#include "made_rasters.hpp"
#include "reading.hpp"

using namespace reading;

namespace {

/// For its lifetime the import program is the given one (empty: not stated), then what it was before.
class Program {
 public:
  explicit Program(const std::string& path) {
    if (const char* const was = std::getenv("RIMSTANCE_IMPORT")) was_ = was;
    set(path);
  }
  Program(const Program&) = delete;
  Program& operator=(const Program&) = delete;
  ~Program() { set(was_); }

 private:
  static void set(const std::string& path) {
    if (path.empty())
      ::unsetenv("RIMSTANCE_IMPORT");
    else
      ::setenv("RIMSTANCE_IMPORT", path.c_str(), 1);
  }
  std::string was_;
};

/// A program made of a few shell lines.
std::string script(const made::Folder& folder, const std::string& lines) {
  const std::string path = folder.write("program", "#!/bin/sh\n" + lines + "\n");
  std::filesystem::permissions(path, std::filesystem::perms::owner_all);
  return path;
}

/// What a mesh import says with a program of these lines.
std::string said(const std::string& lines, const ImportLimits& limits = {}) {
  const made::Folder folder;
  const Program program(script(folder, lines));
  try {
    (void)import_mesh("ground.glb", 1000, limits);
  } catch (const InputError& error) {
    REQUIRE(error.issues.size() == 1);
    CHECK(error.issues[0].place.file == "ground.glb");
    CHECK_FALSE(error.issues[0].way_out.empty());
    return error.what();
  }
  return {};
}

/// What it says when the program answers with these bytes.
std::string said_to(std::string_view reply) {
  const made::Folder folder;
  const std::string file = folder.write("reply", reply);
  return said("cat '" + file + "' >&4");
}

ImportedMesh one_triangle() {
  ImportedMesh mesh;
  mesh.vertices = {Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(0, 1, 0.25)};
  mesh.triangles = {{0, 1, 2}};
  mesh.format = "made";
  return mesh;
}

std::size_t open_descriptors() {
  std::size_t n = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator("/proc/self/fd")) ++n;
  return n;
}

}  // namespace

TEST_CASE("What the import program answers is what the caller gets", "[import]") {
  const made::Folder folder;
  const std::string reply = folder.write("reply", to_bytes(one_triangle()));
  const Program program(script(folder, "cat '" + reply + "' >&4"));
  const ImportedMesh mesh = import_mesh("ground.glb", 1000);
  CHECK(mesh.vertices == one_triangle().vertices);
  CHECK(mesh.triangles == one_triangle().triangles);
  CHECK(mesh.format == "made");
}

TEST_CASE("The import program is asked for the file and the limit that the caller names", "[import]") {
  const made::Folder folder;
  const std::string asked = folder / "asked";
  const Program program(
      script(folder, "cat /proc/self/fd/3 > '" + asked + "'\necho \"$1 $2 $#\" > '" + asked + ".limits'"));
  CHECK_THROWS_AS(import_mesh("a folder/ground.glb", 123, {.seconds = 7.5, .memory = 4096}), InputError);
  const ImportRequest request = import_request(file_bytes(asked));
  CHECK(request.work == ImportRequest::Work::mesh);
  CHECK(request.path == "a folder/ground.glb");
  CHECK(request.greatest_vertices == 123);
  CHECK(file_bytes(asked + ".limits") == "8 4096 2\n");
}

TEST_CASE("An import program that gives up, dies or is silent is an error of the file with a way out",
          "[import]") {
  CHECK(says(said("exit 3"), {"ground.glb: ", "gave up with status 3", "export it again"}));
  CHECK(says(said("kill -SEGV $$"), {"died of signal 11", "Segmentation fault", "damaged"}));
  CHECK(says(said("kill -ABRT $$"), {"died of signal 6"}));
  CHECK(says(said("kill -KILL $$"), {"died of signal 9"}));
  CHECK(says(said("kill -XCPU $$"), {"could not be read in the 120 s that are allowed"}));
  CHECK(says(said("exit 0"), {"makes no sense", "shorter than its header", "of one version"}));
}

TEST_CASE("An import program that hangs is ended when its time is up, and leaves no process behind",
          "[import]") {
  const auto start = std::chrono::steady_clock::now();
  const std::string message = said("exec sleep 60", {.seconds = 0.2});
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  CHECK(says(message, {"could not be read in the 0.2 s that are allowed"}));
  CHECK(seconds >= 0.2);
  CHECK(seconds < 10);
  CHECK(::waitpid(-1, nullptr, WNOHANG) == -1);  // no child is left, not even a dead one
  CHECK(errno == ECHILD);
}

TEST_CASE("An answer that is no whole message of the right kind is refused", "[import]") {
  const std::string good = to_bytes(one_triangle());
  REQUIRE(said_to(good).empty());
  std::string flipped = good;
  flipped[100] = static_cast<char>(flipped[100] ^ 4);
  CHECK(says(said_to("Segmentation fault\n"), {"makes no sense"}));
  CHECK(says(said_to(std::string(1000, 'x')), {"does not begin as one"}));
  CHECK(says(said_to(good.substr(0, good.size() - 1)), {"not as long as it says"}));
  CHECK(says(said_to(flipped), {"checksum is wrong"}));
  CHECK(says(said_to(done_message()), {"another kind"}));
  CHECK(says(said_to(to_bytes(RasterToWrite{Vec2(0, 0), Vec2(1, 1), 1, 1, {0}})), {"another kind"}));
  ImportedMesh large = one_triangle();
  large.vertices.resize(1001, Vec3::Zero());
  CHECK(says(said_to(to_bytes(large)), {"more vertices than were asked for"}));
}

TEST_CASE("A refusal of the import program arrives in its own words", "[import]") {
  CHECK(said_to(to_bytes(ImportRefusal{"holds no triangle", "export a surface"})) ==
        "ground.glb: holds no triangle; export a surface");
}

TEST_CASE("Without an import program the message names the package to install", "[import]") {
  const Program none("");
  // The tests lie in a folder of their own, beside which there is no import program.
  try {
    (void)import_mesh("ground.glb", 1000);
    FAIL("no import program is here, but it answered");
  } catch (const InputError& error) {
    CHECK(says(error.what(), {"ground.glb: ", "rimstance-import", "not installed",
                              "install the package rimstance-import", "PLY"}));
  }
}

TEST_CASE("An import program that is stated must exist and must be a program", "[import]") {
  const made::Folder folder;
  for (const std::string& path :
       {folder / "absent", folder.write("text", "no program"), std::string("/dev/null"), std::string("/")}) {
    const Program program(path);
    try {
      (void)import_mesh("ground.glb", 1000);
      FAIL(path << " was run");
    } catch (const InputError& error) {
      CHECK(says(error.what(), {"RIMSTANCE_IMPORT names \"" + path + "\"", "no program", "correct"}));
    }
  }
  // Executable, but nothing that the system can start.
  const std::string junk = folder.write("junk", std::string("\0\1\2\3", 4));
  std::filesystem::permissions(junk, std::filesystem::perms::owner_all);
  const Program program(junk);
  CHECK_THROWS_WITH(import_mesh("ground.glb", 1000), Catch::Contains("cannot be started"));
}

TEST_CASE("The import program gets its own files, a bare environment, and nothing else of its caller",
          "[import]") {
  const made::Folder folder;
  const std::string secret = folder.write("secret", "x");
  const int kept = ::open(secret.c_str(), O_RDONLY);  // without O_CLOEXEC: any program would inherit it
  REQUIRE(kept > 0);
  ::setenv("GDAL_DATA", "/nowhere", 1);
  const std::string out = folder / "out";
  const Program program(script(
      folder, "for fd in /proc/$$/fd/*; do readlink $fd; done > '" + out + ".fd'\nenv > '" + out + ".env'"));
  CHECK_THROWS_AS(import_mesh("ground.glb", 1000), InputError);
  ::unsetenv("GDAL_DATA");
  ::close(kept);
  const std::string descriptors = file_bytes(out + ".fd");
  const auto count = [&](std::string_view what) {
    std::size_t n = 0;
    for (std::size_t at = descriptors.find(what); at != std::string::npos;
         at = descriptors.find(what, at + 1))
      ++n;
    return n;
  };
  CHECK(count("secret") == 0);
  CHECK(count("memfd:rimstance request") == 1);
  CHECK(count("memfd:rimstance reply") == 1);
  CHECK(count("/dev/null\n") >= 2);  // the shell writes into a file where its output was
  const std::string environment = file_bytes(out + ".env");
  CHECK(environment.find("LC_ALL=C.UTF-8\n") != std::string::npos);
  CHECK(environment.find("GDAL_DATA") == std::string::npos);
  CHECK(environment.find("HOME") == std::string::npos);
}

TEST_CASE("The request cannot be changed by the program that gets it", "[import]") {
  const made::Folder folder;
  const std::string out = folder / "out";
  const Program program(script(folder, "(echo more >&3) 2>/dev/null && echo changed > '" + out + "'"));
  CHECK_THROWS_AS(import_mesh("ground.glb", 1000), InputError);
  CHECK_FALSE(std::filesystem::exists(out));
}

TEST_CASE("Imports from several threads at once do not disturb one another, and leave no descriptor open",
          "[import]") {
  const made::Folder folder;
  const std::string reply = folder.write("reply", to_bytes(one_triangle()));
  const Program program(script(folder, "cat '" + reply + "' >&4"));
  const std::size_t before = open_descriptors();
  std::vector<std::thread> threads;
  std::vector<int> good(4, 0);
  for (std::size_t t = 0; t < good.size(); ++t)
    threads.emplace_back([&good, t] {
      for (int i = 0; i < 5; ++i) good[t] += import_mesh("ground.glb", 1000).vertices.size() == 3 ? 1 : 0;
    });
  for (std::thread& t : threads) t.join();
  CHECK(good == std::vector<int>(4, 5));
  CHECK(open_descriptors() == before);
}

TEST_CASE("A raster that could not be written leaves the older file and nothing beside it", "[import]") {
  const made::Folder folder;
  const std::string path = folder.write("map.tif", "older");
  const made::Folder programs;
  const Program program(script(programs, "kill -SEGV $$"));
  const RasterToWrite raster{Vec2(0, 0), Vec2(1, 1), 1, 1, {0}};
  CHECK_THROWS_WITH(write_raster(path, raster), Catch::StartsWith(path + ": cannot be written (") &&
                                                    Catch::Contains("signal 11") && Catch::EndsWith(")"));
  CHECK(file_bytes(path) == "older");
  std::size_t files = 0;
  for ([[maybe_unused]] const auto& entry :
       std::filesystem::directory_iterator(std::filesystem::path(path).parent_path()))
    ++files;
  CHECK(files == 1);
  const std::string nowhere = folder / "no/such/map.tif";
  CHECK_THROWS_WITH(write_raster(nowhere, raster),
                    Catch::StartsWith(nowhere + ": cannot be written (") && Catch::EndsWith(")"));
}
