#include "yaml_tree.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <map>
#include <numeric>
#include <set>
#include <sstream>
#include <tuple>

#include "rimstance/base/files.hpp"
#include "rimstance/base/utf8.hpp"
#include "rimstance/model/nearby.hpp"

namespace rimstance {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kGreatestBytes = 1 << 20;
constexpr std::size_t kGreatestDepth = 64;       // people write about ten levels
constexpr std::size_t kGreatestValues = 100000;  // a scenario has a few hundred
constexpr std::size_t kGreatestFiles = 64;
constexpr std::size_t kGreatestIssues = 100;

/// Thrown out of the parser's callbacks to stop it; the issue is already recorded.
struct Stop {};

/// Whether a quote at the start of `text` is closed in it; also where there is none, as before a block of
/// text. Within ' a quote is written twice, within " any character may stand behind a backslash
/// (YAML 1.2.2, 7.3).
bool ends_quoted(std::string_view text) {
  const char quote = text[0];
  if (quote != '"' && quote != '\'') return true;
  for (std::size_t i = 1; i < text.size(); ++i) {
    if (quote == '"' && text[i] == '\\')
      ++i;
    else if (text[i] == quote && quote == '\'' && text.substr(i + 1).starts_with(quote))
      ++i;
    else if (text[i] == quote)
      return true;
  }
  return false;
}

/// Builds the tree from the parser's events; nothing is expanded, so nothing can explode.
class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(std::shared_ptr<const std::string> file, std::string_view text, IssueList& issues)
      : file_(std::move(file)), text_(text), issues_(issues) {}

  YamlNode take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnAnchor(const YAML::Mark&, const std::string&) override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    check(mark, "?", anchor);
    deliver(node(YamlNode::Kind::nothing, mark));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    refuse_alias(mark);
    deliver(node(YamlNode::Kind::nothing, mark));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    check(mark, tag, anchor);
    YamlNode scalar = node(YamlNode::Kind::scalar, mark);
    scalar.text = value;
    scalar.quoted = tag == "!";
    if (scalar.quoted) check_closed(mark);
    deliver(std::move(scalar));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    open(YamlNode::Kind::list, mark, tag, anchor);
  }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    open(YamlNode::Kind::map, mark, tag, anchor);
  }
  void OnSequenceEnd() override { close(); }
  void OnMapEnd() override { close(); }

 private:
  struct Frame {
    YamlNode node;
    bool has_key = false, keep = true;
    std::string key;
    YamlMark key_mark;
    std::map<std::string, int> first_line;  // of each key
  };

  YamlMark at(const YAML::Mark& mark) const { return {file_, mark.line + 1, mark.column + 1}; }

  YamlNode node(YamlNode::Kind kind, const YAML::Mark& mark) {
    if (++values_ > kGreatestValues) {
      issues_.add(at(mark).place(), fmt::format("more than {} values in one file", kGreatestValues),
                  "a scenario describes one machine; point clouds and grids belong into terrain files");
      throw Stop{};
    }
    YamlNode n;
    n.kind = kind;
    n.mark = at(mark);
    return n;
  }

  void refuse_alias(const YAML::Mark& mark) {
    if (mark.line == last_alias_line_) return;  // one report a line is enough
    last_alias_line_ = mark.line;
    issues_.add(at(mark).place(), "anchors and aliases (& and *) are not allowed",
                "write the value out, or put what is shared into a file and `include` it");
  }

  /// The parser takes a quote that is open at the end of the file for a closed one.
  void check_closed(const YAML::Mark& mark) {
    const auto from = static_cast<std::size_t>(mark.pos);
    if (from >= text_.size() || ends_quoted(text_.substr(from))) return;
    issues_.add(at(mark).place(), "the quote that opens here is not closed",
                fmt::format("write {} behind the text", text_[from]));
  }

  void check(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor) {
    if (anchor != YAML::NullAnchor) refuse_alias(mark);
    if (tag != "?" && tag != "!" && !tag.empty())
      issues_.add(at(mark).place(), fmt::format("tag \"{}\" is not allowed", tag), "leave the tag out");
  }

  void open(YamlNode::Kind kind, const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor) {
    if (frames_.size() >= kGreatestDepth) {
      issues_.add(at(mark).place(), fmt::format("nested deeper than {} levels", kGreatestDepth),
                  "check the brackets and the indentation");
      throw Stop{};
    }
    check(mark, tag, anchor);
    Frame frame;
    frame.node = node(kind, mark);
    frames_.push_back(std::move(frame));
  }

  void close() {
    YamlNode done = std::move(frames_.back().node);
    frames_.pop_back();
    deliver(std::move(done));
  }

  void deliver(YamlNode value) {
    if (frames_.empty()) {
      root_ = std::move(value);
      return;
    }
    Frame& top = frames_.back();
    if (top.node.kind == YamlNode::Kind::list) {
      top.node.items.push_back(std::move(value));
    } else if (!top.has_key) {
      take_key(top, value);
    } else {
      if (top.keep) top.node.entries.push_back({std::move(top.key), top.key_mark, std::move(value)});
      top.has_key = false;
    }
  }

  void take_key(Frame& top, const YamlNode& key) {
    top.has_key = true;
    top.key = key.text;
    top.key_mark = key.mark;
    top.keep = false;
    if (key.kind != YamlNode::Kind::scalar || key.text.empty()) {
      issues_.add(key.mark.place(), "a key must be plain text", "write `key: value`");
    } else if (key.text == "<<" && !key.quoted) {
      issues_.add(key.mark.place(), "merge keys (<<) are not allowed",
                  "put what is shared into a file and `include` it");
    } else if (const auto [it, fresh] = top.first_line.emplace(key.text, key.mark.line); !fresh) {
      issues_.add(key.mark.place(),
                  fmt::format("key \"{}\" is given twice in one map, in lines {} and {}", key.text,
                              it->second, key.mark.line),
                  "keep one of them");
    } else {
      top.keep = true;
    }
  }

  std::shared_ptr<const std::string> file_;
  std::string_view text_;
  IssueList& issues_;
  std::vector<Frame> frames_;
  YamlNode root_;
  std::size_t values_ = 0;
  int last_alias_line_ = -1;
};

