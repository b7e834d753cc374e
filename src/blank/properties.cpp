#include "whirler/blank/properties.hpp"

#include "moments.hpp"
#include "whirler/blank/edges.hpp"
#include "whirler/blank/validity.hpp"

#include <cmath>
#include <numbers>

namespace whirler::blank {
namespace {

constexpr double kLaminateHeat_J_kgK = 950.0;
constexpr double kCopperHeat_J_kgK = 385.0;

/// The hole on the spindle with its place, from the edge distances where those are given.
Result<Hole> spindle_hole(const Blank& blank) {
  if (!blank.edges)
    return blank.hole;
  const auto* rectangle = std::get_if<Rectangle>(&blank.outline);
  if (rectangle == nullptr)
    return input_fault("edge distances belong to a rectangle", "blank",
                       "give the hole's place in mm instead");
  const auto found = hole_position(*rectangle, blank.hole.diameter, *blank.edges);
  if (!found)
    return found.fault();
  return Hole{blank.hole.diameter, found->at};
}

double copper_kg_m2(const Blank& blank) {
  return (blank.copper[0] + blank.copper[1]).m() * kCopperDensity.kg_per_m3();
}

double laminate_kg_m2(const Blank& blank) {
  return blank.thickness.m() * blank.laminate_density.kg_per_m3();
}

Properties from_moments(const Blank& blank, const Hole& hole) {
  // Taken about the axis itself: the hole's own first moment is then zero, not a difference.
  const Mm axis = to_mm(hole.at);
  Moments undrilled = outline_moments(blank.outline, axis);
  for (const Hole& other : blank.holes)
    undrilled = undrilled - hole_moments(other, axis);
  const Moments plate = undrilled - hole_moments(hole, axis);
  const Mm off = (1.0 / undrilled.area) * undrilled.first;
  const Mm centre = (1.0 / plate.area) * plate.first;
  const double kg_mm2 = areal_density(blank).kg_per_m2() * 1e-6;

  Properties made;
  made.area = square_millimetres(plate.area);
  made.mass = kilograms(plate.area * kg_mm2);
  made.undrilled_mass = kilograms(undrilled.area * kg_mm2);
  made.axis = hole.at;
  made.centre_of_mass = from_mm(axis + centre);
  made.offset = {millimetres(centre.x), millimetres(centre.y)};
  made.hole_off = {millimetres(-off.x), millimetres(-off.y)};
  made.unbalance = kilogram_metres(made.undrilled_mass.kg() * made.hole_off.size().m());
  made.unbalance_at_most =
      made.unbalance + kilogram_metres(made.undrilled_mass.kg() * hole_doubt(blank).m());
  made.inertia = kg_m2(plate.polar * kg_mm2 * 1e-6);
  made.corner_radius = millimetres(farthest(blank.outline, axis));
  made.nearest_edge = edge_distance(blank.outline, hole.at);
  made.drag_radius = millimetres(std::pow(2.0 * plate.polar / std::numbers::pi, 0.25));
  return made;
}

} // namespace

Length Offset::size() const { return metres(std::hypot(x.m(), y.m())); }

Angle Offset::direction() const { return radians(std::atan2(y.m(), x.m())); }

Result<Properties> properties(const Blank& blank) {
  if (const Outcome outline = check_outline(blank); !outline)
    return outline.fault();
  const auto hole = spindle_hole(blank);
  if (!hole)
    return hole.fault();
  Blank placed = blank;
  placed.hole = *hole;
  if (const Outcome holes = check_holes(placed); !holes)
    return holes.fault();
  return from_moments(placed, *hole);
}

ArealDensity areal_density(const Blank& blank) {
  return kg_per_m2(laminate_kg_m2(blank) + copper_kg_m2(blank));
}

ArealHeatCapacity heat_capacity(const Blank& blank) {
  return J_per_m2_K(laminate_kg_m2(blank) * kLaminateHeat_J_kgK +
                    copper_kg_m2(blank) * kCopperHeat_J_kgK);
}

Force unbalance_force(Unbalance unbalance, Speed speed) {
  return newtons(unbalance.kg_m() * speed.rad_per_s() * speed.rad_per_s());
}

Energy energy(const Properties& plate, Speed speed) {
  return joules(plate.inertia.kg_m2() * speed.rad_per_s() * speed.rad_per_s() / 2.0);
}

Velocity corner_speed(const Properties& plate, Speed speed) {
  return metres_per_s(plate.corner_radius.m() * std::abs(speed.rad_per_s()));
}

} // namespace whirler::blank
