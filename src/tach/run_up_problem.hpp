// The linear part of a run-up's fit: given a mount, what is left when pattern, plumb and unbalance
// are fitted as well as they can be.
#pragma once

#include "dwells.hpp"
#include "elimination.hpp"
#include "mount_motion.hpp"
#include "step_transform.hpp"
#include "turn_rows.hpp"
#include "whirler/tach/order_one.hpp"

#include <array>
#include <optional>
#include <span>
#include <vector>

namespace whirler::tach {

/// The vector of a long dwell, in place of its turns.
struct DwellVector {
  OnceVector vector;
  double sd = 0.0;       ///< of each component, rad
  double speed = 0.0;    ///< rad/s
  std::size_t begin = 0; ///< its first turn
};

class RunUpProblem {
 public:
  /// Takes the stretch's turns apart into dwells (fitted at once) and the ramps between them. Turns
  /// about the natural speed of `softest_hz` are kept, however slow.
  RunUpProblem(const TurnBasis& basis, TurnSlots& slots, Duration tick, double softest_hz);

  struct Solution {
    BorderSolution border;
    double freedom = 0.0;
    std::array<Complex, 2> far_above; ///< K of each mount, rad
    [[nodiscard]] double variance() const { return border.rss / freedom; }
  };
  [[nodiscard]] Solution solve_with(const Mounts& mounts) const;

  /// Leaves turns out that no mount explains (a jolt at a ramp's corner), judged by this one.
  /// False where there was none.
  bool drop_jolts(const Mounts& mounts);

  /// Weighs each turn by the noise of the turns of like speed, judged by this mount: a speed loop
  /// fed by uneven marks shakes a slow spindle more than a fast one.
  void weigh_by_speed(const Mounts& mounts);

  /// As if no turn had been weighed or found to be a jolt.
  void weigh_alike();

  /// What is left of the once-per-turn vectors: those of a few turns in a row against each other.
  /// White noise leaves groups that scatter as their turns do; what no mount explains stays the
  /// same over some turns and adds up.
  struct LackOfFit {
    double between = 0.0; ///< mean square of a component of the groups' sums, over their turns
    double within = 0.0;  ///< the same of the turns, by their differences
    double groups = 0.0;  ///< components
    double turns = 0.0;   ///< components
    double rms = 0.0;     ///< of what is left beyond noise, rad of order 1
  };
  [[nodiscard]] LackOfFit lack_of_fit(const Mounts& mounts) const;
  /// The order near 1 that most of what is left has, in the longest ramp; 0 where it has none.
  [[nodiscard]] double order_of_rest(const Mounts& mounts) const;

  /// What is left of the once-per-turn vector of a turn of a ramp.
  struct RestTurn {
    double speed = 0.0; ///< rad/s
    Complex vector;     ///< rad
    bool left_out = false;
  };
  /// Of every ramp, turn after turn.
  [[nodiscard]] std::vector<std::vector<RestTurn>> rest_of_ramps(const Mounts& mounts) const;

  /// Turns of the ramps at which a plate may have moved.
  struct PlaceInRamp {
    std::size_t turn = 0;
    double speed = 0.0; ///< rad/s
  };
  [[nodiscard]] std::vector<PlaceInRamp> places_in_ramps() const;

  /// Holds what falls with speed squared to nothing within `sd` (rad, each component, at the
  /// slowest speed), where the dwells alone cannot tell it from unbalance.
  void expect_plumb(double sd) { plumb_sd_ = sd; }

  [[nodiscard]] std::size_t marks() const { return basis_->marks; }
  [[nodiscard]] double slowest() const { return slowest_; }
  [[nodiscard]] double fastest() const { return fastest_; }
  /// Where the speed loop changes its slope at once.
  struct Corner {
    double bend = 0.0;  ///< rad by which it bends the angle within a turn
    double speed = 0.0; ///< rad/s
  };
  [[nodiscard]] const std::vector<Corner>& corners() const { return corners_; }
  /// Columns of the border: pattern, then plumb, then K of each mount.
  [[nodiscard]] std::size_t plumb_column() const { return basis_->rows - 1; }
  [[nodiscard]] std::size_t plumb_columns() const { return basis_->marks > 2 ? 2 : 1; }
  [[nodiscard]] std::size_t whirl_column(std::size_t mount = 0) const {
    return plumb_column() + plumb_columns() + 2 * mount;
  }

 private:
  struct Window {
    std::size_t begin = 0; ///< its first turn
    TurnRows rows;
    std::vector<double> step_s; ///< durations of the steps, turn after turn
    std::vector<double> late;   ///< seen at each step about the turn's mean, rad
    std::vector<double> usual;  ///< its mean over the turns, at each step
    std::vector<char> left_out; ///< a turn
    std::vector<char> corners;  ///< a turn: left out whatever the mount
    std::vector<double> weight; ///< a turn
    std::vector<double> unruly; ///< a turn: what its course keeps from the spline, rad
    void leave_out_about(std::size_t turn);
    void leave_out_corners(std::vector<Corner>& met); ///< adds to `met`
    /// Where the bend itself changes from turn to turn the speed moves within the turn in a way
    /// that no spline with one knot a turn follows, and what is left looks like order 1. The
    /// change says how large that may be; the spline hands a part of it on to the turns beside it.
    void weigh_unruly();
  };
  void lay_lateness(Window& window) const;
  void lay_steps(Window& window) const;
  [[nodiscard]] double ramp_in(const Window& window, std::size_t turn) const;
  void leave_out_start(const TurnBegins& begins, std::span<const Dwell> dwells, double softest_hz);
  void add_window(const TurnSlots& slots, Duration tick, std::size_t from, std::size_t to);
  void add_dwell(TurnSlots& slots, Duration tick, const Dwell& dwell);
  void lay_out(TurnSlots& slots, Duration tick, const std::vector<Dwell>& dwells);
  /// Rows of the extra columns for all turns of a window.
  [[nodiscard]] std::vector<double> columns(const Window& window, const Mounts& mounts) const;
  /// What the whirl's columns are made of: the motions of a window's turns, one after the other.
  class Whirls;
  /// What is left of the rows, turn after turn, unweighted.
  [[nodiscard]] std::vector<double> left_of(const Window& window, const Mounts& mounts,
                                            const BorderSolution& best) const;
  /// Square of what is left of each turn, 0 where it is left out.
  [[nodiscard]] std::vector<double> misfit(const Window& window, const Mounts& mounts,
                                           const BorderSolution& best) const;
  void add_dwells(Elimination& elimination, const Mounts& mounts) const;
  /// Every turn of the window, `more` extra columns each; those left out are run through.
  void add_turns(Elimination& elimination, const Window& window, std::span<const double> extra_rows,
                 std::size_t more) const;
  [[nodiscard]] BorderNormal ramps_normal(const Window& window, const Mounts& mounts) const;
  [[nodiscard]] BorderNormal dwells_normal(const Mounts& mounts) const;
  [[nodiscard]] std::size_t extra(const Mounts& mounts) const {
    return plumb_columns() + 2 * mounts.count;
  }

  const TurnBasis* basis_;
  StepTransform transform_;
  std::size_t steps_;
  std::vector<Window> windows_;
  std::vector<DwellVector> dwells_;
  double least_speed_ = 0.0; ///< rad/s; slower turns are left out
  double slowest_ = 0.0;
  double fastest_ = 0.0;
  std::vector<Corner> corners_;
  std::optional<double> plumb_sd_; ///< rad at the slowest speed
  double reference_ = 0.0;         ///< noise of a pulse that has weight 1, rad; 0: not known yet
};

} // namespace whirler::tach
