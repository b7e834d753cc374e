// Where the once-per-turn vector of a dwell steps: the blocks' vectors cut into the stretches that
// are each as good as constant.
#pragma once

#include "dwell_fit.hpp"

#include <cstddef>
#include <vector>

namespace whirler::tach {

struct VectorStep {
  std::size_t block = 0; ///< the first one after the step
  OnceVector change;
};

/// Steps from block `from` on; none where the vectors hold still, wander, drift or turn about, or
/// where noise alone might make as much (1e-6).
[[nodiscard]] std::vector<VectorStep> steps_of(const DwellFit& fit, std::size_t from);

} // namespace whirler::tach
