#include "whirler/report/plate_drawing.hpp"

#include "whirler/blank/validity.hpp"
#include "whirler/report/chart.hpp"
#include "whirler/units/letters.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whirler::report {
namespace {

using blank::Offset;
using blank::Point;

constexpr double kWidth = 660.0;
constexpr double kHeight = 470.0;
constexpr double kView = 400.0; ///< the square that the plate is drawn in
constexpr Xy kViewCentre{215.0, 245.0};
constexpr Xy kLens{545.0, 175.0};
constexpr double kLensRadius = 82.0;
/// Below this the heavy side has no direction worth an arrow: a tenth of what callipers read.
constexpr Length kNoOffset = micrometres(1.0);

/// From millimetres about a point to paper.
struct View {
  Xy centre;   ///< on paper
  Point about; ///< in the plate's frame
  double px_mm = 1.0;

  [[nodiscard]] Xy operator()(const Point& p) const {
    return {centre.x + px_mm * (p.x - about.x).mm(), centre.y - px_mm * (p.y - about.y).mm()};
  }
  [[nodiscard]] double px(Length length) const { return px_mm * length.mm(); }
};

bool heavy_side_shown(const PlateDrawing& plate) {
  return plate.direction_told && plate.properties.offset.size() > kNoOffset;
}

Point moved(const Point& from, const Offset& unit, Length by) {
  return {from.x + by.mm() * unit.x, from.y + by.mm() * unit.y};
}

/// The offset's direction as a vector of one millimetre.
Offset direction_of(const Offset& offset) {
  const double size = offset.size().mm();
  return {millimetres(offset.x.mm() / size), millimetres(offset.y.mm() / size)};
}

void draw_shape(Drawing& drawing, const View& view, const blank::Rectangle& r) {
  const Length a = r.width / 2.0;
  const Length b = r.height / 2.0;
  const std::array<Xy, 4> corners{view({-a, -b}), view({a, -b}), view({a, b}), view({-a, b})};
  drawing.polygon(corners, Look::plate);
}

void draw_shape(Drawing& drawing, const View& view, const blank::Disc& d) {
  drawing.circle(view({}), view.px(d.diameter / 2.0), Look::plate);
}

void draw_shape(Drawing& drawing, const View& view, const blank::Polygon& polygon) {
  std::vector<Xy> corners;
  for (const Point& corner : polygon.corners)
    corners.push_back(view(corner));
  drawing.polygon(corners, Look::plate);
}

void draw_turbulent(Drawing& drawing, const View& view, const PlateDrawing& plate, double line_y) {
  if (!plate.speed)
    return;
  const auto zone = blank::turbulent_zone(*plate.speed);
  if (!zone)
    return;
  const bool reaches = zone->onset < plate.properties.corner_radius;
  if (reaches)
    drawing.circle(view(plate.properties.axis), view.px(zone->onset), Look::limit);
  drawing.text({20.0, line_y},
               "At " + number_text(plate.speed->rpm(), 4) +
                   " rpm the air is uneven outside r = " + number_text(zone->onset.mm()) + " mm" +
                   (reaches ? " (dashed): streaks there" : ", beyond the plate"),
               Words::small);
}

void draw_heavy_side(Drawing& drawing, const View& view, const PlateDrawing& plate) {
  const Point axis = plate.properties.axis;
  const Offset towards = direction_of(plate.properties.offset);
  Length reach = 0.45 * plate.properties.corner_radius;
  constexpr double kShorter = 0.95; // until its head lies on the plate
  while (reach > plate.properties.nearest_edge &&
         blank::edge_distance(plate.blank.outline, moved(axis, towards, reach)) <
             0.05 * plate.properties.corner_radius)
    reach = kShorter * reach;
  constexpr double kLeast_px = 34.0; // on a narrow plate it leaves the plate, and is seen
  reach = std::max(reach, millimetres(kLeast_px / view.px_mm));
  drawing.arrow(view(axis), view(moved(axis, towards, reach)), Look::heavy);
}

void draw_counter(Drawing& drawing, const View& view, const PlateDrawing& plate) {
  const Offset towards = direction_of(plate.properties.offset);
  const CounterMass& counter = *plate.counter;
  const Xy at = view(moved(plate.properties.axis, towards, -1.0 * counter.radius));
  drawing.circle(view(plate.properties.axis), view.px(counter.radius), Look::grid);
  const std::array<Xy, 4> box{
      {{at.x - 6, at.y - 6}, {at.x + 6, at.y - 6}, {at.x + 6, at.y + 6}, {at.x - 6, at.y + 6}}};
  drawing.polygon(box, Look::dot);
}

/// The place of the hole's axis against the balance point, enlarged.
void draw_lens(Drawing& drawing, const PlateDrawing& plate) {
  const Length off = plate.properties.offset.size();
  drawing.text({kLens.x, kLens.y - kLensRadius - 12.0}, "at the hole, enlarged", Words::small,
               Anchor::middle);
  drawing.circle(kLens, kLensRadius, Look::axis);
  const auto rings = round_ticks(0.0, std::max(off.mm(), kNoOffset.mm()) * 1.3, 3);
  const View view{kLens, plate.properties.axis,
                  kLensRadius / (std::max(off.mm(), kNoOffset.mm()) * 1.35)};
  const bool points_up = plate.properties.offset.y > Length{};
  for (const double ring : rings) {
    if (ring <= 0.0)
      continue;
    drawing.circle(kLens, view.px_mm * ring, Look::grid);
    const double away = view.px_mm * ring; // on the side that the arrow leaves free
    constexpr double kLine = 14.0;         // outside its ring, which bends away from it
    if (away < kLensRadius - kLine)
      drawing.text({kLens.x, kLens.y + (points_up ? away + 10.0 : -away - 3.0)},
                   number_text(ring) + " mm", Words::small, Anchor::middle);
  }
  drawing.line({kLens.x - 7.0, kLens.y}, {kLens.x + 7.0, kLens.y}, Look::ink);
  drawing.line({kLens.x, kLens.y - 7.0}, {kLens.x, kLens.y + 7.0}, Look::ink);
  if (heavy_side_shown(plate))
    drawing.arrow(kLens, view(plate.properties.centre_of_mass), Look::heavy);
  drawing.circle(view(plate.properties.centre_of_mass), 4.0, Look::dot);
}

/// All words stand beside the plate: on it they would lie across an edge or a hole of some plate.
void draw_words(Drawing& drawing, const PlateDrawing& plate) {
  const blank::Properties& p = plate.properties;
  double y = kLens.y + kLensRadius + 28.0;
  const auto say = [&](const std::string& words) {
    drawing.text({kLens.x - 95.0, y}, words, Words::small);
    y += 17.0;
  };
  say("+  axis of the hole");
  say("\u25CF  centre of mass, " + number_text(p.offset.size().mm()) + " mm off");
  say("mass " + number_text(p.mass.g()) + " g");
  say("unbalance " + number_text(p.unbalance.g_mm()) + " g mm");
  say("farthest point r = " + number_text(p.corner_radius.mm()) + " mm");
  if (!heavy_side_shown(plate))
    return;
  say("\u2192  towards the heavy side, at no scale");
  if (plate.counter)
    say("\u25A0  counter-mass, " + number_text(plate.counter->mass.g()) + " g at r " +
        number_text(plate.counter->radius.mm()) + " mm");
  if (plate.counter)
    say("\u25CB  grey: that radius");
}

/// What fits on the page of a title; the whole name stands in the drawing's own.
std::string shortened(const std::string& name) {
  constexpr std::size_t kMost = 68; // columns of bold letters, wide ones among them
  if (columns(name) <= kMost)
    return name;
  std::string text = name;
  const auto is_inside = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; };
  while (!text.empty() && columns(text) + 1 > kMost) {
    while (!text.empty() && is_inside(text.back()))
      text.pop_back();
    if (!text.empty())
      text.pop_back();
  }
  return text + "\u2026";
}