/// The text with line ends as \n and without byte order mark; an issue and nothing if it is not
/// clean UTF-8 text.
bool clean_text(std::string_view bytes, const YamlMark& start, IssueList& issues, std::string& out) {
  if (bytes.size() > kGreatestBytes) {
    issues.add(start.place(),
               fmt::format("{} bytes; a scenario file has at most {}", bytes.size(), kGreatestBytes),
               "terrain and tables belong into files of their own");
    return false;
  }
  if (bytes.substr(0, 2) == "\xFF\xFE" || bytes.substr(0, 2) == "\xFE\xFF") {
    issues.add(start.place(), "the file is UTF-16 text", "save it as UTF-8");
    return false;
  }
  if (bytes.substr(0, 3) == "\xEF\xBB\xBF") bytes.remove_prefix(3);
  int line = 1, column = 1;
  out.reserve(bytes.size());
  for (std::size_t i = 0; i < bytes.size();) {
    const std::size_t length = utf8_length(bytes.substr(i));
    const auto c = static_cast<unsigned char>(bytes[i]);
    const bool control = (c < 0x20 && c != '\t' && c != '\n' && c != '\r') || c == 0x7F;
    if (length == 0 || control) {
      issues.add(
          {*start.file, line, column, {}},
          length == 0 ? "the bytes here are not UTF-8 text" : fmt::format("control character {:#04x}", c),
          c == 0 ? "the file may be UTF-16 or binary: save it as UTF-8" : "save the file as UTF-8 text");
      return false;
    }
    if (c == '\r' && bytes.substr(i, 2) == "\r\n") ++i;
    const bool line_end = c == '\r' || c == '\n';
    out.append(line_end ? std::string_view("\n") : bytes.substr(i, length));
    i += length;
    column = line_end ? 1 : column + 1;
    line += line_end;
  }
  return true;
}

std::string_view row(std::string_view text, int line) {
  for (int l = 1; l < line; ++l) {
    const std::size_t end = text.find('\n');
    text = end == std::string_view::npos ? std::string_view{} : text.substr(end + 1);
  }
  return text.substr(0, text.find('\n'));
}

/// A list with its unit behind it must stand in quotes; the parser itself only sees a broken list.
bool unit_behind_bare_list(std::string_view row) {
  const std::size_t bracket = row.rfind(']');
  if (bracket == std::string_view::npos || row.find('"') != std::string_view::npos) return false;
  const std::size_t next = row.find_first_not_of(' ', bracket + 1);
  return next != std::string_view::npos &&
         std::string_view(",}]#:").find(row[next]) == std::string_view::npos;
}

/// Somebody swapped the two kinds of file.
bool is_terrain(const std::string& name, std::string_view bytes) {
  std::string kind = fs::path(name).extension().string();
  for (char& c : kind) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  for (const char* known : {".ply", ".obj", ".stl", ".off", ".asc", ".las", ".laz", ".tif", ".tiff", ".glb"})
    if (kind == known) return true;
  for (const char* start : {"ply\n", "ply\r", "solid ", "OFF\n", "ncols ", "NCOLS ", "LASF", "glTF"})
    if (bytes.starts_with(start)) return true;
  return false;
}

