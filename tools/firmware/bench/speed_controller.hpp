// A hobby speed controller, as the motor output meets it: it wakes when its supply comes on, obeys
// nothing until it has seen no throttle for a while, and stops when the pulses stop.
//
// Common practice, no source: makers differ in the times; these are at the slow end.
#pragma once

#include "chip.hpp"

namespace bench {

struct ControllerModel {
  Cycles arm_after = ms(1500); ///< of zero throttle after the supply came on
  Cycles lost_after = ms(100); ///< without a pulse
  double zero_us = 1000.0;     ///< pulse that means no throttle
  double full_us = 2000.0;     ///< full throttle
  double dead_band = 0.04;     ///< of the range: below it the motor stands
};

class SpeedController {
 public:
  explicit SpeedController(const ControllerModel& model) : model_(model) {}

  void supply(bool on, Cycles now);
  void pulse(Cycles width, Cycles now);
  /// Command that its motor gets, 0 to 1.
  [[nodiscard]] double command(Cycles now) const;
  [[nodiscard]] bool powered() const { return powered_; }
  [[nodiscard]] bool armed() const { return armed_; }
  [[nodiscard]] const ControllerModel& model() const { return model_; }

 private:
  ControllerModel model_;
  bool powered_ = false;
  bool armed_ = false;
  Cycles zero_since_ = 0;
  Cycles last_pulse_ = 0;
  double throttle_ = 0.0;
};

} // namespace bench
