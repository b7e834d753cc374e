#include "mark_count.hpp"

#include <algorithm>
#include <vector>

namespace whirler::tach {
namespace {

constexpr std::size_t kMost = 64;   ///< marks a turn that hands make
constexpr std::size_t kLook = 4096; ///< pulses
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

/// Of many marks, or of even ones, each interval is mostly noise, and what the whirl makes of it
/// little. Second differences over some share of the turn see the whirl whole, and neither the
/// speed nor its hunting.
class Bends {
 public:
  Bends(std::span<const std::int64_t> ticks, std::size_t over)
      : bend_(std::min(ticks.size() - 2 * over, kLook)) {
    double mean = 0.0;
    for (std::size_t i = 0; i < bend_.size(); ++i) {
      bend_[i] = static_cast<double>(ticks[i + 2 * over] - 2 * ticks[i + over] + ticks[i]);
      mean += bend_[i] / static_cast<double>(bend_.size());
    }
    for (double& b : bend_) {
      b -= mean;
      square_ += b * b / static_cast<double>(bend_.size());
    }
  }
  [[nodiscard]] double square() const { return square_; }
  /// As misfit(), by a part of the pulses: to leave out what is not worth a closer look.
  [[nodiscard]] double glance(std::size_t lag) const {
    constexpr std::size_t kFew = 512;
    return misfit(std::span(bend_).first(std::min(bend_.size(), kFew + lag)), lag);
  }
  /// The worst misfit after one turn of `lag`, and after so many that half a pulse more or less in
  /// the turn would show, over a turn of `marks` or more.
  [[nodiscard]] double worst(std::size_t lag, std::size_t marks) const {
    double out = 0.0;
    for (std::size_t times = 1; times <= 16 || times * lag < 2 * marks; times *= 2)
      if (3 * times * lag < 2 * bend_.size())
        out = std::max(out, misfit(bend_, times * lag));
    return out;
  }
  [[nodiscard]] std::size_t longest() const { return bend_.size() / kEnough; }

 private:
  std::vector<double> bend_;
  double square_ = 0.0;
};

/// Calls `look` with the bends over 2, 4, 8, ... pulses, up to half a turn, until it finds a
/// number.
template <class Look>
std::optional<std::size_t> over_parts(std::span<const std::int64_t> ticks, std::size_t marks,
                                      Look look) {
  for (std::size_t over = 2; 2 * over <= marks; over *= 2) {
    if (ticks.size() < 2 * over + 4 * kEnough)
      break;
    if (const auto found = look(Bends(ticks, over)))
      return found;
  }
  return std::nullopt;
}

/// A turn that is no divisor of `marks`, clearly shorter than it, and fits far better.
std::optional<std::size_t> shorter_turn(const Bends& bends, std::size_t marks) {
  constexpr double kClose = 2.0 * kFits;
  const double as_said =
      marks <= bends.longest() ? bends.worst(marks, marks) : 2.0 * bends.square();
  std::optional<std::size_t> best;
  double least = 0.0;
  for (std::size_t lag = 3; lag <= std::min(bends.longest(), 2 * marks / 3); ++lag) {
    if (marks % lag == 0 || bends.glance(lag) > kClose * as_said)
      continue;
    const double worst = bends.worst(lag, marks);
    if (worst > kFits * as_said || (best && kAlike * worst > least))
      continue;
    best = lag;
    least = worst;
  }
  return best;
}

} // namespace

std::optional<std::size_t> part_of_turn(std::span<const std::int64_t> ticks, std::size_t marks) {
  if (marks < 3 || marks > kLook / 4 || ticks.size() < 5 * marks + 4 * kEnough)
    return std::nullopt;
  std::vector<Bends> all; // bends over one width are blind to what comes again within it
  for (std::size_t over = 1; 2 * over <= marks; over *= 2)
    all.emplace_back(ticks, over);
  for (std::size_t lag = 3; 2 * lag <= marks; ++lag) {
    const auto fits = [&](const Bends& bends) {
      return bends.worst(lag, marks) < kAlike * bends.worst(marks, marks);
    };
    const auto shows = [&](const Bends& bends) {
      return kUneven * bends.glance(lag) < 2.0 * bends.square() &&
             kUneven * bends.worst(lag, marks) < bends.square();
    };
    if (marks % lag == 0 && std::any_of(all.begin(), all.end(), shows) &&
        std::all_of(all.begin(), all.end(), fits))
      return lag;
  }
  return std::nullopt;
}

namespace {

std::optional<std::size_t> repeats_by_intervals(std::span<const std::int64_t> ticks,
                                                std::size_t marks) {
  if (marks < 3 || marks > kMost || ticks.size() < 4 * kEnough)
    return std::nullopt;
  std::vector<double> interval(std::min<std::size_t>(ticks.size() - 1, kLook));
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

} // namespace

std::optional<std::size_t> repeats_after(std::span<const std::int64_t> ticks, std::size_t marks) {
  if (const auto seen = repeats_by_intervals(ticks, marks))
    return seen;
  if (part_of_turn(ticks, marks)) // several of its turns are no turn of their own
    return std::nullopt;
  return over_parts(ticks, marks, [&](const Bends& bends) { return shorter_turn(bends, marks); });
}

} // namespace whirler::tach
