// How much to pour, in words.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/text.hpp"

#include <cmath>
#include <string>

namespace whirler::cli {

/// "2.3 mL" for 2.22: two digits, as a syringe is read, and rounded up, so that what is printed is
/// enough.
[[nodiscard]] inline std::string poured_text(Volume volume) {
  const double step = std::pow(10.0, std::floor(std::log10(volume.mL())) - 1.0);
  return number_text(step * std::ceil(volume.mL() / step - 1e-9), 2) + " mL";
}

} // namespace whirler::cli
