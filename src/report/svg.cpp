#include "whirler/report/svg.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

namespace whirler::report {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

/// Length of the valid UTF-8 sequence at the start of `text`, 0 if there is none or XML forbids it.
std::size_t sequence_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned lead = byte(0);
  if (lead < 0x80)
    return lead >= 0x20 || lead == '\t' || lead == '\n' || lead == '\r' ? (lead == 0x7F ? 0 : 1)
                                                                        : 0;
  const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || text.size() < length)
    return 0;
  std::uint32_t code = lead & (0xFFU >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xC0U) != 0x80U)
      return 0;
    code = code << 6U | (byte(i) & 0x3FU);
  }
  const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
  const bool forbidden =
      (code >= 0xD800 && code <= 0xDFFF) || code > 0x10FFFF || code == 0xFFFE || code == 0xFFFF;
  return overlong || forbidden ? 0 : length;
}

std::string_view entity(char c) {
  switch (c) {
  case '&':
    return "&amp;";
  case '<':
    return "&lt;";
  case '>':
    return "&gt;";
  case '"':
    return "&quot;";
  case '\'':
    return "&#39;";
  default:
    return {};
  }
}

/// Hundredths are finer than any printer; the same bytes in every locale.
std::string px(double value) {
  if (!std::isfinite(value))
    value = 0.0;
  std::array<char, 400> buffer{};
  const double rounded = std::round(value * 100.0) / 100.0 + 0.0; // no "-0"
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded,
                                          std::chars_format::fixed);
  return {buffer.data(), end};
}

std::string attribute(std::string_view name, std::string_view value) {
  return " " + std::string(name) + "=\"" + std::string(value) + "\"";
}

std::string class_of(Look look) {
  constexpr std::array<std::string_view, 14> kNames{"ink",   "second", "third", "grid", "axis",
                                                    "limit", "band",   "plate", "hole", "dot",
                                                    "ring",  "heavy",  "watch", "paper"};
  return attribute("class", kNames[static_cast<std::size_t>(look)]);
}

std::string point_list(std::span<const Xy> points) {
  std::string list;
  for (const Xy& p : points)
    list += (list.empty() ? "" : " ") + px(p.x) + "," + px(p.y);
  return list;
}

double size_of(Words size) {
  return size == Words::title ? 15.0 : size == Words::label ? 12.0 : 10.0;
}

std::string word_attributes(Words size, Anchor anchor) {
  const std::string_view anchor_name = anchor == Anchor::start    ? "start"
                                       : anchor == Anchor::middle ? "middle"
                                                                  : "end";
  return attribute("font-size", px(size_of(size))) +
         (size == Words::title ? attribute("font-weight", "bold") : std::string{}) +
         attribute("text-anchor", anchor_name);
}

constexpr std::string_view kShapes =
    "svg.d text{font-family:'DejaVu Sans',Verdana,Arial,sans-serif;fill:var(--ink)}"
    "svg.d *{stroke-linejoin:round;stroke-linecap:butt}"
    "svg.d .ink{stroke:var(--ink);stroke-width:1.6;fill:none}"
    "svg.d .second{stroke:var(--ink);stroke-width:1.6;fill:none;stroke-dasharray:7 4}"
    "svg.d .third{stroke:var(--ink);stroke-width:1.8;fill:none;stroke-dasharray:1.8 3}"
    "svg.d .grid{stroke:var(--pale);stroke-width:.7;fill:none}"
    "svg.d .axis{stroke:var(--ink);stroke-width:1;fill:none}"
    "svg.d .limit{stroke:var(--red);stroke-width:1.8;fill:none;stroke-dasharray:12 4}"
    "svg.d .watch{stroke:var(--red);stroke-width:1.6;fill:none;stroke-dasharray:8 3 1.6 3}"
    "svg.d .band{stroke:none;fill:var(--band)}"
    "svg.d .plate{stroke:var(--ink);stroke-width:1.4;fill:var(--band)}"
    "svg.d .hole{stroke:var(--ink);stroke-width:1.2;fill:var(--paper)}"
    "svg.d .paper{stroke:none;fill:var(--paper)}"
    "svg.d .dot{stroke:none;fill:var(--ink)}"
    "svg.d .ring{stroke:var(--ink);stroke-width:1.4;fill:var(--paper)}"
    "svg.d .heavy{stroke:var(--red);stroke-width:2.8;fill:none}";

/// The rules with their variables written out: viewers of single files often know no var().
std::string written_out() {
  std::string rules(kShapes);
  constexpr std::array<std::pair<std::string_view, std::string_view>, 5> kPaper{
      {{"var(--ink)", "#000"},
       {"var(--pale)", "#bbb"},
       {"var(--band)", "#e4e0d8"},
       {"var(--paper)", "#fff"},
       {"var(--red)", "#a00000"}}};
  for (const auto& [name, colour] : kPaper)
    for (auto at = rules.find(name); at != std::string::npos; at = rules.find(name, at))
      rules.replace(at, name.size(), colour);
  return rules;
}

} // namespace

