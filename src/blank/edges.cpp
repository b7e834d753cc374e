#include "whirler/blank/edges.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <variant>

namespace whirler::blank {
namespace {

struct Across {
  Length low;
  Length high;
  Length size;
  const char* names;
};

Length closure(const Across& across, Length diameter) {
  return across.low + diameter + across.high - across.size;
}

/// A reading to the hole's middle is longer by half its diameter.
std::string what_to_measure(Length misses, Length diameter) {
  const auto about = [&](Length length) {
    return std::abs((misses - length).mm()) <= kClosureLimit.mm();
  };
  if (about(diameter))
    return "these look measured to the hole's middle: measure to its nearest edge";
  if (about(0.5 * diameter))
    return "one of them looks measured to the hole's middle: measure to its nearest edge";
  return "measure again: they must agree to 0.5 mm";
}

Outcome check(const Across& across, Length diameter) {
  for (const Length reading : {across.low, across.high})
    if (!(reading.is_finite() && reading.mm() > 0.0))
      return input_fault("an edge distance is " + number_text(reading.mm(), 6) + " mm", "blank",
                         "measure from the plate's edge to the nearest edge of the hole");
  const Length misses = closure(across, diameter);
  if (std::abs(misses.mm()) <= kClosureLimit.mm())
    return Done{};
  return input_fault(std::string(across.names) + " and the hole's diameter add up to " +
                         number_text((across.size + misses).mm(), 6) + " mm, but the plate is " +
                         number_text(across.size.mm(), 6) + " mm",
                     "blank", what_to_measure(misses, diameter));
}

} // namespace

Result<HolePosition> hole_position(const Rectangle& outline, Length diameter,
                                   const EdgeDistances& edges) {
  const Across x{edges.left, edges.right, outline.width, "left, right"};
  const Across y{edges.bottom, edges.top, outline.height, "bottom, top"};
  for (const Across& across : {x, y})
    if (const Outcome fits = check(across, diameter); !fits)
      return fits.fault();
  const Length miss_x = closure(x, diameter);
  const Length miss_y = closure(y, diameter);
  const double larger = std::max(std::abs(miss_x.m()), std::abs(miss_y.m()));
  return HolePosition{{(edges.left - edges.right) / 2.0, (edges.bottom - edges.top) / 2.0},
                      miss_x,
                      miss_y,
                      metres(larger / 2.0)};
}

Length hole_doubt(const Blank& blank) {
  const auto* rectangle = std::get_if<Rectangle>(&blank.outline);
  if (!blank.edges || rectangle == nullptr)
    return Length{};
  const auto found = hole_position(*rectangle, blank.hole.diameter, *blank.edges);
  return found ? metres(0.5 * std::hypot(found->closure_x.m(), found->closure_y.m())) : Length{};
}

} // namespace whirler::blank
