#include "svg.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "rimstance/output/text.hpp"

namespace rimstance::svg {

std::string number(double x) {
  std::string out = fixed(x, 2);
  out.erase(out.find_last_not_of('0') + 1);
  if (out.back() == '.') out.pop_back();
  return out;
}

std::string point(const Vec2& p) { return number(p.x()) + ' ' + number(p.y()); }

double text_width(std::string_view text, double size) {
  double ems = 0;
  for (const char c : text) {
    if ((static_cast<std::uint8_t>(c) & 0xC0) == 0x80) continue;  // the rest of a code point
    if (std::string_view("ijlI.,:;'|![]()/ ").find(c) != std::string_view::npos)
      ems += 0.36;
    else if (std::string_view("mwMW@%").find(c) != std::string_view::npos)
      ems += 0.96;
    else if (c >= 'A' && c <= 'Z')
      ems += 0.71;
    else
      ems += 0.63;
  }
  return ems * size;
}

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines(1);
  for (const char c : text) {
    if (c == '\n')
      lines.emplace_back();
    else
      lines.back() += c;
  }
  return lines;
}

std::vector<std::string> wrapped_lines(std::string_view text, double size, double room) {
  std::vector<std::string> out;
  for (const std::string& line : lines_of(text)) {
    out.emplace_back();
    for (std::size_t i = 0; i < line.size();) {
      const std::size_t end = std::min(line.find(' ', i), line.size());
      const std::string word = line.substr(i, end - i);
      const std::string longer = out.back().empty() ? word : out.back() + ' ' + word;
      if (!out.back().empty() && text_width(longer, size) > room)
        out.push_back(word);
      else
        out.back() = longer;
      i = end + 1;
    }
  }
  return out;
}

std::string words(const Vec2& at, std::string_view text, const Words& w) {
  std::string out =
      "<text x=\"" + number(at.x()) + "\" y=\"" + number(at.y()) + "\" font-size=\"" + number(w.size) + '"';
  if (w.anchor != Anchor::start)
    out += w.anchor == Anchor::middle ? " text-anchor=\"middle\"" : " text-anchor=\"end\"";
  if (w.bold) out += " font-weight=\"bold\"";
  if (w.turn != 0) out += " transform=\"rotate(" + number(w.turn) + ' ' + point(at) + ")\"";
  out += " fill=\"" + std::string(w.colour) + '"';
  if (w.halo)
    out += " stroke=\"#ffffff\" stroke-width=\"3.2\" stroke-linejoin=\"round\" paint-order=\"stroke\"";
  return out + '>' + xml_escaped(text) + "</text>\n";
}

std::string stroke(const Look& l) {
  if (l.stroke.empty()) return " stroke=\"none\"";
  std::string out = " stroke=\"" + std::string(l.stroke) + "\" stroke-width=\"" + number(l.width) + '"';
  if (!l.dash.empty()) out += " stroke-dasharray=\"" + std::string(l.dash) + '"';
  return out;
}

std::string fill(const Look& l, std::string_view prefix) {
  if (l.hatch != Hatch::none)
    return " fill=\"url(#" + std::string(prefix) + '-' + std::string(l.name) + ")\"";
  if (l.fill.empty()) return " fill=\"none\"";
  std::string out = " fill=\"" + std::string(l.fill) + '"';
  if (l.opacity < 1) out += " fill-opacity=\"" + number(l.opacity) + '"';
  return out;
}

