// What of a plate is farthest from the spindle, in words: a disc has no corners.
#pragma once

#include "whirler/blank/blank.hpp"

#include <variant>

namespace whirler::cli {

/// "edge" of a disc, "corners" of every other outline.
[[nodiscard]] inline const char* farthest_out(const blank::Blank& plate) {
  return std::holds_alternative<blank::Disc>(plate.outline) ? "edge" : "corners";
}

} // namespace whirler::cli
