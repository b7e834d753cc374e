#include "film_drawing.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

constexpr int kRows = 11, kColumns = 64, kMargin = 11;

/// Rows from the top for thicknesses in decades.
struct Decades {
  double low = 0.0, high = 1.0; // log10 um
  [[nodiscard]] int row(double um) const {
    const double share = (high - std::log10(um)) / (high - low);
    return std::clamp(static_cast<int>(std::lround(share * (kRows - 1))), 0, kRows - 1);
  }
  [[nodiscard]] double um_at(int row) const {
    return std::pow(10.0, high - (high - low) * row / (kRows - 1));
  }
};

Decades decades_of(std::span<const film::TracePoint> trace, double factor) {
  double low = trace.front().dry.um() * factor, high = trace.front().wet.um() * factor;
  for (const film::TracePoint& p : trace) {
    low = std::min(low, p.dry.um() * factor);
    high = std::max(high, p.wet.um() * factor);
  }
  return {std::log10(low) - 0.05, std::log10(high) + 0.05};
}

/// The point of the trace that is nearest to a column's time.
const film::TracePoint& at_column(std::span<const film::TracePoint> trace, int column) {
  const Duration from = trace.front().at, to = trace.back().at;
  const Duration t = from + (static_cast<double>(column) / (kColumns - 1)) * (to - from);
  const auto next =
      std::lower_bound(trace.begin(), trace.end(), t,
                       [](const film::TracePoint& p, Duration x) { return p.at < x; });
  return next == trace.end() ? trace.back() : *next;
}

std::string padded(std::string text, std::size_t width) {
  return text.size() < width ? std::string(width - text.size(), ' ') + text : text;
}

} // namespace

std::vector<std::string> film_drawing(std::span<const film::TracePoint> trace, double factor) {
  std::vector<std::string> lines;
  if (trace.size() < 2)
    return lines;
  const Decades decades = decades_of(trace, factor);
  std::vector<std::string> rows(kRows, std::string(kColumns, ' '));
  for (int column = 0; column < kColumns; ++column) {
    const film::TracePoint& p = at_column(trace, column);
    const auto x = static_cast<std::size_t>(column);
    const auto wet = static_cast<std::size_t>(decades.row(p.wet.um() * factor));
    const auto dry = static_cast<std::size_t>(decades.row(p.dry.um() * factor));
    rows[dry][x] = 'o';
    rows[wet][x] = wet == dry ? '*' : '#';
  }
  lines.push_back(padded("um", kMargin - 2) + "  # wet  o solids");
  for (int row = 0; row < kRows; ++row) {
    const bool labelled = row % 5 == 0;
    const std::string label = labelled ? number_text(decades.um_at(row), 2) : "";
    lines.push_back(padded(label, kMargin - 2) + " |" + rows[static_cast<std::size_t>(row)]);
  }
  lines.push_back(std::string(kMargin - 1, ' ') + "+" + std::string(kColumns, '-'));
  const std::string end = number_text((trace.back().at - trace.front().at).s()) + " s";
  lines.push_back(std::string(kMargin, ' ') + "0" + padded(end, kColumns - 1));
  return lines;
}

} // namespace whirler::cli
