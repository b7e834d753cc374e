// How long one cycle of a run takes: the target told, speed, fault and status read, each with its
// answer and the silences of the line. Everything that a run decides it decides once a cycle: the
// next point of a ramp, the end of a step, that a shaft is too fast. So a cycle has a longest.
#pragma once

#include "whirler/modbus/description.hpp"
#include "whirler/units/line_format.hpp"

#include <optional>
#include <string>

namespace whirler::modbus {

/// Questions of a cycle that only read, and those of the whole.
[[nodiscard]] int reads_a_cycle(const Description& drive);
[[nodiscard]] inline int questions_a_cycle(const Description& drive) {
  return 1 + reads_a_cycle(drive);
}
/// What the line itself takes: frames, answers, and 3.5 characters of silence round each.
[[nodiscard]] Duration line_time_of_reads(const Description& drive, const LineFormat& line);
[[nodiscard]] Duration line_time_of_cycle(const Description& drive, const LineFormat& line);

/// The longest that a run is allowed on this drive. On a streamed ramp each cycle is a step of
/// speed; a drive with its own slope needs a fault and a limit seen in time.
[[nodiscard]] Duration longest_cycle(const Description& drive);
inline constexpr Duration kLongestStreamed = milliseconds(250.0);
inline constexpr Duration kLongestSloped = milliseconds(400.0);
/// From here on a cycle is worth a word.
inline constexpr Duration kLongCycle = milliseconds(120.0);

/// The lowest usual baud rate with which a cycle is short enough, where the drive itself takes
/// `answers` of each; none where no rate helps.
[[nodiscard]] std::optional<int> enough_baud(const Description& drive, LineFormat line,
                                             Duration answers);

/// For people: what the cycle takes, of that what the line takes, and what to do; empty where it is
/// short. `answers`: what the drive itself takes of a cycle.
struct CycleWords {
  std::string what;
  std::string next;
  bool too_long = false;
};
[[nodiscard]] std::optional<CycleWords> long_cycle(const Description& drive, const LineFormat& line,
                                                   Duration answers);

} // namespace whirler::modbus
