#include "mark_count.hpp"

#include <algorithm>
#include <vector>

namespace whirler::tach {
namespace {

constexpr std::size_t kMost = 64;   ///< marks a turn that hands make
constexpr std::size_t kEnough = 12; ///< times that the longest is seen to come again
constexpr double kFits = 0.2;       ///< of another's misfit
constexpr double kAlike = 1.5;
constexpr double kUneven = 10.0; ///< times that misfit from pulse to pulse

/// Mean square of interval less the interval `lag` pulses later.
double misfit(std::span<const double> interval, std::size_t lag) {
  double sum = 0.0;
  for (std::size_t i = 0; i + lag < interval.size(); ++i)
    sum += (interval[i] - interval[i + lag]) * (interval[i] - interval[i + lag]);
  return sum / static_cast<double>(interval.size() - lag);
}

} // namespace

std::optional<std::size_t> repeats_after(std::span<const std::int64_t> ticks, std::size_t marks) {
  if (marks < 3 || marks > kMost || ticks.size() < 4 * kEnough)
    return std::nullopt;
  std::vector<double> interval(std::min<std::size_t>(ticks.size() - 1, 4096));
  for (std::size_t i = 0; i < interval.size(); ++i)
    interval[i] = static_cast<double>(ticks[i + 1] - ticks[i]);
  const std::size_t longest = std::min({kMost, 2 * marks, interval.size() / kEnough});
  const double as_said = misfit(interval, marks);
  const double from_pulse_to_pulse = misfit(interval, 1);
  std::optional<std::size_t> best;
  double least = 0.0;
  for (std::size_t lag = 3; lag <= longest; ++lag) {
    if (lag % marks == 0)
      continue;
    const double worst =
        std::max({misfit(interval, lag), misfit(interval, 2 * lag), misfit(interval, 4 * lag)});
    // A divisor fits no worse than the whole turn, and hands make no such thing.
    const bool better = marks % lag == 0 ? worst < kAlike * as_said : worst < kFits * as_said;
    if (!better || from_pulse_to_pulse < kUneven * worst || (best && kAlike * worst > least))
      continue;
    best = lag; // of two that fit alike the shorter: the other is a multiple
    least = worst;
  }
  return best;
}

} // namespace whirler::tach
