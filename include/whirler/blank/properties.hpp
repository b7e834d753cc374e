// What a plate weighs, where its centre of mass sits against the hole's axis, and what follows.
//
//        y (away from the reader)
//        |      .------------------.
//        |      |        c         |     c  balance point of the plate before drilling
//        |      |         \ e      |     o  the hole: it sits on the spindle's axis
//        |      |          o       |     e  the hole's offset
//        |      '------------------'
//        +------------------------------ x (to the right), seen from above
//
// The hole that is bolted through is a disc about the axis and takes away mass that was balanced:
// the unbalance is (mass before that hole was drilled) x (its offset), exactly, whatever its
// diameter. The offset of the drilled plate's centre of mass is that divided by what is left.
//
// The plate is thin and even: laminate and foils have the outline's shape all over. Rejected:
// sampling the outline on a grid. Moments of polygons and discs have closed forms, so the figures
// are exact to rounding and cost nothing.
#pragma once

#include "whirler/blank/blank.hpp"
#include "whirler/units/result.hpp"

namespace whirler::blank {

/// Density of the foils. With it 34.15 um weigh 305 g/m2, the trade's "one ounce" foil (IPC-4562).
inline constexpr Density kCopperDensity = g_per_cm3(8.93);

/// A vector in the plate's frame.
struct Offset {
  Length x;
  Length y;
  [[nodiscard]] Length size() const;
  /// Counter-clockwise from the plate's x, seen from above; 0 for no offset.
  [[nodiscard]] Angle direction() const;
};

struct Properties {
  Area area;            ///< of one face, all holes taken out
  Mass mass;            ///< as drilled
  Mass undrilled_mass;  ///< before the hole on the spindle was drilled
  Point axis;           ///< the hole's place in the plate's frame
  Point centre_of_mass; ///< of the plate as drilled, in the plate's frame
  Offset offset;        ///< from the axis to the centre of mass: the plate's heavy side
  Offset hole_off;      ///< from the balance point of the undrilled plate to the hole
  Unbalance unbalance;  ///< undrilled_mass times the size of hole_off
  Unbalance
      unbalance_at_most; ///< with what edge distances, or a run, leave open of the hole's place
  Inertia inertia;       ///< about the axis
  Length corner_radius;  ///< from the axis to the farthest point of the outline
  Length nearest_edge;   ///< from the axis to the nearest point of the outline
  Length drag_radius;    ///< of the disc with the same second moment of area about the axis
};

/// The plate's figures. Exact but for rounding.
/// Faults (input): a length, density or diameter that is not finite and above zero (foils may be
/// zero); an outline that crosses itself or has no area; a hole that leaves the outline, touches
/// its edge or meets another hole; edge distances that disagree with the outline (see
/// `hole_position`).
[[nodiscard]] Result<Properties> properties(const Blank& blank);

/// Mass of a face's worth of laminate and foils.
[[nodiscard]] ArealDensity areal_density(const Blank& blank);

/// Heat that a face's worth of laminate and foils takes up. Specific heats: glass-epoxy 0.95
/// kJ/(kg K) (makers' sheets give 0.8 to 1.1; from memory), copper 0.385 kJ/(kg K) (handbook
/// value; from memory).
[[nodiscard]] ArealHeatCapacity heat_capacity(const Blank& blank);

/// Rotating pull of the unbalance on the spindle: U omega^2.
[[nodiscard]] Force unbalance_force(Unbalance unbalance, Speed speed);
/// Energy of the turning plate: J omega^2 / 2.
[[nodiscard]] Energy energy(const Properties& plate, Speed speed);
/// Speed of the plate's farthest point.
[[nodiscard]] Velocity corner_speed(const Properties& plate, Speed speed);

} // namespace whirler::blank