View view_of(const PlateDrawing& plate) {
  const Point axis = plate.properties.axis;
  Length reach = plate.properties.corner_radius;
  if (plate.counter)
    reach = std::max(reach, plate.counter->radius);
  return {kViewCentre, axis, kView / 2.0 / (reach.mm() * 1.04)};
}

} // namespace

Drawing draw(const PlateDrawing& plate) {
  const std::string name = plate.blank.name.empty() ? "Plate" : plate.blank.name;
  Drawing drawing(kWidth, kHeight, name);
  drawing.text({20.0, 20.0}, shortened(name), Words::title);
  drawing.text({20.0, 38.0},
               plate.turned_over ? "as the file shows it; this side lies below on the hub"
                                 : "seen from above; x to the right, y away from you",
               Words::small);
  const View view = view_of(plate);
  std::visit([&](const auto& shape) { draw_shape(drawing, view, shape); }, plate.blank.outline);
  for (const blank::Hole& hole : plate.blank.holes)
    drawing.circle(view(hole.at), view.px(hole.diameter / 2.0), Look::hole);
  drawing.circle(view(plate.properties.axis), view.px(plate.blank.hole.diameter / 2.0), Look::hole);
  draw_turbulent(drawing, view, plate, kHeight - 8.0);
  if (heavy_side_shown(plate)) {
    if (plate.counter)
      draw_counter(drawing, view, plate);
    draw_heavy_side(drawing, view, plate);
  }
  draw_lens(drawing, plate);
  draw_words(drawing, plate);
  return drawing;
}

} // namespace whirler::report
