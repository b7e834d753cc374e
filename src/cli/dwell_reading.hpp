// The once-per-turn vector of a stored run at a speed: the longest steady stretch near it.
#pragma once

#include "whirler/tach/order_one.hpp"
#include "whirler/tach/pulses.hpp"

namespace whirler::cli {

/// A turn belongs to a dwell when its speed is within this share of the speed asked for.
inline constexpr double kSteady = 0.02;
/// The first turns of a dwell still hold the end of the ramp.
inline constexpr Duration kSettling = seconds(1.0);

/// The pulses of the longest stretch of turns near `speed`, its first second left out. Empty where
/// there is none of four turns or more.
[[nodiscard]] tach::PulseTrain dwell_pulses(const tach::PulseTrain& pulses, int marks_per_turn,
                                            Speed speed);

/// Faults (input): the run never held that speed; order_one's.
[[nodiscard]] Result<tach::OrderOne> dwell_reading(const tach::PulseTrain& pulses,
                                                   int marks_per_turn, Speed speed);

} // namespace whirler::cli
