#include "scale.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whirler::report {
namespace {

double round_step(double span, int about) {
  const double least = span / std::max(1, about);
  const double power = std::pow(10.0, std::floor(std::log10(least)));
  for (const double factor : {1.0, 2.0, 5.0})
    if (factor * power >= least * (1.0 - 1e-9))
      return factor * power;
  return 10.0 * power;
}

/// Of degrees: a part of the turn that a person reads as one.
double turn_step(double span_deg, int about) {
  constexpr std::array<double, 7> kSteps{1.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0};
  for (const double step : kSteps)
    if (span_deg <= about * step)
      return step;
  return 180.0;
}

std::vector<double> multiples(double step, double low, double high) {
  std::vector<double> ticks;
  const double first = std::ceil(low / step - 1e-9);
  const double last = std::floor(high / step + 1e-9);
  for (double k = first; k <= last; k += 1.0)
    ticks.push_back(k * step + 0.0);
  return ticks;
}

std::vector<double> x_ticks(const Scale& scale) {
  auto ticks = round_ticks(scale.x.low, scale.x.high, 8);
  if (scale.x_counts) // steps of 0.1, 0.2 and 0.5 meet every whole number
    std::erase_if(ticks, [](double tick) { return std::abs(tick - std::round(tick)) > 1e-6; });
  return ticks;
}

std::vector<double> y_ticks(const Scale& scale, int about) {
  const Range& y = scale.y;
  if (scale.log_y)
    return decade_ticks(y.low, y.high);
  return scale.y_turns ? multiples(turn_step(y.high - y.low, about), y.low, y.high)
                       : round_ticks(y.low, y.high, about);
}

/// 370 and 10 degrees are the same place of the turn: all ticks by the same whole turns, so that
/// they go up evenly and none is said past one turn.
double said(double tick, const Scale& scale) {
  return scale.y_turns ? tick - 360.0 * std::ceil(scale.y.high / 360.0 - 1.0) : tick;
}

} // namespace

std::vector<double> round_ticks(double low, double high, int about) {
  if (!std::isfinite(high - low) || high < low)
    return {};
  if (high == low)
    return {low};
  return multiples(round_step(high - low, about), low, high);
}

std::vector<double> decade_ticks(double low, double high) {
  if (!(low > 0.0) || !std::isfinite(high) || high < low)
    return {};
  const double decades = std::log10(high / low);
  std::vector<double> ticks;
  for (double power = std::floor(std::log10(low)); power <= std::ceil(std::log10(high));
       power += 1.0)
    for (const double factor : {1.0, 2.0, 5.0}) {
      const double tick = factor * std::pow(10.0, power);
      if (tick >= low * (1.0 - 1e-9) && tick <= high * (1.0 + 1e-9) &&
          (factor == 1.0 || decades < 3.5))
        ticks.push_back(tick);
    }
  return ticks;
}

Xy Scale::operator()(Xy value) const {
  const double u = (value.x - x.low) / (x.high - x.low);
  const double v = log_y ? std::log(value.y / y.low) / std::log(y.high / y.low)
                         : (value.y - y.low) / (y.high - y.low);
  return {frame.left + u * (frame.right - frame.left),
          frame.bottom - v * (frame.bottom - frame.top)};
}

bool Scale::holds(Xy value) const {
  return value.x >= x.low && value.x <= x.high && value.y >= y.low && value.y <= y.high;
}

Range drawable(Range range) {
  if (!std::isfinite(range.high - range.low) || range.high < range.low)
    return {0.0, 1.0};
  if (range.high - range.low > 1e-12 * std::max(std::abs(range.low), std::abs(range.high)))
    return range;
  const double half = range.low == 0.0 ? 0.5 : 0.1 * std::abs(range.low);
  return {range.low - half, range.high + half};
}

Range rounded_out(Range range, int about) {
  range = drawable(range);
  const double step = round_step(range.high - range.low, about);
  return {std::floor(range.low / step + 1e-9) * step, std::ceil(range.high / step - 1e-9) * step};
}

Range turns_out(Range range, int about) {
  range = drawable(range);
  const double step = turn_step(range.high - range.low, about);
  return {std::floor(range.low / step + 1e-9) * step, std::ceil(range.high / step - 1e-9) * step};
}

Range decades_out(Range range) {
  if (!(range.low > 0.0) || !std::isfinite(range.high) || range.high < range.low)
    return {1.0, 10.0};
  const auto around = [](double value, double step) {
    const double power = std::pow(10.0, std::floor(std::log10(value) + 1e-12));
    if (step < 0.0)
      return value >= 5.0 * power ? 5.0 * power : value >= 2.0 * power ? 2.0 * power : power;
    return value <= power * (1.0 + 1e-9) ? power
           : value <= 2.0 * power        ? 2.0 * power
           : value <= 5.0 * power        ? 5.0 * power
                                         : 10.0 * power;
  };
  const Range wide{around(range.low, -1.0), around(range.high, 1.0)};
  return wide.high > wide.low ? wide : Range{wide.low / 2.0, wide.high * 2.0};
}

void draw_axes(Drawing& drawing, const Scale& scale, const std::string& x_name,
               const std::string& y_name) {
  const Frame& f = scale.frame;
  for (const double tick : x_ticks(scale)) {
    const double x = scale({tick, scale.y.low}).x;
    drawing.line({x, f.top}, {x, f.bottom}, Look::grid);
    drawing.text({x, f.bottom + 15.0}, number_text(tick, 6), Words::small, Anchor::middle);
  }
  const int about = std::max(2, static_cast<int>((f.bottom - f.top) / 32.0));
  for (const double tick : y_ticks(scale, about)) {
    const double y = scale({scale.x.low, tick}).y;
    drawing.line({f.left, y}, {f.right, y}, Look::grid);
    drawing.text({f.left - 6.0, y + 3.5}, number_text(said(tick, scale), 6), Words::small,
                 Anchor::end);
  }
  drawing.line({f.left, f.bottom}, {f.right, f.bottom}, Look::axis);
  drawing.line({f.left, f.top}, {f.left, f.bottom}, Look::axis);
  drawing.text({(f.left + f.right) / 2.0, f.bottom + 32.0}, x_name, Words::label, Anchor::middle);
  drawing.text_upwards({f.left - 46.0, (f.top + f.bottom) / 2.0}, y_name);
}

std::vector<Xy> thinned(const std::vector<Xy>& points, const Scale& scale) {
  const auto columns = static_cast<std::size_t>(scale.frame.right - scale.frame.left);
  if (points.size() <= 4 * columns)
    return points;
  std::vector<Xy> kept;
  for (std::size_t i = 0; i < points.size();) {
    const double column = std::floor(scale(points[i]).x);
    std::size_t low = i;
    std::size_t high = i;
    std::size_t end = i;
    for (; end < points.size() && std::floor(scale(points[end]).x) == column; ++end) {
      low = points[end].y < points[low].y ? end : low;
      high = points[end].y > points[high].y ? end : high;
    }
    end = std::max(end, i + 1); // a point that is not a number has no column
    for (const std::size_t k : {i, std::min(low, high), std::max(low, high), end - 1})
      kept.push_back(points[k]);
    i = end;
  }
  return kept;
}

} // namespace whirler::report
