// A once-per-turn vector on the rotor's face: how much, which way, how sure, and how much is
// allowed.
//
// The rotor is drawn as it is seen from above, the index mark at the top, angles growing with the
// rotation, whose direction an arrow and a word tell: what the drawing says is where to put a hand.
//
// The widest thing on it sets the scale, but no circle of a limit that is far beyond all the rest:
// that one is told in words, so that a vector never shrinks to a dot for its sake.
#pragma once

#include "whirler/report/svg.hpp"
#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::report {

/// Half axes of an ellipse of uncertainty, the longer turned from the index mark with the rotation.
struct Ellipse {
  double longer = 0.0;
  double shorter = 0.0;
  Angle longer_at;
};

/// The ellipse that holds the truth 95 times in 100, from the variances of the components towards
/// 0 deg (xx) and 90 deg (yy) and their covariance (xy).
[[nodiscard]] Ellipse ellipse_95(double xx, double xy, double yy);

struct PolarVector {
  std::string name;
  double size = 0.0;
  Angle at;
  std::optional<Ellipse> ellipse;
  Look look = Look::ink;
};

/// Single findings behind a vector, such as those of parts of a run.
struct PolarPoint {
  double size = 0.0;
  Angle at;
};

/// A place on the rotor's rim, such as a hole that takes a mass.
struct PolarMark {
  Angle at;
  std::string name; ///< for the key, as in "0.4 g"
};

struct PolarCircle {
  std::string name;
  double radius = 0.0;
  Look look = Look::limit; ///< one for each kind of limit, told apart on grey paper too
};

struct PolarPlot {
  std::string title;
  std::string unit;              ///< of sizes
  std::optional<bool> clockwise; ///< the rotation; where it is not known, drawn so and said
  std::vector<PolarVector> vectors;
  std::string points_name;
  std::vector<PolarPoint> points;
  std::string marks_name;
  std::vector<PolarMark> marks;
  std::vector<PolarCircle> limits;
  double size = 420.0; ///< of the drawing, both ways; its key is below
};

[[nodiscard]] Drawing draw(const PolarPlot& plot);

} // namespace whirler::report
