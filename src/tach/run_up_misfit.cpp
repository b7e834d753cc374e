#include "run_up_problem.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {

RunUpProblem::LackOfFit RunUpProblem::lack_of_fit(const Mounts& mounts) const {
  constexpr std::size_t kTogether = 8; // turns; what rotates against the turn shows within some 20
  const std::size_t parts = plumb_columns();
  const std::size_t rows = basis_->rows;
  const BorderSolution best = solve_with(mounts).border;
  LackOfFit out;
  double between = 0.0;
  double within = 0.0;
  double turns = 0.0; // of the groups
  for (const Window& window : windows_) {
    const auto left = left_of(window, mounts, best);
    const auto value = [&](std::size_t turn, std::size_t part) {
      return window.weight[turn] * left[turn * rows + 1 + part];
    };
    for (std::size_t from = 0; from + kTogether <= window.rows.turns(); ++from) {
      const auto out_of = window.left_out.begin() + static_cast<std::ptrdiff_t>(from);
      if (std::any_of(out_of, out_of + kTogether, [](char c) { return c != 0; }))
        continue;
      for (std::size_t part = 0; part < parts; ++part) {
        double sum = value(from, part);
        for (std::size_t i = 1; i < kTogether; ++i) {
          sum += value(from + i, part);
          within += 0.5 * std::pow(value(from + i, part) - value(from + i - 1, part), 2);
        }
        between += sum * sum / static_cast<double>(kTogether);
      }
      out.groups += static_cast<double>(parts);
      turns += static_cast<double>(parts * (kTogether - 1));
      from += kTogether - 1;
    }
  }
  if (out.groups < 4.0)
    return out;
  out.turns = turns;
  out.between = between / out.groups;
  out.within = within / turns;
  out.rms = std::sqrt(std::max(0.0, out.between - out.within) / static_cast<double>(kTogether)) /
            basis_->order_one_scale;
  return out;
}

} // namespace whirler::tach
