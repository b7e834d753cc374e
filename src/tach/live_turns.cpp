#include "live_turns.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kShortest = 0.6;
/// Of the first turn, whose speed is not known. A shaft that leaves rest beside a mark gains so
/// much from one interval to the next: 0.41 where it gains speed evenly.
constexpr double kShortestFirst = 0.25;
constexpr double kLongest = 1.5;
constexpr double kFits = 0.25;
/// So many bad turns in a row are no bad pulses but a count that went wrong at the start, as from
/// rest, which every pulse left out for being early keeps wrong.
constexpr std::size_t kMiscounted = 6;
constexpr double kShareTurns = 64.0; ///< that a share of what is missing is taken over

} // namespace

LiveTurns::LiveTurns(std::size_t marks) : marks_(marks) {
  around_.ticks.resize(kTurns * marks + 1);
}

LiveTurns::News LiveTurns::lose() {
  const bool was = started_;
  started_ = false;
  turns_.clear();
  bad_turns_ = 0;
  now_ = {};
  next_slot_.reset();
  announced_ = 0;
  return {was, was && !numbered_, false, false};
}

void LiveTurns::announce(std::uint64_t missing) {
  if (started_)
    announced_ += missing;
  else if (next_slot_)
    next_slot_ = (*next_slot_ + missing) % marks_;
}

/// The first pulse of a count: mark 0 where marks are numbered, any where they never were.
LiveTurns::News LiveTurns::begin_at(std::int64_t tick, int mark) {
  if (mark < 0 && next_slot_ && *next_slot_ != 0) {
    next_slot_ = (*next_slot_ + 1) % marks_;
    return {};
  }
  if (mark > 0 || (mark < 0 && indexed_))
    return {};
  next_slot_.reset();
  numbered_ = mark == 0;
  indexed_ = indexed_ || numbered_;
  started_ = true;
  now_.ticks.assign(1, tick);
  now_.bad = false;
  refused_ = 0;
  return {};
}

/// Interval that is due: the same mark's a turn before, scaled by the pace since; 0 if not known.
double LiveTurns::due() const {
  const std::size_t n = now_.ticks.size();
  const auto interval = [](const std::vector<std::int64_t>& t, std::size_t i) {
    return static_cast<double>(t[i + 1] - t[i]);
  };
  if (turns_.empty())
    return n >= 2 ? interval(now_.ticks, n - 2) : 0.0;
  const auto& before = turns_.back().ticks;
  // Interval n - 1 of the turn before ends with its last mark's, which ends with this turn's first.
  const double same = n < marks_ ? interval(before, n - 1)
                                 : static_cast<double>(now_.ticks.front() - before.back());
  const double last = n >= 2 ? interval(now_.ticks, n - 2)
                             : static_cast<double>(now_.ticks.front() - before.back());
  double last_then = 0.0;
  if (n >= 2)
    last_then = interval(before, n - 2);
  else if (turns_.size() >= 2)
    last_then = static_cast<double>(before.front() - turns_[turns_.size() - 2].ticks.back());
  const double pace = last_then > 0.0 ? std::clamp(last / last_then, 0.6, 1.6) : 1.0;
  return same * pace;
}

/// Where turns do not join. What was announced as missing is counted on; else mark 0 is lost.
LiveTurns::News LiveTurns::begin_anew(std::int64_t tick, int mark, std::uint64_t announced) {
  const bool counted = announced > 0 && !numbered_;
  const std::size_t slot = (now_.ticks.size() + announced) % marks_;
  News news = lose();
  if (counted)
    next_slot_ = slot;
  news.mark_lost = news.mark_lost && !counted;
  (void)begin_at(tick, mark);
  return news;
}

LiveTurns::News LiveTurns::fill_gap(std::int64_t tick, double intervals) {
  News news;
  const std::int64_t found = tick - now_.ticks.back();
  for (double hole = 1.0; hole < intervals; hole += 1.0) {
    const News filled = push(now_.ticks.back() + found / static_cast<std::int64_t>(intervals), -1);
    now_.bad = true;
    ++now_.holes;
    news.broken = news.broken || filled.broken;
    news.mark_lost = news.mark_lost || filled.mark_lost;
    news.turn = news.turn || filled.turn;
    news.bad = news.bad || filled.bad;
  }
  return news;
}

LiveTurns::News LiveTurns::take(std::int64_t tick, int mark) {
  if (!started_)
    return begin_at(tick, mark);
  const std::uint64_t announced = std::exchange(announced_, 0);
  const std::int64_t found = tick - now_.ticks.back();
  const double expected = due();
  const double ratio = expected > 0.0 ? static_cast<double>(found) / expected : 1.0;
  // A number that contradicts the count: the index is right, the count begins there.
  const auto contradicted = [&] { return mark == 0 && now_.ticks.size() != marks_; };
  if (found <= 0 || ratio < (turns_.empty() ? kShortestFirst : kShortest)) {
    now_.bad = true;
    const bool index_twice = now_.ticks.size() == 1;
    if (++refused_ < 3 && (!contradicted() || index_twice))
      return {};
  }
  const double ahead = std::round(ratio);
  const bool gap = ratio > kLongest;
  const bool lost =
      refused_ >= 3 || found <= 0 ||
      (gap && (std::abs(ratio - ahead) > kFits || ahead > 0.5 * static_cast<double>(marks_) + 1.0));
  if (lost || (gap && turns_.empty()))
    return begin_anew(tick, mark, gap && refused_ < 3 ? announced : 0);
  refused_ = 0;
  const News news = gap ? fill_gap(tick, ahead) : News{};
  if (contradicted()) {
    News broken = lose();
    (void)begin_at(tick, mark);
    return broken;
  }
  numbered_ = numbered_ || mark == 0;
  indexed_ = indexed_ || mark == 0;
  const News last = push(tick, mark);
  return {news.broken || last.broken, news.mark_lost || last.mark_lost, news.turn || last.turn,
          last.turn ? last.bad : news.bad};
}

void LiveTurns::count_bad() {
  weighed_turns_ = std::min(weighed_turns_ + 1.0, kShareTurns);
  const double missing = static_cast<double>(now_.holes) / static_cast<double>(marks_);
  missing_share_ += (missing - missing_share_) / weighed_turns_;
  bad_share_ += ((now_.bad ? 1.0 : 0.0) - bad_share_) / weighed_turns_;
}

LiveTurns::News LiveTurns::push(std::int64_t tick, int mark) {
  if (now_.ticks.size() < marks_) {
    now_.ticks.push_back(tick);
    return {};
  }
  count_bad();
  bad_turns_ = now_.bad ? bad_turns_ + 1 : 0;
  if (bad_turns_ >= kMiscounted) {
    const News news = lose();
    if (!numbered_ || mark == 0)
      (void)begin_at(tick, mark);
    return news;
  }
  turns_.push_back(std::move(now_));
  now_ = {};
  now_.ticks.assign(1, tick);
  return finish_turn();
}

LiveTurns::News LiveTurns::finish_turn() {
  if (turns_.size() < kTurns)
    return {};
  while (turns_.size() > kTurns)
    turns_.pop_front();
  auto at = around_.ticks.begin();
  for (const Turn& turn : turns_)
    at = std::copy(turn.ticks.begin(), turn.ticks.end(), at);
  *at = now_.ticks.front();
  return {false, false, true, turns_[kMiddle].bad};
}

} // namespace whirler::tach
