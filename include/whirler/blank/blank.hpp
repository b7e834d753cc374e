// A plate to be coated: outline, layers, the hole that it is bolted through, and other holes.
// Coordinates in the plate's own frame: x to the right, y away from the reader, seen from above.
// For a rectangle or disc the origin is the outline's centre; a polygon carries its own origin.
#pragma once

#include "whirler/units/quantities.hpp"

#include <array>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace whirler::blank {

struct Point {
  Length x;
  Length y;
};

struct Rectangle {
  Length width;  ///< along x
  Length height; ///< along y
};
struct Disc {
  Length diameter;
};
struct Polygon {
  std::vector<Point> corners; ///< in order, either direction, not closed, not self-crossing
};
using Outline = std::variant<Rectangle, Disc, Polygon>;

struct Hole {
  Length diameter;
  Point at;
};

/// Calliper readings from the plate's edges to the nearest edge of the hole, of a rectangle.
struct EdgeDistances {
  Length left;
  Length right;
  Length bottom;
  Length top;
};

struct Blank {
  std::string name;
  Outline outline;
  Length thickness; ///< of the laminate, without foils
  std::array<Length, 2> copper{};
  Density laminate_density = g_per_cm3(1.85);
  Hole hole;               ///< the one on the spindle; `at` is ignored where `edges` is given
  std::vector<Hole> holes; ///< all others
  std::optional<EdgeDistances> edges;
};

} // namespace whirler::blank
