// The bare hub's pulses, kept with a coat that was judged against them.
//
// The file of the role "baseline" is a table of pulses as `jitter --baseline` takes it, wherever
// they came from: a table read again, or another coat's, which the record must not depend on.
#pragma once

#include "whirler/machine/machine.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/tach/pulses.hpp"
#include "whirler/units/result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

inline constexpr const char* kBaselineRole = "baseline";

/// Columns t_s, to the picosecond, and mark; the first pulse is at 0.
[[nodiscard]] std::string baseline_table(const tach::PulseTrain& pulses);

/// None where the coat kept none; where it cannot be read, `notes` gets the reason.
[[nodiscard]] std::optional<tach::PulseTrain> kept_baseline(const notebook::Coat& coat,
                                                            std::vector<std::string>& notes);

/// Whether a coat may stand as the baseline of a run on `machine` (null: not known). Faults
/// (input): a plate or a balancing mass was on, whose unbalance would come off the run's as if it
/// were the marks'; the spindle turned the other way.
[[nodiscard]] Outcome check_bare_hub(const notebook::Coat& coat, const machine::Machine* machine);

} // namespace whirler::cli
