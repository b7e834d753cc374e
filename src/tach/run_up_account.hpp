// What a fit of a run-up comes to, in the terms of RunUp.
#pragma once

#include "run_up_moved.hpp"
#include "run_up_search.hpp"
#include "whirler/tach/run_up.hpp"

#include <vector>

namespace whirler::tach {

/// The best fit of one mount or two, and what else was tried.
struct BestFit {
  std::vector<Point> at;
  double cost = 0.0;
  std::vector<Trial> tried{}; ///< single mounts
};

[[nodiscard]] Mounts mounts_of(const FittingMount& mount);

/// `without`: the same turns without any unbalance.
[[nodiscard]] RunUp describe(const Search& search, const BestFit& best,
                             const RunUpProblem::Solution& without, double order_one_scale);

/// The same of a plate that moved: K since then, on one mount, with what its numbers leave open.
[[nodiscard]] RunUp describe_moved(const RunUpProblem& problem, const MovedFound& found,
                                   double order_one_scale);

} // namespace whirler::tach
