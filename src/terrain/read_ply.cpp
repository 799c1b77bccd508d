#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstring>
#include <optional>

#include "readers.hpp"
#include "rimstance/base/words.hpp"
#include "text.hpp"

namespace rimstance {

namespace {

enum class Type { i8, u8, i16, u16, i32, u32, f32, f64 };
enum class Encoding { ascii, little, big };

std::size_t size_of(Type type) {
  switch (type) {
    case Type::i8:
    case Type::u8:
      return 1;
    case Type::i16:
    case Type::u16:
      return 2;
    case Type::i32:
    case Type::u32:
    case Type::f32:
      return 4;
    case Type::f64:
      return 8;
  }
  return 0;
}

bool is_integer(Type type) { return type != Type::f32 && type != Type::f64; }

std::optional<Type> type_named(std::string_view name) {
  constexpr std::pair<std::string_view, Type> kTypes[] = {
      {"char", Type::i8},   {"int8", Type::i8},     {"uchar", Type::u8},   {"uint8", Type::u8},
      {"short", Type::i16}, {"int16", Type::i16},   {"ushort", Type::u16}, {"uint16", Type::u16},
      {"int", Type::i32},   {"int32", Type::i32},   {"uint", Type::u32},   {"uint32", Type::u32},
      {"float", Type::f32}, {"float32", Type::f32}, {"double", Type::f64}, {"float64", Type::f64}};
  for (const auto& [text, type] : kTypes)
    if (text == name) return type;
  return std::nullopt;
}

struct Property {
  std::string name;
  Type type = Type::f32;
  std::optional<Type> count_type;  ///< lists only
};

struct Element {
  std::string name;
  std::uint64_t count = 0;
  std::vector<Property> properties;
  bool has_list() const {
    return std::any_of(properties.begin(), properties.end(), [](const Property& p) { return p.count_type; });
  }
};

struct Header {
  Encoding encoding = Encoding::ascii;
  std::vector<Element> elements;
  std::size_t size = 0;  ///< bytes before the data
};

bool is_corner_list(const Element& element, const Property& property) {
  return element.name == "face" && property.count_type &&
         (property.name == "vertex_indices" || property.name == "vertex_index");
}

std::string records_of(const Element& element) {
  return element.name == "vertex" ? counted(element.count, "vertex", "vertices")
         : element.name == "face" ? counted(element.count, "face")
                                  : counted(element.count, element.name + " element");
}

/// The fewest bytes one record can have: empty lists, three corners, a digit and a separator a value.
std::size_t least_size(const Element& element, Encoding encoding) {
  std::size_t size = 0;
  for (const Property& p : element.properties) {
    const std::size_t corners = is_corner_list(element, p) ? 3 : 0;
    if (encoding == Encoding::ascii)
      size += 2 * (1 + corners);
    else
      size += p.count_type ? size_of(*p.count_type) + corners * size_of(p.type) : size_of(p.type);
  }
  return size;
}

// ---------------------------------------------------------------- header

class HeaderReader {
 public:
  HeaderReader(std::string_view bytes, const std::string& file) : text_(bytes, file), bytes_(bytes) {}

  Header read() {
    expect_magic();
    bool has_format = false;
    for (;;) {
      if (!text_.next_filled_line())
        text_.fail("unexpected end of file: the header has no end_header", "get the file again whole");
      const char* const start = text_.at();
      const std::string_view word = text_.token();
      if (word == "end_header") break;
      if (word == "comment" || word == "obj_info") continue;
      if (word == "format") {
        read_format();
        has_format = true;
      } else if (word == "element") {
        read_element();
      } else if (word == "property") {
        read_property();
      } else {
        text_.fail(start, fmt::format("{} is not a statement of a PLY header", quoted(word)),
                   "allowed are format, comment, obj_info, element, property and end_header");
      }
      text_.expect_line_end("the statement");
    }
    if (!has_format)
      text_.fail("the header has no format statement", "add format ascii 1.0, or its binary kind");
    skip_last_line_end();
    return std::move(header_);
  }

