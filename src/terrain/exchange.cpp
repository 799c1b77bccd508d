#include "rimstance/terrain/exchange.hpp"

#include <bit>
#include <cmath>
#include <cstring>
#include <type_traits>

#include "rimstance/base/errors.hpp"
#include "rimstance/base/files.hpp"

namespace rimstance {

namespace {

// magic [8] | SHA-256 of all that follows, hexadecimal [64] | version [4] | kind [4] | body length [8] |
// body. Both programs run on one machine: numbers are in its byte order, so a message is no file to keep.
constexpr std::string_view kMagic{"\x93rimx\r\n\x1a", 8};
constexpr std::size_t kDigestEnd = kMagic.size() + 64, kHeader = kDigestEnd + 16;
constexpr std::uint32_t kVersion = 1;
/// Longest text (a path or a sentence) [byte] and longest list of texts.
constexpr std::size_t kLongestText = 1 << 16, kMostTexts = 1 << 12;

template <class T>
concept Plain =
    std::is_same_v<T, std::uint32_t> || std::is_same_v<T, std::uint64_t> || std::is_same_v<T, double>;

static_assert(sizeof(Vec3) == 3 * sizeof(double) && sizeof(std::array<std::uint32_t, 3>) == 12);

class Writer {
 public:
  template <Plain T>
  void put(T value) {
    body_.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  void put(bool value) { put(std::uint32_t{value}); }
  void put(ImportRequest::Work work) { put(static_cast<std::uint32_t>(work)); }
  void put(const Vec2& p) {
    put(p.x());
    put(p.y());
  }
  void put(const std::string& text) {
    expects(text.size() <= kLongestText, "exchange: a text of at most 64 kB");
    put(std::uint64_t{text.size()});
    body_ += text;
  }
  void put(const std::vector<std::string>& texts) {
    expects(texts.size() <= kMostTexts, "exchange: at most 4096 texts");
    put(std::uint64_t{texts.size()});
    for (const std::string& text : texts) put(text);
  }
  template <class T>
  void put(const std::vector<T>& values) {
    put(std::uint64_t{values.size()});
    body_.append(reinterpret_cast<const char*>(values.data()), values.size() * sizeof(T));
  }
  template <class T>
  void put(const std::optional<T>& value) {
    put(value.has_value());
    if (value) put(*value);
  }
  void put(const ImportRequest::Window& w) {
    for (const std::uint64_t n : {w.column, w.row, w.columns, w.rows}) put(n);
  }
  /// The message, whose body was put so far behind a gap for the header.
  std::string message(MessageKind kind) {
    const auto set = [&](std::size_t at, auto value) { std::memcpy(&body_[at], &value, sizeof value); };
    set(kDigestEnd, kVersion);
    set(kDigestEnd + 4, static_cast<std::uint32_t>(kind));
    set(kDigestEnd + 8, std::uint64_t{body_.size() - kHeader});
    body_.replace(0, kMagic.size(), kMagic);
    body_.replace(kMagic.size(), 64, sha256(std::string_view(body_).substr(kDigestEnd)));
    return std::move(body_);
  }

 private:
  std::string body_ = std::string(kHeader, '\0');
};

void require(bool holds, const char* why) {
  if (!holds) throw BadMessage(why);
}

template <Plain T>
T number_at(std::string_view bytes, std::size_t at) {
  T value;
  std::memcpy(&value, bytes.data() + at, sizeof value);
  return value;
}

class Reader {
 public:
  Reader(std::string_view bytes, MessageKind kind) {
    require(kind_of(bytes) == kind, "the message is of another kind");
    left_ = bytes.substr(kHeader);
  }

  template <Plain T>
  void get(T& value) {
    value = number_at<T>(take(sizeof(T)), 0);
  }
  void get(bool& value) {
    std::uint32_t number = 0;
    get(number);
    require(number <= 1, "a flag is neither 0 nor 1");
    value = number == 1;
  }
  void get(ImportRequest::Work& work) {
    std::uint32_t number = 0;
    get(number);
    require(number <= static_cast<std::uint32_t>(ImportRequest::Work::write_raster), "the work is not known");
    work = static_cast<ImportRequest::Work>(number);
  }
  void get(Vec2& p) {
    get(p.x());
    get(p.y());
    require(p.allFinite(), "a number is not finite");
  }
  void get(std::string& text) { text = take(count(1, kLongestText)); }
  void get(std::vector<std::string>& texts) {
    texts.resize(count(sizeof(std::uint64_t), kMostTexts));
    for (std::string& text : texts) get(text);
  }
  template <class T>
  void get(std::vector<T>& values) {
    const std::size_t n = count(sizeof(T), left_.size());
    values.resize(n);
    const std::string_view raw = take(n * sizeof(T));
    if (n > 0) std::memcpy(reinterpret_cast<char*>(values.data()), raw.data(), raw.size());
  }
  template <class T>
  void get(std::optional<T>& value) {
    bool some = false;
    get(some);
    if (some) get(value.emplace());
  }
  void get(ImportRequest::Window& w) {
    for (std::uint64_t* n : {&w.column, &w.row, &w.columns, &w.rows}) get(*n);
  }
  void finish() const { require(left_.empty(), "bytes are left over"); }

 private:
  std::string_view take(std::size_t n) {
    require(n <= left_.size(), "the message ends too early");
    const std::string_view taken = left_.substr(0, n);
    left_.remove_prefix(n);
    return taken;
  }
  /// A count of things of at least `each` bytes, which must be there.
  std::size_t count(std::size_t each, std::size_t most) {
    std::uint64_t n = 0;
    get(n);
    require(n <= most && n <= left_.size() / each, "a count exceeds what follows");
    return static_cast<std::size_t>(n);
  }

