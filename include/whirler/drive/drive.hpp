// The seam between a run and whatever turns the motor: one class a kind of drive.
//
// A run needs to greet the drive, hand it a whole program, start it, hear what it reports, and stop
// it in two ways. Nothing here streams targets; a drive that has no program memory of its own does
// that inside its own class, behind the same words.
//
// `greet` and `start_program` return when they are answered or out of time; while they wait they
// run the io_context, so that signals and time-outs are still served. The rest is event by event.
#pragma once

#include "whirler/run/plan.hpp"
#include "whirler/run/state_machine.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::drive {

/// What a drive says of itself when greeted.
struct Identity {
  run::DriverFacts facts;
  std::string version; ///< of its firmware
  Duration tick;       ///< of its pulse timer
  int tick_bits = 0;
  bool own_clock = true;             ///< its reports carry a clock that is not this computer's
  Duration still_after;              ///< no pulse for so long is called standstill
  std::vector<std::string> cautions; ///< what a person must know: no enable output, …
};

struct ProgramSegment {
  Speed target;
  Ramp slope;
  Duration dwell;
};

struct Program {
  std::vector<ProgramSegment> segments;
  Ramp stop_slope;
  Speed ceiling; ///< the drive stops by itself above it
  bool lid_confirmed = false;
};

enum class Motion { off, starting, ramping, dwelling, stopping };

/// One report of the drive, some fifty a second.
struct Report {
  Motion motion = Motion::off;
  std::optional<run::Event> cause; ///< why it is off or stopping, where that is news to the run
  std::string cause_text;          ///< the same for people
  run::LidState lid = run::LidState::not_fitted;
  bool enabled = false;
  bool still = false; ///< the tach shows standstill
  bool ours = false;  ///< it is about the program that this host started
  bool ended = false; ///< that program was run to its end
  std::optional<std::size_t> segment;
  Speed target;
  Speed measured;
  double command = 0.0; ///< 0 to 1 of what the motor can be given
  Duration clock;       ///< the drive's own, unwrapped
  std::uint32_t frames_discarded = 0;
  std::uint32_t pulses_dropped = 0; ///< seen by the drive, never sent
};

struct PulseBatch {
  std::span<const std::int64_t> ticks; ///< unwrapped
  std::span<const std::int16_t> marks; ///< which mark passed; -1 where the drive does not know
  std::uint64_t lost_before = 0;       ///< pulses that were captured but did not arrive
};

/// Who hears the drive. Called from inside the io_context.
class Listener {
 public:
  virtual ~Listener() = default;
  virtual void on_report(const Report& report) = 0;
  virtual void on_pulses(const PulseBatch& batch) = 0;
  /// The drive cannot be heard any more. Comes once.
  virtual void on_lost(const Fault& fault) = 0;
};

class Drive {
 public:
  virtual ~Drive() = default;
  Drive() = default;
  Drive(const Drive&) = delete;
  Drive& operator=(const Drive&) = delete;

  /// Faults (link): silent, garbage, another version, given up by `give_up`.
  [[nodiscard]] virtual Result<Identity> greet(Listener& listener, Duration patience,
                                               const std::function<bool()>& give_up) = 0;
  /// The listener of `greet` hears nothing any more, and may go.
  virtual void stop_listening() = 0;
  /// Takes the latch off, hands over the whole program, and starts it. Only call for a plan that
  /// has passed `run::refusals`. Faults: link, or input where the drive refuses with its numbers.
  [[nodiscard]] virtual Outcome start_program(const Program& program) = 0;
  /// Feeds the dead-man. Called from the run's own loop, after a report was digested.
  virtual void keep_alive() = 0;
  /// The stop ramp, then off. At once on the line, and to be repeated with `repeat_stop`.
  virtual void command_stop() = 0;
  /// Off at once.
  virtual void command_cut() = 0;
  /// Sends the pending stop or cut again, until a report shows that it was obeyed.
  virtual void repeat_stop() = 0;
  /// Without a report for so long while something moves, the link is called lost. Wall time.
  [[nodiscard]] virtual Duration longest_silence() const { return milliseconds(500); }
};

} // namespace whirler::drive
