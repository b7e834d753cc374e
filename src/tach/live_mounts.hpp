// The mounts that a running watch carries along, and those that it adds between them.
//
// A coarse net over natural speed and damping is all that can be carried from the first turn. A
// mount between its knots leaves a misfit several times the pulses' noise, and behind that hides a
// mount that is far off. So once the turns show unbalance, the net is made three times finer about
// whatever still fits, and again: the turns so far are kept (a fixed number of them) and lived
// through anew by each mount that is added. Mounts that are beyond hope are dropped.
#pragma once

#include "elimination.hpp"
#include "mount_motion.hpp"
#include "step_transform.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <array>
#include <span>
#include <vector>

namespace whirler::tach {

/// What a turn is to any mount.
struct MountTurn {
  static constexpr std::size_t kRows = 3;
  static constexpr std::size_t kMostSteps = 12;
  std::array<double, kMostSteps> step_s{};
  std::array<double, kMostSteps> late{};
  std::array<double, kRows> rows{};
  double speed = 0.0; ///< rad/s
  double slope = 0.0; ///< relative change over the turn
  double plumb = 0.0; ///< the row's value of an axis out of plumb
  double weight = 1.0;
  bool leave_out = false;
  bool settle = false;   ///< nothing is known of the turn before
  std::size_t skips = 0; ///< turns before it that joined nothing
};

class LiveMounts {
 public:
  struct Mount {
    MountNumbers numbers;
    double speed_step;   ///< of ln natural speed, to the next mount of the same net
    double damping_step; ///< of ln damping; 0 where it is known
    MountMotion motion;
    Elimination fit;
    double swing = 0.0;
  };

  /// `fresh`: a fit of no turns, with what is expected of it before the first.
  LiveMounts(const SpinnerModel& model, const StepTransform& transform, std::size_t plumbs,
             const Elimination& fresh);

  void turn(const MountTurn& turn);
  [[nodiscard]] const std::vector<Mount>& all() const { return mounts_; }

  /// Adds the finer net about each of these (of all(), ascending); false where nothing was to do,
  /// or where it would take too long or need turns that are no longer kept.
  bool refine(std::span<const std::size_t> about);
  /// Drops these (of all(), ascending).
  void drop(std::span<const std::size_t> hopeless);

 private:
  [[nodiscard]] Mount fresh_mount(MountNumbers numbers, double speed_step, double damping_step);
  [[nodiscard]] std::vector<Mount> about(const Mount& centre);
  void live_through(Mount& mount, const MountTurn& turn);

  const StepTransform* transform_;
  std::size_t plumbs_;
  Elimination fresh_;
  std::vector<Mount> mounts_;
  std::vector<MountTurn> past_;
  bool past_complete_ = true;
  std::vector<Complex> g_;
};

} // namespace whirler::tach
