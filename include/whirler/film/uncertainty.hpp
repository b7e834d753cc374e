// How far off an estimate may be: a 95 % interval over what nobody knows exactly.
//
// Bottle, solids, room and tach each have a spread; a thousand coats, each from a draw of all four,
// say what they do to this film on this profile (a thin resist under a slow ramp feels the room, a
// thick one its bottle). What is left of the total is the model's own: closures, draughts, the
// unknown. The total, uncalibrated, is a standard deviation of the logarithm of 0.19, +/-45 % at
// 95 %; two good laboratories differ by 14 to 27 % on one resist with everything measured.
//
// The draws are a lattice that fills the four dimensions evenly (the additive recurrence of the
// generalised golden ratio), not random numbers: the same question has the same answer, and a
// thousand are worth far more. The model's spread is not drawn at all: the distribution is the mean
// of a normal curve around each coat, and its quantiles are solved for.
//
// Rejected: adding up sensitivities. Four coats instead of a thousand, but the film is not linear
// in the room's temperature, and a forecast that is cheap anyway should not assume that it is.
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/film/thinning.hpp"

#include <cstddef>

namespace whirler::film {

/// Standard deviations of what goes in. Of the logarithm where no unit stands.
struct Spreads {
  double viscosity = 0.05;    ///< an open bottle against its label [common practice, no source]
  double solids = 0.01;       ///< of the mass fraction [common practice, no source]
  double temperature_K = 1.0; ///< of the room
  double speed = 0.003;       ///< of the tach
  /// Of the whole forecast; the model's own is what the others leave of it, and at least half.
  double total = 0.19;
};

/// What an uncalibrated label is good for: 0.19, more under a lid or a draught for a film that
/// dries (rule.hpp).
[[nodiscard]] Spreads label_spreads(const Resist& resist, const Environment& environment);

struct Forecast {
  Estimate film;                ///< dry, mean over the plate
  double input_deviation = 0.0; ///< of the logarithm, by what goes in
  double model_deviation = 0.0; ///< and by the model
};

/// Faults (input): `estimate`'s; a spread that is negative; no samples.
[[nodiscard]] Result<Forecast> forecast(const Resist& resist, const SpeedCurve& curve,
                                        const Environment& environment, const Spreads& spreads,
                                        std::size_t samples = 1000);

namespace thinning {
/// x with this share of a standard normal distribution below it; share within 0 to 1.
[[nodiscard]] double normal_quantile(double share);
} // namespace thinning

} // namespace whirler::film