bool tab_in_front(std::string_view row) {
  const std::size_t tab = row.find('\t');
  return tab != std::string_view::npos && row.find_first_not_of(" \t") > tab;
}

void report(const YAML::Exception& error, std::string_view text, const YamlMark& start, IssueList& issues) {
  const YamlMark mark{start.file, error.mark.line + 1, error.mark.column + 1};
  const std::string_view here = row(text, mark.line), before = row(text, mark.line - 1);
  std::string way_out = "check quotes, brackets and indentation there and before";
  if (unit_behind_bare_list(here) || unit_behind_bare_list(before))
    way_out = "a list with a unit behind it stands in quotes: \"[1, 2] m\"";
  else if (tab_in_front(here))
    way_out = "indent with blanks, not with tabs";
  issues.add(mark.place(), "not valid YAML: " + error.msg, std::move(way_out));
}

void replace_entry(YamlNode& map, YamlEntry entry) {
  if (YamlEntry* const old = map.find(entry.key))
    *old = std::move(entry);
  else
    map.entries.push_back(std::move(entry));
}

/// `over` wins; maps merge key by key, everything else is replaced whole.
void merge(YamlNode& base, YamlNode over) {
  for (YamlEntry& entry : over.entries) {
    YamlEntry* const old = base.find(entry.key);
    const bool maps =
        old && old->value.kind == YamlNode::Kind::map && entry.value.kind == YamlNode::Kind::map;
    if (maps)
      merge(old->value, std::move(entry.value));
    else
      replace_entry(base, std::move(entry));
  }
}

/// Reads files with their includes.
class IncludeReader {
 public:
  IncludeReader(YamlSources& sources, IssueList& issues) : sources_(sources), issues_(issues) {}

  YamlNode read(const std::string& name, std::string_view bytes) {
    const std::string identity = canonical(name);
    if (known_.insert(identity).second) {
      sources_.files.push_back(name);
      if (bytes.size() <= kGreatestBytes) sources_.bytes += bytes;  // larger files are refused below
    }
    if (is_terrain(name, bytes)) {
      issues_.add({name, 0, 0, {}}, "is a terrain file, not a scenario",
                  "look at it with `rimstance inspect`, and name it in a scenario under terrain: file");
      return {};
    }
    open_.push_back(identity);
    YamlNode root = parse_yaml(bytes, name, issues_);
    expand(root, fs::path(name).parent_path());
    open_.pop_back();
    return root;
  }

 private:
  static std::string canonical(const std::string& name) {
    std::error_code error;
    const fs::path path = fs::weakly_canonical(name, error);
    return error ? name : path.string();
  }

  void expand(YamlNode& node, const fs::path& folder) {
    for (YamlNode& item : node.items) expand(item, folder);
    for (YamlEntry& entry : node.entries)
      if (entry.key != "include") expand(entry.value, folder);
    const auto it = std::find_if(node.entries.begin(), node.entries.end(),
                                 [](const YamlEntry& e) { return e.key == "include"; });
    if (it == node.entries.end()) return;
    const YamlEntry include = std::move(*it);
    node.entries.erase(it);
    YamlNode base = included(include, folder);
    if (base.kind == YamlNode::Kind::list && node.entries.empty()) {
      node = std::move(base);
      return;
    }
    if (base.kind != YamlNode::Kind::map) {
      if (base.kind != YamlNode::Kind::nothing)
        issues_.add(include.value.mark.place(),
                    fmt::format("\"{}\" holds no `key: value` pairs", include.value.text),
                    "a list can be included only where no key stands beside `include`");
      node.broken = true;
      return;
    }
    merge(base, std::move(node));
    base.mark = include.mark;
    node = std::move(base);
  }

  YamlNode included(const YamlEntry& include, const fs::path& folder) {
    const Place place = include.value.mark.place();
    if (include.value.kind != YamlNode::Kind::scalar) {
      issues_.add(place, "`include` needs the name of a file", "write `include: machine.yaml`");
      return {};
    }
    const std::string name = (folder / include.value.text).lexically_normal().string();
    if (std::find(open_.begin(), open_.end(), canonical(name)) != open_.end()) {
      issues_.add(place,
                  fmt::format("\"{}\" includes itself, directly or through others", include.value.text),
                  "break the circle");
      return {};
    }
    if (++included_ > kGreatestFiles) {
      if (included_ == kGreatestFiles + 1)
        issues_.add(place, fmt::format("more than {} includes", kGreatestFiles), "merge some of the files");
      return {};
    }
    return open_file(name, place, folder, include.value.text);
  }

