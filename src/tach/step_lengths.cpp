#include "step_lengths.hpp"

#include <algorithm>

namespace whirler::tach {

void keep_between_neighbours(const TurnRows& rows, std::size_t turn, std::span<double> step_s) {
  constexpr double kMost = 4.0; // how far a step may be off what the turns beside it take
  const auto length = [&](std::size_t i) { return rows.knots[i + 1] - rows.knots[i]; };
  const double now = length(turn);
  const double before = turn > 0 ? length(turn - 1) : now;
  const double after = turn + 1 < rows.turns() ? length(turn + 1) : now;
  const auto [shortest, longest] = std::minmax({before, now, after});
  const auto steps = static_cast<double>(step_s.size());
  const auto [least, most] = std::minmax_element(step_s.begin(), step_s.end());
  if (*least * kMost >= shortest / steps && *most <= kMost * longest / steps)
    return;
  double sum = 0.0;
  for (std::size_t s = 0; s < step_s.size(); ++s) {
    const double share = (static_cast<double>(s) + 0.5) / steps;
    step_s[s] = 1.0 / ((1.0 - share) / before + share / after);
    sum += step_s[s];
  }
  for (double& step : step_s)
    step *= now / sum;
}

} // namespace whirler::tach
