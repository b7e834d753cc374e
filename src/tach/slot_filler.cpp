#include "slot_filler.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace whirler::tach {
namespace {

// Bounds on found / due. An interval may differ from its due length by a hard ramp or a rough mark,
// never by half; two faults in one interval are told apart by what follows.
constexpr double kShortest = 0.7;
constexpr double kLongest = 1.4;
constexpr double kSmoothChange = 0.2; ///< of an interval to the next, at most, in a ramp
constexpr double kFits = 0.3;         ///< how near, in intervals, a place must be to be taken
constexpr double kFromRest = 1.15;    ///< a turn over the next: faster is a start from rest
constexpr double kStillRising = 1.05; ///< the same of the pair of turns after

bool alike(std::int64_t interval, std::int64_t due) {
  return 16 * interval > 13 * due && 16 * interval < 19 * due;
}

/// Relative; any interval is far off where two pulses of one time stamp left nothing due.
double off(double found, double due) {
  return due != 0.0 ? std::abs(found - due) / due : std::numeric_limits<double>::infinity();
}

} // namespace

SlotFiller::SlotFiller(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks,
                       std::size_t marks_per_turn)
    : rows_(ticks), row_marks_(marks), per_turn_(marks_per_turn) {
  slots_.reserve(rows_.size());
  slot_marks_.reserve(row_marks_.size());
}

SlotFiller::Outcome SlotFiller::fill(std::size_t whole) {
  if (rows_.empty())
    return std::move(out_);
  begin_stretch(0);
  std::size_t streak = 1; // slots up to the last that are the rows up to this one, none left out
  if (whole > next_row_) {
    take_all(next_row_, whole);
    streak += whole - next_row_;
    next_row_ = whole;
  }
  for (std::size_t row = next_row_; row < rows_.size(); row = std::max(row + 1, next_row_)) {
    if (streak > per_turn_) {
      const std::size_t to = alike_to(row);
      take_all(row, to);
      streak += to - row;
      row = to;
      if (row == rows_.size())
        break;
    }
    // The quick yes for what nearly every pulse is: close to the same mark's interval a turn ago.
    if (alike(rows_[row] - slots_.back(), due_quickly())) {
      take_all(row, row + 1);
      ++streak;
    } else {
      judge_row(row);
      streak = slots_.back() == rows_[row] ? 1 : 0;
    }
  }
  close_stretch();
  out_.counts.breaks = out_.stretches.empty() ? 0 : out_.stretches.size() - 1;
  return std::move(out_);
}

/// The first row from which an interval is not like the same mark's a turn ago, all of that turn
/// having been taken as it came.
std::size_t SlotFiller::alike_to(std::size_t row) const {
  while (row < rows_.size() &&
         alike(rows_[row] - rows_[row - 1], rows_[row - per_turn_] - rows_[row - per_turn_ - 1]))
    ++row;
  return row;
}

void SlotFiller::take_all(std::size_t from, std::size_t to) {
  const auto rows = rows_.subspan(from, to - from);
  slots_.insert(slots_.end(), rows.begin(), rows.end());
  if (row_marks_.empty())
    return;
  const auto marks = row_marks_.subspan(from, to - from);
  slot_marks_.insert(slot_marks_.end(), marks.begin(), marks.end());
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
  if (end < 3 * per_turn_ + 1)
    return end;
  // A mark that seems to be missing in the last turn, as it slows, may only be later still.
  for (std::size_t slot = end - per_turn_; slot < end; ++slot)
    if (slots_[slot] == kHole && slowing(slot - 1, kStillRising)) {
      end = slot;
      break;
    }
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
