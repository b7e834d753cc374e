// Which mark each pulse was: pulses set into slots, one slot a passing mark, with what was missing,
// doubled or out of order put right where that is unambiguous and counted always.
//
// Each pulse is held against the interval that is due: the same mark's interval one turn earlier,
// scaled by how the speed has changed since. So marks may be as uneven as they like, and a ramp is
// no fault. Where there is no turn before, the median of the next few intervals stands in.
//
//   interval found / due       what it is
//   about 1                    the next mark
//   about 2, 3, ...            marks missing between
//   small, and the next fits   a pulse too many: of the two, the one nearer its due time stays
//   negative, and a slot free  out of order: it goes back to its slot
//   none of these              the count is lost: a new stretch begins, and only an index mark (or
//                              the marks' own pattern) can say which mark is which in it
#pragma once

#include "whirler/tach/order_one.hpp"
#include "whirler/tach/pulses.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <limits>
#include <vector>

namespace whirler::tach {

inline constexpr int kMostMarks = 1024;
/// In place of a tick where a mark passed unseen.
inline constexpr std::int64_t kHole = std::numeric_limits<std::int64_t>::min();
/// More of the pulses than this missing or too many, and the record is refused.
inline constexpr double kMostFaults = 0.05;

/// An unbroken run of slots: slot n is mark (first_mark + n) mod N.
struct Stretch {
  std::vector<std::int64_t> ticks; ///< rising; kHole where the mark was not seen
  int first_mark = 0;
  bool aligned = false; ///< first_mark counts from the index mark, or from the record's first row

  [[nodiscard]] std::size_t size() const { return ticks.size(); }
};

struct MarkedPulses {
  Duration tick;
  int marks_per_turn = 1;
  bool has_index = false; ///< the source numbered the marks
  std::vector<Stretch> stretches;
  PulseCounts counts;
};

/// Faults (input): marks outside 1..1024, no tick length, mark numbers that are none or contradict
/// the pulses, more faults than kMostFaults.
[[nodiscard]] Result<MarkedPulses> by_mark(const PulseTrain& pulses, int marks_per_turn);

} // namespace whirler::tach
