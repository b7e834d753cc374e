// Quantities as people type and read them: "1.4um", "3000 rpm", "45s", "22C". Independent of the
// locale in both directions: the decimal mark is always a point.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <string>
#include <string_view>

namespace whirler {

/// Reads "<number><unit>", blanks allowed around and between. The unit is never guessed.
/// Available for Duration, Speed, Ramp, Angle, Frequency, Length, Area, Volume, Mass, Density,
/// Viscosity, Temperature, Irradiance, Dose, Torque, Velocity, Force.
/// Fault (command_line): no number, not finite, unit missing or unknown; `next` lists the units.
template <class Q>
[[nodiscard]] Result<Q> parse(std::string_view text);

/// A plain number, all of the text; fault (command_line) otherwise.
[[nodiscard]] Result<double> parse_number(std::string_view text);

/// `value` with `digits` significant digits, no exponent between 1e-4 and 1e7, no trailing zeros:
/// 2.31983 -> "2.32", 3000 -> "3000". Not-a-number gives "?".
[[nodiscard]] std::string number_text(double value, int digits = 3);

} // namespace whirler
