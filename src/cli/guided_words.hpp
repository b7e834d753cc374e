// What guided balancing says when a correction has been measured, and when it ends.
#pragma once

#include "balance_answer.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

[[nodiscard]] bool over_grade(const BalanceAnswer& answer, const balance::PlacedUnbalance& after);
/// How much is left with a correction on, and whether that keeps the grade.
[[nodiscard]] std::string measured_line(const BalanceAnswer& answer,
                                        const balance::PlacedUnbalance& after);

/// Over the grade, and no further run follows: what is still to be done. `answer` has a grade and a
/// machine, and what is missing as its mass to add.
[[nodiscard]] std::vector<std::string> way_on_lines(const BalanceAnswer& answer,
                                                    const balance::PlacedUnbalance& after,
                                                    const std::vector<balance::PlacedMass>& add);

struct GuidedEnd {
  std::vector<std::int64_t> coats;
  std::optional<balance::PlacedMass> trial; ///< told to be put on, and not known to be off
  std::vector<balance::PlacedMass> told;    ///< the correction, as last told to be put on
  bool early = false;
};
/// What is kept, and what may be on the rotor still.
[[nodiscard]] std::vector<std::string> last_lines(const GuidedEnd& end);

} // namespace whirler::cli
