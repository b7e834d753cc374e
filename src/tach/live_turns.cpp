#include "live_turns.hpp"

#include <algorithm>
#include <cmath>

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
  return {was, was && !numbered_, false, false};
}

/// The first pulse of a count: mark 0 where marks are numbered, any where they are not.
LiveTurns::News LiveTurns::begin_at(std::int64_t tick, int mark) {
  numbered_ = mark >= 0;
  if (mark > 0)
    return {};
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

LiveTurns::News LiveTurns::take(std::int64_t tick, int mark) {
  if (!started_)
    return begin_at(tick, mark);
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
  const bool from_rest = turns_.empty() && !lost;
  if (lost || (gap && turns_.empty())) {
    News news = lose();
    news.mark_lost = news.mark_lost && !from_rest;
    (void)begin_at(tick, mark);
    return news;
  }
  refused_ = 0;
  News news;
  for (double hole = 1.0; gap && hole < ahead; hole += 1.0) {
    const News filled = push(now_.ticks.back() + found / static_cast<std::int64_t>(ahead), -1);
    now_.bad = true;
    news.broken = news.broken || filled.broken;
    news.mark_lost = news.mark_lost || filled.mark_lost;
    news.turn = news.turn || filled.turn;
    news.bad = news.bad || filled.bad;
  }
  if (contradicted()) {
    News broken = lose();
    (void)begin_at(tick, mark);
    return broken;
  }
  numbered_ = numbered_ || mark == 0;
  const News last = push(tick, mark);
  return {news.broken || last.broken, news.mark_lost || last.mark_lost, news.turn || last.turn,
          last.turn ? last.bad : news.bad};
}

LiveTurns::News LiveTurns::push(std::int64_t tick, int mark) {
  if (now_.ticks.size() < marks_) {
    now_.ticks.push_back(tick);
    return {};
  }
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
