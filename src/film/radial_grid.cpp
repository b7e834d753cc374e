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

RadialGrid innermost_two(const RadialGrid& grid) {
  RadialGrid two = grid;
  two.faces.resize(2);
  // The mean over all cells of what runs straight through the first two.
  const double beyond = 0.5 * static_cast<double>(grid.size() - 1);
  two.weight = {1.0 - beyond, beyond};
  return two;
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
