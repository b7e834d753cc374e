// A second natural speed, where one mount does not fit a run-up: softer in one direction, with the
// sensor between the two, or a second mode of the spindle.
//
// Second mounts are laid beside the best one from soft to stiff, each with a K of its own. Where
// one of them takes away more than noise can give, both mounts are searched for together, with
// weights and jolts judged anew: what the first fit took for noise at some speeds was its misfit.
#pragma once

#include "run_up_search.hpp"
#include "whirler/tach/run_up.hpp"

#include <optional>

namespace whirler::tach {

struct SecondFound {
  Pair at; ///< first the one that moves the marks more
  double cost = 0.0;
  Angle left;          ///< by one mount, rms once per turn
  double chance = 1.0; ///< that noise alone makes the pair so much better than one mount
};

/// The pair that fits best, where it fits beyond all doubt better than any one mount; `best` is the
/// one that was found. Leaves the turns weighed for the pair then, and as they were otherwise.
[[nodiscard]] std::optional<SecondFound> find_second(RunUpProblem& problem, Search search,
                                                     const Trial& best);

/// What a fit leaves beyond noise, where that is certain and large enough to matter.
[[nodiscard]] std::optional<Misfit> left_over(const RunUpProblem& problem, const Mounts& mounts);

} // namespace whirler::tach
