// Plates that the tests of this room share.
#pragma once

#include "whirler/blank/properties.hpp"

#include <utility>
#include <vector>

namespace whirler::blank {

inline Point at_mm(double x, double y) { return {millimetres(x), millimetres(y)}; }

/// A rectangle without foils.
inline Blank bare_plate(double width_mm, double height_mm, double thickness_mm, Density density) {
  Blank made;
  made.outline = Rectangle{millimetres(width_mm), millimetres(height_mm)};
  made.thickness = millimetres(thickness_mm);
  made.laminate_density = density;
  made.hole = {millimetres(4.2), at_mm(0.0, 0.0)};
  return made;
}

inline Polygon polygon_mm(const std::vector<std::pair<double, double>>& corners) {
  Polygon made;
  for (const auto& [x, y] : corners)
    made.corners.push_back(at_mm(x, y));
  return made;
}

} // namespace whirler::blank
