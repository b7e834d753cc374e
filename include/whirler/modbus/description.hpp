// What a drive file says of a drive: where its registers are, what they mean, and which writes make
// it start, stop, let go and forget a fault. The user writes it once, out of the drive's manual.
//
// Registers that every run needs have a name here; what differs from drive to drive (run words,
// state machines such as that of CiA 402 / IEC 61800-7-201) is a sequence of writes, each waited
// for by reading a status word. Rejected: a built-in list of drives, and a scripting language: the
// first is never complete, the second cannot be checked before something turns.
#pragma once

#include "whirler/modbus/registers.hpp"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace whirler::modbus {

struct WriteStep {
  Cell cell;
  std::uint16_t value = 0;
  std::optional<std::uint16_t> counterclockwise{}; ///< instead, where the machine turns so

  [[nodiscard]] std::uint16_t value_for(bool turns_counterclockwise) const {
    return turns_counterclockwise ? counterclockwise.value_or(value) : value;
  }
};

/// Reads until the masked word has the value.
struct WaitStep {
  Cell cell;
  std::uint16_t mask = 0xFFFF;
  std::uint16_t value = 0;
  Duration within;
};

using Step = std::variant<WriteStep, WaitStep>;
using Sequence = std::vector<Step>;

/// The slope as a rate, or as the time from rest to some speed.
struct SlopeRegister {
  Cell cell;
  std::variant<Ramp, Duration> scale; ///< of one count; above zero
  Speed span;                         ///< that the time is for

  [[nodiscard]] std::optional<std::vector<std::uint16_t>> words_for(Ramp slope) const;
  /// What the register will hold where it is asked for `slope`; none where it cannot hold it, or
  /// where it would hold zero, which many drives take for a jump.
  [[nodiscard]] std::optional<Ramp> rounded(Ramp slope) const;
};

struct Direction {
  std::optional<Cell> cell; ///< none: a negative target turns counterclockwise, or clockwise
  std::uint16_t clockwise = 0;
  std::uint16_t counterclockwise = 0;
  bool negative_is_counterclockwise = true;
};

struct NamedBit {
  int bit = 0;
  std::string words;
};
struct NamedCode {
  std::uint16_t code = 0;
  std::string words;
};

/// Any masked bit that is set is a fault of the drive.
struct FaultWord {
  Cell cell;
  std::uint16_t mask = 0xFFFF;
  std::vector<NamedBit> bits;
};
/// Read once there is a fault: which one.
struct FaultCode {
  Cell cell;
  std::vector<NamedCode> codes;
};

/// The drive works while the masked word has the value; else it has stopped by itself.
struct RunningTest {
  Cell cell;
  std::uint16_t mask = 0xFFFF;
  std::uint16_t value = 0;
};

/// The drive stops by itself when nobody has spoken to it for so long.
struct DeadMan {
  Duration time;
  std::optional<Scaled<Duration>> set_by; ///< none: set at the drive's own panel
};

struct Limits {
  std::optional<Speed> speed;
  std::optional<Speed> speed_min;
  std::optional<Ramp> ramp;
};

enum class SpeedSource {
  encoder, ///< measured: zero means that the shaft stands
  estimate ///< worked out from currents or frequency: nothing once the output is off
};

struct Description {
  std::string name;
  int unit = 1;                                ///< unless the machine file says another
  Duration reply_within = milliseconds(100.0); ///< after the request's last character
  int retries = 2;
  Scaled<Speed> target;
  Scaled<Speed> actual;
  SpeedSource actual_from = SpeedSource::estimate;
  std::optional<SlopeRegister> slope;      ///< none: the host streams the ramp
  std::optional<SlopeRegister> slope_down; ///< braking, where it has a register of its own
  std::optional<Direction> direction;      ///< none: it turns one way only
  FaultWord fault;
  std::optional<FaultCode> fault_code;
  std::optional<RunningTest> running;
  std::optional<DeadMan> dead_man;
  Limits limits;
  Sequence setup; ///< once, before anything else
  Sequence clear; ///< out of a fault
  Sequence start; ///< with the target at zero
  Sequence stop;  ///< at the end of the stop ramp
  Sequence cut;   ///< off at once; empty: the drive has nothing harder than `stop`
};

/// The target's sign is the direction.
[[nodiscard]] bool turns_by_sign(const Description& drive);
/// The actual speed has that sign too; else it says how fast and not which way.
[[nodiscard]] bool reads_by_sign(const Description& drive);
/// The highest speed that the drive may be given: its limit, or what the registers of target and
/// actual speed both hold in either direction.
[[nodiscard]] Speed highest_speed(const Description& drive);

/// A fault word, and the code beside it if one was read, in the file's words; numbers where the
/// file has none.
[[nodiscard]] std::string fault_text(const Description& drive, std::uint16_t word,
                                     std::optional<std::uint16_t> code);

} // namespace whirler::modbus
