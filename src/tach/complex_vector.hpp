// Once-per-turn vectors as complex numbers.
#pragma once

#include "mount_motion.hpp"
#include "whirler/tach/order_one.hpp"

#include <span>

namespace whirler::tach {

[[nodiscard]] inline OnceVector as_vector(Complex c) {
  return {radians(c.real()), radians(c.imag())};
}
[[nodiscard]] inline Complex as_complex(OnceVector v) { return {v.re.rad(), v.im.rad()}; }

/// |sum over k of v_k exp(-j 2 pi k turns)|^2: how much of the vectors turns by `turns` from each
/// to the next, as what turns nearly once a turn makes them. A vector of nothing is a hole.
[[nodiscard]] double power_turning(std::span<const Complex> vectors, double turns);

} // namespace whirler::tach
