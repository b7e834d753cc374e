// Pulses that are all there: where a hard ramp leaves slow running the pace of the last turns says
// nothing of the next marks, and a walk by pace (slot_filler.hpp) takes whole pulses for faults.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

namespace whirler::tach {

/// Rows, from the first one to where the last steep change of speed has passed, if none of them is
/// missing or one too many: the mark numbers say so where there are any, and no interval, over its
/// mark's usual share of a turn, stands out from those beside it. A missing pulse doubles an
/// interval, one too many halves two at most; a ramp, however hard, only rises or falls. The rows
/// up to the first fault where there is one. `ticks` rise; `marks` may be empty, -1 is a mark whose
/// number is not known. 0 where nothing is steep, or too few rows tell.
[[nodiscard]] std::size_t whole_rows(std::span<const std::int64_t> ticks,
                                     std::span<const std::int16_t> marks,
                                     std::size_t marks_per_turn);

} // namespace whirler::tach
