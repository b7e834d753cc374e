// Balance quality grades, both ways round (ISO 21940-11, formerly ISO 1940-1).
//
// A grade G is a velocity: the offset that the whole rotor's centre of mass may have, times its
// angular speed. A rotor of twice the mass may carry twice the unbalance; at twice the speed, half.
//
//     e = G / omega        U = m e        n_max = G m / U
//
// m is all that turns, hub, disc and plate together: a light plate on a heavy rotor is judged as
// the rotor. The grade says nothing of a casing's vibration in mm/s (ISO 20816 is another thing,
// with the same unit), and this program claims none of those zones.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <optional>
#include <span>

namespace whirler::balance {

/// Offset of the rotor's centre of mass that the grade allows at this speed.
/// Faults (input): a grade or speed that is not finite and above zero.
[[nodiscard]] Result<Length> permissible_offset(Velocity grade, Speed speed);

/// Unbalance that the grade allows. Faults as above, and a mass that is not finite and above zero.
[[nodiscard]] Result<Unbalance> permissible_unbalance(Velocity grade, Speed speed, Mass rotor);

/// The grade at which a rotor with this unbalance runs. Faults: speed and mass as above, an
/// unbalance that is not finite.
[[nodiscard]] Result<Velocity> grade_at(Unbalance unbalance, Speed speed, Mass rotor);

/// The highest speed that the grade allows; none where there is no unbalance, since then the grade
/// sets no limit. Faults as above.
[[nodiscard]] Result<std::optional<Speed>> highest_speed(Unbalance unbalance, Velocity grade,
                                                         Mass rotor);

/// The standard's steps, finest first.
[[nodiscard]] std::span<const Velocity> standard_grades();

/// The finest standard grade that this velocity keeps; none beyond the coarsest.
[[nodiscard]] std::optional<Velocity> standard_grade_for(Velocity velocity);

} // namespace whirler::balance
