#include "whirler/plant/tach_input.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::plant {
namespace {

/// A whole turn down to 92 rpm: part of one holds the marks' own unevenness, and a loop that
/// answers it with torque swings the shaft once a turn, just as an unbalance seems to.
constexpr double kAveraged_s = 0.65;
constexpr double kBatchWaits_s = 0.020;
constexpr std::size_t kMostClosed = 64; ///< batches kept for a host that does not fetch them

} // namespace

TachInput::TachInput(const link::HelloReply& driver)
    : driver_(driver), tick_s_(driver.tick().s()) {}

double TachInput::seconds_of(std::int64_t ticks) const {
  return static_cast<double>(ticks) * tick_s_;
}

void TachInput::pulse(std::int64_t ticks, bool is_index) {
  now_ = ticks;
  const std::int64_t since_last = ticks - last_pulse_;
  last_pulse_ = ticks;
  recent_.push_back(ticks);
  if (recent_.size() > static_cast<std::size_t>(driver_.marks_per_turn) + 4)
    recent_.pop_front();
  count_mark(is_index && driver_.index);
  add_to_batch(ticks, since_last);
  ++total_;
}

/// Which mark this was, by counting from the index; a turn that does not add up is a doubt.
void TachInput::count_mark(bool is_index) {
  mark_jumped_ = false;
  if (!driver_.index)
    return;
  const int marks = driver_.marks_per_turn;
  ++since_index_;
  if (is_index) {
    mark_jumped_ = !mark_ || since_index_ != marks;
    if (indexed_)
      miscounted_ = since_index_ == marks ? 0 : miscounted_ + 1;
    since_index_ = 0;
    indexed_ = true;
    mark_ = std::uint16_t{0};
  } else if (since_index_ >= marks) { // the index itself is missing, or there are too many marks
    mark_jumped_ = mark_.has_value();
    mark_.reset();
    if (since_index_ % marks == 0)
      ++miscounted_;
  } else if (mark_) {
    mark_ = static_cast<std::uint16_t>(since_index_);
  }
}

void TachInput::add_to_batch(std::int64_t ticks, std::int64_t delta) {
  if (!wanted_)
    return;
  const std::int64_t wrap = std::int64_t{1} << driver_.tick_bits;
  if (open_) {
    if (!mark_jumped_ && delta < wrap / 2 &&
        link::has_room(*open_, static_cast<std::uint32_t>(delta))) {
      open_->deltas.push_back(static_cast<std::uint32_t>(delta));
      return;
    }
    close_batch();
  }
  open_.emplace();
  open_->batch = next_batch_++;
  open_->pulses_before = total_;
  open_->first_tick = static_cast<std::uint32_t>(ticks & (wrap - 1));
  open_->clock_ms = static_cast<std::uint32_t>(std::llround(std::floor(seconds_of(ticks) * 1e3)));
  open_->first_mark = mark_;
  open_since_ = ticks;
}

void TachInput::close_batch() {
  if (closed_.size() >= kMostClosed) {
    dropped_ = static_cast<std::uint16_t>(dropped_ + closed_.front().count());
    closed_.erase(closed_.begin());
  }
  closed_.push_back(std::move(*open_));
  open_.reset();
}

void TachInput::at(std::int64_t ticks) {
  now_ = ticks;
  if (open_ && seconds_of(now_ - open_since_) >= kBatchWaits_s)
    close_batch();
}

void TachInput::send_to_host(bool wanted) {
  wanted_ = wanted;
  if (!wanted) {
    open_.reset();
    closed_.clear();
  }
}

std::vector<link::Pulses> TachInput::take_batches() { return std::exchange(closed_, {}); }

Duration TachInput::silence() const { return seconds(seconds_of(now_ - last_pulse_)); }

std::optional<Duration> TachInput::last_interval() const {
  if (recent_.size() < 2)
    return std::nullopt;
  return seconds(seconds_of(recent_.back() - recent_[recent_.size() - 2]));
}

Speed TachInput::speed_of(Duration interval) const {
  return turns_per_s(1.0 / (driver_.marks_per_turn * std::max(interval.s(), tick_s_)));
}

double TachInput::span_s(std::size_t intervals) const {
  return seconds_of(recent_.back() - recent_[recent_.size() - 1 - intervals]);
}

/// How many of the last intervals the speed is taken from; 0 before there is one.
std::size_t TachInput::averaged() const {
  if (recent_.size() < 2)
    return 0;
  std::size_t fits = 1; // one always counts, however long it was
  std::size_t too_many = std::min<std::size_t>(recent_.size() - 1, driver_.marks_per_turn) + 1;
  while (too_many - fits > 1) {
    const std::size_t middle = fits + (too_many - fits) / 2;
    (span_s(middle) <= kAveraged_s ? fits : too_many) = middle;
  }
  return fits;
}

Speed TachInput::measured() const {
  const std::size_t used = averaged();
  if (used == 0)
    return rpm(0.0);
  const Duration interval = seconds(span_s(used) / static_cast<double>(used));
  // A mark that stands late is not overdue: a loop that took it so would pull once a turn.
  constexpr double kUneven = 0.5; // of the mean interval
  const bool whole_turn = used == driver_.marks_per_turn;
  return std::min(speed_of(interval),
                  speed_of(silence() - (whole_turn ? kUneven * interval : seconds(0.0))));
}

Duration TachInput::age() const {
  const std::size_t used = averaged();
  return silence() + seconds(used == 0 ? 0.0 : 0.5 * span_s(used));
}

int TachInput::plausible_intervals(Speed ceiling) const {
  int run = 0;
  for (std::size_t i = 2; i < recent_.size(); ++i) {
    const double before = seconds_of(recent_[i - 1] - recent_[i - 2]);
    const double now = seconds_of(recent_[i] - recent_[i - 1]);
    const bool fits = now <= 2.0 * before && before <= 2.0 * now;
    run = fits && speed_of(seconds(now)) <= ceiling ? run + 1 : 0;
  }
  return run;
}

int TachInput::intervals_faster_than(Speed ceiling) const {
  int run = 0;
  for (std::size_t i = recent_.size(); i-- > 1; ++run)
    if (speed_of(seconds(seconds_of(recent_[i] - recent_[i - 1]))) <= ceiling)
      break;
  return run;
}

void TachInput::forget() {
  recent_.clear();
  miscounted_ = 0;
  if (!mark_)
    since_index_ = 0;
}

} // namespace whirler::plant