 private:
  void expect_magic() {
    text_.token();  // "ply": the reader was chosen by it
    const std::size_t at = text_.offset();
    line_end_ = bytes_.substr(at, 1) == "\r" ? (bytes_.substr(at, 2) == "\r\n" ? "\r\n" : "\r") : "\n";
    text_.expect_line_end("ply");
  }

  void read_format() {
    text_.more_on_line();
    const char* const start = text_.at();
    const std::string_view word = text_.token();
    if (word == "ascii")
      header_.encoding = Encoding::ascii;
    else if (word == "binary_little_endian")
      header_.encoding = Encoding::little;
    else if (word == "binary_big_endian")
      header_.encoding = Encoding::big;
    else
      text_.fail(start, fmt::format("{} is not a PLY format", quoted(word)),
                 "allowed are ascii, binary_little_endian and binary_big_endian");
    text_.more_on_line();
    if (text_.peek() != "1.0")
      text_.fail(fmt::format("version {} of PLY is not known, only 1.0 is", quoted(text_.peek())),
                 "export as 1.0");
    text_.token();
  }

  void read_element() {
    text_.more_on_line();
    const char* const start = text_.at();
    Element element;
    element.name = text_.token();
    const std::int64_t count = text_.integer("the number of elements");
    if (count < 0)
      text_.fail(start, fmt::format("the number of elements is {}, it cannot be negative", count),
                 "correct the header");
    element.count = static_cast<std::uint64_t>(count);
    for (const Element& other : header_.elements)
      if (other.name == element.name)
        text_.fail(start, fmt::format("element {} is declared a second time", quoted(element.name)),
                   "correct the header");
    header_.elements.push_back(std::move(element));
  }

  Type read_type() {
    text_.more_on_line();
    const char* const start = text_.at();
    const std::string_view word = text_.token();
    const std::optional<Type> type = type_named(word);
    if (!type)
      text_.fail(start, fmt::format("{} is not a type of PLY", quoted(word)),
                 "allowed are char, uchar, short, ushort, int, uint, float, double (int8 ... float64)");
    return *type;
  }

  void read_property() {
    if (header_.elements.empty())
      text_.fail("a property stands before the first element", "correct the header");
    Element& element = header_.elements.back();
    Property property;
    text_.more_on_line();
    if (text_.peek() == "list") {
      text_.token();
      const char* const start = text_.at();
      property.count_type = read_type();
      if (!is_integer(*property.count_type))
        text_.fail(start, "the length of a list has a floating-point type", "lengths are whole numbers");
    }
    property.type = read_type();
    text_.more_on_line();
    const char* const start = text_.at();
    property.name = text_.token();
    if (property.name.empty()) text_.fail("a property has no name", "correct the header");
    for (const Property& other : element.properties)
      if (other.name == property.name)
        text_.fail(start, fmt::format("property {} is declared a second time", quoted(property.name)),
                   "correct the header");
    if (is_corner_list(element, property) && !is_integer(property.type))
      text_.fail(start, "the corners of the faces have a floating-point type", "indices are whole numbers");
    element.properties.push_back(std::move(property));
  }

  /// Data start right after the header's last line end, which has the form of its first: a byte of
  /// binary data that happens to look like a line end must not be taken for one.
  void skip_last_line_end() {
    const std::size_t at = text_.offset();
    if (bytes_.substr(at, line_end_.size()) != line_end_)
      text_.fail("end_header is not followed by the same end-of-line as the first line",
                 "the file was changed on its way (text mode transfer?); get it again unchanged");
    header_.size = at + line_end_.size();
  }

