// Where the next marks are due, from the slots filled so far.
#include "slot_filler.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

namespace whirler::tach {
namespace {

constexpr std::size_t kLongestGap = 256; ///< marks that may be missing in one piece

/// A point of a line that most of the points lie on.
struct OnLine {
  double slot; // from the last filled one, 0 or less
  double value;
};
struct Line {
  double at_last;
  double a_slot;
};

/// Theil's line: the median of all slopes, then of all heights.
Line line_through(std::span<const OnLine> points) {
  std::array<double, 64> numbers{};
  const auto median = [&](std::size_t n) {
    std::nth_element(numbers.begin(), numbers.begin() + static_cast<std::ptrdiff_t>(n / 2),
                     numbers.begin() + static_cast<std::ptrdiff_t>(n));
    return n > 0 ? numbers[n / 2] : 0.0;
  };
  std::size_t used = 0;
  for (std::size_t i = 0; i < points.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      numbers[used++] = (points[i].value - points[j].value) / (points[i].slot - points[j].slot);
  Line out{0.0, median(used)};
  for (std::size_t i = 0; i < points.size(); ++i)
    numbers[i] = points[i].value - out.a_slot * points[i].slot;
  out.at_last = median(points.size());
  return out;
}

} // namespace

std::optional<SlotFiller::Pace> SlotFiller::pace() const {
  Pace out;
  pace_of_turns(out);
  pace_of_marks(out);
  if (!out.by_turn && !out.by_marks)
    return std::nullopt;
  return out;
}

void SlotFiller::pace_of_turns(Pace& pace) const {
  std::array<OnLine, 6> seen;
  std::size_t count = 0;
  for (std::size_t slot = slots_.size(); slot-- > per_turn_ && count < seen.size();)
    if (slots_[slot] != kHole && slots_[slot - per_turn_] != kHole)
      seen[count++] = {-static_cast<double>(slots_.size() - 1 - slot),
                       static_cast<double>(slots_[slot] - slots_[slot - per_turn_])};
  if (count < 2)
    return;
  Line line = line_through(std::span(seen).first(count));
  if (count < 4)
    line = {std::max(seen[0].value, seen[1].value), 0.0};
  if (!(line.at_last > 0.0))
    return;
  pace.by_turn = true;
  pace.turn = line.at_last;
  pace.a_slot = line.a_slot;
  pace.interval = line.at_last / static_cast<double>(per_turn_);
}

void SlotFiller::pace_of_marks(Pace& pace) const {
  constexpr std::size_t kManyMarks = 10;
  std::array<OnLine, 8> seen;
  if (per_turn_ < kManyMarks)
    return;
  std::size_t count = 0;
  for (std::size_t slot = slots_.size(); slot-- > 0 && count < seen.size();)
    if (slots_[slot] != kHole)
      seen[count++] = {-static_cast<double>(slots_.size() - 1 - slot),
                       static_cast<double>(slots_[slot] - slots_.back())};
  if (count < seen.size())
    return;
  const Line line = line_through(seen);
  if (!(line.a_slot > 0.0))
    return;
  pace.by_marks = true;
  pace.last = line.at_last + static_cast<double>(slots_.back());
  pace.interval = line.a_slot;
}

double SlotFiller::predicted(std::size_t slot, const Pace& pace) const {
  constexpr double kNear = 4.0;     // slots over which the line of the marks may be drawn on
  constexpr double kContrary = 0.4; // intervals by which no pattern differs from even marks
  if (!pace.by_marks)
    return predicted_by_turn(slot, pace);
  const double ahead = static_cast<double>(slot) - static_cast<double>(slots_.size() - 1);
  const double by_marks = pace.last + ahead * pace.interval;
  if (!pace.by_turn)
    return by_marks;
  const double by_turn = predicted_by_turn(slot, pace);
  const bool contrary = std::abs(by_turn - by_marks) > kContrary * pace.interval;
  return contrary && ahead <= kNear ? by_marks : by_turn;
}

/// Time of `slot`: the same mark's, as many turns before as are needed, and the pace since.
double SlotFiller::predicted_by_turn(std::size_t slot, const Pace& pace) const {
  const std::size_t last = slots_.size() - 1;
  std::size_t from = slot - per_turn_;
  double turns = 1.0;
  while (from > last || (slots_[from] == kHole && from >= per_turn_)) {
    from -= per_turn_;
    turns += 1.0;
  }
  const double ahead = static_cast<double>(slot) - static_cast<double>(last);
  // Each turn back was begun per_turn_ slots earlier: the mean turn lies half of that back.
  const double turn =
      pace.turn + pace.a_slot * (ahead - 0.5 * (turns - 1.0) * static_cast<double>(per_turn_));
  if (slots_[from] != kHole)
    return static_cast<double>(slots_[from]) + turns * turn;
  return static_cast<double>(slots_[last]) + ahead * turn / static_cast<double>(per_turn_);
}

SlotFiller::Place SlotFiller::place_of(std::int64_t tick, const Pace& pace) const {
  const std::size_t last = slots_.size() - 1;
  const auto time = static_cast<double>(tick);
  const double interval = pace.interval;
  const double guess = (time - predicted(last, pace)) / interval;
  const auto middle = static_cast<std::size_t>(std::clamp(guess + 0.5, 0.0, 1e6));
  Place best{middle, 1e9};
  if (middle > kLongestGap)
    return best;
  // Uneven marks may shift the count from the plain quotient.
  for (std::size_t ahead = middle > 2 ? middle - 2 : 0; ahead <= middle + 2; ++ahead) {
    const double miss = std::abs(time - predicted(last + ahead, pace)) / interval;
    if (miss < best.off)
      best = {ahead, miss};
  }
  return best;
}

} // namespace whirler::tach
