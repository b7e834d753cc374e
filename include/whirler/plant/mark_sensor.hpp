// The tach's marks passing a sensor that stands on the ground.
//
// Mark k of N passes when the seen angle (spinner.hpp) reaches k/N of a turn plus that mark's pitch
// error. The error is a pattern fixed to the disc: hand-made marks are off by several mrad, more
// than the unbalance signal that they carry. On top each pulse has noise of its own.
//
// A pulse's time is found inside a step on a cubic through both ends (value and rate), so it does
// not snap to the step.
#pragma once

#include "whirler/units/quantities.hpp"

#include <cstdint>
#include <random>
#include <vector>

namespace whirler::plant {

struct MarkModel {
  int per_turn = 6;
  bool index = true;               ///< mark 0 is known from the others
  std::vector<Angle> pitch_error;  ///< a mark each, + is late; empty: even
  Angle noise = milliradians(0.1); ///< standard deviation of one pulse
};

/// A pattern of `per_turn` errors with this root mean square and zero mean.
[[nodiscard]] std::vector<Angle> pitch_pattern(int per_turn, Angle rms, std::uint64_t seed);

struct MarkPulse {
  Duration at; ///< since the sensor was made
  int mark = 0;
};

/// The seen angle at a moment: rad and rad/s.
struct SeenAngle {
  double angle = 0.0;
  double rate = 0.0;
};

class MarkSensor {
 public:
  MarkSensor(const MarkModel& model, std::uint64_t seed, SeenAngle at = {});

  /// Adds to `pulses` the marks that pass on the way from where it was to `now`, `dt` later.
  void advance(Duration dt, SeenAngle now, std::vector<MarkPulse>& pulses);

 private:
  [[nodiscard]] double next_angle() const;
  void expect_next();

  std::vector<double> pitch_; ///< rad, a mark each
  double noise_;
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
  SeenAngle last_;
  double now_s_ = 0.0;
  double last_pulse_s_ = 0.0;
  std::int64_t turn_ = 0;
  int mark_ = 0;
  double noise_of_next_ = 0.0;
};

} // namespace whirler::plant