  TextCursor text_;
  std::string_view bytes_;
  std::string_view line_end_;
  Header header_;
};

// ---------------------------------------------------------------- what both encodings share

/// Index of the property with this name, which must be there and be a scalar.
std::size_t scalar_property(const Element& element, const char* name, const std::string& file) {
  for (std::size_t i = 0; i < element.properties.size(); ++i)
    if (element.properties[i].name == name && !element.properties[i].count_type) return i;
  throw InputError(Place{file, 0, 0, {}}, fmt::format("the vertices have no property {}", name),
                   "vertices need x, y and z");
}

const Element* element_named(const Header& header, std::string_view name) {
  for (const Element& element : header.elements)
    if (element.name == name) return &element;
  return nullptr;
}

void check_elements(const Header& header, const std::string& file) {
  const Place place{file, 0, 0, {}};
  const Element* const vertices = element_named(header, "vertex");
  if (!vertices || vertices->count == 0)
    throw InputError(place, "holds no vertices", "export the mesh again");
  for (const char* const axis : {"x", "y", "z"}) (void)scalar_property(*vertices, axis, file);
  const Element* const faces = element_named(header, "face");
  if (!faces || faces->count == 0) {
    if (!element_named(header, "tristrips")) return;  // a cloud of points
    throw InputError(place,
                     fmt::format("holds {} but no faces (triangle strips are not read)",
                                 counted(vertices->count, "vertex", "vertices")),
                     "export the mesh with a face element");
  }
  if (std::none_of(faces->properties.begin(), faces->properties.end(),
                   [&](const Property& p) { return is_corner_list(*faces, p); }))
    throw InputError(place, "the faces have no list vertex_indices (or vertex_index)",
                     "export the mesh again");
}

/// Before anything is allocated: can the bytes hold what the header announces?
void check_counts(const Header& header, std::size_t data_size, const std::string& file) {
  std::uint64_t left = data_size;
  if (header.encoding == Encoding::ascii) ++left;  // the last line may have no end
  for (const Element& element : header.elements) {
    const std::size_t least = least_size(element, header.encoding);
    if (least == 0 && element.count > 0)
      throw InputError(Place{file, 0, 0, {}},
                       fmt::format("element {} has no properties", quoted(element.name)),
                       "correct the header");
    if (least > 0 && element.count > left / least) {
      const double needed = static_cast<double>(element.count) * static_cast<double>(least);
      throw InputError(
          Place{file, 0, 0, {}},
          fmt::format(
              "expected {}, found fewer: {:.0f} bytes or more are needed, {} left; the file ends in {} {} "
              "of {}",
              records_of(element), needed, counted(left, "is", "are"), element.name, left / least + 1,
              element.count),
          "the header or the data are wrong; get the file again whole");
    }
    left -= element.count * least;
  }
}

[[noreturn]] void fail_record(const std::string& file, const Element& element, std::uint64_t number,
                              std::size_t byte, const std::string& what) {
  throw InputError(
      Place{file, 0, 0, {}},
      fmt::format("{} {} of {} (byte {}): {}", element.name, number + 1, element.count, byte, what),
      "correct the file, or export it again");
}

// ---------------------------------------------------------------- binary

template <class T>
T load(const char* p, bool swap) {
  std::array<char, sizeof(T)> raw;
  std::memcpy(raw.data(), p, sizeof(T));
  if constexpr (sizeof(T) > 1)
    if (swap) std::reverse(raw.begin(), raw.end());
  return std::bit_cast<T>(raw);
}

double scalar(const char* p, Type type, bool swap) {
  switch (type) {
    case Type::i8:
      return load<std::int8_t>(p, swap);
    case Type::u8:
      return load<std::uint8_t>(p, swap);
    case Type::i16:
      return load<std::int16_t>(p, swap);
    case Type::u16:
      return load<std::uint16_t>(p, swap);
    case Type::i32:
      return load<std::int32_t>(p, swap);
    case Type::u32:
      return load<std::uint32_t>(p, swap);
    case Type::f32:
      return static_cast<double>(load<float>(p, swap));
    case Type::f64:
      return load<double>(p, swap);
  }
  return kUnset;
}

std::int64_t whole(const char* p, Type type, bool swap) {
  switch (type) {
    case Type::i8:
      return load<std::int8_t>(p, swap);
    case Type::u8:
      return load<std::uint8_t>(p, swap);
    case Type::i16:
      return load<std::int16_t>(p, swap);
    case Type::u16:
      return load<std::uint16_t>(p, swap);
    case Type::i32:
      return load<std::int32_t>(p, swap);
    default:
      return load<std::uint32_t>(p, swap);
  }
}

class BinaryReader {
 public:
  BinaryReader(std::string_view bytes, const std::string& file, const Header& header)
      : file_(file),
        header_(header),
        begin_(bytes.data()),
        at_(begin_ + header.size),
        end_(begin_ + bytes.size()),
        swap_((header.encoding == Encoding::little) != (std::endian::native == std::endian::little)) {}

