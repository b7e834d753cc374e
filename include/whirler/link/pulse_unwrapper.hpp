// Batches of tach pulses in, one growing count of ticks out; what is missing is counted, never
// filled in.
//
// A driver's counter wraps (a 16-bit one at 0.5 us every 33 ms), and at slow speed it wraps several
// times between two pulses. The driver does not hide that by sending intervals that somebody has
// already joined: each batch has the bare counter at its first pulse, and the driver's millisecond
// clock beside it tells how often it wrapped since the batch before. Both come from one oscillator,
// so they agree for as long as the run lasts.
#pragma once

#include "whirler/link/messages.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace whirler::link {

/// What has been seen to be wrong or missing since the unwrapper was made.
struct PulseLosses {
  std::uint64_t restarts = 0;   ///< numbers or clock went backwards: the driver was reset unseen
  std::uint64_t batches = 0;    ///< numbers that never came
  std::uint64_t pulses = 0;     ///< captured by the driver but not received
  std::uint64_t wraps = 0;      ///< times that the counter went through zero: no fault
  std::uint64_t mark_slips = 0; ///< the index showed that a mark was missed or doubled
  std::uint64_t clock_disagrees = 0; ///< ticks and clock differ by more than a quarter of a wrap
  friend bool operator==(const PulseLosses&, const PulseLosses&) = default;
};

/// One batch, unrolled. The spans are good until the next call of `add`.
struct UnwrappedPulses {
  std::span<const std::int64_t> ticks; ///< since the counter's zero before the first batch
  std::span<const std::int16_t> marks; ///< 0..N-1, 0 the index; -1 where the driver does not know
  std::uint64_t missing_before = 0;    ///< pulses lost between the last batch and this one
};

class PulseUnwrapper {
 public:
  /// A new one after every HELLO_REPLY: the driver may have been reset.
  explicit PulseUnwrapper(const HelloReply& driver);

  /// Batches in order of arrival.
  [[nodiscard]] UnwrappedPulses add(const Pulses& batch);
  [[nodiscard]] const PulseLosses& losses() const { return losses_; }

 private:
  struct Last {
    std::uint16_t batch = 0;
    std::uint32_t pulses_after = 0; ///< captured up to and with its last pulse
    std::uint32_t clock_ms = 0;     ///< at its first pulse
    std::int64_t first_tick = 0;
    std::int64_t last_tick = 0;
    std::optional<std::uint32_t> next_mark; ///< expected of the next pulse
  };

  std::int64_t place_first(const Pulses& batch);
  [[nodiscard]] bool goes_backwards(const Pulses& batch) const;
  std::uint64_t count_losses(const Pulses& batch);
  void unroll(const Pulses& batch, std::int64_t first);

  double ticks_per_ms_;
  int bits_;
  std::uint32_t marks_per_turn_;
  std::optional<Last> last_;
  PulseLosses losses_;
  std::vector<std::int64_t> ticks_;
  std::vector<std::int16_t> marks_;
};

} // namespace whirler::link
