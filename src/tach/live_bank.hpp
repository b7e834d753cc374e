// Several mounts at once, each fitted to all turns so far: what a running watch knows of the plate.
//
// A recording can be searched for the one mount that fits best; a run cannot wait for that. So a
// bank of mounts, from soft to stiff (or close about the one that the machine file names), is
// carried along, each with its own motion and its own least squares. What all that still fit agree
// on is known.
#pragma once

#include "elimination.hpp"
#include "live_mounts.hpp"
#include "live_turns.hpp"
#include "step_transform.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <optional>
#include <vector>

namespace whirler::tach {

class LiveBank {
 public:
  LiveBank(const SpinnerModel& model, std::optional<OnceVector> baseline);

  /// The middle one of five turns. `numbered`: mark 0 is the index. A baseline is of numbered marks
  /// and lies on no others.
  void turn(const TurnSlots& around, Duration tick, bool bad, bool numbered);
  /// Turns before and after do not join; `mark_lost`: and no turn before is worth anything now.
  void broken(bool mark_lost);

  /// One mount's account of all turns so far.
  struct Account {
    MountNumbers mount{};
    double speed_step = 0.0; ///< of ln natural speed, to the next mount
    double damping_step = 0.0;
    std::size_t at = 0; ///< among all mounts
    Complex far_above;  ///< K, rad
    double far_sd = 0.0;
    Complex pattern; ///< the marks' order 1, rad
    double pattern_sd = 0.0;
    Complex plumb;      ///< at kPlumbAt
    double swing = 0.0; ///< |g| in the last turn
    /// Above its natural speed a mount's whirl is what uneven marks and an axis out of plumb make
    /// together: one that the run was never below proves no unbalance, unless the inertia says how
    /// little may fall with speed.
    bool proves = true;
    double rss = 0.0;
    double price = 0.0;  ///< chi^2; 0 of a mount that is named, or where none is
    double excess = 0.0; ///< chi^2 over the best, prices counted
    double variance = 0.0;
    double freedom = 1.0; ///< degrees of freedom
  };
  /// Those that still fit, the best first; none before a few turns.
  [[nodiscard]] const std::vector<Account>& accounts() const;
  /// Those that may be the mount, the best first. A bank has only so many, and none is quite the
  /// real one: what the best leaves unexplained, others may as well.
  [[nodiscard]] const std::vector<Account>& plausible() const;
  /// Whether unbalance on any mount explains the turns far better than none does.
  [[nodiscard]] bool grows() const;
  /// Where nothing grows every mount fits, and one so soft that it sways by hand would leave no
  /// plate that may be called even: such a one is reckoned with once the turns show unbalance.
  [[nodiscard]] bool reckoned_with(const Account& account) const;
  /// Whether anything can tell pattern from unbalance at all: a baseline, or more than one speed.
  [[nodiscard]] bool speeds_differ() const;
  [[nodiscard]] bool has_baseline() const { return baseline_laid_; }

  /// The whole vector of the last block of turns, pattern and all.
  struct Block {
    Complex vector;
    double sd = 0.0;
    double speed = 0.0; ///< rad/s
  };
  [[nodiscard]] const std::optional<Block>& last_block() const { return block_; }
  [[nodiscard]] double speed() const { return speed_; } ///< rad/s, of the last turn
  [[nodiscard]] double slope() const { return slope_; } ///< relative change over it
  [[nodiscard]] std::size_t turns() const { return turns_; }
  /// How many there were when the accounts were made.
  [[nodiscard]] std::size_t weighed_at() const { return weighed_at_; }

  static constexpr double kPlumbAt = 60.0; ///< rad/s

 private:
  void start_over();
  void add_baseline(Elimination& fit) const;
  void expect_plumb(Elimination& fit) const;
  [[nodiscard]] MountTurn as_met(const TurnRows& rows, std::size_t at) const;
  void live_ahead(const TurnRows& rows);
  void look_closer();
  void add_to_block(const TurnRows& rows, double weight);
  [[nodiscard]] std::array<double, LiveTurns::kTurns> mean_times(const TurnSlots& around,
                                                                 Duration tick) const;
  [[nodiscard]] double corner_at(double bend, double next_bend);
  [[nodiscard]] double weight_for(double corner);
  void weigh() const;
  [[nodiscard]] Account account_of(const LiveMounts::Mount& mount, const SharedFit& shared) const;
  void add_to_shared(const TurnRows& rows, MountTurn& met);
  void note_pivot(SharedTurn& turn) const;
  [[nodiscard]] std::size_t plumbs() const { return basis_.marks > 2 ? 2 : 1; }

  SpinnerModel model_;
  std::optional<OnceVector> baseline_;
  TurnBasis basis_;
  StepTransform transform_;
  std::optional<LiveMounts> mounts_;
  std::optional<Elimination> shared_; ///< what all mounts share; without unbalance
  std::optional<Elimination> recent_;
  std::size_t recent_turns_ = 0;
  double recent_time_ = 0.0;
  std::optional<Block> block_;
  double change_ = 0.0; ///< of the bend, rad, a turn before
  double corner_ = 0.0; ///< rad, a turn before
  bool begun_ = false;
  bool baseline_laid_ = false;
  double speed_ = 0.0;
  double slope_ = 0.0;
  double slowest_ = 0.0;
  double slowest_used_ = 1e300;
  double fastest_used_ = 0.0;
  std::size_t turns_ = 0;
  mutable bool weighed_ = false;
  mutable std::size_t weighed_at_ = 0; ///< turns
  mutable double since_weighed_ = 0.0; ///< s
  mutable bool grows_ = false;
  mutable bool soft_too_ = false; ///< mounts that sway by hand are reckoned with
  mutable std::vector<Account> accounts_;
  mutable std::vector<Account> plausible_;
  mutable std::vector<std::size_t> hopeless_; ///< of all mounts, ascending
};

} // namespace whirler::tach
