// What host and driver say to each other. Layouts, codes and rules: PROTOCOL.md beside this file.
//
// The host uploads a whole program, then starts it once; it never streams targets, so a busy host
// can stall the screen but not the plate. Every command may be repeated without doing anything
// twice, so a lost answer is cured by asking again. What the driver measured travels as counts and
// ticks: it never sends an averaged speed as data (the speed in a status report is for the screen).
#pragma once

#include "whirler/link/frame.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace whirler::link {

inline constexpr std::uint8_t kProtocolVersion = 1;
inline constexpr int kDefaultBaud = 500000;
inline constexpr Duration kReportPeriod = milliseconds(20);
inline constexpr Duration kKeepAlivePeriod = milliseconds(50); ///< at the latest; 20 ms is better
inline constexpr Duration kDeadMan = milliseconds(250);
inline constexpr Duration kAnswerTimeout = milliseconds(200); ///< then the host asks again
inline constexpr Duration kStopRepeat = milliseconds(20);
/// A keep-alive that names a report older than this many numbers does not feed the dead-man.
inline constexpr std::uint16_t kFreshReports = 12;
inline constexpr std::uint8_t kNoSegment = 0xFF; ///< on the line, for an empty Status::segment
inline constexpr std::uint16_t kNoMark = 0xFFFF; ///< on the line, for an empty Pulses::first_mark

enum class MessageType : std::uint8_t {
  hello = 0x01,
  clear = 0x02,
  segment = 0x03,
  start = 0x04,
  keep_alive = 0x05,
  hello_reply = 0x81,
  ack = 0x82,
  nak = 0x83,
  status = 0x84,
  pulses = 0x85
};

// ---- host to driver

/// First words of a host, and of every new host process. Range of protocol versions it speaks.
struct Hello {
  std::uint8_t protocol_min = kProtocolVersion;
  std::uint8_t protocol_max = kProtocolVersion;
  std::uint32_t nonce = 0; ///< echoed, so that an old answer is not taken for a new one
  friend bool operator==(const Hello&, const Hello&) = default;
};

/// Takes the latch off a driver at rest and empties its program.
struct Clear {
  friend bool operator==(const Clear&, const Clear&) = default;
};

/// One ramp and dwell of the program. On the line in 1/1000 rpm, 1/1000 rpm/s and ms.
struct Segment {
  std::uint8_t index = 0;
  Speed target;
  Ramp slope;
  Duration dwell;
  friend bool operator==(const Segment&, const Segment&) = default;
};

/// Runs the uploaded program, if the driver holds exactly what `program_crc` says.
struct Start {
  std::uint8_t segments = 0;
  Ramp stop_slope;
  bool lid_confirmed = false; ///< a person said that the lid is shut; for drivers without a switch
  Speed ceiling;              ///< the machine file's limit; the smaller of it and the driver's acts
  std::uint32_t program_crc = 0;
  std::uint32_t token = 0; ///< a new number a start, not 0
  friend bool operator==(const Start&, const Start&) = default;
};

struct KeepAlive {
  std::uint16_t report = 0; ///< number of the newest status report that the host has read
  friend bool operator==(const KeepAlive&, const KeepAlive&) = default;
};

using HostMessage = std::variant<Hello, Clear, Segment, Start, KeepAlive>;

// ---- driver to host

/// What a driver is and can do.
struct HelloReply {
  std::uint8_t protocol_min = kProtocolVersion;
  std::uint8_t protocol_max = kProtocolVersion;
  std::uint32_t nonce = 0;
  std::uint8_t firmware_major = 0;
  std::uint8_t firmware_minor = 0;
  std::uint8_t firmware_patch = 0;
  std::uint32_t tick_numerator = 1; ///< a tick lasts numerator/denominator seconds, exactly
  std::uint32_t tick_denominator = 2000000;
  std::uint8_t tick_bits = 32;      ///< 16 to 32: the counter wraps at 2^tick_bits
  std::uint16_t marks_per_turn = 1; ///< 1 to 1024
  bool index = false;               ///< one mark is known from the others
  bool enable_output = false;       ///< a separate enable of the motor's supply that a cut drops
  bool lid_switch = false;
  bool tach_only = false; ///< counts pulses, drives nothing
  Speed max_speed;
  Speed min_speed;
  Ramp max_slope;
  std::uint8_t max_segments = 0; ///< 32 or more
  Duration still_after;          ///< no pulse for so long is called standstill
  std::string name;              ///< UTF-8, at most 32 bytes

  [[nodiscard]] Duration tick() const {
    return seconds(static_cast<double>(tick_numerator) / static_cast<double>(tick_denominator));
  }
  friend bool operator==(const HelloReply&, const HelloReply&) = default;
};

struct Ack {
  std::uint8_t type = 0; ///< of the frame that is answered
  std::uint8_t seq = 0;
  friend bool operator==(const Ack&, const Ack&) = default;
};

enum class NakCode : std::uint8_t {
  unknown_type = 1,
  bad_length = 2,
  no_hello = 3,  ///< no hello since power-up, or no common version
  bad_state = 4, ///< not now
  turning = 5,   ///< not before standstill
  lid_open = 6,
  lid_unknown = 7, ///< no lid switch, and nobody confirmed the lid
  bad_index = 8,   ///< asked, allowed: segment numbers
  speed_high = 9,  ///< asked, allowed: 1/1000 rpm
  speed_low = 10,  ///< asked, allowed: 1/1000 rpm
  slope_high = 11, ///< asked, allowed: 1/1000 rpm/s
  slope_zero = 12,
  too_many_segments = 13, ///< asked, allowed: segments
  segment_missing = 14,   ///< asked: the first that is missing
  program_differs = 15,   ///< asked, allowed: CRC of the host, CRC of what the driver holds
  token_used = 16,
  tach_only = 17,
  no_segments = 18
};

