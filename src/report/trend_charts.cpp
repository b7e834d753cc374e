#include "whirler/report/trend_charts.hpp"

#include <algorithm>
#include <limits>
#include <string>

namespace whirler::report {
namespace {

constexpr double kGap = std::numeric_limits<double>::quiet_NaN(); // lifts the pen

/// Half the width of a place of its own on the axis, as far as a level mark reaches.
constexpr double kReach = 0.4;

double place(std::int64_t coat) { return static_cast<double>(coat); }

/// From before the first coat to past the last. A lone one does not fill the whole chart.
Range places(CoatSpan all) {
  constexpr double kFewest = 3.0;
  const double low = place(all.first) - 0.5;
  return {low, std::max(place(all.last) + 0.5, low + kFewest)};
}

Chart over_coats(const std::string& title, const std::string& y_name, CoatSpan all) {
  Chart chart;
  chart.title = title;
  chart.x_name = "coat, its number in the notebook";
  chart.y_name = y_name;
  chart.x_counts = true;
  chart.x_range = places(all);
  return chart;
}

void add_bar(Line& line, std::int64_t coat, double low, double high) {
  line.points.push_back({place(coat), low});
  line.points.push_back({place(coat), high});
  line.points.push_back({kGap, kGap});
}

} // namespace

Chart film_trend(std::span<const FilmOfCoat> coats, CoatSpan all) {
  Chart chart = over_coats("Dry film", "thickness, \u00B5m", all);
  Line wanted{"wanted", {}, Look::second};
  Line sure{"95 % sure", {}, Look::axis};
  Points estimated{"estimated", {}, {}, Look::ring};
  Points measured{"measured", {}, {}, Look::dot};
  for (const FilmOfCoat& coat : coats) {
    const double x = place(coat.coat);
    if (coat.wanted) {
      wanted.points.push_back({x - kReach, coat.wanted->um()});
      wanted.points.push_back({x + kReach, coat.wanted->um()});
      wanted.points.push_back({kGap, kGap});
    }
    if (coat.estimated) {
      estimated.points.push_back({x, coat.estimated->thickness.um()});
      add_bar(sure, coat.coat, coat.estimated->low.um(), coat.estimated->high.um());
    }
    if (coat.measured)
      measured.points.push_back({x, coat.measured->um()});
  }
  for (const Line& line : {wanted, sure})
    if (!line.points.empty())
      chart.lines.push_back(line);
  for (const Points& points : {estimated, measured})
    if (!points.points.empty())
      chart.points.push_back(points);
  return chart;
}

Chart jitter_trend(std::span<const JitterOfCoat> coats, CoatSpan all) {
  Chart chart = over_coats("Once per turn", "amplitude, mrad", all);
  chart.height = 240.0;
  Line sure{"95 % sure", {}, Look::axis};
  Points amplitude{"as it ran", {}, {}, Look::dot};
  for (const JitterOfCoat& coat : coats) {
    amplitude.points.push_back({place(coat.coat), coat.amplitude.mrad()});
    add_bar(sure, coat.coat, coat.interval.low.mrad(), coat.interval.high.mrad());
  }
  chart.lines = {sure};
  chart.points = {amplitude};
  return chart;
}

Chart factor_trend(std::span<const FactorOfCoat> coats, CoatSpan all) {
  Chart chart = over_coats("Measured over estimated", "factor", all);
  chart.height = 240.0;
  chart.from_zero = false;
  Line factor{"factor, learnt so far", {}, Look::ink};
  Band band{"95 % sure of it", {}, {}};
  Points ratios{"this coat alone", {}, {}, Look::ring};
  for (const FactorOfCoat& coat : coats) {
    // Each stretches to both sides, so that a lone one is a piece of line and not a lost point.
    for (const double x : {place(coat.coat) - kReach, place(coat.coat) + kReach}) {
      factor.points.push_back({x, coat.factor});
      band.low.push_back({x, coat.low});
      band.high.push_back({x, coat.high});
    }
    ratios.points.push_back({place(coat.coat), coat.ratio});
  }
  chart.lines = {factor};
  chart.bands = {band};
  chart.points = {ratios};
  chart.levels = {{"1: as estimated", 1.0}};
  return chart;
}

} // namespace whirler::report
