#pragma once
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "rimstance/base/errors.hpp"
#include "rimstance/model/load.hpp"

namespace rimstance {

// The strict layer over the YAML parser: one document, no anchors, aliases, tags or merge keys, no
// key twice, bounded size, depth and number of values. What passes is a plain tree in which every
// value knows its file, line and column; scalars stay text.

struct YamlMark {
  std::shared_ptr<const std::string> file;
  int line = 0, column = 0;
  Place place(std::string path = {}) const {
    return {file ? *file : std::string{}, line, column, std::move(path)};
  }
};

struct YamlEntry;
struct YamlNode {
  enum class Kind { nothing, scalar, list, map };
  Kind kind = Kind::nothing;
  std::string text;     ///< scalar
  bool quoted = false;  ///< scalar written in quotes (or as a block)
  bool broken = false;  ///< a part of it could not be read: what is absent here may stand there
  std::vector<YamlNode> items;
  std::vector<YamlEntry> entries;
  YamlMark mark;

  const YamlEntry* find(std::string_view key) const;
  YamlEntry* find(std::string_view key);
};
struct YamlEntry {
  std::string key;
  YamlMark mark;  ///< of the key
  YamlNode value;
};

/// All issues of an input; finish() sorts and cuts them.
struct IssueList {
  std::vector<Issue> issues;
  void add(Place place, std::string what, std::string way_out = {}) {
    issues.push_back({std::move(place), std::move(what), std::move(way_out)});
  }
  /// Sorted by file (in the order of `files`, then others), line and column; at most 100, the last
  /// one then says how many more there are.
  std::vector<Issue> finish(std::span<const std::string> files) const;
};

struct YamlSources {
  YamlNode root;
  std::vector<std::string> files;  ///< as opened, the first one first, each once
  std::string bytes;               ///< of all files in that order
};

/// Parses one text; problems go into `issues`, what could be read is returned.
YamlNode parse_yaml(std::string_view text, const std::string& name, IssueList& issues);

/// Reads `name` (or takes `text` for it), resolves `include` and lays the overrides on top.
YamlSources read_sources(const std::string& name, const std::string_view* text,
                         std::span<const Override> overrides, IssueList& issues);

/// The one of `known` that `word` was probably meant to be, or empty.
std::string nearest(std::string_view word, const std::vector<std::string>& known);
/// "did you mean \"x\"?" or, where nothing is near, what is allowed.
std::string suggestion(std::string_view word, const std::vector<std::string>& known);

}  // namespace rimstance
