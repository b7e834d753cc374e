#include "slot_filler.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

namespace whirler::tach {
namespace {

// Bounds on found / due. An interval may differ from its due length by a hard ramp or a rough mark,
// never by half; two faults in one interval are told apart by what follows.
constexpr double kShortest = 0.7;
constexpr double kLongest = 1.4;
constexpr double kSmoothChange = 0.2;    ///< of an interval to the next, at most, in a ramp
constexpr double kFits = 0.3;            ///< how near, in intervals, a place must be to be taken
constexpr double kFromRest = 1.15;       ///< a turn over the next: faster is a start from rest
constexpr double kStillRising = 1.05;    ///< the same of the pair of turns after
constexpr std::size_t kLongestGap = 256; ///< marks that may be missing in one piece
constexpr std::size_t kAtOneTime = 8;    ///< rows by which a pulse may come too early or too late

double off(double found, double due) { return std::abs(found - due) / due; }

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

SlotFiller::SlotFiller(std::vector<std::int64_t> ticks, std::vector<std::int16_t> marks,
                       std::size_t marks_per_turn)
    : rows_(std::move(ticks)), row_marks_(std::move(marks)), per_turn_(marks_per_turn) {
  slots_.reserve(rows_.size());
  slot_marks_.reserve(row_marks_.size());
}

SlotFiller::Outcome SlotFiller::fill() {
  if (rows_.empty())
    return std::move(out_);
  begin_stretch(0);
  for (std::size_t row = next_row_; row < rows_.size(); row = std::max(row + 1, next_row_)) {
    // The quick yes for what nearly every pulse is: close to the same mark's interval a turn ago.
    const std::int64_t interval = rows_[row] - slots_.back();
    const std::int64_t due = due_quickly();
    if (8 * interval > 7 * due && 8 * interval < 9 * due)
      take(row);
    else
      judge_row(row);
  }
  close_stretch();
  out_.counts.breaks = out_.stretches.empty() ? 0 : out_.stretches.size() - 1;
  return std::move(out_);
}

/// The interval a turn ago, or the one before where there was no turn yet; 0 where there is none.
std::int64_t SlotFiller::due_quickly() const {
  const std::size_t last = slots_.size() - 1;
  const std::size_t from = last >= per_turn_ ? last - per_turn_ : last - 1;
  if (last == 0 || slots_[from] == kHole || slots_[from + 1] == kHole)
    return 0;
  return slots_[from + 1] - slots_[from];
}

void SlotFiller::take(std::size_t row, std::size_t holes_before) {
  slots_.insert(slots_.end(), holes_before, kHole);
  if (!row_marks_.empty())
    slot_marks_.insert(slot_marks_.end(), holes_before, std::int16_t{-1});
  slots_.push_back(rows_[row]);
  if (!row_marks_.empty())
    slot_marks_.push_back(row_marks_[row]);
}

void SlotFiller::drop_last() {
  slots_.pop_back();
  if (!slot_marks_.empty())
    slot_marks_.pop_back();
}

void SlotFiller::begin_stretch(std::size_t row) {
  slots_.clear();
  slot_marks_.clear();
  doubled_at_.clear();
  first_row_ = steady_from(row);
  next_row_ = first_row_ + 1;
  take(first_row_);
}

/// The first row at or after `row` whose turn is no rise from rest: there each turn is much shorter
/// than the one before it, and no interval is a measure of the next.
std::size_t SlotFiller::steady_from(std::size_t row) const {
  const auto turn = [&](std::size_t from) {
    return static_cast<double>(rows_[from + per_turn_] - rows_[from]);
  };
  const auto rising = [&](std::size_t at) { return turn(at) > kFromRest * turn(at + per_turn_); };
  if (row + 3 * per_turn_ >= rows_.size() || !rising(row) ||
      turn(row + per_turn_) < kStillRising * turn(row + 2 * per_turn_))
    return row;
  while (row + 2 * per_turn_ < rows_.size() && rising(row))
    ++row;
  return row;
}

/// The same at the other end: slots up to where the spindle runs down to rest.
std::size_t SlotFiller::steady_to() const {
  std::size_t end = slots_.size();
  const auto slowing = [&](std::size_t last, double limit) {
    const std::int64_t a = slots_[last - 2 * per_turn_];
    const std::int64_t b = slots_[last - per_turn_];
    const std::int64_t c = slots_[last];
    return a == kHole || b == kHole || c == kHole ||
           static_cast<double>(c - b) > limit * static_cast<double>(b - a);
  };
  if (end < 3 * per_turn_ + 1 || !slowing(end - 1, kFromRest) ||
      !slowing(end - 1 - per_turn_, kStillRising))
    return end;
  while (end > 2 * per_turn_ + 1 && slowing(end - 1, kFromRest))
    --end;
  return end;
}

/// Keeps the stretch if it has two steady turns; faults seen near rest are none.
void SlotFiller::close_stretch() {
  const std::size_t end = steady_to();
  if (end <= 2 * per_turn_)
    return;
  slots_.resize(end);
  while (slots_.back() == kHole)
    slots_.pop_back();
  if (!slot_marks_.empty())
    slot_marks_.resize(slots_.size());
  out_.counts.missing += static_cast<std::size_t>(std::count(slots_.begin(), slots_.end(), kHole));
  out_.counts.doubled += static_cast<std::size_t>(
      std::count_if(doubled_at_.begin(), doubled_at_.end(),
                    [&](std::size_t slot) { return slot < slots_.size(); }));
  out_.stretches.push_back({std::move(slots_), std::move(slot_marks_), first_row_});
  slots_ = {};
  slot_marks_ = {};
}

/// The count is lost: what follows is a stretch of its own.
void SlotFiller::break_off(std::size_t row) {
  close_stretch();
  begin_stretch(row);
}

void SlotFiller::note_doubled() { doubled_at_.push_back(slots_.size() - 1); }

void SlotFiller::judge_row(std::size_t row) {
  if (const auto now = pace())
    judge_by_pace(row, *now);
  else
    judge_seeding(row);
}

namespace {

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

/// Length due by the interval before it and the marks' pattern: what a hard ramp still keeps to
/// when the last turns no longer tell the pace. 0 where the slots for it are not all filled.
double SlotFiller::due_by_interval() const {
  const std::size_t last = slots_.size() - 1;
  if (last == 0 || slots_[last - 1] == kHole)
    return 0.0;
  const auto before = static_cast<double>(slots_[last] - slots_[last - 1]);
  if (last < per_turn_ + 1)
    return before;
  const std::int64_t* then = slots_.data() + last - per_turn_ - 1;
  if (then[0] == kHole || then[1] == kHole || then[2] == kHole)
    return before;
  return before * static_cast<double>(then[2] - then[1]) / static_cast<double>(then[1] - then[0]);
}

bool SlotFiller::keeps_changing(std::size_t row) const {
  const double due = due_by_interval();
  if (due <= 0.0 || off(found(row), due) > kSmoothChange)
    return false;
  return row + 1 >= rows_.size() ||
         off(static_cast<double>(rows_[row + 1] - rows_[row]), found(row)) < 2.0 * kSmoothChange;
}

void SlotFiller::judge_by_pace(std::size_t row, const Pace& pace) {
  if (keeps_changing(row))
    return take(row);
  const std::size_t last = slots_.size() - 1;
  const Place place = place_of(rows_[row], pace);
  if (place.off < kFits && place.ahead == 0) {
    // Two for one slot: the one nearer its due time stays.
    note_doubled();
    const double due = predicted(last, pace);
    if (std::abs(static_cast<double>(rows_[row]) - due) <
        std::abs(static_cast<double>(slots_[last]) - due)) {
      drop_last();
      take(row);
    }
    return;
  }
  if (place.off < kFits && gap_is_sure(row, place.ahead, pace))
    return take(row, place.ahead - 1);
  if (on_the_grid_after(row, pace)) {
    note_doubled();
    return;
  }
  // Not where the pace of the last turn puts any mark, nor what follows: the pace itself changed.
  const double due = due_by_interval();
  if (due > 0.0 && found(row) > kShortest * due && found(row) < kLongest * due)
    return take(row);
  break_off(row);
}

/// Whether two of the next three pulses are where the pace puts marks.
bool SlotFiller::on_the_grid_after(std::size_t row, const Pace& pace) const {
  std::size_t fitting = 0;
  for (std::size_t next = row + 1; next < rows_.size() && next <= row + 3; ++next) {
    const Place place = place_of(rows_[next], pace);
    fitting += place.ahead > 0 && place.off < 0.7 * kFits ? 1 : 0;
  }
  return fitting >= 2 || (fitting == 1 && row + 2 >= rows_.size());
}

/// Over a long gap the count depends on the pace within it: it must be the same on both sides.
bool SlotFiller::gap_is_sure(std::size_t row, std::size_t ahead, const Pace& pace) const {
  if (ahead <= 4)
    return true;
  if (!pace.by_turn || row + per_turn_ >= rows_.size())
    return false;
  const double turn = pace.turn + pace.a_slot * static_cast<double>(ahead + per_turn_);
  const auto after = static_cast<double>(rows_[row + per_turn_] - rows_[row]);
  return 0.5 * static_cast<double>(ahead) * off(after, turn) < kFits;
}

bool SlotFiller::steady_after(std::size_t row) const {
  if (row + 2 >= rows_.size())
    return false;
  const double due = found(row);
  return off(static_cast<double>(rows_[row + 1] - rows_[row]), due) < kFits &&
         off(static_cast<double>(rows_[row + 2] - rows_[row + 1]), due) < kFits;
}

/// Median of the next few intervals; 0 if there is none.
double SlotFiller::typical_ahead(std::size_t row) const {
  std::array<std::int64_t, 5> seen{};
  std::size_t count = 0;
  for (std::size_t r = row; r < rows_.size() && count < seen.size(); ++r)
    if (rows_[r] > rows_[r - 1])
      seen[count++] = rows_[r] - rows_[r - 1];
  if (count == 0)
    return 0.0;
  const auto middle = seen.begin() + static_cast<std::ptrdiff_t>((count - 1) / 2);
  std::nth_element(seen.begin(), middle, seen.begin() + static_cast<std::ptrdiff_t>(count));
  return static_cast<double>(*middle);
}

/// In the first turn: an interval like those of the same mark one and two turns later is right,
/// whatever the marks; else the usual interval stands in.
double SlotFiller::due_when_seeding(std::size_t row) const {
  const double now = found(row);
  bool alike = row + per_turn_ < rows_.size();
  for (std::size_t later = row + per_turn_; later < rows_.size() && later <= row + 2 * per_turn_;
       later += per_turn_) {
    const auto then = static_cast<double>(rows_[later] - rows_[later - 1]);
    alike = alike && then > kShortest * now && then < kLongest * now;
  }
  return alike ? now : typical_ahead(row);
}

void SlotFiller::judge_seeding(std::size_t row) {
  const double due = due_when_seeding(row);
  if (due <= 0.0)
    return begin_stretch(row);
  const double ratio = found(row) / due;
  if (ratio > kShortest && ratio < kLongest)
    return take(row);
  if (ratio <= kShortest) {
    if (judge_close_pair(row, due))
      return;
    if (steady_after(row))
      return break_off(row);
    note_doubled();
    return;
  }
  const double whole = std::round(ratio);
  if (whole <= 4.0 && std::abs(ratio - whole) < 0.4 * kFits && slots_.size() > 1)
    return take(row, static_cast<std::size_t>(whole) - 1);
  break_off(row);
}

/// Two pulses where one was due, in the first turn: which of them, by what fits before and after.
bool SlotFiller::judge_close_pair(std::size_t row, double due) {
  const std::size_t last = slots_.size() - 1;
  if (last == 0 || slots_[last - 1] == kHole)
    return false;
  const double this_one = off(static_cast<double>(rows_[row] - slots_[last - 1]), due);
  const double last_one = off(static_cast<double>(slots_[last] - slots_[last - 1]), due);
  if (this_one > kFits || last_one < this_one)
    return false;
  note_doubled();
  drop_last();
  take(row);
  return true;
}

} // namespace whirler::tach
