#include "rimstance/output/figure.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "placement.hpp"
#include "rimstance/base/errors.hpp"
#include "rimstance/output/text.hpp"

namespace rimstance {
namespace {

using namespace svg;

// Sizes of the page [px].
constexpr double kMargin = 18, kBody = 13, kSmall = 12, kTitle = 20, kLeading = 1.38;
constexpr double kAxisLeft = 68, kAxisBelow = 46, kSide = 320, kGap = 26;
constexpr std::string_view kInk = "#1d2126", kQuiet = "#565b61", kBad = "#a3231b", kRule = "#c9ccd0";

constexpr double kSmallArea = 70;  // areas of one ring up to this size are kept free of words as a whole
constexpr double kSign = 60;       // how much words stay off signs and small areas

/// Where things are on the page, and the way from metres to pixels.
struct Layout {
  Rect plot;
  Box2 frame;
  double scale = 1;    // px/m
  bool beside = true;  // legend and facts right of the picture; else below
  double width = 0;    // of the page

  Vec2 px(const Vec2& p) const {
    return {plot.x0 + (p.x() - frame.lo.x()) * scale, plot.y1 - (p.y() - frame.lo.y()) * scale};
  }
};

/// A round step (1, 2 or 5 times a power of ten) that divides `span` into about `parts`.
double round_step(double span, double parts) {
  const double raw = span / parts, power = std::pow(10.0, std::floor(std::log10(raw)));
  for (const double m : {1.0, 2.0, 5.0})
    if (m * power >= raw) return m * power;
  return 10 * power;
}
int decimals_of(double step) { return std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9))); }

/// Steps of the ticks of an axis `pixels` long over `span` metres.
double tick_step_x(double span, double pixels) {
  return round_step(span, std::clamp(pixels / 95, 2.0, 10.0));
}
double tick_step_y(double span, double pixels) {
  return round_step(span, std::clamp(pixels / 70, 2.0, 10.0));
}

Layout layout_of(const Figure& f, double top) {
  Layout l;
  l.frame = f.frame;
  const Vec2 size = f.frame.hi - f.frame.lo;
  expects(size.x() > 0 && size.y() > 0 && size.allFinite(), "Figure: the frame has an area");
  l.beside = size.x() < 1.6 * size.y();
  const Vec2 room = l.beside ? Vec2(780, 760) : Vec2(1100, 620);
  l.scale = std::min(room.x() / size.x(), room.y() / size.y());
  const double step = tick_step_y(size.y() * f.y_shows, size.y() * l.scale);
  double ticks = 0;  // large map coordinates make wide numbers
  for (const double y : {f.frame.lo.y(), f.frame.hi.y()})
    ticks = std::max(ticks, text_width(fixed(y * f.y_shows, decimals_of(step)), kSmall));
  const double left = kMargin + std::max(kAxisLeft, ticks + 36);
  l.plot = {left, top, left + size.x() * l.scale, top + size.y() * l.scale};
  l.width = l.plot.x1 + kMargin + (l.beside ? kGap + kSide : 0);
  l.width = std::max(l.width, 900.0);
  return l;
}

std::string line(const Vec2& a, const Vec2& b, const std::string& attributes) {
  return "<path d=\"M" + point(a) + 'L' + point(b) + "\" fill=\"none\"" + attributes + "/>\n";
}
std::string box(const Rect& r, const std::string& attributes) {
  return "<rect x=\"" + number(r.x0) + "\" y=\"" + number(r.y0) + "\" width=\"" + number(r.width()) +
         "\" height=\"" + number(r.height()) + '"' + attributes + "/>\n";
}
Rect bounds(const std::vector<Vec2>& points) {
  Vec2 lo = points.front(), hi = points.front();
  for (const Vec2& p : points) {
    lo = lo.cwiseMin(p);
    hi = hi.cwiseMax(p);
  }
  return {lo.x(), lo.y(), hi.x(), hi.y()};
}
std::string css(const Look& l) { return " class=\"" + std::string(l.name) + '"'; }

/// Draws the marks, and keeps what words should not cover.
class Plot {
 public:
  Plot(const Figure& f, const Layout& l) : figure_(f), layout_(l) {}

