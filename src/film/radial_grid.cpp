#include "whirler/film/radial_run.hpp"

namespace whirler::film::thinning {

RadialGrid radial_grid(std::size_t cells, double radius_m, double hub_m) {
  RadialGrid grid;
  const double inner = hub_m * hub_m / (radius_m * radius_m);
  grid.width = (1.0 - inner) / static_cast<double>(cells);
  grid.radius_m = radius_m;
  for (std::size_t i = 1; i <= cells; ++i)
    grid.faces.push_back(inner + grid.width * static_cast<double>(i));
  grid.faces.back() = 1.0;
  grid.weight.assign(cells, 1.0 / static_cast<double>(cells));
  return grid;
}

double binomial(std::size_t i, std::size_t k) {
  double value = 1.0;
  for (std::size_t j = 0; j < k; ++j)
    value *= (static_cast<double>(i) - static_cast<double>(j)) / static_cast<double>(j + 1);
  return value;
}

RadialGrid innermost(const RadialGrid& grid, std::size_t kept) {
  RadialGrid inner = grid;
  inner.faces.resize(kept);
  inner.weight.assign(kept, 0.0);
  // The mean over all cells of the k-th difference's polynomial is (n over k + 1)/n; the k-th
  // difference is made of the cells up to k with alternating binomials.
  const auto n = static_cast<double>(grid.size());
  for (std::size_t k = 0; k < kept; ++k)
    for (std::size_t i = 0; i <= k; ++i)
      inner.weight[i] +=
          binomial(grid.size(), k + 1) / n * binomial(k, i) * ((k - i) % 2 == 0 ? 1.0 : -1.0);
  return inner;
}

std::vector<double> domed(const RadialGrid& grid, double mean_m, double dome) {
  std::vector<double> wet_m;
  const double edge = 2.0 / (1.0 + dome);
  const double inner = grid.faces.front() - grid.width;
  for (std::size_t i = 0; i < grid.size(); ++i) {
    const double x = (grid.middle(i) - inner) / (1.0 - inner);
    wet_m.push_back(mean_m * edge * (dome + (1.0 - dome) * x));
  }
  return wet_m;
}

} // namespace whirler::film::thinning
