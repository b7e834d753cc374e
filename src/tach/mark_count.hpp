// How many marks a turn the pulses themselves show, where no index says it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

namespace whirler::tach {

/// Marks that are not spaced evenly make a pattern that comes again every turn. Where it comes
/// again after another number of pulses than `marks` (and after twice and four times as many), that
/// number; none where it fits, or where the marks are too even to say. `ticks`: one speed.
[[nodiscard]] std::optional<std::size_t> repeats_after(std::span<const std::int64_t> ticks,
                                                       std::size_t marks);

/// The marks of which all that is seen comes again within a turn of `marks`: a divisor of it. None
/// where something comes once a turn, or nothing is seen.
[[nodiscard]] std::optional<std::size_t> part_of_turn(std::span<const std::int64_t> ticks,
                                                      std::size_t marks);

} // namespace whirler::tach