std::string hatch_definition(const Look& l, std::string_view prefix) {
  std::string out =
      "<pattern id=\"" + std::string(prefix) + '-' + std::string(l.name) +
      "\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\"><rect width=\"8\" height=\"8\" fill=\"" +
      std::string(l.fill) + "\" fill-opacity=\"" + number(l.opacity) + "\"/>";
  const std::string ink = " stroke=\"" + std::string(l.stroke) + "\" stroke-width=\"1\"/>";
  if (l.hatch == Hatch::dots)
    out += "<circle cx=\"4\" cy=\"4\" r=\"1.2\" fill=\"" + std::string(l.stroke) + "\"/>";
  if (l.hatch != Hatch::dots) out += "<path d=\"M-2 2L2 -2M0 8L8 0M6 10L10 6\"" + ink;
  if (l.hatch == Hatch::crossed) out += "<path d=\"M-2 6L2 10M0 0L8 8M6 -2L10 2\"" + ink;
  return out + "</pattern>\n";
}

std::string path(const std::vector<Vec2>& points, bool closed) {
  std::string out;
  Vec2 last = Vec2::Constant(kUnset);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const bool end = i == 0 || i + 1 == points.size();
    if (!end && (points[i] - last).norm() < 0.35) continue;  // below what can be seen
    out += (i == 0 ? 'M' : 'L') + point(points[i]);
    last = points[i];
  }
  return out + (closed ? "Z" : "");
}

namespace {

std::vector<Vec2> ring_of(int corners, double radius, double inner, double turn) {
  std::vector<Vec2> out;
  for (int k = 0; k < corners; ++k) {
    const double a = turn + 2 * kPi * k / corners, r = k % 2 ? inner : radius;
    out.emplace_back(r * std::cos(a), r * std::sin(a));
  }
  return out;
}

std::vector<Vec2> outline(Shape shape, double r) {
  switch (shape) {
    case Shape::square:
      return ring_of(4, r, r, kPi / 4);
    case Shape::diamond:
      return ring_of(4, r, r, kPi / 2);
    case Shape::triangle:
      return ring_of(3, r, r, -kPi / 2);
    case Shape::star:
      return ring_of(10, r, 0.42 * r, -kPi / 2);
    default:
      return {};
  }
}

}  // namespace

std::string symbol(const Look& l, const Vec2& at, std::string_view prefix) {
  const double r = l.size / 2;
  const auto shape = [&](const std::string& attributes) {
    if (l.shape == Shape::cross)
      return "<path d=\"M" + point(at + Vec2(-r, -r)) + 'L' + point(at + Vec2(r, r)) + 'M' +
             point(at + Vec2(-r, r)) + 'L' + point(at + Vec2(r, -r)) + '"' + attributes + "/>\n";
    std::vector<Vec2> ring = outline(l.shape, r);
    if (ring.empty())
      return "<circle cx=\"" + number(at.x()) + "\" cy=\"" + number(at.y()) + "\" r=\"" + number(r) + '"' +
             attributes + "/>\n";
    for (Vec2& p : ring) p += at;
    return "<path d=\"" + path(ring, true) + '"' + attributes + "/>\n";
  };
  std::string out;
  if (l.halo)
    out += shape(" fill=\"none\" stroke=\"#ffffff\" stroke-linejoin=\"round\" stroke-width=\"" +
                 number(l.width + 3.2) + '"');
  out += shape(" stroke-linejoin=\"round\"" + fill(l, prefix) + stroke(l));
  if (l.shape == Shape::ring)  // quartered, so that it differs from a disc also when small
    out += "<path d=\"M" + point(at + Vec2(-r, 0)) + 'L' + point(at + Vec2(r, 0)) + 'M' +
           point(at + Vec2(0, -r)) + 'L' + point(at + Vec2(0, r)) + "\" fill=\"none\"" + stroke(l) + "/>\n";
  return out;
}

std::string arrow_head(const Vec2& tip, const Vec2& direction, double length, std::string_view colour) {
  const Vec2 d = direction.normalized(), n(-d.y(), d.x());
  return "<path d=\"" +
         path({tip, tip - length * d + 0.36 * length * n, tip - length * d - 0.36 * length * n}, true) +
         "\" fill=\"" + std::string(colour) + "\" stroke=\"none\"/>\n";
}

}  // namespace rimstance::svg
