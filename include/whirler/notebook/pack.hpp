// Pulses and samples as the notebook stores them: small, exact, and readable in pieces.
//
// A chunk holds half a second or so and depends on no other, so that a notebook cut off anywhere is
// good up to its last whole chunk. All numbers are varints: seven bits a byte, low bits first, the
// high bit set on all but the last byte. Signed ones are folded first (0 -1 1 -2 -> 0 1 2 3).
//
//   pulses   count, lag, first tick, then an interval a pulse, as what it differs from the interval
//            `lag` pulses before (from the one before, for the first `lag`)
//            0 (marks unknown), or 1 and pairs: how many pulses carried the mark after the one
//            before them, then what the next mark differs from that
//            count of gaps, and for each its place in the chunk and the pulses lost
//   samples  count, then six numbers a sample, each as what it differs from the sample before:
//            at [us], speed [1/1000 rpm], target [1/1000 rpm], drive's clock [us],
//            command [1/1000], segment
//
// With `lag` the marks of a turn the marks' own unevenness cancels, and an interval takes a byte or
// two: at 3000 rpm with six marks some 400 bytes a second.
//
// Rejected: a general compressor over raw ticks (a dependency, and no smaller), and differences of
// differences (uneven marks would make each of them large).
#pragma once

#include "whirler/notebook/coat.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace whirler::notebook {

using Blob = std::vector<std::uint8_t>;

struct PulseChunk {
  std::vector<std::int64_t> ticks;
  std::vector<std::int16_t> marks; ///< as long as ticks (-1: unknown), or empty: all unknown
  std::vector<Gap> gaps;           ///< `before` counts from the chunk's first pulse
};

[[nodiscard]] Blob pack(const PulseChunk& chunk, int marks_per_turn);
[[nodiscard]] Blob pack(std::span<const Sample> samples);

/// None where the bytes are no such chunk; never more memory than some 24 times their size.
[[nodiscard]] std::optional<PulseChunk> unpack_pulses(std::span<const std::uint8_t> bytes);
[[nodiscard]] std::optional<std::vector<Sample>>
unpack_samples(std::span<const std::uint8_t> bytes);

/// A time in whole microseconds, the nearest; what cannot be counted so becomes 0.
[[nodiscard]] std::int64_t to_us(Duration time);
[[nodiscard]] Duration from_us(std::int64_t us);
/// A speed in whole thousandths of a rpm.
[[nodiscard]] std::int64_t to_mrpm(Speed speed);
[[nodiscard]] Speed from_mrpm(std::int64_t mrpm);
/// A share in whole thousandths.
[[nodiscard]] std::int64_t to_thousandths(double share);

} // namespace whirler::notebook
