// What stands under a polar plot: each thing that is drawn, with a sample of its look, in words.
#pragma once

#include "whirler/report/polar_plot.hpp"

namespace whirler::report {

struct KeyRow {
  enum class Sample { none, arrow, dot, ring, line } sample = Sample::none;
  Look look = Look::ink;
  std::string words;
};

/// Rows no wider than the plot. `widest` is the largest size on the plot, and what is not longer
/// than `dot` is drawn as one.
[[nodiscard]] std::vector<KeyRow> key_rows(const PolarPlot& plot, double widest, double dot);

void draw_key(Drawing& drawing, const std::vector<KeyRow>& rows, double top);

inline constexpr double kKeyRow = 18.0; ///< from one row to the next

} // namespace whirler::report
