// From the numbers of an axis to places on the paper.
#pragma once

#include "whirler/report/chart.hpp"

namespace whirler::report {

/// A rectangle of paper.
struct Frame {
  double left = 0.0;
  double right = 0.0;
  double top = 0.0;
  double bottom = 0.0;
};

/// Ranges of both axes over a frame; y grows upwards.
struct Scale {
  Range x;
  Range y;
  Frame frame;
  bool log_y = false;
  bool x_counts = false;
  bool y_turns = false;

  [[nodiscard]] Xy operator()(Xy value) const;
  [[nodiscard]] bool holds(Xy value) const;
};

/// `range` made wide enough to draw: finite, and not of width zero.
[[nodiscard]] Range drawable(Range range);

/// `range` widened to round ends for an axis of about `about` ticks.
[[nodiscard]] Range rounded_out(Range range, int about);

/// `range` of degrees widened to whole parts of a turn.
[[nodiscard]] Range turns_out(Range range, int about);

/// `range` widened to the decade ticks around it; what is not above zero does not count.
[[nodiscard]] Range decades_out(Range range);

/// Sizes of ticks, their labels and names along both axes.
void draw_axes(Drawing& drawing, const Scale& scale, const std::string& x_name,
               const std::string& y_name);

/// The points that can be told apart on this paper.
[[nodiscard]] std::vector<Xy> thinned(const std::vector<Xy>& points, const Scale& scale);

} // namespace whirler::report
