// What both ways of balancing ask of their input, and how both write their answer.
#pragma once

#include "whirler/balance/influence.hpp"

namespace whirler::balance {

inline constexpr double kMostReading = 1e12;         ///< in any unit: no meter reads more
inline constexpr Mass kMostMass = kilograms(1000.0); ///< of a trial
inline constexpr Length kFarthest = metres(10.0);    ///< that a mass can sit from the axis

/// An angle that a person may write; where a turn is lost in the last digit it says nothing.
[[nodiscard]] inline bool is_angle(Angle angle) {
  return angle.is_finite() && angle < turns(1e6) && angle > turns(-1e6);
}

[[nodiscard]] Outcome check_masses(const PlacedMass& trial, Length radius,
                                   const ReadingQuality& quality);

} // namespace whirler::balance
