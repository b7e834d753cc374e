#include "watch_cautions.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace whirler::cli {
namespace {

/// Below this a mount may be passed unseen: the slowest dwell, and what the ramp after it reaches
/// in its first turn, the corner of which is left out. Counted on simulated runs from 500 rpm:
/// nothing above 1.1 times this was missed at 500 to 5000 rpm/s.
std::optional<Speed> seen_from(const profile::Timeline& timeline) {
  std::optional<Speed> slowest;
  Ramp steepest;
  for (const profile::Segment& segment : timeline.segments)
    if (segment.dwell > Duration{} && segment.to > Speed{})
      slowest = std::min(slowest.value_or(segment.to), segment.to);
  for (const profile::Segment& segment : timeline.segments)
    if (slowest && segment.from == *slowest && segment.to > *slowest)
      steepest = std::max(steepest, segment.slope);
  if (!slowest)
    return slowest;
  const double turn = 2.0 * steepest.rad_per_s2() * kRadPerTurn;
  return rad_per_s(std::sqrt(slowest->rad_per_s() * slowest->rad_per_s() + turn));
}

std::string as_speed(Speed speed) {
  return number_text(speed.rpm(), 3) + " rpm (" + number_text(speed.turns_per_s(), 2) + " Hz)";
}

/// Whether the mount is passed where the watch cannot see it.
std::vector<std::string> about_the_mount(const machine::Machine& machine,
                                         const profile::Timeline& timeline,
                                         const std::string& blind) {
  const machine::JitterLimits& limits = machine.jitter;
  const std::string slower = "dwell first below a quarter of it and ramp gently from there, or "
                             "record the bare hub as a baseline.";
  const auto from = seen_from(timeline);
  if (machine.mount) {
    const Speed natural = rad_per_s(machine.mount->natural.Hz() * kRadPerTurn);
    if (!from || natural > *from)
      return {};
    return {"The mount's natural speed is " + as_speed(natural) +
            ", and this profile shows what lies over " + as_speed(*from) +
            ": the jitter limits may miss a plate. To see it, " + slower};
  }
  if (!limits.stop_angle)
    return {blind + "limits in " + (limits.stop_force ? "N" : "mm/s") +
            " need \"mount\" in the machine file, or give stop_mrad."};
  if (!from)
    return {};
  return {"The machine file has no \"mount\": the jitter limits may miss a plate if its natural "
          "speed is under " +
          as_speed(*from) +
          ", the slowest dwell and the first turn of the ramp after it. Name mount.natural_hz "
          "(`whirler jitter` on one slow run-up tells it), or " +
          slower};
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
  std::vector<std::string> cautions = about_the_mount(machine, timeline, blind);
  if (machine.tach.marks_per_turn == 2)
    cautions.insert(cautions.begin(),
                    "Two marks a turn show the whirl along one direction only: the jitter limits "
                    "stop a plate for what shows along it, and it may do more. Use three marks a "
                    "turn or more.");
  return cautions;
}

} // namespace whirler::cli
