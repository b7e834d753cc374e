// What was poured is on the plate or gone over its rim, whatever the tolerance.
#include "radial_ledger.hpp"
#include "radial_testing.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

namespace {

/// Up in two steps, a dwell, and down to rest.
std::vector<Piece> two_rises() {
  const double slow = rpm(500).rad_per_s(), fast = rpm(3000).rad_per_s();
  return {{0.0, 0.5, 0.0, slow / 0.5},
          {0.5, 4.0, slow, 0.0},
          {4.0, 6.5, slow, (fast - slow) / 2.5},
          {6.5, 40.0, fast, 0.0},
          {40.0, 43.0, fast, -fast / 3.0}};
}

void check_books(const std::optional<RadialStory>& story) {
  REQUIRE(story);
  double gone = 0.0;
  for (const AcrossPoint& p : story->points) {
    const double held = p.covered * p.dry_mean_m;
    CHECK(std::abs(held + p.gone_m - story->poured_m) < 1e-10 * story->poured_m);
    CHECK(p.gone_m > gone - 1e-10 * story->poured_m);
    gone = p.gone_m;
  }
  CHECK(gone > 0.5 * story->poured_m);
}

} // namespace

TEST_CASE("conserves: poured solids are on the plate or over the rim, to 1e-10 at any tolerance") {
  const double accuracy = GENERATE(1e-2, 1e-3, 1e-5, 1e-8);
  CAPTURE(accuracy);
  const auto pieces = two_rises();
  const auto run = [&](const auto& closures, const RadialGrid& grid, auto flow, double air_m2_s,
                       const RadialStart& start) {
    using Run = RadialRun<std::decay_t<decltype(closures)>, decltype(flow)>;
    return Run(closures, grid, flow, air_m2_s, accuracy).run(pieces, start);
  };
  const RadialGrid plain = radial_grid(64, kRadius_m);
  for (const double dome : {2.0, 0.7, 1.0}) {
    CAPTURE(dome);
    const auto wet = domed(plain, kPour_m, dome);
    check_books(run(thin_reference(), plain, NewtonFlow{}, 0.0, {wet, 1.0}));
    check_books(run(thick_reference(), plain, NewtonFlow{}, 0.0, {wet, 1.0}));
    check_books(run(liquid(0.1), plain, NewtonFlow{}, 0.0, {wet, 1.0}));
  }
  SECTION("a puddle that spreads first") {
    const auto heap = domed(plain, 4 * kPour_m, 2.5);
    check_books(run(thick_reference(), plain, NewtonFlow{}, 0.0, {heap, 0.5}));
    const auto even = domed(plain, 4 * kPour_m, 1.0);
    check_books(run(thin_reference(), plain, NewtonFlow{}, 0.0, {even, 0.5}));
  }
  SECTION("a screw on the hub") {
    const RadialGrid grid = radial_grid(40, kRadius_m, 0.008);
    const auto wet = domed(grid, kPour_m, 1.5);
    check_books(run(thin_reference(), grid, NewtonFlow{}, 0.0, {wet, 1.0}));
  }
  SECTION("a power-law liquid") {
    const auto wet = domed(plain, kPour_m, 2.0);
    check_books(run(thin_reference(), plain, PowerFlow{0.6, 2e4, kRadius_m, 0.0}, 0.0, {wet, 1.0}));
  }
  SECTION("turbulent air at the rim") {
    const RadialGrid wide = radial_grid(40, 0.15);
    check_books(
        run(thin_reference(), wide, NewtonFlow{}, 1.56e-5, {domed(wide, kPour_m, 2.0), 1.0}));
  }
}

TEST_CASE("conserves: what the flow law sends over the rim is what the cells have lost") {
  // Two accounts of one coat, the rim's integrated beside the cells. Each is as good as the step,
  // of what was poured.
  const double accuracy = GENERATE(1e-3, 1e-5, 1e-8);
  const double dome = GENERATE(2.0, 0.7);
  const double screw_m = GENERATE(0.0, 0.008);
  CAPTURE(accuracy, dome, screw_m);
  const RadialGrid grid = radial_grid(64, kRadius_m, screw_m);
  RadialLedger<Reference> disc(thick_reference(), grid);
  auto y = disc.start(domed(grid, kPour_m, dome));
  const double poured = disc.held_m(y);
  double worst = 0.0;
  Stepper<RadialLedger<Reference>> stepper(disc, y, accuracy);
  REQUIRE(stepper.run(two_rises(), y, [&](double, const auto& at, const auto&) {
    worst = std::max(worst, std::abs(disc.held_m(at) - disc.left_m(at)) / poured);
    return Next::go_on;
  }));
  CHECK(disc.held_m(y) < 0.1 * poured);
  CHECK(worst < 2.0 * accuracy);
}

TEST_CASE("conserves: no circle's inside ever gains solids") {
  const RadialGrid grid = radial_grid(32, kRadius_m);
  Radial<Reference> disc(thin_reference(), grid);
  auto y = disc.start(domed(grid, kPour_m, 0.7));
  std::vector<double> before(grid.size(), 1.0);
  Stepper<Radial<Reference>> stepper(disc, y, 1e-3);
  int rises = 0;
  REQUIRE(stepper.run(two_rises(), y, [&](double, const auto& at, const auto&) {
    double inside = 0.0;
    for (std::size_t i = 0; i < grid.size(); ++i) {
      inside += disc.dry_m(at, i);
      rises += inside > before[i] * (1.0 + 1e-12) ? 1 : 0;
      before[i] = inside;
    }
    return Next::go_on;
  }));
  CHECK(rises == 0);
}
