// Quantities as answers write them: three digits and the unit.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/text.hpp"

#include <string>

namespace whirler::cli {

[[nodiscard]] inline std::string mm_text(Length length) { return number_text(length.mm()) + " mm"; }

[[nodiscard]] inline std::string s_text(Duration time) { return number_text(time.s()) + " s"; }

} // namespace whirler::cli
