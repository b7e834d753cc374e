// What the tests of the radial grid share.
#pragma once

#include "catch.hpp"
#include "reference_liquids.hpp"
#include "thinning_test_closures.hpp"
#include "whirler/film/radial_run.hpp"

#include <algorithm>
#include <numeric>

namespace whirler::film::thinning::testing {

inline constexpr double kRadius_m = 0.05;
inline constexpr double kPour_m = 500e-6;

inline WetClosures liquid(double eta_Pa_s) {
  WetClosures c;
  c.base_mobility = mobility_of(kg_per_m3(1000), pascal_seconds(eta_Pa_s));
  return c;
}

template <class Closures, class Flow = NewtonFlow>
RadialStory radial_coat(const Closures& closures, const RadialGrid& grid,
                        const std::vector<Piece>& pieces, const RadialStart& start, double accuracy,
                        Flow flow = {}, double air_m2_s = 0.0) {
  auto story =
      RadialRun<Closures, Flow>(closures, grid, flow, air_m2_s, accuracy).run(pieces, start);
  REQUIRE(story.has_value());
  return std::move(*story);
}

/// (Thickest - thinnest)/mean.
inline double spread_of(const std::vector<double>& film) {
  const auto [least, most] = std::minmax_element(film.begin(), film.end());
  const double mean =
      std::accumulate(film.begin(), film.end(), 0.0) / static_cast<double>(film.size());
  return (*most - *least) / mean;
}

} // namespace whirler::film::thinning::testing
