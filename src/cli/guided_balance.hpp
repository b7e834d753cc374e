// Balancing at the machine, step by step: a run as it is, a run with a trial mass, a run with the
// correction. Each is kept in the notebook.
//
// Every run dwells at several speeds, some below and some above the mount's natural speed where
// that is known. The marks' own pattern is the same at all of them and is found together with the
// unbalance (balance/pattern_free.hpp), so marks made by hand will do, and no slow running has to
// stand for them.
#pragma once

#include "balance_answer.hpp"
#include "run_job.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct GuidedWords {
  RunWords run;               ///< machine, blank, simulation, lid
  std::optional<Speed> speed; ///< the working speed
  std::optional<balance::PlacedMass> trial;
  std::optional<Length> radius; ///< where masses can go
  std::vector<balance::Place> places;
  balance::PlaceLimits limits;
  std::optional<Velocity> grade;
  PlateOptions plate;
  std::string svg;  ///< file to draw the answer into; may be empty
  bool yes = false; ///< every question is answered by its proposal
};

/// Gives the exit status.
[[nodiscard]] int guided_balance(const GuidedWords& words, const Context& context);

} // namespace whirler::cli
