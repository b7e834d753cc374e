#include "whirler/report/coat_charts.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::report {
namespace {

std::vector<Xy> rpm_over_s(const SpeedCurve& curve) {
  std::vector<Xy> points;
  points.reserve(curve.size());
  for (const SpeedPoint& p : curve)
    points.push_back({p.at.s(), p.speed.rpm()});
  return points;
}

/// Phase grows past 180 deg rather than leaping: each within half a turn of the one before.
std::vector<Xy> unrolled(std::vector<Xy> points) {
  for (std::size_t i = 1; i < points.size(); ++i)
    points[i].y = points[i - 1].y + std::remainder(points[i].y - points[i - 1].y, 360.0);
  return points;
}

/// Each point by whole turns to where the line is nearest it; as it is where there is no line.
std::vector<Xy> beside(std::vector<Xy> points, const std::vector<Xy>& line) {
  for (Xy& p : points) {
    const auto right =
        std::lower_bound(line.begin(), line.end(), p.x, [](Xy a, double x) { return a.x < x; });
    if (right != line.end())
      p.y = right->y + std::remainder(p.y - right->y, 360.0);
  }
  return points;
}

Chart over_speed(const std::string& title, const std::string& y_name) {
  Chart chart;
  chart.title = title;
  chart.x_name = "speed, rpm";
  chart.y_name = y_name;
  chart.height = 240.0;
  return chart;
}

} // namespace

Chart speed_chart(const SpeedRecord& record) {
  Chart chart;
  chart.title = "Speed";
  chart.x_name = "time, s";
  chart.y_name = "speed, rpm";
  chart.lines = {{"as run", rpm_over_s(record.run), Look::ink},
                 {"asked", rpm_over_s(record.asked), Look::second}};
  if (record.limit)
    chart.levels = {{"highest of the machine", record.limit->rpm()}};
  return chart;
}

Chart jitter_chart(std::span<const JitterPoint> points, const JitterLevels& levels, Duration end) {
  Chart chart;
  chart.title = "Once per turn";
  chart.x_name = "time, s";
  chart.y_name = "amplitude, mrad";
  chart.height = 240.0;
  chart.x_range = Range{0.0, end.s()};
  Line line{"estimate", {}, Look::ink};
  Band band{"95 % sure", {}, {}};
  for (const JitterPoint& p : points) {
    line.points.push_back({p.at.s(), p.amplitude.mrad()});
    band.low.push_back({p.at.s(), p.interval.low.mrad()});
    band.high.push_back({p.at.s(), p.interval.high.mrad()});
  }
  chart.lines = {line};
  chart.bands = {band};
  if (levels.watch)
    chart.levels.push_back({"watch limit", levels.watch->mrad()});
  if (levels.stop)
    chart.levels.push_back({"stop limit", levels.stop->mrad()});
  return chart;
}

Chart film_chart(std::span<const film::TracePoint> trace,
                 const std::optional<film::Estimate>& expected) {
  Chart chart;
  chart.title = "Film over time, as estimated from the speed that was run";
  chart.x_name = "time, s";
  chart.y_name = "thickness, \u00B5m";
  chart.log_y = true;
  Line wet{"with its solvent", {}, Look::second};
  Line dry{"solids alone", {}, Look::ink};
  for (const film::TracePoint& p : trace) {
    wet.points.push_back({p.at.s(), p.wet.um()});
    dry.points.push_back({p.at.s(), p.dry.um()});
  }
  chart.lines = {dry, wet};
  if (expected && !trace.empty()) { // a line, since its two halves may differ much
    const double end = trace.back().at.s();
    chart.lines.push_back(
        {"95 % sure", {{end, expected->low.um()}, {end, expected->high.um()}}, Look::ink});
    chart.points = {{"dry", {{end, expected->thickness.um()}}, {}, Look::ring}};
  }
  return chart;
}

Chart radius_chart(const RadiusRecord& record) {
  const film::Estimate& film = record.film;
  const bool looked_across = record.centre && record.edge;
  Chart chart;
  chart.title = "Film over the radius";
  chart.x_name = "from the axis, mm";
  chart.y_name = "dry, \u00B5m";
  chart.height = 220.0;
  const double end = record.radius.mm();
  const Length centre = looked_across ? *record.centre : film.thickness;
  const Length edge = looked_across ? *record.edge : film.thickness;
  chart.lines = {{looked_across ? "centre to edge" : "even, centre to edge",
                  {{0.0, centre.um()}, {end, edge.um()}},
                  Look::ink}};
  const auto scaled = [&](Length bound) { // what is not sure of the mean is not sure of each part
    const double times = bound / film.thickness;
    return std::vector<Xy>{{0.0, times * centre.um()}, {end, times * edge.um()}};
  };
  chart.bands = {{"95 % sure", scaled(film.low), scaled(film.high)}};
  if (looked_across)
    chart.levels = {{"mean", film.thickness.um()}};
  if (record.turbulent_from && *record.turbulent_from < record.radius) {
    const double top = (film.high / film.thickness) * std::max(centre, edge).um();
    chart.lines.push_back({"uneven air from here outward",
                           {{record.turbulent_from->mm(), 0.0}, {record.turbulent_from->mm(), top}},
                           Look::third});
  }
  return chart;
}

ResponseCharts response_charts(std::span<const JitterPoint> measured,
                               const std::function<Response(Speed)>& fitted) {
  ResponseCharts charts{over_speed("Once per turn over speed", "amplitude, mrad"),
                        over_speed("Its phase over speed", "phase, deg")};
  charts.phase.from_zero = false;
  charts.phase.y_turns = true;
  Points sizes{"measured", {}, {}, Look::ring};
  Points phases{"measured", {}, {}, Look::ring};
  Speed top;
  for (const JitterPoint& p : measured) {
    sizes.points.push_back({p.speed.rpm(), p.amplitude.mrad()});
    sizes.half_bars.push_back((p.interval.high - p.interval.low).mrad() / 2.0);
    if (p.phase)
      phases.points.push_back({p.speed.rpm(), p.phase->deg()});
    top = std::max(top, p.speed);
  }
  Line size_fit{"fitted mount", {}, Look::ink};
  Line phase_fit{"fitted mount", {}, Look::ink};
  constexpr int kSteps = 240;
  for (int i = 1; fitted && i <= kSteps; ++i) {
    const Speed speed = static_cast<double>(i) / kSteps * top;
    const Response response = fitted(speed);
    size_fit.points.push_back({speed.rpm(), response.amplitude.mrad()});
    phase_fit.points.push_back({speed.rpm(), response.phase.deg()});
  }
  phase_fit.points = unrolled(phase_fit.points);
  phases.points =
      phase_fit.points.empty() ? unrolled(phases.points) : beside(phases.points, phase_fit.points);
  charts.amplitude.points = {sizes};
  charts.amplitude.lines = {size_fit};
  charts.phase.points = {phases};
  charts.phase.lines = {phase_fit};
  return charts;
}

} // namespace whirler::report
