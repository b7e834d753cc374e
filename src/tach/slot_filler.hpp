// The walk along the pulses that sets each into its slot; see marked_pulses.hpp for the rules.
#pragma once

#include "whirler/tach/marked_pulses.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace whirler::tach {

/// Puts stamps that came out of order back in order, and drops those that leapt far from all
/// others. Counts both. A train in order is left as it is.
void put_in_order(std::vector<std::int64_t>& ticks, std::vector<std::int16_t>& marks,
                  PulseCounts& counts);

class SlotFiller {
 public:
  /// Pulses in order of time, which the caller keeps until `fill` has been called; `marks` may be
  /// empty, then the numbers in the filled slots are too.
  SlotFiller(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks,
             std::size_t marks_per_turn);

  struct Filled {
    std::vector<std::int64_t> ticks;
    std::vector<std::int16_t> marks; ///< as the source numbered them; -1 in a hole
    std::size_t first_row = 0;       ///< row of the first slot's pulse
  };
  struct Outcome {
    std::vector<Filled> stretches;
    PulseCounts counts;
  };
  /// Walks to the end; the first `whole` rows are taken as they came. Call once.
  [[nodiscard]] Outcome fill(std::size_t whole = 0);

 private:
  /// What the last few slots say of the next, whatever single one of them is wrong: the time that a
  /// whole turn takes as a straight line over the slots, and (marks being many) the time of the
  /// slots themselves as one. The first knows the marks' pattern; the second keeps a slot that was
  /// wrongly filled from being copied turn after turn.
  struct Pace {
    bool by_turn = false;
    double turn = 0.0;   ///< ticks, of the turn that ends with the last filled slot
    double a_slot = 0.0; ///< its change a slot
    bool by_marks = false;
    double last = 0.0;     ///< due time of the last filled slot
    double interval = 0.0; ///< from mark to mark
  };
  [[nodiscard]] std::int64_t due_quickly() const;
  [[nodiscard]] std::size_t alike_to(std::size_t row) const;
  void take_all(std::size_t from, std::size_t to);
  void judge_row(std::size_t row);
  void judge_by_pace(std::size_t row, const Pace& pace);
  [[nodiscard]] double due_by_interval() const;
  [[nodiscard]] bool keeps_changing(std::size_t row) const;
  void judge_seeding(std::size_t row);
  bool judge_close_pair(std::size_t row, double due);
  void take(std::size_t row, std::size_t holes_before = 0);
  void drop_last();
  void begin_stretch(std::size_t row);
  void break_off(std::size_t row);
  void close_stretch();
  void note_doubled();
  [[nodiscard]] std::size_t steady_from(std::size_t row) const;
  [[nodiscard]] std::size_t steady_to() const;

  [[nodiscard]] std::optional<Pace> pace() const;
  void pace_of_turns(Pace& pace) const;
  void pace_of_marks(Pace& pace) const;
  [[nodiscard]] double predicted(std::size_t slot, const Pace& pace) const;
  [[nodiscard]] double predicted_by_turn(std::size_t slot, const Pace& pace) const;
  /// Slots on from the last filled one that `tick` falls nearest to (0: the last one itself), and
  /// how far off it is in intervals.
  struct Place {
    std::size_t ahead;
    double off;
  };
  [[nodiscard]] Place place_of(std::int64_t tick, const Pace& pace) const;
  [[nodiscard]] bool on_the_grid_after(std::size_t row, const Pace& pace) const;
  [[nodiscard]] bool gap_is_sure(std::size_t row, std::size_t ahead, const Pace& pace) const;
  [[nodiscard]] bool steady_after(std::size_t row) const;
  [[nodiscard]] double due_when_seeding(std::size_t row) const;
  [[nodiscard]] double typical_ahead(std::size_t row) const;
  [[nodiscard]] double found(std::size_t row) const {
    return static_cast<double>(rows_[row] - slots_.back());
  }

  std::span<const std::int64_t> rows_;
  std::span<const std::int16_t> row_marks_;
  std::size_t per_turn_;
  Outcome out_;
  std::vector<std::int64_t> slots_;
  std::vector<std::int16_t> slot_marks_;
  std::vector<std::size_t> doubled_at_; ///< slots of the stretch that had a pulse too many
  std::size_t first_row_ = 0;
  std::size_t next_row_ = 1;
};

} // namespace whirler::tach