struct Nak {
  std::uint8_t type = 0;
  std::uint8_t seq = 0;
  NakCode code = NakCode::bad_state; ///< may hold a number that this version does not know
  std::uint32_t asked = 0;           ///< both in the unit of the field refused
  std::uint32_t allowed = 0;
  friend bool operator==(const Nak&, const Nak&) = default;
};

enum class DriverState : std::uint8_t {
  latched = 0,  ///< off until hello and clear
  ready = 1,    ///< off, cleared, takes a program
  starting = 2, ///< command capped until the marks are seen to pass
  running = 3,
  stopping = 4 ///< on the stop ramp
};

/// Why the driver is off, or is stopping. 0 none.
enum class Latch : std::uint8_t {
  none = 0,
  power_up = 1,
  done = 2, ///< the program ran to its end
  operator_stop = 3,
  operator_cut = 4,
  lid_open = 5,
  link_lost = 6,
  overspeed = 7,
  stall = 8,
  tach_lost = 9,
  tach_implausible = 10,
  watchdog_reset = 11,
  brown_out_reset = 12,
  external_reset = 13,
  new_host = 14,   ///< a hello came while turning
  self_check = 15, ///< the driver found its own memory or timing wrong
  motor_fault = 16 ///< the motor's power stage reports a fault
};

enum class LidState : std::uint8_t { no_switch = 0, closed = 1, open = 2 };
enum class Phase : std::uint8_t { none = 0, ramp = 1, dwell = 2 };

struct Status {
  std::uint16_t report = 0;
  DriverState state = DriverState::latched;
  Latch latch = Latch::none;
  LidState lid = LidState::no_switch;
  bool enabled = false; ///< the enable output is on; always false where there is none
  bool still = false;   ///< the tach shows standstill
  std::optional<std::uint8_t> segment;
  Phase phase = Phase::none;
  Speed target;   ///< what the loop follows now, slope-limited
  Speed measured; ///< by the driver, for screens only
  std::uint16_t command_permille = 0;
  std::uint32_t clock_ms = 0;         ///< driver's clock, wraps
  std::uint32_t phase_ms = 0;         ///< since the phase began, driver's clock
  std::uint32_t pulses = 0;           ///< captured since power-up, wraps
  std::uint16_t pulses_dropped = 0;   ///< captured but never sent, wraps
  std::uint16_t frames_discarded = 0; ///< received damaged, wraps
  std::uint32_t token = 0;            ///< of the start that runs or ran last; 0 none
  friend bool operator==(const Status&, const Status&) = default;
};

struct Pulses {
  std::uint16_t batch = 0;
  std::uint32_t pulses_before = 0;         ///< captured before the first of this batch, wraps
  std::uint32_t first_tick = 0;            ///< counter at the first pulse; the low tick_bits count
  std::uint32_t clock_ms = 0;              ///< driver's clock at the first pulse, to 2 ms
  std::optional<std::uint16_t> first_mark; ///< mark of the first pulse; the others follow in order
  std::vector<std::uint32_t> deltas; ///< ticks from each pulse to the next; one fewer than pulses

  [[nodiscard]] std::size_t count() const { return deltas.size() + 1; }
  friend bool operator==(const Pulses&, const Pulses&) = default;
};

using DriverMessage = std::variant<HelloReply, Ack, Nak, Status, Pulses>;

// ---- bytes

/// The message as it goes on the line. Quantities are rounded to the line's unit; what is negative
/// or not a number goes as 0, what is too large as the largest: a driver refuses both.
[[nodiscard]] std::vector<std::uint8_t> encode(const HostMessage& message, std::uint8_t seq);
/// As above. More than 32 bytes of name, or more pulses than fit one frame, throw
/// std::length_error (a fault of the program).
[[nodiscard]] std::vector<std::uint8_t> encode(const DriverMessage& message, std::uint8_t seq);

/// Why a checked frame is no message of this version.
enum class DecodeFault { unknown_type, bad_length, bad_value };

[[nodiscard]] std::variant<HostMessage, DecodeFault> decode_host(const Frame& frame);
[[nodiscard]] std::variant<DriverMessage, DecodeFault> decode_driver(const Frame& frame);

/// CRC-32 over the payloads of segments 0, 1, 2, … one after another: what START is checked with.
[[nodiscard]] std::uint32_t program_crc(std::span<const Segment> segments);

/// Whether one more pulse, `delta` ticks after the last, still fits the batch's frame.
[[nodiscard]] bool has_room(const Pulses& batch, std::uint32_t delta);

/// The highest version that both speak; none when the ranges do not meet.
[[nodiscard]] std::optional<std::uint8_t> common_version(const Hello& host,
                                                         const HelloReply& driver);

/// One plain line for people: "the lid was opened". Codes this version does not know give their
/// number.
[[nodiscard]] std::string to_text(Latch latch);
[[nodiscard]] std::string to_text(DriverState state);
/// With both numbers in people's units where the code carries them.
[[nodiscard]] std::string to_text(const Nak& nak);

} // namespace whirler::link
