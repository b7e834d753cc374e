// What a driver makes of its tach: a speed for its loop, batches for the host, and doubts.
#pragma once

#include "whirler/link/messages.hpp"

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

namespace whirler::plant {

class TachInput {
 public:
  explicit TachInput(const link::HelloReply& driver);

  /// A rising edge at `ticks` of the counter, not yet wrapped. `is_index`: the index input says so.
  void pulse(std::int64_t ticks, bool is_index);
  /// Time passes without a pulse; closes a batch that has waited long enough.
  void at(std::int64_t ticks);

  /// By the last turn, or as many of the last intervals as fit 0.65 s; falls by itself when the
  /// next mark is overdue.
  [[nodiscard]] Speed measured() const;
  /// How old that figure is: from the middle of the intervals to now.
  [[nodiscard]] Duration age() const;
  /// Since the last pulse, or since power-up.
  [[nodiscard]] Duration silence() const;
  /// The last interval between two pulses; none before the second.
  [[nodiscard]] std::optional<Duration> last_interval() const;
  /// Speed that an interval means.
  [[nodiscard]] Speed speed_of(Duration interval) const;

  /// Intervals in a row that are each within a factor of two of the one before and not faster than
  /// `ceiling`, since `forget()`.
  [[nodiscard]] int plausible_intervals(Speed ceiling) const;
  /// Intervals in a row, at the end, that were faster than `ceiling`.
  [[nodiscard]] int intervals_faster_than(Speed ceiling) const;
  /// Turns in a row with a wrong number of marks, or with none that is the index.
  [[nodiscard]] int miscounted_turns() const { return miscounted_; }
  /// Begins to judge afresh; counts and batches go on.
  void forget();

  [[nodiscard]] std::uint32_t pulses() const { return total_; }
  [[nodiscard]] std::uint16_t dropped() const { return dropped_; }
  /// Whether pulses are kept for a host.
  void send_to_host(bool wanted);
  /// Whole batches, oldest first.
  [[nodiscard]] std::vector<link::Pulses> take_batches();

 private:
  void count_mark(bool is_index);
  void add_to_batch(std::int64_t ticks, std::int64_t delta);
  void close_batch();
  [[nodiscard]] double seconds_of(std::int64_t ticks) const;
  /// Of the last so many intervals together.
  [[nodiscard]] double span_s(std::size_t intervals) const;
  [[nodiscard]] std::size_t averaged() const;

  link::HelloReply driver_;
  double tick_s_;
  std::int64_t now_ = 0;
  std::int64_t last_pulse_ = 0;
  std::deque<std::int64_t> recent_; ///< one turn and one pulse, newest last
  std::uint32_t total_ = 0;
  std::uint16_t dropped_ = 0;

  std::optional<std::uint16_t> mark_; ///< of the last pulse
  bool indexed_ = false;              ///< an index mark was seen
  int since_index_ = 0;               ///< pulses since the last index, or since counting began
  int miscounted_ = 0;
  bool mark_jumped_ = false;

  bool wanted_ = false;
  std::optional<link::Pulses> open_;
  std::int64_t open_since_ = 0;
  std::uint16_t next_batch_ = 0;
  std::vector<link::Pulses> closed_;
};

} // namespace whirler::plant
