// The mounts that a running watch carries along, and those that it adds between them.
//
// A coarse net over natural speed and damping is all that can be carried from the first turn. A
// mount between its knots leaves a misfit several times the pulses' noise, and behind that hides a
// mount that is far off. So once the turns show unbalance, the net is made three times finer about
// whatever still fits, and again: the turns so far are kept (a fixed number of them) and lived
// through anew by each mount that is added. Mounts that are beyond hope are dropped.
//
// Where the machine's file names a mount the net is close about it, and a coarse one of all others
// goes along at a price: a name that is wrong would stop even plates and let others run.
#pragma once

#include "mount_motion.hpp"
#include "step_transform.hpp"
#include "whirl_columns.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <array>
#include <span>
#include <vector>

namespace whirler::tach {

/// What a turn is to any mount.
struct MountTurn {
  static constexpr std::size_t kMostSteps = 8;
  std::array<double, kMostSteps> step_s{};
  std::array<double, kMostSteps> late{};
  SharedTurn shared;
  double speed = 0.0; ///< rad/s
  double slope = 0.0; ///< relative change over the turn
  bool leave_out = false;
  bool begin = false; ///< nothing is known of the turn before
  bool ahead =
      false;         ///< a turn before the first that the fit has: the mount alone lives through it
  bool hole = false; ///< a turn of which nothing was seen: the mount has not moved through it
};

class LiveMounts {
 public:
  struct Mount {
    MountNumbers numbers;
    double speed_step;   ///< of ln natural speed, to the next mount of the same net
    double damping_step; ///< of ln damping; 0 where it is known
    MountMotion motion;
    WhirlColumns whirl;
    double price = 0.0; ///< chi^2 by which it must fit better than the mount that is named
    double swing = 0.0;
  };

  LiveMounts(const SpinnerModel& model, const StepTransform& transform);

  void turn(const MountTurn& turn);
  [[nodiscard]] const std::vector<Mount>& all() const { return mounts_; }

  /// Adds the finer net about each of these (of all(), ascending); false where nothing was to do,
  /// or where it would take too long or need turns that are no longer kept.
  bool refine(std::span<const std::size_t> about);
  /// Drops these (of all(), ascending).
  void drop(std::span<const std::size_t> hopeless);

 private:
  [[nodiscard]] Mount fresh_mount(MountNumbers numbers, double speed_step, double damping_step,
                                  double price);
  [[nodiscard]] std::vector<Mount> about(const Mount& centre);
  void live_through(Mount& mount, const MountTurn& turn);

  const StepTransform* transform_;
  std::vector<Mount> mounts_;
  std::vector<MountTurn> past_;
  bool past_complete_ = true;
  std::vector<Complex> g_;
};

} // namespace whirler::tach