  YamlNode open_file(const std::string& name, const Place& place, const fs::path& folder,
                     const std::string& written) {
    try {
      const FileBytes file(name);
      return read(name, file.text());
    } catch (const InputError& error) {
      std::error_code unknown;
      const bool missing = !fs::exists(name, unknown);
      for (const Issue& issue : error.issues)
        issues_.add(place, fmt::format("\"{}\": {}", name, issue.what),
                    missing ? whereabouts(written, folder.string()) : issue.way_out);
      return {};
    }
  }

  YamlSources& sources_;
  IssueList& issues_;
  std::vector<std::string> open_;
  std::set<std::string> known_;
  std::size_t included_ = 0;
};

std::vector<std::string> segments(std::string_view path) {
  std::vector<std::string> out;
  for (;;) {
    const std::size_t dot = path.find('.');
    out.emplace_back(path.substr(0, dot));
    if (dot == std::string_view::npos) return out;
    path.remove_prefix(dot + 1);
  }
}

std::string item_name(const YamlNode& item) {
  const YamlEntry* const name = item.find("name");
  return name && name->value.kind == YamlNode::Kind::scalar ? name->value.text : std::string{};
}

/// Lays one `--set path=value` over the tree.
class OverrideWriter {
 public:
  OverrideWriter(const Override& set, IssueList& issues) : issues_(issues) {
    mark_.file = std::make_shared<const std::string>(fmt::format("--set {}={}", set.path, set.value));
    segments_ = segments(set.path);
    value_ = parse_value(set.value);
  }

  void apply(YamlNode& root) {
    const bool broken = std::any_of(segments_.begin(), segments_.end(), [](auto& s) { return s.empty(); });
    if (broken) {
      issues_.add(mark_.place(), "a path is made of keys with a point between them",
                  "write it like machine.outriggers.front-left.splay=50deg");
      return;
    }
    descend(root, 0);
  }

 private:
  /// Bracketed text with a unit behind it is a scalar here: the shell has eaten the quotes.
  YamlNode parse_value(const std::string& text) {
    const std::size_t first = text.find_first_not_of(' ');
    const char c = first == std::string::npos ? ' ' : text[first];
    const std::size_t last = text.find_last_not_of(' ');
    const bool flow = (c == '[' && text[last] == ']') || c == '{' || c == '"' || c == '\'';
    YamlNode node;
    if (flow) {
      node = parse_yaml(text, *mark_.file, issues_);
    } else {
      node.kind = first == std::string::npos ? YamlNode::Kind::nothing : YamlNode::Kind::scalar;
      node.text = text;
    }
    place(node);
    return node;
  }
  void place(YamlNode& node) {
    node.mark = mark_;
    for (YamlNode& item : node.items) place(item);
    for (YamlEntry& entry : node.entries) {
      entry.mark = mark_;
      place(entry.value);
    }
  }

  void descend(YamlNode& node, std::size_t depth) {
    if (depth == segments_.size()) {
      node = value_;
      return;
    }
    if (node.kind == YamlNode::Kind::nothing) {
      node.kind = YamlNode::Kind::map;
      node.mark = mark_;
    }
    if (node.kind == YamlNode::Kind::map)
      into_map(node, depth);
    else if (node.kind == YamlNode::Kind::list)
      into_list(node, depth);
    else
      issues_.add(mark_.place(walked(depth)),
                  fmt::format("\"{}\" is a value and has nothing inside", node.text), "shorten the path");
  }

  void into_map(YamlNode& node, std::size_t depth) {
    const std::string& key = segments_[depth];
    if (key == "*") {
      if (node.entries.empty())
        issues_.add(mark_.place(walked(depth)), "`*` matches nothing here", "name the key that is meant");
      for (YamlEntry& entry : node.entries) descend(entry.value, depth + 1);
      return;
    }
    if (!node.find(key)) node.entries.push_back({key, mark_, {}});  // the reader judges unknown keys
    YamlEntry& entry = *node.find(key);
    if (depth + 1 == segments_.size()) entry.mark = mark_;
    descend(entry.value, depth + 1);
  }