  std::string draw() {
    furniture();
    std::string marks;
    for (const Mark& mark : figure_.marks) marks += std::visit([&](const auto& m) { return drawn(m); }, mark);
    for (const Mark& mark : figure_.marks)
      if (const auto* l = std::get_if<Line>(&mark); l && !l->along.empty()) over_ += set_into(*l);
    for (const Mark& mark : figure_.marks)
      if (const auto* d = std::get_if<Measurement>(&mark)) over_ += measured(*d);
    for (const Mark& mark : figure_.marks)
      if (const auto* n = std::get_if<Note>(&mark)) over_ += noted(*n);
    const std::string clip = figure_.name + "-clip";
    return "<clipPath id=\"" + clip + "\">" + box(layout_.plot, "") + "</clipPath>\n<g clip-path=\"url(#" +
           clip + ")\">\n" + box(layout_.plot, " fill=\"#ffffff\"") + marks + "</g>\n" + axes() + over_ +
           furniture_;
  }

 private:
  std::vector<Vec2> px(const std::vector<Vec2>& points) const {
    std::vector<Vec2> out;
    for (const Vec2& p : points) {
      expects(p.allFinite(), "Figure: coordinates are finite");
      out.push_back(layout_.px(p));
    }
    return out;
  }
  Vec2 px(const Vec2& p) const { return px(std::vector<Vec2>{p}).front(); }
  bool shown(const Vec2& p) const {
    return p.x() >= layout_.plot.x0 && p.x() <= layout_.plot.x1 && p.y() >= layout_.plot.y0 &&
           p.y() <= layout_.plot.y1;
  }
  void keep_off(const Rect& r, double weight) { obstacles_.push_back({r, weight}); }
  void keep_off_line(const std::vector<Vec2>& points, double weight) {
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
      const double length = (points[i + 1] - points[i]).norm();
      const int parts = static_cast<int>(std::clamp(length / 7, 1.0, 400.0));
      for (int k = 0; k < parts; ++k) {
        const Vec2 p = points[i] + (points[i + 1] - points[i]) * ((k + 0.5) / parts);
        if (shown(p)) keep_off(Rect{p.x(), p.y(), p.x(), p.y()}.grown(3.5), weight);
      }
    }
  }

  std::string drawn(const Raster& r) const {
    const Vec2 top_left = px(Vec2(r.box.lo.x(), r.box.hi.y())),
               bottom_right = px(Vec2(r.box.hi.x(), r.box.lo.y()));
    const Vec2 size = bottom_right - top_left;
    return "<image class=\"relief\" x=\"" + number(top_left.x()) + "\" y=\"" + number(top_left.y()) +
           "\" width=\"" + number(size.x()) + "\" height=\"" + number(size.y()) +
           "\" preserveAspectRatio=\"none\" xlink:href=\"data:image/png;base64," + base64(to_png(r.image)) +
           "\"/>\n";
  }
  std::string drawn(const Area& a) {
    const Look& l = look(a.look);
    std::string d;
    for (const auto& ring : a.rings) {
      std::vector<Vec2> points = px(ring);
      d += path(points, true);
      if (points.empty()) continue;
      const Rect r = bounds(points);
      if (a.rings.size() == 1 && std::max(r.width(), r.height()) < kSmallArea) keep_off(r.grown(2), kSign);
      points.push_back(points.front());
      if (!l.stroke.empty()) keep_off_line(points, 12);
    }
    return "<path" + css(l) + " d=\"" + d + "\" fill-rule=\"evenodd\" stroke-linejoin=\"round\"" +
           fill(l, figure_.name) + stroke(l) + "/>\n";
  }
  std::string drawn(const Line& m) {
    const Look& l = look(m.look);
    const std::vector<Vec2> points = px(m.points);
    if (points.size() < 2) return {};
    keep_off_line(points, l.halo ? 15 + 6 * l.width : 3);
    const std::string d =
        "<path" + css(l) + " d=\"" + path(points, false) + "\" fill=\"none\" stroke-linejoin=\"round\"";
    std::string out;
    if (l.halo)
      out +=
          d + " stroke=\"#ffffff\" stroke-opacity=\"0.85\" stroke-width=\"" + number(l.width + 3) + "\"/>\n";
    out += d + stroke(l) + "/>\n";
    if (m.arrow)
      out += arrow_head(points.back(), points.back() - points[points.size() - 2], 6 + 2 * l.width, l.stroke);
    return out;
  }
  std::string drawn(const Disc& m) {
    const Look& l = look(m.look);
    const Vec2 c = px(m.centre);
    const double r = m.radius * layout_.scale;
    keep_off(Rect{c.x(), c.y(), c.x(), c.y()}.grown(r + 2), kSign);
    const std::string circle = "<circle" + css(l) + " cx=\"" + number(c.x()) + "\" cy=\"" + number(c.y()) +
                               "\" r=\"" + number(r) + '"';
    return circle + fill(l, figure_.name) + stroke(l) + "/>\n";
  }
  std::string drawn(const Symbol& m) {
    const Look& l = look(m.look);
    const Vec2 p = px(m.at);
    keep_off(Rect{p.x(), p.y(), p.x(), p.y()}.grown(l.size / 2 + 2), kSign);
    return "<g" + css(l) + ">" + symbol(l, p, figure_.name) + "</g>\n";
  }
  std::string drawn(const Note&) const { return {}; }
  std::string drawn(const Measurement&) const { return {}; }

  /// Words in the straightest stretch of a line that has room, nearest to its middle; upright.
  std::string set_into(const Line& m) {
    const Look& l = look(m.look);
    const std::vector<Vec2> points = px(m.points);
    const double size = l.size > 0 ? l.size : kSmall, room = text_width(m.along, size) + 10;
    double best = kInfinity;
    Vec2 from, to;
    for (std::size_t i = 0, j = 0; i < points.size(); ++i) {
      j = std::max(j, i);
      while (j + 1 < points.size() && (points[j] - points[i]).norm() < room) ++j;
      const Vec2 chord = points[j] - points[i];
      if (chord.norm() < room || !shown(points[i]) || !shown(points[j])) continue;
      double bow = 0;
      for (std::size_t k = i + 1; k < j; ++k)
        bow = std::max(bow, std::abs(cross2(points[k] - points[i], chord)) / chord.norm());
      const double off_middle = std::abs(static_cast<double>(i + j) / static_cast<double>(points.size()) - 1);
      const Vec2 middle = 0.5 * (points[i] + points[j]);
      const double cover = covered(Rect{middle.x(), middle.y(), middle.x(), middle.y()}.grown(room / 2));
      if (const double total = bow + 2 * off_middle + cover; bow < 0.45 * size && total < best) {
        best = total;
        from = points[i];
        to = points[j];
      }
    }
    if (!(best < 60)) return {};
    if (from.x() > to.x()) std::swap(from, to);
    const Vec2 middle = 0.5 * (from + to), along = (to - from).normalized();
    keep_off(Rect{middle.x(), middle.y(), middle.x(), middle.y()}.grown(room / 2), 200);
    const Words style{.size = size,
                      .anchor = Anchor::middle,
                      .halo = true,
                      .turn = degrees(std::atan2(along.y(), along.x())),
                      .colour = l.stroke};
    return words(middle + 0.35 * size * Vec2(-along.y(), along.x()), m.along, style);
  }
  double covered(const Rect& r) const {
    double sum = 0;
    for (const Obstacle& o : obstacles_)
      if (o.weight > 50) sum += o.weight * overlap(r, o.box) / (r.width() * r.height());
    return sum;
  }

  std::string measured(const Measurement& m) {
    const Look& l = look(m.look);
    const Vec2 a = px(m.from), b = px(m.to);
    if ((b - a).norm() < 1e-6) return {};
    const Vec2 along = (b - a).normalized(), left(along.y(), -along.x());  // y runs down the page
    const Vec2 from = a + m.aside * left, to = b + m.aside * left;
    const bool tight = (b - a).norm() < 22;
    std::string out;
    if (m.aside != 0)
      for (const auto& [foot, end] : {std::pair{a, from}, std::pair{b, to}})
        out += line(foot, end + std::copysign(4.0, m.aside) * left,
                    " stroke=\"" + std::string(l.stroke) + "\" stroke-width=\"0.7\"");
    const Vec2 tail = tight ? Vec2(16 * along) : Vec2::Zero();
    out += line(from - tail, to + tail,
                " stroke=\"#ffffff\" stroke-opacity=\"0.85\" stroke-width=\"" + number(l.width + 2.6) + '"');
    out += line(from - tail, to + tail, stroke(l));
    const double inwards = tight ? -1 : 1;
    out += arrow_head(from, -inwards * along, 8, l.stroke) + arrow_head(to, inwards * along, 8, l.stroke);
    keep_off_line({from, to}, 20);
    return out + measure_text(m, l, 0.5 * (from + to), along, m.aside < 0 ? Vec2(-left) : left, tight);
  }
  std::string measure_text(const Measurement& m, const Look& l, const Vec2& middle, const Vec2& along,
                           Vec2 out, bool tight) {
    const bool level = std::abs(along.y()) < 0.5;
    if (level && m.aside == 0) out = Vec2(0, -1);
    Vec2 at = middle + (level ? 7 : 8) * out;
    at.y() += level && out.y() < 0 ? -1 : level ? 0.8 * l.size : 0.36 * l.size;
    if (tight && level) at.y() += out.y() < 0 ? -4 : 4;
    const double w = text_width(m.text, l.size);
    const Anchor anchor = level ? Anchor::middle : out.x() < 0 ? Anchor::end : Anchor::start;
    const double x0 = anchor == Anchor::middle ? at.x() - w / 2 : anchor == Anchor::end ? at.x() - w : at.x();
    keep_off(Rect{x0, at.y() - l.size, x0 + w, at.y() + 3}, 400);
    return words(at, m.text, {.size = l.size, .anchor = anchor, .halo = true, .colour = l.stroke});
  }

  /// How far words keep from a point: beyond the sign or the small part that is drawn there.
  double clear_of(const Vec2& at) const {
    double out = 4;
    for (const Obstacle& o : obstacles_)
      if (o.weight == kSign && overlap(o.box, Rect{at.x(), at.y(), at.x(), at.y()}.grown(1)) > 0)
        out = std::max(out, 0.5 * std::max(o.box.width(), o.box.height()));
    return out;
  }

  std::string noted(const Note& n) {
    const Look& l = look(n.look);
    const Vec2 at = px(n.at);
    if (!shown(at)) return {};
    const std::vector<std::string> lines = lines_of(n.text);
    double w = 0;
    for (const std::string& text : lines) w = std::max(w, text_width(text, l.size));
    const double step = 1.2 * l.size, h = step * static_cast<double>(lines.size());
    const double clear = clear_of(at);
    const Placed spot = place(at, clear, w, h, layout_.plot.grown(-3), obstacles_);
    keep_off(spot.box.grown(3), 400);
    std::string out;
    if (spot.leader) {
      const Vec2 end(std::clamp(at.x(), spot.box.x0, spot.box.x1),
                     std::clamp(at.y(), spot.box.y0, spot.box.y1));
      const Vec2 begin = at + (end - at) * std::min(1.0, (clear - 2) / std::max(1e-9, (end - at).norm()));
      out +=
          line(begin, end,
               " stroke=\"#ffffff\" stroke-opacity=\"0.85\" stroke-width=\"" + number(l.width + 2.4) + '"') +
          line(begin, end, stroke(l));
      keep_off_line({begin, end}, 30);
    }
    for (std::size_t k = 0; k < lines.size(); ++k)
      out += words({spot.box.x0, spot.box.y0 + step * static_cast<double>(k) + 0.92 * l.size}, lines[k],
                   {.size = l.size, .bold = n.look == "label-strong", .halo = true, .colour = l.stroke});
    return out;
  }

  std::string axes() const {
    const Look& l = look("axis");
    const Rect& r = layout_.plot;
    std::string out = box(r, " fill=\"none\"" + stroke(l));
    const Vec2 span = layout_.frame.hi - layout_.frame.lo;
    const double shows = figure_.y_shows;
    const double step_x = tick_step_x(span.x(), r.width()), step_y = tick_step_y(span.y() * shows, r.height());
    for (double k = std::ceil(layout_.frame.lo.x() / step_x - 1e-9);
         k * step_x <= layout_.frame.hi.x() + 1e-9 * step_x; ++k) {
      const double x = layout_.px(Vec2(k * step_x, layout_.frame.lo.y())).x();
      out += line({x, r.y1}, {x, r.y1 + 5}, stroke(l));
      out += words({x, r.y1 + 19}, fixed(k * step_x, decimals_of(step_x)),
                   {.size = l.size, .anchor = Anchor::middle});
    }
    for (double k = std::ceil(layout_.frame.lo.y() * shows / step_y - 1e-9);
         k * step_y <= layout_.frame.hi.y() * shows + 1e-9 * step_y; ++k) {
      const double y = layout_.px(Vec2(layout_.frame.lo.x(), k * step_y / shows)).y();
      out += line({r.x0 - 5, y}, {r.x0, y}, stroke(l));
      out += words({r.x0 - 8, y + 4}, fixed(k * step_y, decimals_of(step_y)),
                   {.size = l.size, .anchor = Anchor::end});
    }
    out += words({(r.x0 + r.x1) / 2, r.y1 + 38}, figure_.x_label, {.size = kBody, .anchor = Anchor::middle});
    const Vec2 at(kMargin + 10, (r.y0 + r.y1) / 2);
    return out + words(at, figure_.y_label, {.size = kBody, .anchor = Anchor::middle, .turn = -90});
  }

  /// Scale bar and north arrow, on white so that they read on any ground.
  void furniture() {
    const Rect& r = layout_.plot;
    const std::string card = " fill=\"#ffffff\" fill-opacity=\"0.94\" stroke=\"none\"";
    if (figure_.scale_bar) {
      const double metres = round_step(layout_.frame.hi.x() - layout_.frame.lo.x(), 8),
                   long_px = metres * layout_.scale;
      const Rect b{r.x0 + 12, r.y1 - 46, r.x0 + 36 + long_px, r.y1 - 10};
      furniture_ += box(b, card);
      furniture_ += box({b.x0 + 12, b.y1 - 14, b.x0 + 12 + long_px / 2, b.y1 - 8},
                        " fill=\"#1d2126\" stroke=\"#1d2126\"");
      furniture_ += box({b.x0 + 12 + long_px / 2, b.y1 - 14, b.x0 + 12 + long_px, b.y1 - 8},
                        " fill=\"#ffffff\" stroke=\"#1d2126\"");
      furniture_ += words({(b.x0 + b.x1) / 2, b.y1 - 19}, fixed(metres, decimals_of(metres)) + " m",
                          {.size = kSmall, .anchor = Anchor::middle});
      keep_off(b.grown(4), 400);
    }
    if (figure_.north_arrow) {
      const Rect b{r.x1 - 42, r.y0 + 10, r.x1 - 10, r.y0 + 66};
      const double x = (b.x0 + b.x1) / 2;
      furniture_ += box(b, card);
      furniture_ += "<path d=\"" + path({{x, b.y0 + 6}, {x - 8, b.y0 + 32}, {x, b.y0 + 26}}, true) +
                    "\" fill=\"#1d2126\" stroke=\"#1d2126\"/>\n";
      furniture_ += "<path d=\"" + path({{x, b.y0 + 6}, {x + 8, b.y0 + 32}, {x, b.y0 + 26}}, true) +
                    "\" fill=\"#ffffff\" stroke=\"#1d2126\"/>\n";
      furniture_ += words({x, b.y1 - 6}, "N", {.size = 14, .anchor = Anchor::middle, .bold = true});
      keep_off(b.grown(4), 400);
    }
  }

  const Figure& figure_;
  const Layout& layout_;
  std::vector<Obstacle> obstacles_;
  std::string over_, furniture_;
};

