// What a workshop's scales can say of a film, which is the small difference of two readings.
#pragma once

#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace whirler::cli {

/// The last digit that was typed, "24.000g" -> 1 mg: taken for the scales' own. Zero where it
/// cannot be told.
[[nodiscard]] Mass last_digit(std::string_view text);

/// What the last digit of both readings leaves unsure, as a share of what lies between them (95 %).
[[nodiscard]] double unsure_share(Mass digit, Mass between);

/// Says so where the film is unsure by more than one part in twenty for it.
[[nodiscard]] std::optional<std::string> coarse_scales(Mass digit, Mass between);

} // namespace whirler::cli
