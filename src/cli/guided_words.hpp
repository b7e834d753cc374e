// What guided balancing says when a correction has been measured, and when it ends.
#pragma once

#include "balance_answer.hpp"
#include "whirler/balance/pattern_free.hpp"
#include "whirler/notebook/coat.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// Whether a measured rest keeps the grade: for sure, not, or within what its error leaves open.
enum class Grade { kept, over, cannot_tell, none };
[[nodiscard]] Grade grade_of(const BalanceAnswer& answer, const balance::UnbalanceNow& after);
/// What is left stays below this 95 times in 100.
[[nodiscard]] Unbalance under(const balance::UnbalanceNow& after);

/// How much is left with a correction on, and whether that keeps the grade.
[[nodiscard]] std::string measured_line(const BalanceAnswer& answer,
                                        const balance::UnbalanceNow& after);

/// Not known to keep the grade, and no further run follows: what is still to be done. `answer` has
/// a grade and a machine; `next` says which masses would come.
[[nodiscard]] std::vector<std::string> way_on_lines(const BalanceAnswer& answer,
                                                    const balance::UnbalanceNow& after,
                                                    const std::string& next);

/// What may be on the rotor still, after a job whose last run was this coat's.
[[nodiscard]] std::vector<std::string> recall_lines(const notebook::Coat& coat);

struct GuidedEnd {
  std::vector<std::int64_t> coats;
  std::optional<balance::PlacedMass> trial; ///< told to be put on, and not known to be off
  std::vector<balance::PlacedMass> told;    ///< the correction, as last told to be put on
  bool early = false;
};
/// What is kept, and what may be on the rotor still.
[[nodiscard]] std::vector<std::string> last_lines(const GuidedEnd& end);

} // namespace whirler::cli
