#include "rimstance/model/nearby.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <tuple>
#include <vector>

#include "yaml_tree.hpp"

namespace rimstance {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostEntries = 2000;  // of a folder: a message is not worth a long search

std::vector<fs::path> entries_of(const fs::path& folder) {
  std::vector<fs::path> out;
  std::error_code error;
  for (fs::directory_iterator it(folder, error), end; !error && it != end && out.size() < kMostEntries;
       it.increment(error))
    out.push_back(it->path());
  std::sort(out.begin(), out.end());
  return out;
}

std::string lower_case(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

/// As somebody in `folder` would write it.
std::string as_written(const fs::path& file, const fs::path& folder) {
  return file.lexically_relative(folder).string();
}

/// The shortest way from `folder` to a file of this name; empty if none is near.
std::string same_name(const std::string& name, const fs::path& folder) {
  std::vector<fs::path> folders;
  for (const fs::path& up : {folder, folder.parent_path(), folder.parent_path().parent_path()}) {
    folders.push_back(up);
    std::error_code error;
    for (const fs::path& below : entries_of(up))
      if (fs::is_directory(below, error)) folders.push_back(below);
  }
  std::string best;
  const auto rank = [&](const std::string& path) {
    return std::tuple(fs::path(path).filename().string() != name, path.size(), path);
  };
  for (const fs::path& place : folders)
    for (const std::string& as : {name, lower_case(name)}) {
      std::error_code error;
      if (!fs::is_regular_file(place / as, error)) continue;
      const std::string found = as_written(place / as, folder);
      if (best.empty() || rank(found) < rank(best)) best = found;
    }
  return best;
}

std::string nearest_name(const fs::path& asked, const fs::path& folder) {
  std::vector<std::string> names;
  std::error_code error;
  for (const fs::path& file : entries_of(asked.parent_path()))
    if (fs::is_regular_file(file, error)) names.push_back(file.filename().string());
  const std::string asked_name = asked.filename().string();
  for (const std::string& name : names)  // another case is no misspelling that is far away
    if (lower_case(name) == lower_case(asked_name)) return as_written(asked.parent_path() / name, folder);
  const std::string near = nearest(asked_name, names);
  return near.empty() ? std::string{} : as_written(asked.parent_path() / near, folder);
}

}  // namespace

std::string whereabouts(const std::string& written, const std::string& folder,
                        const std::string& relative_to) {
  if (written.find("://") != std::string::npos)
    return "an address is no file of this machine: fetch it first and name the file";
  if (written.rfind("~", 0) == 0) return "~ is understood by shells alone: write the whole path";
  std::error_code error;
  const fs::path base = (fs::current_path(error) / folder / "").lexically_normal().parent_path();
  const fs::path asked = (base / written).lexically_normal();
  std::string meant = same_name(asked.filename().string(), base);
  if (meant.empty()) meant = nearest_name(asked, base);
  const std::string looked = fmt::format("looked for {}", asked.string());
  if (!meant.empty()) return fmt::format("{}; did you mean \"{}\"?", looked, meant);
  if (!fs::is_directory(asked.parent_path(), error))
    return fmt::format("{}, but there is no such folder; paths are relative to {}", looked, relative_to);
  return fmt::format("{}; paths are relative to {}", looked, relative_to);
}

}  // namespace rimstance
