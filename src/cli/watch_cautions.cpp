#include "watch_cautions.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <optional>

namespace whirler::cli {
namespace {

std::optional<Speed> slowest_dwell(const profile::Timeline& timeline) {
  std::optional<Speed> slowest;
  for (const profile::Segment& segment : timeline.segments)
    if (segment.dwell > Duration{} && segment.to > Speed{})
      slowest = std::min(slowest.value_or(segment.to), segment.to);
  return slowest;
}

} // namespace

std::vector<std::string> watch_cautions(const machine::Machine& machine,
                                        const profile::Timeline& timeline) {
  const machine::JitterLimits& limits = machine.jitter;
  if (!limits.stop_force && !limits.stop_velocity && !limits.stop_angle)
    return {};
  const std::string blind = "The jitter limits stop nothing here: ";
  if (machine.tach.sensor_on == machine::SensorOn::sprung)
    return {blind + "the sensor rides on the body that shakes."};
  if (machine.tach.marks_per_turn < 2)
    return {blind + "one mark a turn shows no whirl."};
  if (machine.mount)
    return {};
  if (!limits.stop_angle)
    return {blind + "limits in " + (limits.stop_force ? "N" : "mm/s") +
            " need \"mount\" in the machine file, or give stop_mrad."};
  const auto slowest = slowest_dwell(timeline);
  if (!slowest)
    return {};
  return {
      "The machine file has no \"mount\": the jitter limits may miss one whose natural speed is "
      "under " +
      number_text(slowest->rpm(), 4) + " rpm (" + number_text(slowest->turns_per_s(), 2) +
      " Hz), the slowest dwell."};
}

} // namespace whirler::cli
