#include "run_up_problem.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {

void RunUpProblem::weigh_by_speed(const Mounts& mounts) {
  constexpr std::size_t kBinTurns = 8;
  constexpr std::size_t kMostBins = 12;
  constexpr double kMedian = 0.79; // of a mean square of three, over its mean
  struct Seen {
    double speed;
    double square;
  };
  const BorderSolution best = solve_with(mounts).border;
  std::vector<Seen> seen;
  for (const Window& window : windows_) {
    const auto square = misfit(window, mounts, best);
    for (std::size_t i = 0; i < square.size(); ++i)
      if (window.left_out[i] == 0)
        seen.push_back({window.rows.speed[i], square[i] / std::pow(window.weight[i], 2) /
                                                  static_cast<double>(basis_->rows)});
  }
  if (seen.size() < 2 * kBinTurns)
    return;
  std::sort(seen.begin(), seen.end(), [](Seen a, Seen b) { return a.speed < b.speed; });
  const std::size_t bins = std::clamp<std::size_t>(seen.size() / kBinTurns, 2, kMostBins);
  std::vector<Seen> noise; // a bin: its middle speed, its mean square
  for (std::size_t b = 0; b < bins; ++b) {
    std::vector<double> squares;
    const std::size_t from = b * seen.size() / bins;
    const std::size_t to = (b + 1) * seen.size() / bins;
    for (std::size_t i = from; i < to; ++i)
      squares.push_back(seen[i].square);
    const auto middle = squares.begin() + static_cast<std::ptrdiff_t>(squares.size() / 2);
    std::nth_element(squares.begin(), middle, squares.end());
    noise.push_back({seen[(from + to) / 2].speed, *middle / kMedian});
  }
  if (!(reference_ > 0.0))
    reference_ = std::sqrt(std::min_element(noise.begin(), noise.end(), [](Seen a, Seen b) {
                             return a.square < b.square;
                           })->square);
  const auto noise_at = [&](double speed) {
    std::size_t b = 1;
    while (b + 1 < noise.size() && noise[b].speed < speed)
      ++b;
    const double share = std::clamp((speed - noise[b - 1].speed) /
                                        std::max(noise[b].speed - noise[b - 1].speed, 1e-9),
                                    0.0, 1.0);
    return std::sqrt(noise[b - 1].square * (1.0 - share) + noise[b].square * share);
  };
  const auto weight_of = [&](double noise_rad) {
    return std::min(2.0, reference_ / std::max(noise_rad, 1e-9));
  };
  for (Window& window : windows_)
    for (std::size_t i = 0; i < window.weight.size(); ++i)
      window.weight[i] = weight_of(std::hypot(noise_at(window.rows.speed[i]), window.unruly[i]));
}

void RunUpProblem::weigh_alike() {
  for (Window& window : windows_) {
    window.left_out = window.corners;
    window.weight.assign(window.weight.size(), 1.0);
  }
}

void RunUpProblem::Window::weigh_unruly() {
  // Once per turn, of the change of bend: measured on noiseless corners, where 0.1 to 0.5 leave
  // intervals that hold and less does not (the test of simulated boards counts them).
  constexpr double kShare = 0.15;
  constexpr double kHandedOn = 0.4;
  const auto& t = rows.knots;
  const std::size_t turns = rows.turns();
  unruly.assign(turns, 0.0);
  if (t.size() < 6)
    return;
  std::vector<double> bend(t.size() - 3);
  for (std::size_t i = 0; i < bend.size(); ++i)
    bend[i] = bend_at(t, i);
  for (std::size_t i = 0; i + 1 < bend.size(); ++i) {
    const double change = kShare * std::abs(bend[i + 1] - bend[i]); // over turns i to i + 3
    for (std::size_t turn = i; turn < std::min(i + 5, turns); ++turn) {
      const bool inner = turn > i && turn < i + 4;
      unruly[turn] = std::max(unruly[turn], inner ? change : kHandedOn * change);
    }
  }
}

} // namespace whirler::tach