  std::string_view left_;
};

template <class M, class Of>
concept MaybeConst = std::is_same_v<std::remove_const_t<M>, Of>;

// What a message of each kind holds, in order; put and got by the same list.

void fields(MaybeConst<ImportRequest> auto& r, auto each) {
  each(r.work, r.path, r.greatest_vertices, r.window, r.most_posts);
}
void fields(MaybeConst<ImportedMesh> auto& m, auto each) {
  each(m.vertices, m.triangles, m.format, m.up, m.unit, m.notes);
}
void fields(MaybeConst<ImportedRaster> auto& r, auto each) {
  each(r.columns, r.rows, r.first, r.spacing, r.plan_unit, r.height_unit, r.body_radius, r.quantum,
       r.geographic, r.placed, r.nodata_declared, r.crs, r.window, r.heights, r.format, r.files, r.from_file,
       r.notes);
}
void fields(MaybeConst<RasterToWrite> auto& r, auto each) {
  each(r.first, r.spacing, r.columns, r.rows, r.heights);
}
void fields(MaybeConst<ImportRefusal> auto& r, auto each) { each(r.what, r.way_out); }

template <class M>
std::string written(const M& message, MessageKind kind) {
  Writer out;
  fields(message, [&](const auto&... field) { (out.put(field), ...); });
  return out.message(kind);
}

template <class M>
M read(std::string_view bytes, MessageKind kind) {
  Reader in(bytes, kind);
  M message;
  fields(message, [&](auto&... field) { (in.get(field), ...); });
  in.finish();
  return message;
}

/// Finite and above zero, or not said.
bool positive_or_unset(double x) { return std::isnan(x) || (x > 0 && std::isfinite(x)); }

bool inside(const ImportRequest::Window& w, std::uint64_t columns, std::uint64_t rows) {
  return w.columns <= columns && w.column <= columns - w.columns && w.rows <= rows && w.row <= rows - w.rows;
}

/// `heights` is a full rectangle of finite numbers and NaN.
void check_heights(const std::vector<double>& heights, std::uint64_t columns, std::uint64_t rows) {
  const bool full = columns == 0 || rows == 0
                        ? heights.empty()
                        : heights.size() % columns == 0 && heights.size() / columns == rows;
  require(full, "the number of heights is not columns times rows");
  for (const double z : heights) require(!std::isinf(z), "a height is not finite");
}

}  // namespace

MessageKind kind_of(std::string_view bytes) {
  require(bytes.size() >= kHeader, "the message is shorter than its header");
  require(bytes.starts_with(kMagic), "the message does not begin as one");
  require(number_at<std::uint32_t>(bytes, kDigestEnd) == kVersion, "the message is of another version");
  require(number_at<std::uint64_t>(bytes, kDigestEnd + 8) == bytes.size() - kHeader,
          "the message is not as long as it says");
  require(bytes.substr(kMagic.size(), 64) == sha256(bytes.substr(kDigestEnd)), "the checksum is wrong");
  const auto kind = number_at<std::uint32_t>(bytes, kDigestEnd + 4);
  require(kind <= static_cast<std::uint32_t>(MessageKind::done), "the kind of the message is not known");
  return static_cast<MessageKind>(kind);
}

std::string to_bytes(const ImportRequest& r) { return written(r, MessageKind::request); }
std::string to_bytes(const ImportedMesh& m) { return written(m, MessageKind::mesh); }
std::string to_bytes(const ImportedRaster& r) { return written(r, MessageKind::raster); }
std::string to_bytes(const RasterToWrite& r) { return written(r, MessageKind::to_write); }
std::string to_bytes(const ImportRefusal& r) { return written(r, MessageKind::refusal); }

ImportRequest import_request(std::string_view bytes) {
  return read<ImportRequest>(bytes, MessageKind::request);
}

ImportedMesh imported_mesh(std::string_view bytes) {
  auto m = read<ImportedMesh>(bytes, MessageKind::mesh);
  for (const Vec3& p : m.vertices) require(p.allFinite(), "a vertex is not finite");
  for (const auto& t : m.triangles)
    for (const std::uint32_t v : t) require(v < m.vertices.size(), "a triangle names no vertex");
  require(!m.up || *m.up <= 2, "the up axis is not known");
  require(!m.unit || (*m.unit > 0 && std::isfinite(*m.unit)), "the unit is not above zero");
  return m;
}

ImportedRaster imported_raster(std::string_view bytes) {
  auto r = read<ImportedRaster>(bytes, MessageKind::raster);
  for (const double x : {r.plan_unit, r.height_unit, r.body_radius, r.quantum})
    require(positive_or_unset(x), "a unit, radius or step is not above zero");
  require(r.columns > 0 && r.rows > 0, "the raster has no posts");
  require(r.spacing.minCoeff() > 0, "the spacing is not above zero");
  require(inside(r.window, r.columns, r.rows), "the window is not inside the raster");
  check_heights(r.heights, r.window.columns, r.window.rows);
  return r;
}

RasterToWrite raster_to_write(std::string_view bytes) {
  auto r = read<RasterToWrite>(bytes, MessageKind::to_write);
  require(r.columns > 0 && r.rows > 0, "the raster has no posts");
  require(r.spacing.minCoeff() > 0, "the spacing is not above zero");
  check_heights(r.heights, r.columns, r.rows);
  return r;
}

ImportRefusal import_refusal(std::string_view bytes) {
  return read<ImportRefusal>(bytes, MessageKind::refusal);
}

std::string done_message() { return Writer().message(MessageKind::done); }

}  // namespace rimstance
