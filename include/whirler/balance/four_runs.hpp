// Balancing by amplitude alone: one run as the rotor is, three with the same trial mass, a third of
// a turn apart. For a machine whose meter, or whose single mark, gives no phase.
//
// With V_i^2 = V0^2 + T^2 + 2 V0 T cos(theta_i - phi) the three squares hold T cos(phi) and
// T sin(phi) in their first harmonic and T^2 in their mean: T is found twice. The two findings
// agree only if the machine answered in a straight line and no reading was bad, so their ratio
// (`consistency`) is the check. Rejected: drawing circles and reading off where they nearly meet,
// the usual way: it finds a point whatever the readings are.
//
// The pattern of uneven marks must have been taken out of each reading as a vector: left in, it
// acts as more of V0, and the correction is wrong.
#pragma once

#include "whirler/balance/influence.hpp"

#include <array>

namespace whirler::balance {

/// Sizes of the readings: as it is, then with the trial mass at its angle, a third of a turn on
/// with the rotation, and two thirds on.
using FourSizes = std::array<double, 4>;

struct FourRunCorrection {
  Correction correction;
  double consistency = 0.0; ///< 1 when the readings fit a linear machine exactly
};

/// Beyond these the readings do not belong to one linear machine.
inline constexpr double kConsistencyLow = 0.8;
inline constexpr double kConsistencyHigh = 1.25;

/// Faults (input): a size that is not finite or below zero, or zero before the trials; a mass or
/// radius not above zero; readings whose consistency is outside the limits above, or that the trial
/// did not change.
[[nodiscard]] Result<FourRunCorrection> correct(const FourSizes& sizes, const PlacedMass& trial,
                                                Length radius, const ReadingQuality& quality = {});

} // namespace whirler::balance
