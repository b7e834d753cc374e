// How long a coated plate has been lying: liquid resists keep for a time that their data sheet
// states, and not for longer, between the coat and the lamp.
#pragma once

#include "whirler/notebook/coat.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

/// Never below zero: a clock may have been put back.
[[nodiscard]] Duration since(notebook::Instant then, notebook::Instant now);

/// Since its run began. None where no coated plate lies there: a simulation, a run without resist,
/// one that turns now, a film that was washed off or poured over, a side that was cancelled.
[[nodiscard]] std::optional<Duration> lying_for(const notebook::Coat& coat, notebook::Instant now);
[[nodiscard]] std::optional<Duration> lying_for(const notebook::CoatLine& line,
                                                notebook::Instant now);

/// "40 s", "12 min", "3 h 20 min", "2 d 5 h".
[[nodiscard]] std::string age_text(Duration age);

} // namespace whirler::cli