/// A column of text below one another; knows where it has got to.
struct Column {
  double x, width, y;
  std::string out;
  void heading(std::string_view text) {
    y += kBody + 4;
    out += words({x, y}, text, {.size = kBody, .bold = true});
    y += 8;
  }
};

std::string swatch(const Look& l, const Vec2& middle, std::string_view prefix) {
  const Rect r{middle.x() - 15, middle.y() - 6, middle.x() + 15, middle.y() + 6};
  if (l.shape != Shape::none) return symbol(l, middle, prefix);
  if (l.name == "pad") {
    return "<circle cx=\"" + number(middle.x()) + "\" cy=\"" + number(middle.y()) + "\" r=\"7\"" +
           fill(l, prefix) + stroke(l) + "/>\n";
  }
  if (!l.fill.empty() || l.hatch != Hatch::none) return box(r, fill(l, prefix) + stroke(l));
  return line({r.x0, middle.y()}, {r.x1, middle.y()}, stroke(l));
}

void put_legend(Column& c, const Figure& f) {
  if (f.legend.empty()) return;
  c.heading("What is shown");
  for (const Figure::Key& key : f.legend) {
    const std::vector<std::string> lines = wrapped_lines(key.text, kBody, c.width - 46);
    c.y += kBody * kLeading + 3;
    c.out += swatch(look(key.look), {c.x + 17, c.y - 4.5}, f.name);
    for (std::size_t k = 0; k < lines.size(); ++k) {
      c.y += k > 0 ? kBody * 1.2 : 0;
      c.out += words({c.x + 44, c.y}, lines[k], {.size = kBody});
    }
  }
  c.y += 16;
}

