// Frames on the serial line to the motor driver: byte stuffing, CRC, and nothing about meaning.
//
//   FLAG | type seq length payload... crc crc crc crc | FLAG      between the flags: stuffed
//
// PROTOCOL.md beside this file is the specification; this header says why it is so.
//
// A reader that joins late, or loses bytes, must be in step again at the next frame, so a byte
// value is kept for the flag alone (stuffing as in RFC 1662) instead of a length counted from a
// start byte that data may also hold. The same stuffing keeps the two stop values out of every
// frame, which is what lets the driver look for them ahead of its parser. A flag at both ends costs
// one byte and keeps line noise between frames from spoiling the next one.
//
// The CRC is the 32-bit one of IEEE 802.3, not 16 bits: a 16-bit one lets through one corrupted
// frame in 65536, and at a poor line's rate that is one an afternoon. The length inside must agree
// too. Rejected: text lines (a digit lost from "3000" is still a number); consistent-overhead
// stuffing (no second and third reserved value).
#pragma once

#include "whirler/link/stop_sequence.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

namespace whirler::link {

inline constexpr std::uint8_t kFlag = 0x7E;
inline constexpr std::uint8_t kEscape = 0x7D;
inline constexpr std::uint8_t kEscapeFlip = 0x20; ///< an escaped byte travels with this bit flipped

inline constexpr std::size_t kMaxHostPayload = 64;    ///< bytes, host to driver
inline constexpr std::size_t kMaxDriverPayload = 128; ///< bytes, driver to host
inline constexpr std::size_t kHeadBytes = 3;          ///< type, seq, length
inline constexpr std::size_t kCrcBytes = 4;

/// True of the four values that never stand inside an encoded frame as themselves.
[[nodiscard]] constexpr bool is_reserved(std::uint8_t byte) {
  return byte == kFlag || byte == kEscape || is_stop_byte(byte);
}

/// CRC-32 of IEEE 802.3 (reflected, initial and final value all ones); of "123456789" 0xCBF43926.
[[nodiscard]] std::uint32_t crc32(std::span<const std::uint8_t> bytes);

/// One whole frame, checked. Owns its bytes: it outlives the decoder's next call.
struct Frame {
  std::uint8_t type = 0;
  std::uint8_t seq = 0;
  std::uint8_t size = 0; ///< bytes of payload
  std::array<std::uint8_t, kMaxDriverPayload> bytes{};

  [[nodiscard]] std::span<const std::uint8_t> payload() const {
    return std::span<const std::uint8_t>(bytes).first(size);
  }
};

/// The bytes of a frame as they go on the line, flags included. `payload` is at most
/// kMaxDriverPayload bytes (what is longer throws std::length_error: a fault of the program).
[[nodiscard]] std::vector<std::uint8_t> encode_frame(std::uint8_t type, std::uint8_t seq,
                                                     std::span<const std::uint8_t> payload);

/// Why a frame was dropped.
enum class Discard {
  none,
  too_short,  ///< ended before head and CRC were there
  too_long,   ///< more bytes than the longest allowed
  bad_escape, ///< an escape was followed by something that needs none, or by a reserved value
  bad_length, ///< the length inside is not the number of bytes that came
  bad_crc
};

/// Bytes in, frames out; fixed memory, never reads past what it is given, in step again at the next
/// flag whatever came before. Everything dropped is counted.
class Decoder {
 public:
  /// `max_payload` is kMaxHostPayload on a driver's side, kMaxDriverPayload on a host's.
  explicit Decoder(std::size_t max_payload = kMaxDriverPayload)
      : max_payload_(std::min(max_payload, kMaxDriverPayload)) {}

  /// Calls `sink(const Frame&)` for every frame that these bytes complete.
  template <class Sink>
  void feed(std::span<const std::uint8_t> received, Sink&& sink) {
    for (const std::uint8_t byte : received)
      if (take(byte))
        sink(std::as_const(frame_));
  }
  /// The same, collected.
  [[nodiscard]] std::vector<Frame> feed(std::span<const std::uint8_t> received);

  [[nodiscard]] std::uint64_t frames() const { return frames_; }
  [[nodiscard]] std::uint64_t discarded() const { return discarded_; }
  [[nodiscard]] Discard last_discard() const { return last_discard_; }

 private:
  bool take(std::uint8_t byte); ///< true: frame_ is a new whole frame
  bool close();
  void add(std::uint8_t byte);
  void spoil(Discard why);

  std::size_t max_payload_;
  std::array<std::uint8_t, kHeadBytes + kMaxDriverPayload + kCrcBytes> held_{};
  std::size_t size_ = 0;
  bool escaped_ = false;
  Discard spoilt_ = Discard::none;
  Frame frame_;
  std::uint64_t frames_ = 0;
  std::uint64_t discarded_ = 0;
  Discard last_discard_ = Discard::none;
};

} // namespace whirler::link
