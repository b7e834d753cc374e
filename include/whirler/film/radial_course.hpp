// What a coat over the radius starts from, and what it tells: the film across the plate at each
// step, with the account of its solids.
#pragma once

#include "whirler/film/radial.hpp"
#include "whirler/film/thinning_stepper.hpp"

#include <optional>
#include <vector>

namespace whirler::film::thinning {

struct RadialStart {
  std::vector<double> wet_m; ///< of each cell
  double puddle_share = 1.0; ///< radius that it covers over the plate's
};

/// Wet thicknesses whose mean is `mean_m` and whose depth at the axis is `dome` times that at the
/// edge, a paraboloid.
[[nodiscard]] std::vector<double> domed(const RadialGrid& grid, double mean_m, double dome);

/// Dry and wet film across the plate. SI.
struct AcrossPoint {
  double t = 0.0;
  double dry_centre_m = 0.0, dry_mean_m = 0.0, dry_edge_m = 0.0;
  double dry_least_m = 0.0, dry_most_m = 0.0;
  double wet_centre_m = 0.0, wet_mean_m = 0.0, wet_edge_m = 0.0;
  double covered = 1.0; ///< share of the plate's area under a puddle; the means are over it
  double gone_m = 0.0;  ///< solids gone over the rim, over the plate's area
  double T_K = 298.15;
};

struct RadialStory {
  std::vector<AcrossPoint> points;  ///< each step
  std::vector<double> dry_m, wet_m; ///< each cell at the end
  std::optional<double> covered_s;  ///< when a puddle's front reached the rim
  double covered_share = 1.0;       ///< of the plate's radius at the end
  double poured_m = 0.0;            ///< solids, over the plate's area
  Counts counts;
};

} // namespace whirler::film::thinning
