#include "whirler/report/polar_plot.hpp"

#include "whirler/report/chart.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::report {
namespace {

constexpr double kTop = 30.0;
constexpr double kEdge = 46.0;
constexpr double kKeyRow = 18.0;
constexpr double kNamed = 60.0; ///< the radius that a name on a circle needs

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

double largest(const PolarPlot& plot) {
  double most = 0.0;
  for (const PolarVector& v : plot.vectors)
    most = std::max(most, v.size + (v.ellipse ? v.ellipse->longer : 0.0));
  for (const PolarCircle& limit : plot.limits)
    most = std::max(most, limit.radius);
  for (const PolarPoint& p : plot.points)
    most = std::max(most, p.size);
  return std::isfinite(most) && most > 0.0 ? most : 1.0;
}

/// Where words go that would stand at `deg`: across from there if a vector points that way.
double free_side(const PolarPlot& plot, double deg) {
  constexpr double kNear = 60.0;
  const auto taken = [&](double there) {
    return std::any_of(plot.vectors.begin(), plot.vectors.end(), [&](const PolarVector& v) {
      return v.at.is_finite() && std::abs(std::remainder(v.at.deg() - there, 360.0)) < kNear;
    });
  };
  return taken(deg) && !taken(deg + 180.0) ? deg + 180.0 : deg;
}

void draw_rings(Drawing& drawing, const Face& face, const std::vector<double>& rings, double deg) {
  for (const double ring : rings) {
    if (ring <= 0.0)
      continue;
    drawing.circle(face.centre, face.px_a_unit * ring, Look::grid);
    const Xy label = face.at(ring, degrees(deg));
    drawing.text({label.x, label.y - 3.0}, number_text(ring, 6), Words::small, Anchor::middle);
  }
}

void draw_spokes(Drawing& drawing, const Face& face) {
  for (int deg = 0; deg < 360; deg += 30) {
    const Angle angle = degrees(deg);
    drawing.line(face.centre, face.at(face.outer, angle), Look::grid);
    const Xy label = face.at(face.outer + 16.0 / face.px_a_unit, angle);
    drawing.text({label.x, label.y + 4.0}, std::to_string(deg), Words::small, Anchor::middle);
  }
  const Xy top = face.at(face.outer, degrees(0.0));
  drawing.line({top.x, top.y - 6.0}, {top.x, top.y + 6.0}, Look::heavy);
  drawing.text({top.x + 16.0, top.y - 12.0}, "index mark", Words::small);
}

/// Each with its name on the circle, a little further round than the one before; where the circle
/// is too small for it, the key alone names it.
void draw_limits(Drawing& drawing, const Face& face, const std::vector<PolarCircle>& limits,
                 double deg) {
  for (const PolarCircle& limit : limits) {
    drawing.circle(face.centre, face.px_a_unit * limit.radius, limit.look);
    if (face.px_a_unit * limit.radius < kNamed)
      continue;
    const Xy at = face.at(limit.radius, degrees(deg));
    const double inwards = at.y < face.centre.y ? 17.0 : -9.0; // clear of the line itself
    drawing.text({at.x, at.y + inwards}, limit.name, Words::small, Anchor::middle);
    deg += 24.0;
  }
}

void draw_rotation(Drawing& drawing, const Face& face) {
  const double radius = face.outer + 30.0 / face.px_a_unit;
  std::vector<Xy> arc;
  for (double deg = 48.0; deg <= 74.0; deg += 2.0)
    arc.push_back(face.at(radius, degrees(deg)));
  drawing.polyline(std::span(arc).first(arc.size() - 1), Look::axis);
  drawing.arrow(arc[arc.size() - 2], arc.back(), Look::axis);
}

void draw_vector(Drawing& drawing, const Face& face, const PolarVector& v) {
  if (!std::isfinite(v.size) || !v.at.is_finite())
    return;
  const Xy tip = face.at(v.size, v.at);
  if (v.ellipse) {
    // a half axis along x before turning; the paper turns clockwise, as angles do for sense +1
    const double turn_deg = face.sense * v.ellipse->longer_at.deg() - 90.0;
    drawing.ellipse(tip, face.px_a_unit * v.ellipse->longer, face.px_a_unit * v.ellipse->shorter,
                    turn_deg, Look::axis);
  }
  drawing.arrow(face.centre, tip, v.look);
}

void draw_key(Drawing& drawing, const PolarPlot& plot, double top) {
  Xy at{20.0, top};
  for (const PolarVector& v : plot.vectors) {
    drawing.arrow({at.x, at.y - 4.0}, {at.x + 28.0, at.y - 4.0}, v.look);
    drawing.text({at.x + 36.0, at.y},
                 v.name + ": " + number_text(v.size) + " " + plot.unit + " at " +
                     number_text(v.at.deg()) + " deg" + (v.ellipse ? " (ellipse: 95 % sure)" : ""),
                 Words::small);
    at.y += kKeyRow;
  }
  if (!plot.points.empty()) {
    drawing.circle({at.x + 14.0, at.y - 4.0}, 2.5, Look::ring);
    drawing.text({at.x + 36.0, at.y}, plot.points_name, Words::small);
    at.y += kKeyRow;
  }
  for (const PolarCircle& limit : plot.limits) {
    drawing.line({at.x, at.y - 4.0}, {at.x + 28.0, at.y - 4.0}, limit.look);
    drawing.text({at.x + 36.0, at.y},
                 limit.name + ": " + number_text(limit.radius) + " " + plot.unit, Words::small);
    at.y += kKeyRow;
  }
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
  const auto rows = static_cast<double>(plot.vectors.size() + plot.limits.size() + 3);
  Drawing drawing(plot.size, plot.size + kTop + kKeyRow * rows, plot.title);
  drawing.text({20.0, 18.0}, plot.title, Words::title);
  const auto rings = round_ticks(0.0, largest(plot) * 1.08, 5);
  Face face;
  face.outer = largest(plot) * 1.08;
  face.centre = {plot.size / 2.0, kTop + plot.size / 2.0};
  face.px_a_unit = (plot.size / 2.0 - kEdge) / face.outer;
  face.sense = plot.clockwise ? 1.0 : -1.0;
  draw_rings(drawing, face, rings, free_side(plot, 90.0));
  drawing.circle(face.centre, face.px_a_unit * face.outer, Look::axis);
  draw_spokes(drawing, face);
  draw_rotation(drawing, face);
  draw_limits(drawing, face, plot.limits, free_side(plot, 195.0));
  for (const PolarPoint& p : plot.points)
    if (std::isfinite(p.size) && p.at.is_finite())
      drawing.circle(face.at(p.size, p.at), 2.5, Look::ring);
  for (const PolarVector& v : plot.vectors)
    draw_vector(drawing, face, v);
  const double key = kTop + plot.size + 6.0;
  drawing.text({20.0, key}, "Seen from above. Sizes in " + plot.unit + ".", Words::small);
  drawing.text({20.0, key + kKeyRow},
               "Angles in deg from the index mark, with the rotation (arrow).", Words::small);
  draw_key(drawing, plot, key + 2.0 * kKeyRow);
  return drawing;
}

} // namespace whirler::report
