// The plate from above: outline, holes, heavy side, where a counter-mass goes, and where the air
// turns turbulent. The hole's offset is too small to see at the plate's own scale: a lens shows it
// enlarged.
#pragma once

#include "whirler/blank/air.hpp"
#include "whirler/blank/properties.hpp"
#include "whirler/report/svg.hpp"

#include <optional>

namespace whirler::report {

struct CounterMass {
  Mass mass;
  Length radius;
};

struct PlateDrawing {
  blank::Blank blank; ///< with its hole in its place
  blank::Properties properties;
  std::optional<Speed> speed; ///< at which the turbulent zone is shown
  std::optional<CounterMass> counter;
  bool direction_told = true; ///< false: no heavy side is drawn
  bool turned_over = false;   ///< the side that is drawn lies below
};

[[nodiscard]] Drawing draw(const PlateDrawing& plate);

} // namespace whirler::report
