// What to do about a plate that is off balance, for people: the same list wherever it is said.
#pragma once

#include "whirler/balance/cures.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// What only the command that asks can say.
struct CureWords {
  std::function<std::string(Length, Angle)> way; ///< "2 mm to the right (12 deg)"
  Length hole;                                   ///< its diameter
  std::string counter;                           ///< how the counter-mass is offered
  std::string no_counter;                        ///< or why it is not
  std::string slower_unknown;                    ///< behind "run slower" where no speed is known
  std::optional<Speed> kept_up_to = {};          ///< where the grade is known to be kept there
  std::optional<Speed> least = {};               ///< that the machine can run
  bool new_hole_fits = true;                     ///< a new blank has material there
};

/// Numbered, the easiest first, below a head line; a cure that cannot be done is named with why
/// not, and has no number. Running slower is offered only where the grade is not kept.
[[nodiscard]] std::vector<std::string> cure_lines(const balance::Cures& cures,
                                                  const CureWords& words);

} // namespace whirler::cli
