#include "whirler/blank/validity.hpp"

#include "moments.hpp"
#include "whirler/units/text.hpp"

#define BOOST_ALLOW_DEPRECATED_HEADERS // Boost 1.74's own geometry includes one
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/linestring.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>

#include <algorithm>
#include <cmath>

namespace whirler::blank {
namespace {

namespace bg = boost::geometry;
using BgPoint = bg::model::d2::point_xy<double>;
using BgPolygon = bg::model::polygon<BgPoint>;
using BgLine = bg::model::linestring<BgPoint>;

constexpr double kLargest_mm = 10000.0;

bool is_size(Length length) {
  return length.is_finite() && length.mm() > 0.0 && length.mm() <= kLargest_mm;
}

Outcome need_size(Length length, const std::string& name) {
  if (is_size(length))
    return Done{};
  return input_fault(name + " is " + number_text(length.mm(), 6) + " mm", "blank",
                     "give a length above 0 and up to 10000 mm");
}

std::string place(const Point& p) {
  return "(" + number_text(p.x.mm(), 6) + ", " + number_text(p.y.mm(), 6) + ") mm";
}

BgPolygon to_bg(const Polygon& polygon) {
  BgPolygon made;
  for (const Point& corner : polygon.corners)
    bg::append(made.outer(), BgPoint(corner.x.mm(), corner.y.mm()));
  bg::correct(made); // either direction, closed or not
  return made;
}

Outcome check_shape(const Rectangle& r) {
  const Outcome width = need_size(r.width, "the outline's width");
  return width ? need_size(r.height, "the outline's height") : width;
}

Outcome check_shape(const Disc& d) { return need_size(d.diameter, "the outline's diameter"); }

Outcome check_shape(const Polygon& polygon) {
  const std::string next = "list the corners in order around the plate, no edge crossing another";
  for (const Point& p : polygon.corners)
    if (!(std::abs(p.x.mm()) <= kLargest_mm && std::abs(p.y.mm()) <= kLargest_mm))
      return input_fault("the outline's corner " + place(p) + " is out of range", "blank",
                         "give coordinates within 10000 mm");
  if (polygon.corners.size() < 3)
    return input_fault("the outline has fewer than three corners", "blank", next);
  std::string reason;
  if (!bg::is_valid(to_bg(polygon), reason))
    return input_fault("the outline is no simple polygon (" + reason + ")", "blank", next);
  return Done{};
}

/// Distance from a point inside the outline to its edge, mm; negative outside.
double room_at(const Rectangle& r, Mm at) {
  return std::min(r.width.mm() / 2.0 - std::abs(at.x), r.height.mm() / 2.0 - std::abs(at.y));
}

double room_at(const Disc& d, Mm at) { return d.diameter.mm() / 2.0 - std::sqrt(at.square()); }

double room_at(const Polygon& polygon, Mm at) {
  const BgPolygon made = to_bg(polygon);
  const BgPoint point(at.x, at.y);
  const BgLine edge(made.outer().begin(), made.outer().end());
  const double distance = bg::distance(point, edge);
  return bg::within(point, made) ? distance : -distance;
}

Outcome check_hole(const Blank& blank, const Hole& hole, const std::string& name) {
  if (const Outcome size = need_size(hole.diameter, name + "'s diameter"); !size)
    return size;
  const Mm at = to_mm(hole.at);
  if (!std::isfinite(at.x) || !std::isfinite(at.y))
    return input_fault(name + " has no place", "blank", "give its centre in mm");
  const double room = edge_distance(blank.outline, hole.at).mm();
  if (room > hole.diameter.mm() / 2.0)
    return Done{};
  return input_fault(name + " at " + place(hole.at) +
                         (room <= 0.0 ? " lies outside the outline" : " breaks the plate's edge"),
                     "blank", "check its place; coordinates are in the outline's own frame");
}

Outcome check_apart(const Hole& a, const std::string& a_name, const Hole& b,
                    const std::string& b_name) {
  const double apart = std::sqrt((to_mm(a.at) - to_mm(b.at)).square());
  if (apart > (a.diameter.mm() + b.diameter.mm()) / 2.0)
    return Done{};
  return input_fault(a_name + " meets " + b_name + " at " + place(b.at), "blank",
                     "give each hole once, and holes that run together as part of the outline");
}

std::string other_name(std::size_t index) { return "hole " + std::to_string(index + 1); }

} // namespace

Length edge_distance(const Outline& outline, const Point& point) {
  const Mm at = to_mm(point);
  return millimetres(std::visit([&](const auto& s) { return room_at(s, at); }, outline));
}

Outcome check_outline(const Blank& blank) {
  if (const Outcome size = need_size(blank.thickness, "the thickness"); !size)
    return size;
  for (const Length foil : blank.copper)
    if (!(foil.mm() >= 0.0 && foil.mm() <= kLargest_mm))
      return input_fault("a copper foil is " + number_text(foil.um(), 6) + " um", "blank",
                         "give 0 for a bare face, or the foil's thickness");
  const double density = blank.laminate_density.g_per_cm3();
  if (!(density > 0.0 && density < 25.0))
    return input_fault("the laminate's density is " + number_text(density, 6) + " g/cm3", "blank",
                       "glass-epoxy has about 1.85 g/cm3");
  return std::visit([](const auto& shape) { return check_shape(shape); }, blank.outline);
}

Outcome check_holes(const Blank& blank) {
  const std::string spindle = "the hole on the spindle";
  if (const Outcome hole = check_hole(blank, blank.hole, spindle); !hole)
    return hole;
  for (std::size_t i = 0; i < blank.holes.size(); ++i) {
    const Hole& hole = blank.holes[i];
    if (const Outcome inside = check_hole(blank, hole, other_name(i)); !inside)
      return inside;
    if (const Outcome apart = check_apart(blank.hole, spindle, hole, other_name(i)); !apart)
      return apart;
    for (std::size_t k = 0; k < i; ++k)
      if (const Outcome a = check_apart(blank.holes[k], other_name(k), hole, other_name(i)); !a)
        return a;
  }
  return Done{};
}

} // namespace whirler::blank
