// The film on a coat's page: as it lies there after every pour, and what was measured of it.
#pragma once

#include "coat_reading.hpp"
#include "whirler/report/page.hpp"

#include <optional>

namespace whirler::cli {

/// In words; none where nothing is known of it.
[[nodiscard]] std::optional<report::Headline> film_headline(const notebook::Coat& coat,
                                                            const CoatReading& reading);
/// None without a resist.
[[nodiscard]] std::optional<report::Section> film_section(const CoatReading& reading);
/// The pours that the coat's film lies on, and its own; none where it is the only one.
[[nodiscard]] std::optional<report::Section> pours_section(const notebook::Coat& coat,
                                                           const CoatReading& reading);

} // namespace whirler::cli
