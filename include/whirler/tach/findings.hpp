// What the pulses show of a machine besides the figure: causes told apart, each with what shows it
// and what to do, and what the pulses cannot tell.
//
//   off-centre hole, uneven plate   once per turn, grows with speed squared up to the mount's
//                                   natural speed and turns by 180 degrees through it
//   uneven marks                    fixed in angle, the same at every speed
//   axis out of plumb               once per turn, falls with speed squared, and no more than the
//                                   plate's weight can do
//   loop that answers the marks     the same, but more: a speed loop that takes its speed from less
//                                   than a turn answers uneven marks with torque
//   cogging                         orders of the motor's poles, falls with speed squared
//   loose plate                     the vector jumps in a dwell or in a ramp; halves and thirds of
//                                   the turn
//   hunting of the speed loop       not locked to the turn
//   dropped pulses                  counted as they are repaired
//   mount's natural speed           close to the speed run at; or stuck below it: more speed is
//                                   asked for and not reached
//   near once a turn                what no mount explains of a run-up has an order of its own
//   second natural speed            the run-up fits two mounts and not one: softer in one
//                                   direction, or a second mode
#pragma once

#include "whirler/tach/order_one.hpp"

#include <string>
#include <string_view>

namespace whirler::tach {

enum class Cause {
  off_centre,
  uneven_marks,
  uneven_marks_or_cogging, ///< one speed cannot tell them apart
  out_of_plumb,
  loop_answers_marks,
  cogging,
  loose_plate,
  hunting,
  dropped_pulses,
  at_natural_speed,
  stuck_at_natural_speed,
  second_natural_speed,
  near_once_a_turn,
  // What the pulses cannot tell.
  one_mark,
  two_marks,
  no_index,
  sprung_sensor,
  stiff_mount,
  run_too_short,
};

/// The word for it in JSON and records: "off_centre", …
[[nodiscard]] std::string_view word(Cause cause);

struct Finding {
  Cause cause = Cause::off_centre;
  std::string shows; ///< what in the pulses shows it
  std::string next;  ///< what to do about it
};

} // namespace whirler::tach
