#include "rimstance/base/files.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/frames.hpp"

using namespace rimstance;
namespace fs = std::filesystem;

TEST_CASE("files: SHA-256 agrees with the example of FIPS 180-4") {
  // NIST, "SHA-256 example, one block message", input "abc".
  CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST_CASE("files: what is written is read back whole, and nothing else is left in the folder") {
  const fs::path folder = fs::temp_directory_path() / "rimstance_files_test";
  fs::remove_all(folder);
  make_directory(folder.string());
  const std::string path = (folder / "result.json").string();
  write_whole(path, "first");
  write_whole(path, "second");
  CHECK(FileBytes(path).text() == "second");
  CHECK(std::distance(fs::directory_iterator(folder), fs::directory_iterator{}) == 1);
  fs::remove_all(folder);
}

TEST_CASE("files: a target that cannot be written is a machine error that names it") {
  CHECK_THROWS_AS(write_whole("/proc/none/result.json", "x"), MachineError);
  CHECK_THROWS_WITH(write_whole("/proc/none/result.json", "x"), Catch::Contains("/proc/none/result.json"));
}

TEST_CASE("files: what is not a regular file is refused, whatever kind it is") {
  for (const char* path : {"/no/such/file", "/dev/null", "/tmp"}) {
    CAPTURE(path);
    CHECK_THROWS_AS(FileBytes(path), InputError);
  }
}

TEST_CASE("files: links that lead back to one another are no matter of permissions") {
  const fs::path link = fs::temp_directory_path() / "rimstance_files_test_link";
  fs::remove(link);
  fs::create_symlink(link, link);
  CHECK_THROWS_WITH(FileBytes(link.string()),
                    Catch::Contains("Too many levels of symbolic links; name the file itself"));
  fs::remove(link);
  CHECK_THROWS_WITH(FileBytes(std::string(5000, 'x')),
                    Catch::Contains("File name too long; name another file"));
  CHECK_THROWS_WITH(FileBytes("/no/such/file"), Catch::Contains("no such file; check the path"));
}

TEST_CASE("files: the shortest text of a number reads back as the same number") {
  CHECK(shortest(0.1) == "0.1");
  CHECK(shortest(1.0 / 3.0) == "0.3333333333333333");
  CHECK_THROWS_AS(shortest(kUnset), std::logic_error);
}