  MeshFile read() {
    for (const Element& element : header_.elements) {
      if (element.name == "vertex")
        vertices(element);
      else if (element.name == "face")
        faces(element);
      else
        for (std::uint64_t i = 0; i < element.count; ++i) skip_record(element, i);
    }
    if (at_ != end_)
      throw InputError(
          Place{file_, 0, 0, {}},
          fmt::format("{} left after the last element (byte {})", counted(left(), "byte is", "bytes are"),
                      at_ - begin_),
          "the header does not match the data, or the file was changed on its way; get it again");
    note_polygons(polygons_, mesh_.notes);
    return std::move(mesh_);
  }

 private:
  std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }

  void need(std::uint64_t size, const Element& element, std::uint64_t number) {
    if (size <= left()) return;
    throw InputError(
        Place{file_, 0, 0, {}},
        fmt::format("the file ends in {} {} of {}: {} needed there, {} left", element.name, number + 1,
                    element.count, counted(size, "byte is", "bytes are"), counted(left(), "is", "are")),
        "the file is cut; get it again whole");
  }

  std::uint64_t list_length(const Property& property, const Element& element, std::uint64_t number) {
    need(size_of(*property.count_type), element, number);
    const std::int64_t n = whole(at_, *property.count_type, swap_);
    if (n < 0) fail(element, number, fmt::format("a list has the length {}", n));
    at_ += size_of(*property.count_type);
    need(static_cast<std::uint64_t>(n) * size_of(property.type), element, number);  // n < 2^32
    return static_cast<std::uint64_t>(n);
  }

  void skip_property(const Property& property, const Element& element, std::uint64_t number) {
    std::uint64_t n = 1;
    if (property.count_type)
      n = list_length(property, element, number);
    else
      need(size_of(property.type), element, number);
    at_ += n * size_of(property.type);
  }
  void skip_record(const Element& element, std::uint64_t number) {
    for (const Property& property : element.properties) skip_property(property, element, number);
  }

  void vertices(const Element& element) {
    mesh_.vertices.reserve(element.count);
    std::array<std::size_t, 3> index{};
    for (std::size_t axis = 0; axis < 3; ++axis)
      index[axis] = scalar_property(element, std::array{"x", "y", "z"}[axis], file_);
    std::array<const char*, 3> place{};
    const bool fixed = !element.has_list();
    const std::size_t stride = least_size(element, header_.encoding);
    std::array<std::size_t, 3> offset{};
    for (std::size_t axis = 0; axis < 3; ++axis)
      for (std::size_t i = 0; i < index[axis]; ++i) offset[axis] += size_of(element.properties[i].type);
    const auto all_are = [&](Type type) {
      return fixed && std::all_of(index.begin(), index.end(),
                                  [&](std::size_t i) { return element.properties[i].type == type; });
    };
    std::uint64_t done = 0;
    if (all_are(Type::f32)) done = plain_vertices<float>(element.count, stride, offset);
    if (all_are(Type::f64)) done = plain_vertices<double>(element.count, stride, offset);
    for (std::uint64_t i = done; i < element.count; ++i) {
      if (fixed) {
        need(stride, element, i);
        for (std::size_t axis = 0; axis < 3; ++axis) place[axis] = at_ + offset[axis];
        at_ += stride;
      } else {
        for (std::size_t p = 0; p < element.properties.size(); ++p) {
          for (std::size_t axis = 0; axis < 3; ++axis)
            if (index[axis] == p) place[axis] = at_;
          skip_property(element.properties[p], element, i);
        }
      }
      add_vertex(element, i, index, place);
    }
  }

