// The state of a run as a pure function: (run, event, now) -> (run, actions).
//
//   idle -> ready -> arming -> ramping <-> dwelling -> stopping -> done
//                      |          |            |           |
//                      +----------+------------+-----------+--> cutting -> done
//
// `stopping` runs the stop ramp (category 1 of IEC 60204-1); `cutting` commands the motor off at
// once (category 0). Every moving state has a way into both.
//
// Rules, numbered so that the tests can name them:
//   1. Nothing turns before `start`, and only from `ready`.
//   2. The first reason to end is kept; later ones can only make the stop harder, never softer.
//   3. From every moving state every stopping event commands the motor off, at once or by the ramp.
//   4. A stop whose ramp has not ended in its time becomes a cut. With the motor off, by either,
//   the
//      plate coasts: standstill is waited for, for a time; then the run ends and says that it saw
//      none.
//   5. `done` is final. A broken run is never resumed: a new one starts from `idle`.
// From these: whatever the order of events, a run that left `ready` sends stop or cut before it is
// done, unless the driver itself reported standstill at the end of the program.
//
// Rejected: a class with virtual states. The table would be spread over files, and the test that
// walks every state and event would have to be told about each.
#pragma once

#include "whirler/units/quantities.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace whirler::run {

enum class State { idle, ready, arming, ramping, dwelling, stopping, cutting, done };
inline constexpr int kStates = 8;

enum class Event {
  plan_accepted, ///< every check before the start has passed
  start,         ///< the person's word to begin
  ramp_begun,    ///< the driver reports a ramp
  dwell_begun,   ///< the driver reports a dwell
  program_ended, ///< the driver has begun the stop ramp at the program's end
  motor_off,     ///< the driver has ended a stop ramp: the plate coasts
  standstill,    ///< the tach has shown that nothing turns
  operator_stop, ///< first Ctrl-C, or the terminal's stop key
  operator_cut,  ///< second Ctrl-C
  terminated,    ///< SIGTERM or SIGHUP
  lid_open,
  overspeed,
  stall,
  tach_lost,
  tach_implausible,
  imbalance,
  limit,         ///< a limit of driver or machine was met while running
  drive_fault,   ///< the driver's own fault, of any other kind
  link_lost,     ///< no valid frame from the driver, or the port is gone
  record_failed, ///< the record cannot be written any longer
  tick,          ///< time has passed; nothing else has
};
inline constexpr int kEvents = 21;

/// Why a run ended; `completed` is the only good one.
enum class Ending {
  completed,
  operator_stop,
  terminated,
  lid,
  overspeed,
  stall,
  tach_lost,
  tach_implausible,
  imbalance,
  limit,
  drive_fault,
  link_lost,
  record,
};

/// The word for it in records and JSON ("done", "lid", …), and back.
[[nodiscard]] std::string_view word(Ending ending);
[[nodiscard]] std::optional<Ending> ending_from_word(std::string_view text);
[[nodiscard]] std::string_view word(State state);
[[nodiscard]] std::string_view word(Event event);

enum class Action {
  send_program_and_start, ///< upload the segments and command the start
  send_stop,              ///< the `stop` sequence, again every 20 ms until acknowledged
  send_cut,               ///< the `cut` sequence, again every 20 ms until acknowledged
  end,                    ///< close the record; nothing more will come
};

/// How long a stop may take before it is made a cut, and a cut before the run ends regardless.
struct Deadlines {
  Duration stop = seconds(20); ///< the stop ramp from the highest speed, with a margin
  Duration cut = seconds(60);  ///< the coast-down after either
  /// With the link lost nothing is heard: the driver's dead-man (250 ms) stops the motor, the cut
  /// is still sent for a line that is dead in one direction only, and nobody is kept waiting.
  Duration cut_unheard = seconds(1);
};

struct Run {
  State state = State::idle;
  Duration since;               ///< when the state was entered, on the caller's clock
  std::optional<Ending> ending; ///< set with the first reason to end
  bool standstill_seen = false;
  bool coasting = false; ///< `stopping`, with the motor off already
  Deadlines deadlines;
};

struct Step {
  Run run;
  std::vector<Action> actions;
};

/// One step. `now` is on the caller's clock and never runs backwards.
[[nodiscard]] Step advance(const Run& run, Event event, Duration now);

/// Arming, ramping, dwelling, stopping or cutting: the motor may be turning.
[[nodiscard]] bool is_moving(State state);

} // namespace whirler::run
