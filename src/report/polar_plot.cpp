#include "whirler/report/polar_plot.hpp"

#include "polar_key.hpp"
#include "polar_labels.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace whirler::report {
namespace {

constexpr double kTop = 30.0;
constexpr double kEdge = 46.0;
constexpr double kBeyond = 3.0; ///< times all the rest: a circle wider than that is not drawn
constexpr double kDot_px = 5.0; ///< a shorter vector is a dot

/// Sizes and angles to paper.
struct Face {
  Xy centre;
  double px_a_unit = 1.0;
  double outer = 1.0; ///< size at the outermost ring
  double sense = 1.0; ///< +1 where angles grow clockwise on paper

  [[nodiscard]] Xy at(double size, Angle angle) const {
    return {centre.x + sense * px_a_unit * size * std::sin(angle.rad()),
            centre.y - px_a_unit * size * std::cos(angle.rad())};
  }
};

/// The largest size on the plot.
double widest_of(const PolarPlot& plot) {
  double most = 0.0;
  for (const PolarVector& v : plot.vectors)
    most = std::max(most, v.size + (v.ellipse ? v.ellipse->longer : 0.0));
  for (const PolarPoint& p : plot.points)
    most = std::max(most, p.size);
  std::vector<double> radii;
  for (const PolarCircle& limit : plot.limits)
    radii.push_back(limit.radius);
  std::sort(radii.begin(), radii.end());
  for (const double radius : radii)
    if (most == 0.0 || radius <= kBeyond * most)
      most = std::max(most, radius);
  return std::isfinite(most) && most > 0.0 ? most : 1.0;
}

bool is_drawn(const PolarVector& v) { return std::isfinite(v.size) && v.at.is_finite(); }
bool is_drawn(const PolarPoint& p) { return std::isfinite(p.size) && p.at.is_finite(); }

/// The ellipse's turn on paper: its half axis lies along x before turning, and the paper turns
/// clockwise, as angles do for sense +1.
double turn_deg(const Face& face, const Ellipse& ellipse) {
  return face.sense * ellipse.longer_at.deg() - 90.0;
}

/// All that words should keep off.
Inked inked_by(const PolarPlot& plot, const Face& face, double widest) {
  Inked inked;
  for (const PolarVector& v : plot.vectors) {
    if (!is_drawn(v))
      continue;
    const Xy tip = face.at(v.size, v.at);
    inked.line(face.centre, tip, 10.0);
    inked.area({tip.x - 6.0, tip.x + 6.0, tip.y - 6.0, tip.y + 6.0}, 5.0);
    if (v.ellipse)
      inked.ellipse(tip, face.px_a_unit * v.ellipse->longer, face.px_a_unit * v.ellipse->shorter,
                    degrees(turn_deg(face, *v.ellipse)).rad(), 3.0);
  }
  for (const PolarCircle& limit : plot.limits)
    if (limit.radius <= widest)
      inked.circle(face.centre, face.px_a_unit * limit.radius, 2.0);
  for (const PolarPoint& p : plot.points)
    if (is_drawn(p))
      inked.circle(face.at(p.size, p.at), 2.5, 3.0);
  return inked;
}

/// Between two spokes, where the rings' numbers have least under them and are farthest from the
/// vectors.
Angle free_direction(const PolarPlot& plot, const Face& face, const std::vector<double>& rings,
                     const Inked& inked) {
  double least = std::numeric_limits<double>::infinity();
  Angle best;
  for (double deg = 15.0; deg < 360.0; deg += 30.0) {
    double cost = 0.0;
    for (const double ring : rings)
      cost += inked.under(box_of(number_text(ring, 6), face.at(ring, degrees(deg))));
    for (const PolarVector& v : plot.vectors)
      if (is_drawn(v)) // by the square, so that the middle between two vectors is best
        cost += std::pow(1.0 - std::abs(std::remainder(v.at.deg() - deg, 360.0)) / 180.0, 2.0);
    if (cost < least - 1e-9) {
      least = cost;
      best = degrees(deg);
    }
  }
  return best;
}

void draw_rings(Drawing& drawing, const Face& face, const std::vector<double>& rings) {
  for (const double ring : rings)
    drawing.circle(face.centre, face.px_a_unit * ring, Look::grid);
}

/// On bare paper, as a limit's dashes may run where a ring does.
void number_rings(Drawing& drawing, const Face& face, const std::vector<double>& rings,
                  Angle towards, Inked& inked) {
  for (const double ring : rings) {
    const std::string words = number_text(ring, 6);
    const Xy middle = face.at(ring, towards);
    const Frame box = box_of(words, middle);
    const std::array<Xy, 4> corners{{{box.left, box.top},
                                     {box.right, box.top},
                                     {box.right, box.bottom},
                                     {box.left, box.bottom}}};
    drawing.polygon(corners, Look::paper);
    write_middle(drawing, words, middle);
    inked.area(box, 10.0);
  }
}

void draw_spokes(Drawing& drawing, const Face& face) {
  for (int deg = 0; deg < 360; deg += 30) {
    const Angle angle = degrees(deg);
    drawing.line(face.centre, face.at(face.outer, angle), Look::grid);
    write_middle(drawing, std::to_string(deg), face.at(face.outer + 18.0 / face.px_a_unit, angle));
  }
  const Xy top = face.at(face.outer, degrees(0.0));
  drawing.line({top.x, top.y - 6.0}, {top.x, top.y + 6.0}, Look::heavy);
  drawing.text({top.x + 16.0, top.y - 12.0}, "index mark", Words::small);
}

void draw_limits(Drawing& drawing, const Face& face, const PolarPlot& plot, double widest) {
  for (const PolarCircle& limit : plot.limits)
    if (limit.radius <= widest)
      drawing.circle(face.centre, face.px_a_unit * limit.radius, limit.look);
}

/// Each beside its circle; where there is no room for it, the key alone names it.
void name_limits(Drawing& drawing, const Face& face, const PolarPlot& plot, double widest,
                 Inked& inked) {
  for (const PolarCircle& limit : plot.limits) {
    if (!(limit.radius <= widest))
      continue;
    const auto middle = beside_circle(limit.name, face.centre, face.px_a_unit * limit.radius,
                                      face.px_a_unit * face.outer, inked);
    if (!middle)
      continue;
    write_middle(drawing, limit.name, *middle);
    inked.area(box_of(limit.name, *middle), 10.0);
  }
}

/// An arrow round the rim, with its direction in a word where it is known.
void draw_rotation(Drawing& drawing, const Face& face, const std::optional<bool>& clockwise) {
  const double radius = face.outer + 30.0 / face.px_a_unit;
  std::vector<Xy> arc;
  for (double deg = 48.0; deg <= 74.0; deg += 2.0)
    arc.push_back(face.at(radius, degrees(deg)));
  drawing.polyline(std::span(arc).first(arc.size() - 1), Look::axis);
  drawing.arrow(arc[arc.size() - 2], arc.back(), Look::axis);
  const Xy words{face.centre.x + face.sense * (face.centre.x - 8.0), arc.front().y - 22.0};
  drawing.text(words,
               !clockwise   ? "with the rotation"
               : *clockwise ? "clockwise"
                            : "counter-clockwise",
               Words::small, face.sense > 0.0 ? Anchor::end : Anchor::start);
}

void draw_vector(Drawing& drawing, const Face& face, const PolarVector& v) {
  if (!is_drawn(v))
    return;
  const Xy tip = face.at(v.size, v.at);
  if (v.ellipse)
    drawing.ellipse(tip, face.px_a_unit * v.ellipse->longer, face.px_a_unit * v.ellipse->shorter,
                    turn_deg(face, *v.ellipse), Look::axis);
  if (face.px_a_unit * v.size > kDot_px)
    drawing.arrow(face.centre, tip, v.look);
  else
    drawing.circle(tip, 2.5, Look::dot);
}

void draw_marks(Drawing& drawing, const Face& face, const PolarPlot& plot) {
  for (const PolarPoint& p : plot.points)
    if (is_drawn(p))
      drawing.circle(face.at(p.size, p.at), 2.5, Look::ring);
  for (const PolarMark& mark : plot.marks)
    drawing.circle(face.at(face.outer, mark.at), 3.5, Look::hole);
}

Face face_of(const PolarPlot& plot, double widest) {
  Face face;
  face.outer = widest * 1.08;
  face.centre = {plot.size / 2.0, kTop + plot.size / 2.0};
  face.px_a_unit = (plot.size / 2.0 - kEdge) / face.outer;
  face.sense = plot.clockwise.value_or(true) ? 1.0 : -1.0;
  return face;
}

void draw_face(Drawing& drawing, const PolarPlot& plot, const Face& face, double widest) {
  auto rings = round_ticks(0.0, face.outer, 6);
  constexpr double kAsOuter = 0.95; // a ring beyond it would look like the outer circle drawn twice
  std::erase_if(rings, [&](double ring) { return ring <= 0.0 || ring > kAsOuter * face.outer; });
  draw_rings(drawing, face, rings);
  drawing.circle(face.centre, face.px_a_unit * face.outer, Look::axis);
  draw_spokes(drawing, face);
  draw_rotation(drawing, face, plot.clockwise);
  draw_limits(drawing, face, plot, widest);
  Inked inked = inked_by(plot, face, widest);
  number_rings(drawing, face, rings, free_direction(plot, face, rings, inked), inked);
  draw_marks(drawing, face, plot);
  name_limits(drawing, face, plot, widest, inked);
  for (const PolarVector& v : plot.vectors)
    draw_vector(drawing, face, v);
}

} // namespace

Ellipse ellipse_95(double xx, double xy, double yy) {
  constexpr double kChi2 = 5.991464547107979; // 95 %, two degrees of freedom: -2 ln 0.05
  const double mean = (xx + yy) / 2.0;
  const double half = std::hypot((xx - yy) / 2.0, xy);
  return {std::sqrt(kChi2 * std::max(0.0, mean + half)),
          std::sqrt(kChi2 * std::max(0.0, mean - half)),
          radians(std::atan2(2.0 * xy, xx - yy) / 2.0)};
}

Drawing draw(const PolarPlot& plot) {
  const double widest = widest_of(plot);
  const Face face = face_of(plot, widest);
  const auto key = key_rows(plot, widest, kDot_px / face.px_a_unit);
  const double key_top = kTop + plot.size + 6.0;
  Drawing drawing(plot.size, key_top + kKeyRow * static_cast<double>(key.size()), plot.title);
  drawing.text({20.0, 18.0}, plot.title, Words::title);
  draw_face(drawing, plot, face, widest);
  draw_key(drawing, key, key_top);
  return drawing;
}

} // namespace whirler::report
