// A chart: lines, points and bands over an axis of round numbers.
//
// A chart draws numbers; what they are and their unit stands in the axis's name. A point that is
// not a finite number is a gap. Lines of more points than the paper has columns are thinned to what
// can be seen: in each column the first, lowest, highest and last, so no peak is lost.
#pragma once

#include "whirler/report/svg.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::report {

/// Numbers 1, 2 or 5 times a power of ten apart, from the first at or above `low` to the last at
/// or below `high`; `about` of them or fewer. One number where low equals high.
[[nodiscard]] std::vector<double> round_ticks(double low, double high, int about);

/// For an axis of decades: powers of ten, with 2 and 5 times them where there is room. Both ends
/// above zero.
[[nodiscard]] std::vector<double> decade_ticks(double low, double high);

struct Line {
  std::string name; ///< shown beside a piece of the line; empty for none
  std::vector<Xy> points;
  Look look = Look::ink;
};

/// Points with the half length of their error bars, up and down; 0 for none.
struct Points {
  std::string name;
  std::vector<Xy> points;
  std::vector<double> half_bars; ///< as many as points, or empty
  Look look = Look::ring;
};

struct Band {
  std::string name;
  std::vector<Xy> low;
  std::vector<Xy> high;
};

/// A level across the whole chart.
struct Level {
  std::string name;
  double at = 0.0;
};

struct Range {
  double low = 0.0;
  double high = 1.0;
};

struct Chart {
  std::string title;
  std::string x_name; ///< with the unit: "time, s"
  std::string y_name;
  std::vector<Line> lines;
  std::vector<Points> points;
  std::vector<Band> bands;
  std::vector<Level> levels;
  std::optional<Range> x_range; ///< else what the data spans
  std::optional<Range> y_range; ///< else what the data spans, with zero where `from_zero`
  bool from_zero = true;
  bool x_counts = false; ///< ticks at whole numbers alone
  bool y_turns = false;  ///< degrees: ticks at parts of a turn, up to 360
  bool log_y = false;    ///< decades; what is not above zero is a gap
  double width = 640.0;
  double height = 300.0;
};

[[nodiscard]] Drawing draw(const Chart& chart);

} // namespace whirler::report
