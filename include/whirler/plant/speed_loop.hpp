// The driver's speed loop: what the target needs by a nominal model, and a PI on what is left.
//
//   command = speed/no_load + (nominal drag + nominal inertia x slope)/stall + P + I
//
// The integral stops where the command is at its end (anti-windup), and the command's ends are the
// caller's, so that a start can be capped. The same gains serve light and heavy plates: the feed
// forward does most of the work and the PI is slow beside a turn. What the integral had to add
// while a slope lasted was mostly inertia that the nominal machine lacks: at the slope's end it
// moves from the integral to the inertia, or a heavy plate would shoot past the end of its ramp by
// 4 %. The loop hunts a little, as loops do that see their speed through a few marks.
#pragma once

#include "whirler/plant/spinner.hpp"

namespace whirler::plant {

/// What the driver's maker believed about the machine; the true one differs.
struct NominalMachine {
  MotorModel motor;
  DragModel drag;
  Inertia inertia = kg_m2(1.3e-4);
  Inertia heaviest = kg_m2(4e-4); ///< the largest that an honest run may have
};

struct Target {
  Speed speed;
  Ramp slope; ///< signed
};

struct MeasuredSpeed {
  Speed speed;
  Duration age;
};

class SpeedLoop {
 public:
  explicit SpeedLoop(const NominalMachine& nominal, Duration closed_loop = milliseconds(60));

  void reset();
  /// The command, 0 to `most`, for the next `dt`. The measured speed is compared with the target as
  /// it was then: a tach's figure is some marks old, and on a ramp that is no error.
  [[nodiscard]] double update(const Target& target, const MeasuredSpeed& measured, double most,
                              Duration dt);
  /// What a steady speed needs, and what it needs at most while speeding up at `slope`.
  [[nodiscard]] double needed(Speed speed) const;
  [[nodiscard]] double needed_at_most(Speed speed, Ramp slope) const;

 private:
  void learn(Ramp next_slope);
  [[nodiscard]] double gain(Duration age) const;

  NominalMachine nominal_;
  Duration closed_loop_;
  double tau_s_;          ///< of the motor without drag, s
  double integral_ = 0.0; ///< command
  double inertia_;        ///< kg m2, as learnt
  Ramp slope_;
  double integral_before_ = 0.0; ///< when the present slope began
};

} // namespace whirler::plant
