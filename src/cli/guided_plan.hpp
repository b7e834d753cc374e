// What guided balancing does before anything turns: whether the tach can serve, at which speeds to
// dwell, which trial mass to propose.
#pragma once

#include "context.hpp"
#include "plate_input.hpp"
#include "whirler/balance/influence.hpp"
#include "whirler/balance/places.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// Fault (input): a tach that cannot tell the heavy side's angle, with what to do instead.
[[nodiscard]] Outcome check_tach(const machine::Tach& tach);

/// Fault (command line): every question answered ahead (`yes`) on a machine that turns.
[[nodiscard]] Outcome check_yes(bool yes, const machine::Machine& machine);

/// What a person asked for beside the machine and the plate.
struct GuidedWishes {
  std::optional<Speed> speed;
  std::optional<balance::PlacedMass> trial;
  std::optional<Length> radius;
  std::optional<Velocity> grade;
  std::vector<balance::Place> places;
  balance::PlaceLimits limits;
};
/// Fault (input): a wish that the reckoning would refuse once the runs were made, and places that
/// do not reach all round.
[[nodiscard]] Outcome check_wishes(const GuidedWishes& wishes, const machine::Limits& limits);

/// Speeds to dwell at, rising: about the mount's natural speed where that is known, else spread
/// evenly; none above `asked` (the last one, where the mount leaves it) or the machine's limit.
/// Fault (input): no room for three of them.
[[nodiscard]] Result<std::vector<Speed>> dwells_of(const machine::Machine& machine,
                                                   const std::optional<Speed>& asked);

/// A profile file's text with these dwells.
[[nodiscard]] std::string dwell_profile(const std::vector<Speed>& speeds, Ramp highest_ramp);

/// A trial whose pull at the highest dwell is a tenth of the rotor's weight, or half as large as
/// the plate is off by its drawing (common practice, no source). It turns no faster than that; for
/// a higher speed it would be too small to be seen at the dwells. `plate` has a machine.
[[nodiscard]] balance::PlacedMass proposed_trial(const Plate& plate, Length radius,
                                                 Speed highest_dwell);

/// Whether a trial mass can be put on and turned. Faults (input): no mass, no radius, an angle over
/// a turn; a radius far off the plate; a pull at the highest dwell that is far over what the
/// machine should turn: over its stop limit, else ten times its grade, else the weight of all that
/// turns (common practice, no source).
[[nodiscard]] Outcome check_trial(const balance::PlacedMass& trial, const Plate& plate,
                                  Speed highest_dwell);

/// "it pulls 1.23 N at 1500 rpm, 0.4 of the weight of all that turns".
[[nodiscard]] std::string pull_text(const balance::PlacedMass& trial, const Plate& plate,
                                    Speed highest_dwell);

} // namespace whirler::cli
