// Nelder and Mead's simplex, for a few unknowns and a cost that is dear (Comput. J. 7, 308, 1965).
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>

namespace whirler::tach {

template <std::size_t N>
struct Corner {
  std::array<double, N> at{};
  double cost = 0.0;
};

/// Downhill from `start`, the first simplex reaching `span` along each coordinate, until its costs
/// lie within `enough` of each other.
template <std::size_t N, class Cost>
[[nodiscard]] Corner<N> downhill(Cost cost, Corner<N> start, const std::array<double, N>& span,
                                 double enough, int most_steps) {
  std::array<Corner<N>, N + 1> t;
  t.fill(start);
  for (std::size_t i = 0; i < N; ++i) {
    t[i + 1].at[i] += span[i];
    t[i + 1].cost = cost(t[i + 1].at);
  }
  const auto less = [](const Corner<N>& a, const Corner<N>& b) { return a.cost < b.cost; };
  const auto along = [&](double share) { // from the middle of the others, towards the worst
    Corner<N> out;
    for (std::size_t k = 0; k < N; ++k) {
      double mid = 0.0;
      for (std::size_t i = 0; i < N; ++i)
        mid += t[i].at[k] / static_cast<double>(N);
      out.at[k] = mid + share * (t[N].at[k] - mid);
    }
    out.cost = cost(out.at);
    return out;
  };
  for (int step = 0; step < most_steps; ++step) {
    std::sort(t.begin(), t.end(), less);
    if (t[N].cost - t[0].cost < enough)
      break;
    Corner<N> next = along(-1.0);
    if (next.cost < t[0].cost) {
      const Corner<N> further = along(-2.0);
      next = further.cost < next.cost ? further : next;
    } else if (next.cost >= t[N - 1].cost) {
      next = along(next.cost < t[N].cost ? -0.5 : 0.5);
    }
    if (next.cost < t[N].cost) {
      t[N] = next;
      continue;
    }
    for (std::size_t i = 1; i <= N; ++i) {
      for (std::size_t k = 0; k < N; ++k)
        t[i].at[k] = 0.5 * (t[i].at[k] + t[0].at[k]);
      t[i].cost = cost(t[i].at);
    }
  }
  return *std::min_element(t.begin(), t.end(), less);
}

} // namespace whirler::tach
