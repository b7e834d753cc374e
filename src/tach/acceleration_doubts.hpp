// What an accelerometer's samples may be wrong in, seen in the samples themselves.
#pragma once

#include "whirler/tach/acceleration.hpp"

#include <complex>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::tach {

/// The samples of a stretch of turns.
struct TurnSamples {
  const AccelerationTrack* track;
  std::span<const double> begins_s; ///< of each turn, and the last one's end, on the track's clock
};

/// By turn: whether it is hardly sampled (a gap of 0.3 of a turn or more), or the sensor gave
/// one and the same value for a turn's length.
[[nodiscard]] std::vector<bool> without_samples(const TurnSamples& of);

/// Whether all samples of the stretch are one value.
[[nodiscard]] bool stands_still(const TurnSamples& of);

/// Share of the samples at the highest or lowest value, where they crowd as at the end of a
/// sensor's range; 0 where they do not.
[[nodiscard]] double share_at_the_ends(const TurnSamples& of);

/// How fast a vector that ought to stand still turns against the pulses, as a share of the shaft's
/// speed: the samples' clock is off the pulses', or something else turns nearly as fast. None where
/// it stands still as far as noise lets it be seen. Looks within 5 %; a vector of nothing is a turn
/// that was left out.
[[nodiscard]] std::optional<double> creep_of(std::span<const std::complex<double>> by_turn);

} // namespace whirler::tach
