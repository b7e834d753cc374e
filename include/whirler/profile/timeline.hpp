// A profile laid out in time: what the drive is told, segment by segment, and what the film
// estimate integrates over. Both read the same layout, so that the plan on the screen, the run and
// the estimate cannot drift apart.
//
//   speed      segment 0        segment 1       stop
//     |                       ___________
//     |                      /           \        slope: size only, up and down alike
//     |         ____________/             \       to
//     |        /                           \      from
//     |_______/_____________________________\___ time
//     |<ramp>|<-- dwell -->|<r>|<- dwell ->|<r>|
//     start
//
// A segment is a whole: ramp, then dwell. The last one is always the stop ramp to rest, with no
// dwell, even where the profile already ends at rest (it then takes no time): code that looks for
// "the stop" takes the last and needs no special case.
//
// Nothing here knows a machine. A jump (speed changed in no time) is laid out and flagged, since
// film estimates accept it; the plan of a run refuses it.
#pragma once

#include "whirler/profile/profile.hpp"
#include "whirler/units/result.hpp"
#include "whirler/units/speed_curve.hpp"

#include <cstddef>
#include <vector>

namespace whirler::profile {

struct Segment {
  std::size_t step = 0; ///< index into Profile::steps; steps.size() for the stop ramp
  Speed from;
  Speed to;
  Ramp slope; ///< size of the slope; zero where the speed does not change, and for a jump
  Duration start;
  Duration ramp; ///< how long the ramp lasts
  Duration dwell;

  [[nodiscard]] bool is_jump() const { return from != to && ramp == Duration{}; }
  [[nodiscard]] Duration dwell_start() const { return start + ramp; }
  [[nodiscard]] Duration end() const { return start + ramp + dwell; }
};

struct Timeline {
  std::vector<Segment> segments; ///< one a step, then the stop ramp; never empty
  SpeedCurve curve;              ///< the same as knots, from rest at 0 to rest at total()

  [[nodiscard]] Duration total() const { return segments.back().end(); }
  [[nodiscard]] const Segment& stop() const { return segments.back(); }
  [[nodiscard]] bool has_jump() const;
  [[nodiscard]] Speed top_speed() const;
  /// The steepest slope of all, the stop ramp included; a jump does not count.
  [[nodiscard]] Ramp steepest() const;
};

/// Everything that is wrong with a profile whatever the machine: no steps; a speed, ramp or dwell
/// that is negative or not finite; a slope of zero; no step that turns the plate. Kind `input`;
/// `where` names the step by number and name. Empty: `timeline` will give a timeline.
[[nodiscard]] std::vector<Fault> faults_of(const Profile& profile);

/// Lays the profile out in time from rest. Fault: the first of `faults_of`, or a total that is too
/// long to count.
[[nodiscard]] Result<Timeline> timeline(const Profile& profile);

/// Speed asked for at time `t`. At a jump the speed after it; rest before 0 and after the end.
[[nodiscard]] Speed speed_at(const Timeline& timeline, Duration t);

/// The segment that time `t` falls into; the first before 0, the stop ramp after the end. A time on
/// the border of two belongs to the later.
[[nodiscard]] const Segment& segment_at(const Timeline& timeline, Duration t);

} // namespace whirler::profile