  /// The usual record, of one size and with coordinates of one type, without the table. Stops at the first
  /// vertex that is not finite or not there; returns how many were read.
  template <class T>
  std::uint64_t plain_vertices(std::uint64_t count, std::size_t stride,
                               const std::array<std::size_t, 3>& offset) {
    std::uint64_t number = 0;
    for (; number < count && left() >= stride; ++number, at_ += stride) {
      const Vec3 p(static_cast<double>(load<T>(at_ + offset[0], swap_)),
                   static_cast<double>(load<T>(at_ + offset[1], swap_)),
                   static_cast<double>(load<T>(at_ + offset[2], swap_)));
      if (!std::isfinite(p.x() + p.y() + p.z())) break;
      mesh_.vertices.push_back(p);
    }
    return number;
  }

  void add_vertex(const Element& element, std::uint64_t number, const std::array<std::size_t, 3>& index,
                  const std::array<const char*, 3>& place) {
    Vec3 p;
    for (std::size_t axis = 0; axis < 3; ++axis) {
      p[static_cast<Eigen::Index>(axis)] = scalar(place[axis], element.properties[index[axis]].type, swap_);
      if (!std::isfinite(p[static_cast<Eigen::Index>(axis)]))
        throw InputError(
            Place{file_, 0, 0, {}},
            fmt::format("vertex {} of {} (byte {}): {} is {}, a finite number is expected", number + 1,
                        element.count, place[axis] - begin_, "xyz"[axis], p[static_cast<Eigen::Index>(axis)]),
            "remove the vertex and its faces, or export the mesh again");
    }
    mesh_.vertices.push_back(p);
  }

  void faces(const Element& element) {
    mesh_.triangles.reserve(element.count);
    vertex_count_ = element_named(header_, "vertex")->count;
    const Property& first = element.properties.front();
    std::uint64_t number = 0;
    if (element.properties.size() == 1 && size_of(*first.count_type) == 1 && size_of(first.type) == 4)
      number = plain_triangles(element.count);
    for (; number < element.count; ++number)
      for (const Property& property : element.properties) {
        if (is_corner_list(element, property))
          face(property, element, number);
        else
          skip_property(property, element, number);
      }
  }

  /// The usual record, a byte that says 3 and three words, without the table. Stops at the first face that
  /// is anything else; returns how many were read.
  std::uint64_t plain_triangles(std::uint64_t count) {
    std::uint64_t number = 0;
    for (; number < count && left() >= 13 && *at_ == 3; ++number, at_ += 13) {
      std::array<std::uint32_t, 3> corners{};
      for (std::size_t k = 0; k < 3; ++k) corners[k] = word(at_ + 1 + 4 * k);
      if (std::max({corners[0], corners[1], corners[2]}) >= vertex_count_) break;
      mesh_.triangles.push_back(corners);
    }
    return number;
  }
  std::uint32_t word(const char* p) const {
    std::uint32_t value;
    std::memcpy(&value, p, sizeof value);
    return swap_ ? __builtin_bswap32(value) : value;
  }

  void face(const Property& property, const Element& element, std::uint64_t number) {
    const std::uint64_t n = list_length(property, element, number);
    if (n < 3) fail(element, number, too_few_corners(static_cast<std::int64_t>(n)));
    corners_.clear();
    for (std::uint64_t k = 0; k < n; ++k, at_ += size_of(property.type)) {
      const std::int64_t index = whole(at_, property.type, swap_);
      if (index < 0 || static_cast<std::uint64_t>(index) >= vertex_count_)
        fail(element, number,
             fmt::format("refers to vertex {}, allowed are 0 to {}", index, vertex_count_ - 1));
      corners_.push_back(static_cast<std::uint32_t>(index));
    }
    polygons_ += n > 3;
    append_fan(corners_, mesh_.triangles);
  }

  [[noreturn]] void fail(const Element& element, std::uint64_t number, const std::string& what) const {
    fail_record(file_, element, number, static_cast<std::size_t>(at_ - begin_), what);
  }

  const std::string& file_;
  const Header& header_;
  const char *begin_, *at_, *end_;
  bool swap_;
  MeshFile mesh_;
  std::vector<std::uint32_t> corners_;
  std::uint64_t vertex_count_ = 0, polygons_ = 0;
};

// ---------------------------------------------------------------- text: one record per line

class TextReader {
 public:
  TextReader(std::string_view bytes, const std::string& file, const Header& header)
      : text_(bytes, file), header_(header) {
    text_.move_to(bytes.data() + header.size);
  }

