// What follows on the runs of a board: its film by weight, what that teaches, seconds under the
// lamp.
#pragma once

#include "board_plan.hpp"
#include "side_story.hpp"

#include <optional>
#include <span>
#include <string>

namespace whirler::cli {

struct Weighed {
  Mass before;
  Mass after;
};

/// Mean dry film over the sides that are coated. Faults (input): no side is coated; the masses do
/// not make a film.
[[nodiscard]] Result<Length> film_by_weight(const Weighed& weighed, const BoardPlan& plan,
                                            std::span<const SideStory> sides);

/// What the planned film adds on so many sides; none where it cannot be told.
[[nodiscard]] std::optional<Mass> film_mass(const BoardPlan& plan, std::size_t sides);

/// Why this mass is hardly that of the plate in the plan's file: half or double it, which is a slip
/// of the finger sooner than a plate.
[[nodiscard]] std::optional<Fault> doubt_of_plate(Mass bare, const BoardPlan& plan);

/// How the film by weight, sure but for so small a share of it, stands to the one wanted; empty
/// where none was.
[[nodiscard]] std::string weight_advice(Length film, double unsure_share, const BoardPlan& plan);

/// What masses that were given ahead would say of so many planned films: nothing is spun for a slip
/// of the pen. Fault (input): no film, or none of this plan.
[[nodiscard]] Outcome check_weighed_ahead(const Weighed& weighed, const BoardPlan& plan,
                                          std::size_t films);

/// The estimates of the coated sides as one: what the film by weight, a mean, stands against. None
/// where one of them has no estimate.
[[nodiscard]] std::optional<film::Estimate> mean_estimate(std::span<const SideStory> sides);

/// Why films that were weighed together cannot teach the resist; none where they can: one pour a
/// side by the plan, at one speed.
[[nodiscard]] std::optional<std::string> cannot_teach(const BoardPlan& plan,
                                                      std::span<const SideStory> sides);

/// At which the coated sides were spun, as they ran.
[[nodiscard]] Speed mean_speed(std::span<const SideStory> sides);

/// Adds the board to those kept beside the resist. Faults as `replace_file`.
[[nodiscard]] Outcome teach(const Context& context, const BoardPlan& plan, Length film,
                            Speed spun_at);

/// {"time_s", "interval_s", "dose_mJ_cm2"} for a film. Fault (input): no lamp or no wedge, and what
/// to add; the curve's own.
[[nodiscard]] Result<Json> exposure_for(const BoardPlan& plan, Length film);

} // namespace whirler::cli