void put_facts(Column& c, const Figure& f) {
  if (f.facts.empty()) return;
  c.heading("Key numbers");
  for (const Figure::Fact& fact : f.facts) {
    const double room = c.width - text_width(fact.value, kBody) - 14;
    const bool stacked = room < 90;
    const std::string name = fact.broken ? fact.name + " (does not hold)" : fact.name;
    const std::vector<std::string> lines =
        wrapped_lines(name, kBody * (fact.broken ? 1.08 : 1), stacked ? c.width : room);
    const Words style{.size = kBody, .bold = fact.broken, .colour = fact.broken ? kBad : kInk};
    for (const std::string& text : lines) {
      c.y += kBody * kLeading;
      c.out += words({c.x, c.y}, text, style);
    }
    Words value = style;
    value.bold = true;
    if (!stacked) {
      value.anchor = Anchor::end;
      c.out += words({c.x + c.width, c.y}, fact.value, value);
    } else {
      for (const std::string& text : wrapped_lines(fact.value, kBody * 1.08, c.width)) {
        c.y += kBody * kLeading;
        c.out += words({c.x, c.y}, text, value);
      }
    }
    c.y += 6;
    c.out +=
        line({c.x, c.y}, {c.x + c.width, c.y}, " stroke=\"" + std::string(kRule) + "\" stroke-width=\"0.7\"");
  }
  c.y += 12;
}

