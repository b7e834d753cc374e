#include "complex_vector.hpp"

#include <numbers>

namespace whirler::tach {

double power_turning(std::span<const Complex> vectors, double turns) {
  const Complex back = std::polar(1.0, -2.0 * std::numbers::pi * turns);
  Complex turned{1.0, 0.0};
  Complex sum;
  for (const Complex& v : vectors) {
    sum += v * turned;
    turned *= back;
  }
  return std::norm(sum);
}

} // namespace whirler::tach
