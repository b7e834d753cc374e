// The two stop sequences, which the driver takes out of the byte stream ahead of any parser.
//
// A stop must work when everything behind the receiver is busy, confused or in the middle of a
// frame. So it is no message: it is four equal bytes of a value that no frame can hold (see
// frame.hpp), and the driver acts on the second of two in a row. One flipped byte therefore neither
// makes a stop (one byte of the value is not two) nor loses one (four less any one leaves two in a
// row). The bytes are dropped after being looked at, so a frame that a stop cuts in two still
// arrives whole.
//
// Rejected: one byte (one flip in a frame would stop a good run); a frame of its own (waits for the
// frame before it, and for a parser in step); a longer pattern (needs memory and gains nothing).
//
// Both values have one falling edge in their ten bits on the line (start, 8 bits lowest first,
// stop), so a receiver that wakes up in the middle of a run of them is in step one byte later. They
// differ in four bits from each other, and from 0x00 and 0xFF, which a broken line makes.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace whirler::link {

enum class StopKind {
  cut, ///< motor command zero and enable off at once: category 0 of IEC 60204-1
  stop ///< the program's stop ramp, then enable off: category 1
};

inline constexpr std::uint8_t kCutByte = 0xC0;
inline constexpr std::uint8_t kStopByte = 0xFC;

[[nodiscard]] constexpr bool is_stop_byte(std::uint8_t byte) {
  return byte == kCutByte || byte == kStopByte;
}

/// What the host writes, every 20 ms until a status report shows that it was obeyed.
[[nodiscard]] constexpr std::array<std::uint8_t, 4> stop_sequence(StopKind kind) {
  const std::uint8_t byte = kind == StopKind::cut ? kCutByte : kStopByte;
  return {byte, byte, byte, byte};
}

/// The driver's first look at every byte. One byte of memory.
class StopDetector {
 public:
  /// Gives the stop that this byte completes, if any. A byte for which is_stop_byte() holds must
  /// not be handed on to the frame decoder.
  constexpr std::optional<StopKind> feed(std::uint8_t byte) {
    const bool twice = byte == last_ && is_stop_byte(byte);
    last_ = byte;
    if (!twice)
      return std::nullopt;
    return byte == kCutByte ? StopKind::cut : StopKind::stop;
  }

 private:
  std::uint8_t last_ = 0;
};

/// Runs `received` through `detector`, appends what is left to `rest`, and gives the strongest stop
/// that was seen (a cut outranks a stop).
std::optional<StopKind> take_stops(StopDetector& detector, std::span<const std::uint8_t> received,
                                   std::vector<std::uint8_t>& rest);

} // namespace whirler::link
