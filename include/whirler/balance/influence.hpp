// Balancing in one plane with a trial mass: the influence coefficient.
//
// One convention of angles holds for every mass and every phase in this room: measured on the
// rotor, from the index mark, with the rotation.
//
//                  index mark, 0 deg
//                        |
//               .--------+--------.
//             /          |          \        seen from above,
//      270   |           o           |   90  this rotor turns clockwise:
//             \                     /        90 deg is where the index mark
//               '--------+--------'          will be after a quarter turn
//                        180
//
// Readings before (Z0) and with the trial unbalance T (Z1), at one speed, are vectors; the pattern
// P of the marks is in both. The machine's answer to unbalance is S = (Z1 - Z0)/T, and the
// correction C solves Z0 - P + S C = 0. The phase of Z0 plus 180 deg, sometimes printed as the
// correction's place, forgets the machine's own lag, which is what the trial run is for.
//
// At several speeds one C must serve all; S differs at each. The sum of |Z0 - P + S C|^2 is made
// smallest, each reading counting by its size.
//
// A reading's size is in the meter's own unit: only ratios of readings matter, so sizes are bare
// numbers here and nowhere else.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <complex>
#include <optional>
#include <span>
#include <vector>

namespace whirler::balance {

/// A once-per-turn reading, its phase in the convention above.
using Reading = std::complex<double>;

[[nodiscard]] Reading reading(double size, Angle phase);

/// The tach's once-per-turn vector says how late the marks come; its phase falls as the heavy side
/// moves on with the rotation. This turns it round into the convention above.
[[nodiscard]] Reading from_lateness(Reading once_per_turn);

/// An angle in 0 to 360 deg, 360 excluded.
[[nodiscard]] Angle wrapped(Angle angle);

/// A mass on the rotor.
struct PlacedMass {
  Mass mass;
  Angle at;
  Length radius;
};

/// Unbalance with its direction; as complex number in kg m, or size and angle.
struct PlacedUnbalance {
  Unbalance size;
  Angle at;
};
[[nodiscard]] std::complex<double> to_kg_m(const PlacedUnbalance& unbalance);
[[nodiscard]] std::complex<double> to_kg_m(const PlacedMass& mass);
/// Of all of them together.
[[nodiscard]] std::complex<double> to_kg_m(std::span<const PlacedMass> masses);
[[nodiscard]] PlacedUnbalance from_kg_m(std::complex<double> kg_m);
/// The mass at `radius` that makes this unbalance.
[[nodiscard]] PlacedMass mass_for(std::complex<double> kg_m, Length radius);

/// Both readings of one speed.
struct TrialPair {
  Reading before;
  Reading with_trial;
  Reading pattern{}; ///< of the marks, at any speed the same vector; zero where removed already
};

/// How well a vector in the plane of the rotor is known; x towards the index mark, y at 90 deg.
struct Spread {
  double xx_kg2m2 = 0.0;
  double xy_kg2m2 = 0.0;
  double yy_kg2m2 = 0.0;
  /// Root of the mean square of the error's size.
  [[nodiscard]] Unbalance rms() const;
  /// The error's size stays below this 95 times in 100 (or more often: the longer axis is taken).
  [[nodiscard]] Unbalance bound_95() const;
};

/// What the readings are worth.
struct ReadingQuality {
  /// Standard deviation of either component of one reading, in the reading's unit. Without it
  /// the spread is that of published trials with known masses: 6 % of mass and 8 deg at best
  /// (M-Nouioua, rk4-rotor-unbalance-estimation, CC BY 4.0).
  std::optional<double> sigma;
};

struct Correction {
  PlacedMass mass;           ///< to add, with the trial mass taken off again
  PlacedUnbalance unbalance; ///< what the rotor has: as large, opposite
  Spread spread;             ///< of the correction, and so of what will be left
  std::vector<Reading> rest; ///< reading less the pattern that is predicted after it, one a speed
  std::vector<std::complex<double>> influence; ///< S, reading a kg m, one a speed
  double response = 0.0; ///< least change by the trial, as a share of the reading before it
  /// What will be left stays below this 95 times in 100, the trial's own answer being uncertain
  /// too. None where the trial changed so little that nothing can be promised.
  std::optional<Unbalance> bound_95;
  /// The unbalance now is below this 95 times in 100; where the readings' noise is known.
  std::optional<Unbalance> at_most;
  bool shown = true; ///< readings of a balanced rotor would hardly look like these
};

/// Root mean square over the speeds of what the reading will be, less the pattern, when the mass
/// that is put on misses the correction by `missed`.
[[nodiscard]] double predicted_rest(const Correction& correction,
                                    const PlacedUnbalance& missed = {});

/// The trial mass should change the reading by this share or more, or its answer is mostly noise
/// (common practice, no source).
inline constexpr double kWeakTrial = 0.3;

/// The mass that balances, at `radius` from the axis.
/// Faults (input): no readings; a reading, mass or radius that is not finite, or not above zero
/// where it must be; a trial that changed nothing, or less than three times `sigma`.
[[nodiscard]] Result<Correction> correct(std::span<const TrialPair> runs, const PlacedMass& trial,
                                         Length radius, const ReadingQuality& quality = {});

} // namespace whirler::balance
