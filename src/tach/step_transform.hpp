// From the steps of a turn that the mount's equation is integrated over to the turn's rows, and
// back.
#pragma once

#include "mount_motion.hpp"
#include "turn_rows.hpp"

#include <vector>

namespace whirler::tach {

/// Few marks are every so-manieth step; many are more than are needed, and the steps stand for them
/// order by order.
class StepTransform {
 public:
  explicit StepTransform(const TurnBasis& basis, Steps steps = Steps::fine);

  [[nodiscard]] std::size_t steps() const { return steps_; }
  /// Steps from one that falls on a mark to the next.
  [[nodiscard]] std::size_t stride() const { return stride_; }
  /// Lateness about the turn's mean at a step, rad, from the turn's rows.
  [[nodiscard]] double late(std::size_t step, std::span<const double> rows) const;
  /// Adds the rows of the whirl's two columns, Re and Im of g, met where the marks are seen to be.
  void add_whirl(std::span<const Complex> g, std::span<const double> late, std::span<double> re,
                 std::span<double> im) const;

 private:
  std::size_t rows_;
  std::size_t steps_;
  std::size_t stride_;
  std::vector<double> to_rows_; ///< step after step
  std::vector<double> to_steps_;
};

} // namespace whirler::tach
