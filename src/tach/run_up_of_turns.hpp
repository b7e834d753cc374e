// The run-up's fit of turns that are laid out already; run_up.hpp says what it finds.
#pragma once

#include "turn_rows.hpp"
#include "whirler/tach/run_up.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <cstddef>
#include <optional>

namespace whirler::tach {

[[nodiscard]] std::optional<RunUp> fit_run_up(const TurnSlots& slots, Duration tick,
                                              std::size_t marks, const SpinnerModel& model);

} // namespace whirler::tach
