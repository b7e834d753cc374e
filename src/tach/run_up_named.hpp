// Whether a run-up was made on the mount that the machine's file names. The fit that is held to the
// name judges jolts and weights by it, and may stay in a valley beside the true one; so where
// another mount may fit better the run-up is fitted anew as if no mount were named, and both are
// held against the same turns.
#pragma once

#include "run_up_problem.hpp"
#include "whirler/tach/run_up.hpp"
#include "whirler/tach/spinner_model.hpp"

namespace whirler::tach {

[[nodiscard]] SpinnerModel unnamed(SpinnerModel model);

/// What a quick look at all mounts finds.
struct OtherMount {
  double gain = 0.0; ///< chi^2 by which it fits better than the fit held to the name
  bool far = false;  ///< it is not the one that is named
  [[nodiscard]] bool may_fit() const;
  /// So much better that the name proves nothing: `any`, fitted anew, sees more unbalance by far.
  [[nodiscard]] bool refutes_name(const RunUp& any, const RunUp& named) const;
};
/// `fresh`: all turns, with no weights or jolts that were judged by any mount. `model` names one,
/// here and below.
[[nodiscard]] OtherMount look_for_other(const RunUpProblem& fresh, const RunUp& named,
                                        const SpinnerModel& model);

/// Whether `any` fits these turns beyond all doubt better.
[[nodiscard]] bool fits_beyond_doubt(const RunUpProblem& fresh, const RunUp& any,
                                     const RunUp& named, const SpinnerModel& model);

/// Whether the run-up shows its mount, or both, away from the name that it was held to.
[[nodiscard]] bool overcame_name(const RunUp& named, const SpinnerModel& model);

} // namespace whirler::tach