std::string escaped(std::string_view text) {
  std::string safe;
  safe.reserve(text.size());
  while (!text.empty()) {
    const std::size_t length = sequence_length(text);
    const std::string_view replaced = entity(text.front());
    if (length == 0)
      safe += kReplacement;
    else
      safe += replaced.empty() ? text.substr(0, length) : replaced;
    text.remove_prefix(length == 0 ? 1 : length);
  }
  return safe;
}

Drawing::Drawing(double width, double height, std::string title)
    : width_(width), height_(height), title_(std::move(title)) {}

void Drawing::line(Xy from, Xy to, Look look) {
  body_ += "<line" + class_of(look) + attribute("x1", px(from.x)) + attribute("y1", px(from.y)) +
           attribute("x2", px(to.x)) + attribute("y2", px(to.y)) + "/>\n";
}

void Drawing::polyline(std::span<const Xy> points, Look look) {
  if (points.size() > 1)
    body_ += "<polyline" + class_of(look) + attribute("points", point_list(points)) + "/>\n";
}

void Drawing::polygon(std::span<const Xy> points, Look look) {
  if (points.size() > 2)
    body_ += "<polygon" + class_of(look) + attribute("points", point_list(points)) + "/>\n";
}

void Drawing::circle(Xy centre, double radius, Look look) {
  body_ += "<circle" + class_of(look) + attribute("cx", px(centre.x)) +
           attribute("cy", px(centre.y)) + attribute("r", px(radius)) + "/>\n";
}

void Drawing::ellipse(Xy centre, double half_x, double half_y, double turn_deg, Look look) {
  body_ += "<ellipse" + class_of(look) + attribute("cx", px(centre.x)) +
           attribute("cy", px(centre.y)) + attribute("rx", px(half_x)) +
           attribute("ry", px(half_y)) +
           attribute("transform",
                     "rotate(" + px(turn_deg) + " " + px(centre.x) + " " + px(centre.y) + ")") +
           "/>\n";
}

void Drawing::arrow(Xy from, Xy to, Look look) {
  const double length = std::hypot(to.x - from.x, to.y - from.y);
  if (length == 0.0)
    return;
  const Xy along{(to.x - from.x) / length, (to.y - from.y) / length};
  const double back = std::min(9.0, 0.6 * length);
  const double wide = back / 2.0;
  const auto barb = [&](double side) {
    return Xy{to.x - back * along.x - side * wide * along.y,
              to.y - back * along.y + side * wide * along.x};
  };
  line(from, to, look);
  const std::array<Xy, 3> head{barb(1.0), to, barb(-1.0)};
  polyline(head, look);
}

void Drawing::text(Xy at, std::string_view words, Words size, Anchor anchor) {
  body_ += "<text" + attribute("x", px(at.x)) + attribute("y", px(at.y)) +
           word_attributes(size, anchor) + ">" + escaped(words) + "</text>\n";
}

void Drawing::text_upwards(Xy middle, std::string_view words) {
  body_ += "<text" + attribute("x", px(middle.x)) + attribute("y", px(middle.y)) +
           word_attributes(Words::label, Anchor::middle) +
           attribute("transform", "rotate(-90 " + px(middle.x) + " " + px(middle.y) + ")") + ">" +
           escaped(words) + "</text>\n";
}

std::string Drawing::markup(std::string_view style) const {
  std::string text = "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"d\" role=\"img\"" +
                     attribute("viewBox", "0 0 " + px(width_) + " " + px(height_)) +
                     attribute("width", px(width_)) + attribute("height", px(height_)) + ">\n";
  text += "<title>" + escaped(title_) + "</title>\n";
  if (!style.empty())
    text += "<style>" + std::string(style) + "</style>\n<rect width=\"100%\" height=\"100%\" " +
            "fill=\"#fff\"/>\n";
  return text + body_ + "</svg>\n";
}

std::string Drawing::for_page() const { return markup({}); }

std::string Drawing::file() const {
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + markup(written_out());
}

std::string style_sheet(bool amber_screen) {
  const std::string paper =
      ":root{--ink:#000;--pale:#bbb;--band:#e4e0d8;--paper:#fff;--red:#a00000}";
  const std::string amber =
      "@media "
      "screen{:root{--ink:#ffb000;--pale:#5a3800;--band:#3a2200;--paper:#000;--red:#ff4000}}";
  return paper + (amber_screen ? amber : "") + std::string(kShapes);
}

double width_of(std::string_view words, Words size) {
  std::size_t letters = 0;
  for (const char c : words)
    letters += (static_cast<unsigned char>(c) & 0xC0U) != 0x80U ? 1 : 0;
  return 0.62 * size_of(size) * static_cast<double>(letters);
}

} // namespace whirler::report
