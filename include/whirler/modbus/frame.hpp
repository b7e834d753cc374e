// Modbus RTU on a serial line: requests as bytes, and replies found among the bytes that came back.
// Only the functions that a drive's registers need, and its coils and discrete inputs (single
// bits).
//
//   unit function data... crc crc            3.5 characters of silence before and after
//
// Sources: "MODBUS over Serial Line, Specification and Implementation Guide" V1.02 (frame, CRC,
// silences) and "MODBUS Application Protocol Specification" V1.1b3 (functions, exceptions), both of
// the Modbus Organization.
//
// A reply carries no number and, when registers are read, not even the address it is about. So it
// is looked for with its question at hand: unit, function, length, and for writes the echoed
// address and values must all agree. What fits nowhere is not guessed at.
//
// The guide delimits frames by silence. A computer cannot measure 1.5 characters of silence behind
// a USB adapter that delivers in lumps, so a reply's end is known by its length instead, and it is
// looked for at every place of what was heard: a glitch when the line turns round must not cost a
// good reply its CRC. Silence is kept where we make it: before each request.
//
// Rejected: unit 0, the broadcast. Nobody answers it, so nobody could tell whether a stop was heard
// by the drive that turns; and it would be heard by every other machine on the bus.
#pragma once

#include "whirler/units/line_format.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::modbus {

enum class Function : std::uint8_t {
  read_coils = 1,
  read_discrete = 2,
  read_holding = 3,
  read_input = 4,
  write_coil = 5,
  write_one = 6,
  write_many = 16
};

inline constexpr int kUnitLowest = 1;
inline constexpr int kUnitHighest = 247; // guide, 2.2: 248 to 255 are reserved
inline constexpr int kReadMost = 125;    // registers; application protocol, 6.3
inline constexpr int kBitsMost = 2000;   // 6.1
inline constexpr int kWriteMost = 123;   // 6.12
inline constexpr std::size_t kFrameMost = 256;

/// Of coils or discrete inputs, which are a bit each, and no registers.
[[nodiscard]] constexpr bool is_of_bits(Function function) {
  return function == Function::read_coils || function == Function::read_discrete ||
         function == Function::write_coil;
}
[[nodiscard]] constexpr bool is_read(Function function) {
  return static_cast<int>(function) <= static_cast<int>(Function::read_input);
}

struct Request {
  std::uint8_t unit = 1;
  Function function = Function::read_holding;
  std::uint16_t address = 0;         ///< as on the line: the first register is 0
  std::uint16_t count = 1;           ///< of registers or bits, for reads
  std::vector<std::uint16_t> values; ///< for writes; of a coil 0 or 1

  friend bool operator==(const Request&, const Request&) = default;
};

[[nodiscard]] Request read_request(std::uint8_t unit, Function function, std::uint16_t address,
                                   std::uint16_t count);
/// `write_one` for one value unless `write_many` is asked for.
[[nodiscard]] Request write_request(std::uint8_t unit, Function function, std::uint16_t address,
                                    std::vector<std::uint16_t> values);

/// The CRC of the serial line guide, 6.2.2: polynomial 0x8005 reflected, from 0xFFFF. Sent low byte
/// first.
[[nodiscard]] std::uint16_t crc(std::span<const std::uint8_t> bytes);

/// The frame as it goes on the line. A unit outside 1 to 247, a count outside its limits, or a
/// value too many throws std::invalid_argument (a fault of the program).
[[nodiscard]] std::vector<std::uint8_t> encode(const Request& request);

/// A drive's answer to that request: for simulated drives and tests. `values` are what is read.
[[nodiscard]] std::vector<std::uint8_t> encode_reply(const Request& request,
                                                     std::span<const std::uint16_t> values);
[[nodiscard]] std::vector<std::uint8_t> encode_exception(const Request& request, std::uint8_t code);

/// Bytes of a good reply to the request.
[[nodiscard]] std::size_t reply_size(const Request& request);

struct Reply {
  std::vector<std::uint16_t> values;     ///< of a read; bits 16 a word, the first the lowest
  std::optional<std::uint8_t> exception; ///< the drive refused, with this code
  std::size_t from = 0;                  ///< place of its first byte in what was heard
  std::size_t to = 0;                    ///< of the byte after its last
};

/// The first whole, undamaged reply to `request` in what was heard, if there is one.
[[nodiscard]] std::optional<Reply> find_reply(const Request& request,
                                              std::span<const std::uint8_t> heard);

/// What was heard instead of a reply.
enum class Heard {
  nothing,
  too_short,    ///< the beginning of a reply
  damaged,      ///< as long as a reply, and its CRC is wrong
  other_unit,   ///< a sound frame of another unit
  other_answer, ///< a sound frame of this unit that answers something else
  own_echo      ///< the request itself: the adapter hears what it sends
};
[[nodiscard]] Heard what_was_heard(const Request& request, std::span<const std::uint8_t> heard);

/// For people: "nothing", "a damaged reply (wrong CRC)", …
[[nodiscard]] std::string_view to_text(Heard heard);
/// An exception's code in words (application protocol, 7): "02, it has no such register".
[[nodiscard]] std::string exception_text(std::uint8_t code, Function asked = Function::write_one);
/// 05 and 06: not refused, only not now.
[[nodiscard]] constexpr bool is_for_later(std::uint8_t code) { return code == 5 || code == 6; }
/// For people: "writing 3000 to register 1", "reading 2 registers from 40".
[[nodiscard]] std::string to_text(const Request& request);

/// A character that, sent straight behind the frame, makes all of it a frame with a wrong CRC: it
/// is dropped by everybody who has not yet taken it for ended.
[[nodiscard]] std::uint8_t voiding(std::span<const std::uint8_t> frame);
/// The silence that must stand before a frame (guide, 2.5.1.1): 3.5 characters, and 1.75 ms above
/// 19200 baud.
[[nodiscard]] Duration silence(const LineFormat& line);

} // namespace whirler::modbus