/// Hatches that the figure uses, once each.
std::string definitions(const Figure& f) {
  std::set<std::string> used;
  for (const Mark& mark : f.marks) {
    if (const auto* a = std::get_if<Area>(&mark)) used.insert(a->look);
    if (const auto* d = std::get_if<Disc>(&mark)) used.insert(d->look);
  }
  for (const Figure::Key& key : f.legend) used.insert(key.look);
  std::string out;
  for (const std::string& name : used)
    if (const Look& l = look(name); l.hatch != Hatch::none) out += hatch_definition(l, f.name);
  return out.empty() ? out : "<defs>\n" + out + "</defs>\n";
}

std::string paragraph(Column& c, std::string_view text, double size, std::string_view colour,
                      bool bold = false) {
  std::string out;
  for (const std::string& words_line : wrapped_lines(text, size * (bold ? 1.08 : 1), c.width)) {
    c.y += size * kLeading;
    out += words({c.x, c.y}, words_line, {.size = size, .bold = bold, .colour = colour});
  }
  return out;
}

}  // namespace

std::string to_svg(const Figure& f) {
  Layout l = layout_of(f, 0);
  Column head{kMargin, l.width - 2 * kMargin, 8, {}};
  std::string body = f.title.empty() ? "" : paragraph(head, f.title, kTitle, kInk, true);
  if (!f.subtitle.empty()) body += paragraph(head, f.subtitle, kBody, kQuiet);
  l = layout_of(f, head.y + 18);
  body += Plot(f, l).draw();

  const double below = l.plot.y1 + kAxisBelow;
  Column legend{l.beside ? l.plot.x1 + kGap : kMargin + kAxisLeft,
                l.beside ? l.width - l.plot.x1 - kGap - kMargin : (l.width - 3 * kMargin - kAxisLeft) / 2,
                l.beside ? l.plot.y0 - 6 : below + 6,
                {}};
  put_legend(legend, f);
  Column facts = legend;
  facts.out.clear();
  if (!l.beside) {
    facts.x += legend.width + kMargin;
    facts.y = below + 6;
  }
  put_facts(facts, f);
  Column foot{kMargin, l.width - 2 * kMargin, std::max({below, legend.y, facts.y}), {}};
  if (!f.caption.empty()) foot.out = paragraph(foot, f.caption, kSmall, kQuiet);
  const std::string w = number(l.width), h = number(foot.y + kMargin);
  return "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" "
         "version=\"1.1\" width=\"" +
         w + "\" height=\"" + h + "\" viewBox=\"0 0 " + w + ' ' + h +
         "\" font-family=\"DejaVu Sans, Verdana, Arial, Helvetica, sans-serif\" role=\"img\">\n<title>" +
         xml_escaped(f.title) + "</title>\n" + definitions(f) + "<rect width=\"" + w + "\" height=\"" + h +
         "\" fill=\"#ffffff\"/>\n" + body + legend.out + facts.out + foot.out + "</svg>\n";
}

}  // namespace rimstance
