// Pulses as they come, made into whole turns in memory that does not grow: five turns at a time, of
// which the middle one is ready (its speed needs two on either side).
//
// Simpler than what is done with a recording, and harder: a turn in which anything was wrong is
// handed on as bad and left out, and where the count of marks is lost it begins anew.
#pragma once

#include "turn_rows.hpp"

#include <array>
#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

namespace whirler::tach {

class LiveTurns {
 public:
  explicit LiveTurns(std::size_t marks);

  /// What a pulse brought: nothing yet, a turn, or a break after which the spline begins anew.
  struct News {
    bool broken = false;    ///< turns before and after do not join
    bool mark_lost = false; ///< and mark 0 is not the mark 0 that it was
    bool turn = false;      ///< `middle()` is a new turn
    bool bad = false;       ///< something was wrong in it
  };
  /// `mark`: its number, -1 where the source knows none.
  [[nodiscard]] News take(std::int64_t tick, int mark);
  [[nodiscard]] News lose();
  /// So many pulses passed before the next and did not arrive: a gap that is known.
  void announce(std::uint64_t missing);

  static constexpr std::size_t kTurns = 5;
  static constexpr std::size_t kMiddle = 2;
  /// Mark 0 is the index, and not where the count happened to begin.
  [[nodiscard]] bool numbered() const { return numbered_; }
  /// Of the marks of the last turns, and of those turns.
  [[nodiscard]] double missing_share() const { return missing_share_; }
  [[nodiscard]] double bad_share() const { return bad_share_; }
  /// Five turns and the next one's first mark.
  [[nodiscard]] const TurnSlots& around() const { return around_; }

 private:
  struct Turn {
    std::vector<std::int64_t> ticks;
    bool bad = false;
    std::size_t holes = 0; ///< marks that were filled in
  };
  [[nodiscard]] double due() const;
  [[nodiscard]] News begin_at(std::int64_t tick, int mark);
  [[nodiscard]] News begin_anew(std::int64_t tick, int mark, std::uint64_t announced);
  [[nodiscard]] News fill_gap(std::int64_t tick, double intervals);
  void count_bad();
  [[nodiscard]] News push(std::int64_t tick, int mark);
  [[nodiscard]] News finish_turn();

  std::size_t marks_;
  bool started_ = false;
  bool numbered_ = false;
  bool indexed_ = false;                 ///< mark 0 was seen, ever
  std::optional<std::size_t> next_slot_; ///< of the next pulse, where no turn is begun
  std::uint64_t announced_ = 0;          ///< pulses known to be missing before the next
  Turn now_;
  std::deque<Turn> turns_;
  TurnSlots around_;
  std::size_t bad_turns_ = 0; ///< in a row
  std::size_t refused_ = 0;   ///< pulses in a row that came too early
  double missing_share_ = 0.0;
  double bad_share_ = 0.0;
  double weighed_turns_ = 0.0;
};

} // namespace whirler::tach
