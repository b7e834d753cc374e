#include "whirler/link/pulse_unwrapper.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::link {

PulseUnwrapper::PulseUnwrapper(const HelloReply& driver)
    : ticks_per_ms_(1e-3 * static_cast<double>(driver.tick_denominator) /
                    static_cast<double>(driver.tick_numerator)),
      bits_(driver.tick_bits), marks_per_turn_(driver.marks_per_turn) {}

UnwrappedPulses PulseUnwrapper::add(const Pulses& batch) {
  if (goes_backwards(batch)) {
    ++losses_.restarts;
    last_->next_mark.reset();
    last_->batch = static_cast<std::uint16_t>(batch.batch - 1);
    last_->pulses_after = batch.pulses_before;
    last_->clock_ms = batch.clock_ms;
  }
  const std::uint64_t missing = count_losses(batch);
  const std::int64_t first = place_first(batch);
  unroll(batch, first);
  Last now;
  now.batch = batch.batch;
  now.pulses_after = batch.pulses_before + static_cast<std::uint32_t>(batch.count());
  now.clock_ms = batch.clock_ms;
  now.first_tick = first;
  now.last_tick = ticks_.back();
  if (batch.first_mark)
    now.next_mark = (*batch.first_mark + batch.count()) % marks_per_turn_;
  last_ = now;
  return {ticks_, marks_, missing};
}

/// All three numbers only grow between resets; half of each one's range tells growth from the rest.
bool PulseUnwrapper::goes_backwards(const Pulses& batch) const {
  if (!last_)
    return false;
  constexpr std::uint32_t kHalf = 0x80000000U;
  return static_cast<std::uint16_t>(batch.batch - last_->batch - 1) >= 0x8000U ||
         batch.pulses_before - last_->pulses_after >= kHalf ||
         batch.clock_ms - last_->clock_ms >= kHalf;
}

/// Lost batches and pulses, and marks that do not follow on; gives the pulses lost before this one.
std::uint64_t PulseUnwrapper::count_losses(const Pulses& batch) {
  if (!last_)
    return 0;
  const auto skipped = static_cast<std::uint16_t>(batch.batch - last_->batch - 1);
  const std::uint32_t missing = batch.pulses_before - last_->pulses_after;
  losses_.batches += skipped;
  losses_.pulses += missing;
  const bool marks_known = last_->next_mark && batch.first_mark;
  if (marks_known && *batch.first_mark != (*last_->next_mark + missing) % marks_per_turn_)
    ++losses_.mark_slips;
  return missing;
}

/// The tick of the batch's first pulse: of all counts that end in these bits, the nearest to what
/// the clock says. A pulse a little before the last one is handed on as it came (noise can change
/// the order of two marks that pass together, and the analysis counts that); half a wrap before it
/// is the clock's error.
std::int64_t PulseUnwrapper::place_first(const Pulses& batch) {
  const std::int64_t wrap = std::int64_t{1} << bits_;
  const std::int64_t low = batch.first_tick & (wrap - 1);
  if (!last_)
    return low;
  const std::uint32_t waited_ms = batch.clock_ms - last_->clock_ms;
  const std::int64_t expected = last_->first_tick + std::llround(ticks_per_ms_ * waited_ms);
  const double turns = static_cast<double>(expected - low) / static_cast<double>(wrap);
  std::int64_t placed = low + wrap * std::llround(turns);
  if (4 * std::abs(placed - expected) > wrap)
    ++losses_.clock_disagrees;
  while (placed < last_->last_tick - wrap / 2)
    placed += wrap;
  losses_.wraps += static_cast<std::uint64_t>(
      std::max<std::int64_t>(0, placed / wrap - last_->last_tick / wrap));
  return placed;
}

void PulseUnwrapper::unroll(const Pulses& batch, std::int64_t first) {
  const std::int64_t wrap = std::int64_t{1} << bits_;
  ticks_.assign(1, first);
  for (const std::uint32_t delta : batch.deltas)
    ticks_.push_back(ticks_.back() + delta);
  losses_.wraps += static_cast<std::uint64_t>(ticks_.back() / wrap - first / wrap);
  marks_.clear();
  for (std::size_t i = 0; i < ticks_.size(); ++i)
    marks_.push_back(batch.first_mark
                         ? static_cast<std::int16_t>((*batch.first_mark + i) % marks_per_turn_)
                         : std::int16_t{-1});
}

} // namespace whirler::link
