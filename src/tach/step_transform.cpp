#include "step_transform.hpp"

#include <cmath>
#include <numbers>

namespace whirler::tach {

StepTransform::StepTransform(const TurnBasis& basis, Steps steps_wanted)
    : rows_(basis.rows), steps_(steps_a_turn(basis.marks, steps_wanted)),
      stride_(steps_ % basis.marks == 0 ? steps_ / basis.marks : 1),
      to_rows_(steps_ * basis.rows, 0.0), to_steps_(steps_ * basis.rows, 0.0) {
  const bool on_marks = steps_ % basis.marks == 0;
  const auto marks = static_cast<double>(basis.marks);
  const auto steps = static_cast<double>(steps_);
  for (std::size_t s = 0; s < steps_; ++s)
    for (std::size_t r = 0; r < rows_; ++r) {
      double& to_row = to_rows_[s * rows_ + r];
      double& to_step = to_steps_[s * rows_ + r];
      const double angle =
          2.0 * std::numbers::pi * static_cast<double>(s * ((r + 1) / 2) % steps_) / steps;
      const double wave = r % 2 == 1 ? std::cos(angle) : r == 0 ? 1.0 : std::sin(angle);
      const bool alone = r == 0 || r + 1 == basis.marks; // the mean, and the alternating order
      to_step = std::sqrt((alone && (r == 0 || r % 2 == 1) ? 1.0 : 2.0) / marks) * wave;
      to_row = !on_marks ? to_step * marks / steps : s % stride_ == 0 ? to_step : 0.0;
    }
}

double StepTransform::late(std::size_t step, std::span<const double> rows) const {
  double sum = 0.0;
  for (std::size_t r = 1; r < rows_; ++r)
    sum += to_steps_[step * rows_ + r] * rows[r];
  return sum;
}

void StepTransform::add_whirl(std::span<const Complex> g, std::span<const double> late,
                              std::span<double> re, std::span<double> im) const {
  for (std::size_t s = 0; s < steps_; ++s) {
    const Complex met{g[s].real() - g[s].imag() * late[s], g[s].imag() + g[s].real() * late[s]};
    const double* to = to_rows_.data() + s * rows_;
    for (std::size_t r = 0; r < rows_; ++r) {
      re[r] += to[r] * met.real();
      im[r] += to[r] * met.imag();
    }
  }
}

} // namespace whirler::tach
