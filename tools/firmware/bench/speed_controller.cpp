#include "speed_controller.hpp"

#include <algorithm>

namespace bench {

void SpeedController::supply(bool on, Cycles now) {
  if (on == powered_)
    return;
  powered_ = on;
  armed_ = false;
  throttle_ = 0.0;
  zero_since_ = now;
  last_pulse_ = now;
}

void SpeedController::pulse(Cycles width, Cycles now) {
  const double us = static_cast<double>(width) / 16.0;
  const double span = model_.full_us - model_.zero_us;
  last_pulse_ = now;
  throttle_ = std::clamp((us - model_.zero_us) / span, 0.0, 1.0);
  if (throttle_ > model_.dead_band / 2.0 && !armed_)
    zero_since_ = now;
  if (powered_ && now - zero_since_ >= model_.arm_after)
    armed_ = true;
}

double SpeedController::command(Cycles now) const {
  if (!powered_ || !armed_ || now > last_pulse_ + model_.lost_after)
    return 0.0;
  return std::max(0.0, (throttle_ - model_.dead_band) / (1.0 - model_.dead_band));
}

} // namespace bench
