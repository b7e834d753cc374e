// The answer of `blank`: figures, and how they are said, written and drawn.
#pragma once

#include "context.hpp"
#include "plate_from_run.hpp"
#include "plate_input.hpp"
#include "whirler/balance/cures.hpp"
#include "whirler/blank/air.hpp"
#include "whirler/report/plate_drawing.hpp"

#include <optional>

namespace whirler::cli {

struct BlankAnswer {
  blank::Blank blank;
  blank::Properties properties;
  std::optional<machine::Machine> machine;
  Speed speed;
  blank::TurbulentZone turbulent;
  balance::Cures cures;                   ///< in the plate's frame
  std::optional<Length> edge_uncertainty; ///< of the hole's place, where edge distances tell it
  bool turned_over = false;
  std::optional<HoleFromRun> from_run = std::nullopt;

  /// Whether it is known towards where the plate is heavy.
  [[nodiscard]] bool direction_told() const;
};

void say_blank(const BlankAnswer& answer, const Context& context);
[[nodiscard]] Json to_json(const BlankAnswer& answer);
[[nodiscard]] report::Drawing drawing(const BlankAnswer& answer);

} // namespace whirler::cli
