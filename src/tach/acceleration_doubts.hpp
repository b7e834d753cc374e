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

/// The turn that a time lies in; the times that are asked about rise. Before the first turn it is
/// the first, after the last the last.
class TurnOf {
 public:
  explicit TurnOf(std::span<const double> begins_s) : begins_s_(begins_s) {}
  [[nodiscard]] std::size_t at(double time_s) {
    while (turn_ + 2 < begins_s_.size() && begins_s_[turn_ + 1] <= time_s)
      ++turn_;
    return turn_;
  }
  /// How far through that turn, 0 to 1 within it.
  [[nodiscard]] double share(double time_s) {
    const std::size_t turn = at(time_s);
    return (time_s - begins_s_[turn]) / (begins_s_[turn + 1] - begins_s_[turn]);
  }

 private:
  std::span<const double> begins_s_;
  std::size_t turn_ = 0;
};

/// By turn: whether it is hardly sampled (a gap of 0.3 of a turn or more), or the sensor gave
/// one and the same value for a turn's length.
[[nodiscard]] std::vector<bool> without_samples(const TurnSamples& of);

/// Whether all samples of the stretch are one value.
[[nodiscard]] bool stands_still(const TurnSamples& of);

/// Where samples crowd as at the ends of a sensor's range.
struct AtTheEnds {
  double share = 0.0;   ///< of all samples; 0 where they do not crowd
  double more_of = 0.0; ///< share at the end that has more of them
  /// What such a range leaves of a sine, at least: cut at both ends for a share s of the time in
  /// all, 1 - s + sin(pi s)/pi of it (its Fourier integral).
  [[nodiscard]] double kept() const;
};
[[nodiscard]] AtTheEnds at_the_ends(const TurnSamples& of);

/// The same of a range that ended before the noise came in, as of an amplifier: the mean turn has
/// flat tops. None where it has a sine's.
[[nodiscard]] AtTheEnds flat_tops(const TurnSamples& of, const std::vector<bool>& left_out);

/// Where a signal that is clear by turns goes away in some of them: a contact that is lost now and
/// then.
struct GoesAway {
  double share = 0.0;   ///< of the turns
  double usually = 0.0; ///< amplitude of the others
};
/// A vector of nothing is a turn that was left out.
[[nodiscard]] GoesAway goes_away(std::span<const std::complex<double>> by_turn);

/// How fast a vector that ought to stand still turns against the pulses, as a share of the shaft's
/// speed: the samples' clock is off the pulses', or something else turns nearly as fast. None where
/// it stands still as far as noise lets it be seen. Looks within 5 %; a vector of nothing is a turn
/// that was left out.
[[nodiscard]] std::optional<double> creep_of(std::span<const std::complex<double>> by_turn);

} // namespace whirler::tach
