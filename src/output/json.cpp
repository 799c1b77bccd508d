#include "rimstance/output/json.hpp"

#include "rimstance/base/files.hpp"
#include "rimstance/base/utf8.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

class Writer {
 public:
  void value(const Value& v, int depth) {
    std::visit([&](const auto& held) { put(held, depth); }, v.is);
  }
  std::string finish() {
    out_ += '\n';
    return std::move(out_);
  }

 private:
  void put(std::nullptr_t, int) { out_ += "null"; }
  void put(bool b, int) { out_ += b ? "true" : "false"; }
  void put(std::int64_t number, int) { out_ += std::to_string(number); }
  /// A double stays recognisable as one: 2 is written 2.0, and the sign of -0.0 survives.
  void put(double number, int) {
    const std::string digits = shortest(number);
    out_ += digits;
    if (digits.find_first_of(".e") == std::string::npos) out_ += ".0";
  }
  void put(const std::string& text, int) {
    out_ += '"';
    const std::string valid = valid_utf8(text);
    for (std::string_view rest = valid; !rest.empty();) {
      const std::string_view c = rest.substr(0, utf8_length(rest));
      rest.remove_prefix(c.size());
      if (c == "\"" || c == "\\")
        (out_ += '\\') += c;
      else if (c == "\n")
        out_ += "\\n";
      else if (c == "\t")
        out_ += "\\t";
      else if (steers_terminal(c))
        out_ += escaped(c);
      else
        out_ += c;
    }
    out_ += '"';
  }
  /// \uNNNN; the sequences that steer a terminal have at most three bytes.
  static std::string escaped(std::string_view c) {
    constexpr std::string_view kHex = "0123456789abcdef";
    const auto low = [&](std::size_t i, unsigned bits) { return static_cast<unsigned char>(c[i]) & bits; };
    unsigned code = low(0, 0x7F);
    if (c.size() == 2) code = low(0, 0x1F) << 6 | low(1, 0x3F);
    if (c.size() == 3) code = low(0, 0x0F) << 12 | low(1, 0x3F) << 6 | low(2, 0x3F);
    std::string out = "\\u";
    for (const unsigned shift : {12u, 8u, 4u, 0u}) out += kHex[code >> shift & 15];
    return out;
  }
  void put(const Values& list, int depth) {
    if (list.empty()) return void(out_ += "[]");
    const bool short_one = plain(list);
    out_ += '[';
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (i > 0) out_ += short_one ? ", " : ",";
      if (!short_one) line(depth + 1);
      value(list[i], depth + 1);
    }
    if (!short_one) line(depth);
    out_ += ']';
  }
  void put(const Members& members, int depth) {
    if (members.empty()) return void(out_ += "{}");
    out_ += '{';
    bool first = true;
    const auto key = [&](const std::string& name) {
      if (!first) out_ += ',';
      first = false;
      line(depth + 1);
      put(name, depth);
      out_ += ": ";
    };
    for (const auto& [name, member] : members) {
      key(name);
      value(member, depth + 1);
      if (!member.is_null() || member.reason.empty()) continue;
      key(name + "_reason");
      put(member.reason, depth);
    }
    line(depth);
    out_ += '}';
  }
  /// Points and intervals stay on one line.
  static bool plain(const Values& list) {
    for (const Value& v : list)
      if (std::holds_alternative<Values>(v.is) || std::holds_alternative<Members>(v.is)) return false;
    return list.size() <= 8;
  }
  void line(int depth) { (out_ += '\n').append(2 * static_cast<std::size_t>(depth), ' '); }

  std::string out_;
};

}  // namespace

std::string to_json(const Value& value) {
  Writer writer;
  writer.value(value, 0);
  return writer.finish();
}

}  // namespace rimstance
