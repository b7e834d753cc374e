#include "moments.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::blank {
namespace {

/// A figure of known area and own polar moment, its centre at `centre` from the reference
/// (Huygens and Steiner).
Moments shifted(double area, double own_polar, Mm centre) {
  return {area, area * centre, own_polar + area * centre.square()};
}

Moments moments_of(const Rectangle& r, Mm reference) {
  const double a = r.width.mm();
  const double b = r.height.mm();
  return shifted(a * b, a * b * (a * a + b * b) / 12.0, -1.0 * reference);
}

Moments disc_moments(double radius, Mm centre) {
  const double area = std::numbers::pi * radius * radius;
  return shifted(area, area * radius * radius / 2.0, centre);
}

Moments moments_of(const Disc& d, Mm reference) {
  return disc_moments(d.diameter.mm() / 2.0, -1.0 * reference);
}

/// Sums over the triangles (reference, p, q), signed by the direction of the corners.
Moments moments_of(const Polygon& polygon, Mm reference) {
  Moments sum;
  Mm p = to_mm(polygon.corners.back()) - reference;
  for (const Point& corner : polygon.corners) {
    const Mm q = to_mm(corner) - reference;
    const double cross = p.x * q.y - q.x * p.y;
    sum.area += cross / 2.0;
    sum.first = sum.first + (cross / 6.0) * (p + q);
    sum.polar += cross / 12.0 * (p.square() + p.x * q.x + p.y * q.y + q.square());
    p = q;
  }
  const double sign = sum.area < 0.0 ? -1.0 : 1.0;
  return {sign * sum.area, sign * sum.first, sign * sum.polar};
}

double farthest_of(const Rectangle& r, Mm reference) {
  return std::hypot(std::abs(reference.x) + r.width.mm() / 2.0,
                    std::abs(reference.y) + r.height.mm() / 2.0);
}

double farthest_of(const Disc& d, Mm reference) {
  return std::sqrt(reference.square()) + d.diameter.mm() / 2.0;
}

double farthest_of(const Polygon& polygon, Mm reference) {
  double most = 0.0;
  for (const Point& corner : polygon.corners)
    most = std::max(most, (to_mm(corner) - reference).square());
  return std::sqrt(most);
}

} // namespace

Moments outline_moments(const Outline& outline, Mm reference) {
  return std::visit([&](const auto& shape) { return moments_of(shape, reference); }, outline);
}

Moments hole_moments(const Hole& hole, Mm reference) {
  return disc_moments(hole.diameter.mm() / 2.0, to_mm(hole.at) - reference);
}

double farthest(const Outline& outline, Mm reference) {
  return std::visit([&](const auto& shape) { return farthest_of(shape, reference); }, outline);
}

} // namespace whirler::blank