  MeshFile read() {
    bool any = text_.more();
    for (const Element& element : header_.elements) {
      if (element.name == "vertex") mesh_.vertices.reserve(element.count);
      if (element.name == "face") mesh_.triangles.reserve(element.count);
      for (std::uint64_t i = 0; i < element.count; ++i, any = text_.next_filled_line()) {
        if (!any)
          text_.fail(fmt::format("unexpected end of file: expected {}, found {}", records_of(element), i),
                     "the file is cut; get it again whole");
        record(element);
        text_.expect_line_end("the last property");
      }
    }
    if (any)
      text_.fail(fmt::format("{} stands after the last element", quoted(text_.peek())),
                 "the counts in the header do not match the content; correct them");
    note_polygons(polygons_, mesh_.notes);
    note_open_end(text_.ends_with_line_end(), mesh_.notes);
    return std::move(mesh_);
  }

 private:
  void record(const Element& element) {
    const bool vertex = element.name == "vertex";
    Vec3 p = Vec3::Zero();
    for (const Property& property : element.properties) {
      if (property.count_type) {
        list(element, property);
      } else if (vertex && property.name.size() == 1 && property.name[0] >= 'x' && property.name[0] <= 'z') {
        p[property.name[0] - 'x'] = text_.number(kCoordinates[property.name[0] - 'x']);
      } else {
        if (!text_.more_on_line())
          text_.fail(fmt::format("the line ends where property {} is expected", quoted(property.name)),
                     "complete the line");
        text_.token();
      }
    }
    if (vertex) mesh_.vertices.push_back(p);
  }

  void list(const Element& element, const Property& property) {
    const char* const start = text_.at();
    const bool corners = is_corner_list(element, property);
    const std::int64_t n = text_.integer("the length of a list");
    if (n < (corners ? 3 : 0))
      text_.fail(start, fmt::format("a list has the length {}, at least {} is needed", n, corners ? 3 : 0),
                 "correct the line");
    if (corners) return face(n);
    for (std::int64_t i = 0; i < n; ++i) {
      if (!text_.more_on_line()) text_.fail("the line ends inside a list", "complete the line");
      text_.token();
    }
  }

  void face(std::int64_t n) {
    const auto count = static_cast<std::int64_t>(element_named(header_, "vertex")->count);
    corners_.clear();
    for (std::int64_t i = 0; i < n; ++i) {
      text_.more_on_line();
      const char* const start = text_.at();
      const std::int64_t index = text_.integer("a corner of a face");
      if (index < 0 || index >= count)
        text_.fail(start, fmt::format("a face refers to vertex {}, allowed are 0 to {}", index, count - 1),
                   "correct the index");
      corners_.push_back(static_cast<std::uint32_t>(index));
    }
    polygons_ += n > 3;
    append_fan(corners_, mesh_.triangles);
  }

  static constexpr const char* kCoordinates[] = {"x of a vertex", "y of a vertex", "z of a vertex"};
  TextCursor text_;
  const Header& header_;
  MeshFile mesh_;
  std::vector<std::uint32_t> corners_;
  std::uint64_t polygons_ = 0;
};

}  // namespace

MeshFile read_ply(std::string_view bytes, const std::string& file, std::uint64_t greatest_vertices) {
  const Header header = HeaderReader(bytes, file).read();
  check_elements(header, file);
  check_counts(header, bytes.size() - header.size, file);
  check_greatest(element_named(header, "vertex")->count, greatest_vertices, file);
  MeshFile mesh = header.encoding == Encoding::ascii ? TextReader(bytes, file, header).read()
                                                     : BinaryReader(bytes, file, header).read();
  mesh.format = header.encoding == Encoding::ascii    ? "PLY (ascii)"
                : header.encoding == Encoding::little ? "PLY (binary, little-endian)"
                                                      : "PLY (binary, big-endian)";
  return mesh;
}

}  // namespace rimstance
