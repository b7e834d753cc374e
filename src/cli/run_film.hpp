// What film a run has left, told where the run ends: the same reading of the record that the report
// makes.
#pragma once

#include "coat_reading.hpp"
#include "context.hpp"
#include "whirler/notebook/notebook.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

/// Of a stored coat; none without a resist, or where it cannot be read or estimated.
[[nodiscard]] std::optional<FilmAnswer> film_of(notebook::Notebook& notebook,
                                                const std::optional<std::int64_t>& coat);

/// {"thickness_um", "interval_um", "model", "is_set", "set_time_s"}; null where there is none.
[[nodiscard]] Json film_json(const std::optional<FilmAnswer>& film);
/// "2.4 um dry (95 %: 2 to 2.9), set".
[[nodiscard]] std::string film_text(const film::Estimate& film, bool is_set);

} // namespace whirler::cli
