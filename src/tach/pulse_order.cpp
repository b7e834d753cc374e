#include "slot_filler.hpp"

#include <algorithm>

namespace whirler::tach {
namespace {

constexpr std::size_t kAtOneTime = 8; ///< rows by which a pulse may come too early or too late

bool leapt_ahead(const std::vector<std::int64_t>& ticks, std::size_t at) {
  std::size_t behind = 0;
  for (std::size_t i = at + 1; i < ticks.size() && i <= at + kAtOneTime; ++i)
    behind += ticks[i] < ticks[at] ? 1 : 0;
  return behind > kAtOneTime / 2;
}

} // namespace

void put_in_order(std::vector<std::int64_t>& ticks, std::vector<std::int16_t>& marks,
                  PulseCounts& counts) {
  if (std::is_sorted(ticks.begin(), ticks.end()))
    return;
  const bool numbered = !marks.empty();
  std::size_t kept = 0;
  for (std::size_t row = 0; row < ticks.size(); ++row) {
    if (leapt_ahead(ticks, row)) {
      ++counts.outliers;
      continue;
    }
    const std::int64_t tick = ticks[row];
    const std::int16_t mark = numbered ? marks[row] : std::int16_t{0};
    std::size_t at = kept;
    while (at > 0 && kept - at <= kAtOneTime && ticks[at - 1] > tick)
      --at;
    if (at > 0 && ticks[at - 1] > tick) {
      ++counts.outliers;
      continue;
    }
    counts.out_of_order += at < kept ? 1 : 0;
    for (std::size_t i = kept; i > at; --i) {
      ticks[i] = ticks[i - 1];
      if (numbered)
        marks[i] = marks[i - 1];
    }
    ticks[at] = tick;
    if (numbered)
      marks[at] = mark;
    ++kept;
  }
  ticks.resize(kept);
  if (numbered)
    marks.resize(kept);
}

} // namespace whirler::tach
