#include "student.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace whirler::exposure {

double student_95(double freedom) {
  static constexpr std::array<double, 10> kTable = {12.706, 4.303, 3.182, 2.776, 2.571,
                                                    2.447,  2.365, 2.306, 2.262, 2.228};
  const double f = std::max(1.0, std::floor(freedom));
  if (f <= 10.0)
    return kTable[static_cast<std::size_t>(f) - 1];
  return 1.95996 + 2.3723 / f + 3.1 / (f * f);
}

} // namespace whirler::exposure
