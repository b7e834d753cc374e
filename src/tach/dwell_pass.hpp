// One pass along a dwell, piece by piece: rows are made, met by the fit, held against it and gone
// again while they are in the processor's cache, so that a dwell of a million pulses needs hardly
// more room than a short one. (Rows of the whole dwell at once are simpler, and three times as
// slow: it is the system that takes the time, handing out fresh memory page by page.)
//
// A piece is held against the fit once the spline runs on a little beyond it: its coefficients
// forget what is farther away by a factor of some four a turn.
#pragma once

#include "elimination.hpp"
#include "turn_rows.hpp"

#include <array>
#include <vector>

namespace whirler::tach {

/// The border's normal equations of a dwell: all of it, and block by block.
struct BorderSums {
  explicit BorderSums(std::size_t turns);
  /// After each turn in order.
  void note(std::size_t turn, const Elimination& so_far);

  BorderNormal whole;
  std::vector<BorderNormal> blocks;

 private:
  std::size_t turns_;
  std::size_t count_;
};

class DwellPass {
 public:
  /// Reads from `slots` in each run, so they may be mended between two.
  DwellPass(const TurnBasis& basis, const TurnSlots& slots, Duration tick, TurnRange dwell);

  /// Forgets what earlier runs put in place of the holes.
  void start_anew() { filled_.clear(); }
  /// The marks that were filled in get the lateness that the last run's fit gave them, and a new
  /// one from this: one step of expectation and maximisation towards the fit of the seen pulses
  /// alone. Rows are held against the pattern in `held_to`, or that of the turns so far. With
  /// `look_for_bad`, stamps are noted whose lateness no noise explains.
  void run(const BorderSolution* held_to, bool look_for_bad);

  [[nodiscard]] const BorderSums& sums() const { return sums_; }
  /// Slots. One bad stamp throws its whole turn about, and those beside it: only the worst is taken
  /// at a time.
  [[nodiscard]] std::vector<std::size_t> bad() const;
  [[nodiscard]] const std::vector<FilledMark>& filled() const { return filled_; }
  [[nodiscard]] std::vector<double> beyond_rows() const;

 private:
  struct Piece {
    TurnRows rows;
    TurnRange turns{0, 0};  ///< of the stretch
    std::size_t filled = 0; ///< its first one among all
  };
  void lay(Piece& piece, TurnRange turns);
  void hold_against_fit(const Piece& piece, Elimination& fit, const BorderSolution* held_to,
                        bool look_for_bad);
  [[nodiscard]] double fitted_lateness(const Piece& piece, std::size_t turn, std::size_t mark);
  void refill(const Piece& piece);
  void note_bad(const Piece& piece);

  const TurnBasis* basis_;
  const TurnSlots* slots_;
  Duration tick_;
  TurnRange dwell_;
  double unit_ = 1.0; ///< speed that relative ones are to, rad/s
  std::array<Piece, 2> pieces_;
  std::vector<double> late_sums_; ///< by mark, over the turns so far
  std::size_t laid_ = 0;          ///< turns so far
  std::vector<double> beyond_;    ///< of those turns; empty until asked for
  std::vector<double> left_;      ///< of the piece's rows
  BorderSums sums_{0};
  std::vector<FilledMark> filled_;
  std::size_t met_ = 0; ///< of the filled marks, so far
  struct Suspect {
    std::size_t turn; ///< of the stretch
    std::size_t mark;
    double square; ///< of what is left of its turn
  };
  std::vector<Suspect> suspects_;
};

} // namespace whirler::tach
