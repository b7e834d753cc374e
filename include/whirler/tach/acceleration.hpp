// An accelerometer beside the tach: once per turn, out of its samples, by the same fit that reads
// the marks' lateness. It rides on the body that the mount carries, square to the axis, and shares
// the pulses' clock.
//
//     acceleration at angle psi after mark 0 [m/s^2] = Re(A exp(-j psi))
//
// Turns without samples (a gap, a sensor that froze) are left out and counted. What the samples
// themselves contradict is a doubt: a clock that runs off the pulses', a range that was left. A
// figure in doubt is no proof of an even plate.
//
// Uneven marks do not show in it, so it needs no baseline and no run-up, and one mark a turn is
// enough: that gives speed and angle. |A| = w^2 |G| U/M, with G the mount's gain
// (mount_motion.hpp). Its angle counts from the sensor, so it serves a trial mass, and names no
// heavy side by itself.
//
// Rejected: a bin of one transform over the record (needs a constant speed); turning samples into
// pulses (throws their amplitude away).
#pragma once

#include "whirler/tach/order_one.hpp"
#include "whirler/tach/pulses.hpp"
#include "whirler/tach/spinner_model.hpp"
#include "whirler/tach/verdict.hpp"
#include "whirler/units/result.hpp"

#include <complex>
#include <optional>
#include <string>
#include <vector>

namespace whirler::tach {

struct AccelerationTrack {
  std::vector<Duration> at; ///< rising, on the pulses' clock
  std::vector<double> m_s2; ///< one a time
};

/// Why a figure is not to be believed, and what to do.
struct AccelerationDoubt {
  std::string what;
  std::string next;
};

struct AccelerationFigure {
  std::complex<double> vector_m_s2; ///< A
  double spread_m_s2 = 0.0;         ///< standard deviation of each component
  double low_m_s2 = 0.0;            ///< 95 % interval of |A|
  double high_m_s2 = 0.0;
  double p_value = 1.0; ///< chance that noise alone gives as much
  Speed speed;
  std::size_t turns = 0;    ///< with samples
  std::size_t left_out = 0; ///< turns of the stretch without
  std::optional<AccelerationDoubt> doubt;
};

/// Of the fastest steady stretch. Faults (input): what `order_one` says of the pulses, as many
/// times as samples not given, times that do not rise, fewer than 4 whole turns covered by samples,
/// fewer than 5 samples a turn, samples that are all one value.
[[nodiscard]] Result<AccelerationFigure> order_one(const PulseTrain& pulses, int marks_per_turn,
                                                   const AccelerationTrack& track);

/// The rotor's e times omega; none where mount and masses are not all known. The interval covers
/// what the file's figures are good for: the mount's natural speed to 5 %, a damping that is not
/// named from 0.01 to 0.3, and 5 % of the sensor's own scale (common practice, no source).
[[nodiscard]] std::optional<VelocityInterval> velocity_of(const AccelerationFigure& figure,
                                                          const SpinnerModel& model);

} // namespace whirler::tach
