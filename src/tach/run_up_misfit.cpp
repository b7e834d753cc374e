#include "complex_vector.hpp"
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

std::vector<std::vector<RunUpProblem::RestTurn>>
RunUpProblem::rest_of_ramps(const Mounts& mounts) const {
  std::vector<std::vector<RestTurn>> out;
  const std::size_t rows = basis_->rows;
  const BorderSolution best = solve_with(mounts).border;
  if (plumb_columns() < 2 || !best.solvable)
    return out;
  for (const Window& window : windows_) {
    const auto left = left_of(window, mounts, best);
    std::vector<RestTurn> turns(window.rows.turns());
    for (std::size_t i = 0; i < turns.size(); ++i)
      turns[i] = {window.rows.speed[i],
                  Complex{left[i * rows + 1], left[i * rows + 2]} / basis_->order_one_scale,
                  window.left_out[i] != 0};
    out.push_back(std::move(turns));
  }
  return out;
}

/// What turns nu times a turn shifts the once-per-turn vector by exp(-j 2 pi (nu - 1)) each turn.
double RunUpProblem::order_of_rest(const Mounts& mounts) const {
  constexpr double kWidest = 0.3;
  constexpr double kNearest = 1.5; // turns about in the ramp; less is a mount's own turning phase
  constexpr double kShare = 0.4;   // of its power
  constexpr std::size_t kMostLooked = 1000;
  const auto longest =
      std::max_element(windows_.begin(), windows_.end(), [](const Window& a, const Window& b) {
        return a.rows.turns() < b.rows.turns();
      });
  if (longest == windows_.end() || plumb_columns() < 2)
    return 0.0;
  const auto left = left_of(*longest, mounts, solve_with(mounts).border);
  const std::size_t n = std::min(longest->rows.turns(), kMostLooked);
  std::vector<Complex> rest(n);
  double power = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    if (longest->left_out[i] == 0)
      rest[i] = {left[i * basis_->rows + 1], left[i * basis_->rows + 2]};
    power += std::norm(rest[i]);
  }
  const double count = static_cast<double>(n);
  double best = kShare * power * count;
  double order = 0.0;
  for (double off = -kWidest; off <= kWidest; off += 0.25 / count) {
    if (std::abs(off) * count < kNearest)
      continue;
    if (const double found = power_turning(rest, -off); found > best) {
      best = found;
      order = 1.0 + off;
    }
  }
  return order;
}

} // namespace whirler::tach
