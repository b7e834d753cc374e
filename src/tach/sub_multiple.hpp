// Something that moves every second or third turn, out of the pulses of a dwell.
//
// The pulses' own angle, their pattern and mean speed taken off, is transformed over pieces of 48
// turns at orders 1/2 and 1/3 and at orders beside them. Those beside say what noise there is,
// hunting and all, so the ratio is an F of known chance: no fixed amplitude decides.
#pragma once

#include "survey.hpp"

namespace whirler::tach {

struct SubMultiple {
  int of = 0;             ///< 2 or 3; 0 none
  double amplitude = 0.0; ///< rad
};

[[nodiscard]] SubMultiple sub_multiple(const Survey::Part& part, const Dwell& dwell);

} // namespace whirler::tach