  void into_list(YamlNode& node, std::size_t depth) {
    const std::string& key = segments_[depth];
    bool found = false;
    std::vector<std::string> names;
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      const std::string name = item_name(node.items[i]), index = std::to_string(i);
      names.push_back(name.empty() ? index : name);
      if (key != "*" && key != name && key != index) continue;
      found = true;
      descend(node.items[i], depth + 1);
    }
    if (!found)
      issues_.add(mark_.place(walked(depth)), fmt::format("no item \"{}\" in this list", key),
                  suggestion(key, names));
  }

  std::string walked(std::size_t depth) const {
    std::string path;
    for (std::size_t i = 0; i < depth; ++i) path += (i ? "." : "") + segments_[i];
    return path;
  }

  IssueList& issues_;
  YamlMark mark_;
  std::vector<std::string> segments_;
  YamlNode value_;
};

/// Edits (insert, delete, change, swap of neighbours) from a to b: optimal string alignment.
std::size_t edits(std::string_view a, std::string_view b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  std::iota(d[0].begin(), d[0].end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i)
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = d[i - 1][j - 1] + (a[i - 1] != b[j - 1]);
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, change});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  return d[a.size()][b.size()];
}

}  // namespace

const YamlEntry* YamlNode::find(std::string_view key) const {
  const auto it =
      std::find_if(entries.begin(), entries.end(), [&](const YamlEntry& e) { return e.key == key; });
  return it == entries.end() ? nullptr : &*it;
}
YamlEntry* YamlNode::find(std::string_view key) {
  return const_cast<YamlEntry*>(static_cast<const YamlNode*>(this)->find(key));
}

std::vector<Issue> IssueList::finish(std::span<const std::string> files) const {
  std::vector<Issue> sorted = issues;
  const auto order = [&](const Issue& issue) {
    const auto it = std::find(files.begin(), files.end(), issue.place.file);
    return std::tuple(it - files.begin(), issue.place.line, issue.place.column);
  };
  std::stable_sort(sorted.begin(), sorted.end(),
                   [&](const Issue& a, const Issue& b) { return order(a) < order(b); });
  if (sorted.size() > kGreatestIssues) {
    const std::size_t more = sorted.size() - (kGreatestIssues - 1);
    sorted.resize(kGreatestIssues - 1);
    sorted.push_back({Place{files.empty() ? std::string{} : files.front(), 0, 0, {}},
                      fmt::format("{} more issues are not shown", more), "mend the ones above first"});
  }
  return sorted;
}

YamlNode parse_yaml(std::string_view bytes, const std::string& name, IssueList& issues) {
  const YamlMark start{std::make_shared<const std::string>(name), 0, 0};
  std::string text;
  if (!clean_text(bytes, start, issues, text)) return {};
  if (!text.ends_with('\n')) text += '\n';  // a quote that is open at the end is told in one way
  std::istringstream stream(text);          // a byte source only; nothing is parsed by it
  TreeBuilder first(start.file, text, issues);
  try {
    YAML::Parser parser(stream);
    if (!parser.HandleNextDocument(first)) {
      issues.add(start.place(), "the file is empty", "`rimstance new DIR` writes a starter");
      return {};
    }
    IssueList unused;
    TreeBuilder second(start.file, text, unused);
    if (parser.HandleNextDocument(second)) {
      YamlMark mark = second.take().mark;
      mark.file = start.file;
      issues.add(mark.place(), "a second document starts here", "a scenario file holds one document");
    }
  } catch (const YAML::Exception& error) {
    report(error, text, start, issues);
  } catch (const Stop&) {
  }
  return first.take();
}

YamlSources read_sources(const std::string& name, const std::string_view* text,
                         std::span<const Override> overrides, IssueList& issues) {
  YamlSources sources;
  IncludeReader reader(sources, issues);
  if (text)
    sources.root = reader.read(name, *text);
  else
    sources.root = reader.read(name, FileBytes(name).text());
  // A file that could not be read has nothing to lay them over: its own error says it all.
  if (sources.root.kind != YamlNode::Kind::nothing)
    for (const Override& set : overrides) OverrideWriter(set, issues).apply(sources.root);
  return sources;
}

std::string nearest(std::string_view word, const std::vector<std::string>& known) {
  std::string best;
  std::size_t least = std::max<std::size_t>(1, word.size() / 3) + 1;
  if (word.size() > 64) return best;
  for (const std::string& k : known) {
    const std::size_t d = edits(word, k);
    if (d < least && d < k.size()) {
      least = d;
      best = k;
    }
  }
  return best;
}

std::string suggestion(std::string_view word, const std::vector<std::string>& known) {
  const std::string near = nearest(word, known);
  if (!near.empty()) return fmt::format("did you mean \"{}\"?", near);
  std::string all;
  for (const std::string& k : known) all += (all.empty() ? "" : ", ") + k;
  return all.empty() ? std::string{} : "allowed: " + all;
}

}  // namespace rimstance
