// What a stored coat's page says of its vibration.
#pragma once

#include "coat_reading.hpp"
#include "whirler/report/page.hpp"

#include <optional>

namespace whirler::cli {

/// The verdict as `judgement_of` has it.
[[nodiscard]] report::Headline vibration_headline(const notebook::Coat& coat,
                                                  const CoatReading& reading);

/// Figures, causes and drawings; none without pulses.
[[nodiscard]] std::optional<report::Section> vibration_section(const CoatReading& reading);

} // namespace whirler::cli
