// Quantiles of Student's distribution, for the few points that a wedge has.
#pragma once

namespace whirler::exposure {

/// Two-sided 95 % quantile. Standard table for 1 to 10; beyond, 1.96 + 2.4/f + 3/f^2 follows it
/// within 0.002. `freedom` at least 1.
[[nodiscard]] double student_95(double freedom);

} // namespace whirler::exposure
