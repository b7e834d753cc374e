// The driver's speed loop: what the target needs by a nominal model, and a PI on what is left.
//
//   command = speed/no_load + (nominal drag + nominal inertia x slope)/stall + P + I
//
// The integral stops where the command is at its end (anti-windup), and the command's ends are the
// caller's, so that a start can be capped. The same gains serve light and heavy plates: the feed
// forward does most of the work and the PI is slow beside a turn. It hunts a little, as loops do
// that see their speed through a few marks.
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

class SpeedLoop {
 public:
  explicit SpeedLoop(const NominalMachine& nominal, Duration closed_loop = milliseconds(120));

  void reset();
  /// The command, 0 to `most`, for the next `dt`.
  [[nodiscard]] double update(const Target& target, Speed measured, double most, Duration dt);
  /// What a steady speed needs, and what it needs at most while speeding up at `slope`.
  [[nodiscard]] double needed(Speed speed) const;
  [[nodiscard]] double needed_at_most(Speed speed, Ramp slope) const;

 private:
  NominalMachine nominal_;
  double gain_;     ///< command per rad/s
  double integral_; ///< command
  double rate_;     ///< 1/s, of the integral
};

} // namespace whirler::plant
