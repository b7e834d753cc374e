#include "whirler/report/chart.hpp"

#include "scale.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace whirler::report {
namespace {

constexpr double kLeft = 66.0;
constexpr double kRight = 18.0;
constexpr double kTitle = 24.0;
constexpr double kKeyLine = 16.0;
constexpr double kBottom = 42.0;
constexpr double kSample = 26.0;

bool is_drawn(Xy p) { return std::isfinite(p.x) && std::isfinite(p.y); }

/// Grows to hold what it is shown.
struct Extent {
  Range x{std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};
  Range y = x;
  bool log_y = false;

  void hold(Xy p) {
    if (!is_drawn(p) || (log_y && p.y <= 0.0))
      return;
    x = {std::min(x.low, p.x), std::max(x.high, p.x)};
    hold_y(p.y);
  }
  void hold_y(double value) { y = {std::min(y.low, value), std::max(y.high, value)}; }
};

Extent extent_of(const Chart& chart) {
  Extent extent;
  extent.log_y = chart.log_y;
  for (const Line& line : chart.lines)
    std::for_each(line.points.begin(), line.points.end(), [&](Xy p) { extent.hold(p); });
  for (const Band& band : chart.bands)
    for (const auto& edge : {band.low, band.high})
      std::for_each(edge.begin(), edge.end(), [&](Xy p) { extent.hold(p); });
  for (const Points& points : chart.points)
    for (std::size_t i = 0; i < points.points.size(); ++i) {
      const double bar = i < points.half_bars.size() ? points.half_bars[i] : 0.0;
      const double below = points.points[i].y - bar;
      // What cannot be below zero needs no room there for its error's bar.
      const bool cut = chart.from_zero && points.points[i].y >= 0.0;
      extent.hold({points.points[i].x, cut ? std::max(0.0, below) : below});
      extent.hold({points.points[i].x, points.points[i].y + bar});
    }
  for (const Level& level : chart.levels)
    if (std::isfinite(level.at) && (!chart.log_y || level.at > 0.0))
      extent.hold_y(level.at);
  if (chart.from_zero && !chart.log_y && std::isfinite(extent.y.low))
    extent.hold_y(0.0);
  return extent;
}

struct KeyEntry {
  std::string name;
  Look look;
  enum class Sample { line, area, point } sample;
};

std::vector<KeyEntry> key_of(const Chart& chart) {
  std::vector<KeyEntry> key;
  for (const Line& line : chart.lines)
    key.push_back({line.name, line.look, KeyEntry::Sample::line});
  for (const Points& points : chart.points)
    key.push_back({points.name, points.look, KeyEntry::Sample::point});
  for (const Band& band : chart.bands)
    key.push_back({band.name, Look::band, KeyEntry::Sample::area});
  for (const Level& level : chart.levels)
    key.push_back({level.name, Look::limit, KeyEntry::Sample::line});
  std::erase_if(key, [](const KeyEntry& entry) { return entry.name.empty(); });
  return key;
}

/// Where each entry of the key goes: rows of the chart's width.
std::vector<Xy> key_places(const std::vector<KeyEntry>& key, double width) {
  std::vector<Xy> places;
  Xy at{kLeft, kTitle + kKeyLine};
  for (const KeyEntry& entry : key) {
    const double needs = kSample + 6.0 + width_of(entry.name, Words::small) + 16.0;
    if (at.x > kLeft && at.x + needs > width - kRight)
      at = {kLeft, at.y + kKeyLine};
    places.push_back(at);
    at.x += needs;
  }
  return places;
}

void draw_sample(Drawing& drawing, const KeyEntry& entry, Xy at) {
  const double middle = at.y - 3.5;
  if (entry.sample == KeyEntry::Sample::line)
    drawing.line({at.x, middle}, {at.x + kSample, middle}, entry.look);
  else if (entry.sample == KeyEntry::Sample::point)
    drawing.circle({at.x + kSample / 2.0, middle}, 3.5, entry.look);
  else {
    const std::vector<Xy> box{{at.x, middle - 5.0},
                              {at.x + kSample, middle - 5.0},
                              {at.x + kSample, middle + 5.0},
                              {at.x, middle + 5.0}};
    drawing.polygon(box, entry.look);
  }
  drawing.text({at.x + kSample + 6.0, at.y}, entry.name, Words::small);
}

/// The pieces between gaps, on paper. Points outside the ranges are left out.
void draw_line(Drawing& drawing, const Line& line, const Scale& scale) {
  std::vector<Xy> piece;
  for (const Xy p : thinned(line.points, scale)) {
    if (is_drawn(p) && scale.holds(p)) {
      piece.push_back(scale(p));
      continue;
    }
    drawing.polyline(piece, line.look);
    piece.clear();
  }
  drawing.polyline(piece, line.look);
}

void draw_band(Drawing& drawing, const Band& band, const Scale& scale) {
  std::vector<Xy> around;
  const auto add = [&](Xy p) {
    if (is_drawn(p))
      around.push_back(scale({std::clamp(p.x, scale.x.low, scale.x.high),
                              std::clamp(p.y, scale.y.low, scale.y.high)}));
  };
  std::for_each(band.low.begin(), band.low.end(), add);
  std::for_each(band.high.rbegin(), band.high.rend(), add);
  drawing.polygon(around, Look::band);
}

void draw_points(Drawing& drawing, const Points& points, const Scale& scale) {
  for (std::size_t i = 0; i < points.points.size(); ++i) {
    const Xy p = points.points[i];
    if (!is_drawn(p) || !scale.holds(p))
      continue;
    if (i < points.half_bars.size() && points.half_bars[i] > 0.0) {
      const double bar = points.half_bars[i];
      drawing.line(scale({p.x, std::max(scale.y.low, p.y - bar)}),
                   scale({p.x, std::min(scale.y.high, p.y + bar)}), Look::axis);
    }
    drawing.circle(scale(p), 3.5, points.look);
  }
}

Scale scale_of(const Chart& chart, double key_bottom) {
  const Extent extent = extent_of(chart);
  const int about = std::max(2, static_cast<int>((chart.height - key_bottom - kBottom) / 32.0));
  const Range y = chart.y_range   ? drawable(*chart.y_range)
                  : chart.log_y   ? decades_out(extent.y)
                  : chart.y_turns ? turns_out(extent.y, about)
                                  : rounded_out(extent.y, about);
  return {drawable(chart.x_range.value_or(extent.x)),
          y,
          {kLeft, chart.width - kRight, key_bottom + 12.0, chart.height - kBottom},
          chart.log_y,
          chart.x_counts,
          chart.y_turns};
}

} // namespace

Drawing draw(const Chart& chart) {
  Drawing drawing(chart.width, chart.height, chart.title);
  drawing.text({kLeft, 17.0}, chart.title, Words::title);
  const auto key = key_of(chart);
  const auto places = key_places(key, chart.width);
  for (std::size_t i = 0; i < key.size(); ++i)
    draw_sample(drawing, key[i], places[i]);
  const Scale scale = scale_of(chart, places.empty() ? kTitle : places.back().y);
  for (const Band& band : chart.bands)
    draw_band(drawing, band, scale);
  draw_axes(drawing, scale, chart.x_name, chart.y_name);
  for (const Level& level : chart.levels)
    draw_line(drawing, {"", {{scale.x.low, level.at}, {scale.x.high, level.at}}, Look::limit},
              scale);
  for (const Line& line : chart.lines)
    draw_line(drawing, line, scale);
  for (const Points& points : chart.points)
    draw_points(drawing, points, scale);
  return drawing;
}

} // namespace whirler::report
