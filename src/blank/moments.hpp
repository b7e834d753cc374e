// Area, first and second moments of plane figures, in millimetres: the inner numbers of
// properties.cpp. Closed forms for the rectangle and the disc, Green's theorem for polygons.
#pragma once

#include "whirler/blank/blank.hpp"

namespace whirler::blank {

/// A vector in millimetres.
struct Mm {
  double x = 0.0;
  double y = 0.0;
  friend Mm operator+(Mm a, Mm b) { return {a.x + b.x, a.y + b.y}; }
  friend Mm operator-(Mm a, Mm b) { return {a.x - b.x, a.y - b.y}; }
  friend Mm operator*(double k, Mm a) { return {k * a.x, k * a.y}; }
  [[nodiscard]] double square() const { return x * x + y * y; }
};

[[nodiscard]] inline Mm to_mm(const Point& p) { return {p.x.mm(), p.y.mm()}; }
[[nodiscard]] inline Point from_mm(Mm p) { return {millimetres(p.x), millimetres(p.y)}; }

/// Of a figure about a reference point that the caller keeps in mind.
struct Moments {
  double area = 0.0;  ///< mm2
  Mm first;           ///< integral of the position, mm3
  double polar = 0.0; ///< integral of the squared distance, mm4

  friend Moments operator-(const Moments& a, const Moments& b) {
    return {a.area - b.area, a.first - b.first, a.polar - b.polar};
  }
};

/// Moments of the outline about `reference`. The outline is valid: see validity.hpp.
[[nodiscard]] Moments outline_moments(const Outline& outline, Mm reference);
/// Moments of a round hole about `reference`.
[[nodiscard]] Moments hole_moments(const Hole& hole, Mm reference);
/// Largest distance of a point of the outline from `reference`, mm.
[[nodiscard]] double farthest(const Outline& outline, Mm reference);

} // namespace whirler::blank
