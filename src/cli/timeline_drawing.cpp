#include "timeline_drawing.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

constexpr std::size_t kWidth = 60;  ///< characters of time
constexpr std::size_t kHeight = 6;  ///< rows of speed
constexpr std::size_t kMargin = 12; ///< characters before the drawing

std::string padded(const std::string& text, std::size_t width) {
  return text + std::string(width > text.size() ? width - text.size() : 0, ' ');
}

std::string seconds_text(Duration time) { return number_text(time.s(), 4) + " s"; }
std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 6) + " rpm"; }

std::string ramp_text(const profile::Segment& segment) {
  if (segment.is_jump())
    return "at once (a run refuses that)";
  if (segment.from == segment.to)
    return segment.ramp > Duration{} ? "in " + seconds_text(segment.ramp) : "already there";
  return "in " + seconds_text(segment.ramp) + " at " + number_text(segment.slope.rpm_per_s(), 4) +
         " rpm/s";
}

Speed top_of(const SpeedCurve& curve) {
  Speed top;
  for (const SpeedPoint& point : curve)
    top = std::max(top, point.speed);
  return top;
}

} // namespace

std::vector<std::string> drawing(const SpeedCurve& curve) {
  const Speed top = top_of(curve);
  if (!(top > Speed{}) || !(curve.back().at > Duration{}))
    return {};
  const Duration total = curve.back().at;
  const Duration column = total / static_cast<double>(kWidth);
  std::vector<std::string> rows(kHeight);
  for (std::size_t row = 0; row < kHeight; ++row) {
    // A row is filled where the speed is over its middle.
    const double level = (static_cast<double>(kHeight - row) - 0.5) / static_cast<double>(kHeight);
    rows[row] = padded(row == 0 ? number_text(top.rpm(), 4) + " rpm" : "", kMargin) + "|";
    for (std::size_t i = 0; i < kWidth; ++i) {
      const Duration t = (static_cast<double>(i) + 0.5) * column;
      rows[row] += speed_at(curve, t) >= level * top ? '#' : ' ';
    }
    rows[row].erase(rows[row].find_last_not_of(' ') + 1);
  }
  const std::string end = seconds_text(total);
  rows.push_back(padded("", kMargin) + "+" + std::string(kWidth, '-'));
  rows.push_back(padded("", kMargin) + padded("0 s", kWidth + 1 - std::min(kWidth, end.size())) +
                 end);
  return rows;
}

std::vector<std::string> drawing(const profile::Timeline& timeline) {
  return drawing(timeline.curve);
}

std::vector<std::string> steps_in_words(const profile::Profile& profile,
                                        const profile::Timeline& timeline) {
  std::vector<std::string> lines;
  for (const profile::Segment& segment : timeline.segments) {
    const bool stop = segment.step == profile.steps.size();
    const std::string name = stop ? "stop" : profile.steps[segment.step].name;
    std::string line = stop ? "   " : padded(std::to_string(segment.step + 1), 3);
    line += padded(name, 12) + " to " + (stop ? "rest " : rpm_text(segment.to) + " ");
    line += ramp_text(segment);
    if (segment.dwell > Duration{})
      line += ", then " + seconds_text(segment.dwell) + " there";
    lines.push_back(line);
  }
  lines.push_back(seconds_text(timeline.total()) + " in all");
  return lines;
}

} // namespace whirler::cli
