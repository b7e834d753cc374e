// The radial grid against closed forms, and against the column where both must agree.
#include "radial_testing.hpp"
#include "whirler/film/column_path.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

TEST_CASE("exact: an even film on the grid is the column, step for step") {
  for (const auto& closures : {thin_reference(), thick_reference()}) {
    const auto pieces = Coat{}.pieces();
    Column<Reference> column(closures);
    auto one = column.start(kPour_m);
    REQUIRE(finish(column, pieces, one, 1e-5));
    const RadialGrid grid = radial_grid(32, kRadius_m);
    Radial<Reference> system(closures, grid);
    auto y = system.start(domed(grid, kPour_m, 1.0));
    Stepper<Radial<Reference>> stepper(system, y, 1e-5);
    REQUIRE(stepper.run(pieces, y, [](double, const auto&, const auto&) { return Next::go_on; }));
    for (const std::size_t i : {0U, 15U, 31U}) {
      CHECK(system.dry_m(y, i) == Approx(column.dry_m(one)).epsilon(1e-10));
      CHECK(system.wet_m(y, i) == Approx(column.wet_m(one)).epsilon(1e-10));
    }
  }
}

TEST_CASE("order: a domed film follows its characteristics, first order in the cells' width") {
  // Emslie, Bonner and Peck: r^2 z^3 stays constant along a characteristic, and z thins as an even
  // film would. eta 0.1, rho 1000, 3000 rpm, 100 um: after 1 s r/r0 = 7.2994 [math].
  const double k =
      mobility_of(kg_per_m3(1000), pascal_seconds(0.1)) * std::pow(rpm(3000).rad_per_s(), 2);
  const auto thinned = [&](double z0, double t) { return z0 / std::sqrt(1 + 4 * k * z0 * z0 * t); };
  CHECK(std::pow(100e-6 / thinned(100e-6, 1.0), 1.5) == Approx(7.2994).epsilon(1e-5));
  const double t = 0.05;
  const auto start = [](double xi) { return 100e-6 * (1.2 - 0.6 * xi); };
  const auto exact = [&](double xi) {
    double inner = 0.0, outer = xi; // where the characteristic through xi began
    for (int i = 0; i < 80; ++i) {
      const double xi0 = 0.5 * (inner + outer);
      const double z0 = start(xi0);
      (xi0 * std::pow(z0 / thinned(z0, t), 3.0) < xi ? inner : outer) = xi0;
    }
    return thinned(start(0.5 * (inner + outer)), t);
  };
  const auto error = [&](std::size_t cells) {
    const RadialGrid grid = radial_grid(cells, kRadius_m);
    RadialStart begun;
    for (std::size_t i = 0; i < cells; ++i)
      begun.wet_m.push_back(start(grid.middle(i)));
    const RadialStory story =
        radial_coat(liquid(0.1), grid, held(rpm(3000), seconds(t)), begun, 1e-9);
    double worst = 0.0;
    for (std::size_t i = 0; i < cells; ++i)
      worst = std::max(worst, std::abs(story.wet_m[i] / exact(grid.middle(i)) - 1.0));
    return worst;
  };
  const double coarse = error(40), fine = error(80), finer = error(160);
  CAPTURE(coarse, fine, finer);
  CHECK(std::log2(coarse / fine) == Approx(1.0).margin(0.15));
  CHECK(std::log2(fine / finer) == Approx(1.0).margin(0.15));
  CHECK(finer < 2e-3);
}

TEST_CASE("limit: after a whole coat the film is even to 0.15 per cent whatever the start") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  for (const double dome : {0.7, 1.5, 3.0})
    for (const auto& closures : {thin_reference(), thick_reference()}) {
      CAPTURE(dome);
      const RadialStory story =
          radial_coat(closures, grid, Coat{}.pieces(), {domed(grid, kPour_m, dome)}, 1e-5);
      CHECK(spread_of(story.dry_m) < 1.5e-3);
    }
}

TEST_CASE("limit: an under-dwelt film is not even, and there column and grid must differ") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  const auto after = [&](double t) {
    return radial_coat(
        thick_reference(), grid,
        {{0.0, 0.5, 0.0, rpm(1000).rad_per_s()}, {0.5, 0.5 + t, rpm(500).rad_per_s(), 0.0}},
        {domed(grid, kPour_m, 2.0)}, 1e-5);
  };
  const RadialStory early = after(0.5), late = after(3.0);
  CHECK(spread_of(early.dry_m) > 0.10);
  CHECK(spread_of(late.dry_m) < 0.1 * spread_of(early.dry_m));
  CHECK(early.dry_m.front() > early.dry_m.back()); // the middle keeps more
}

TEST_CASE("exact: dropping to two cells changes the film by less than the accuracy") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  for (const double dome : {0.75, 2.0})
    for (const double accuracy : {1e-3, 1e-5}) {
      CAPTURE(dome, accuracy);
      const auto closures = thick_reference();
      const RadialStory quick =
          radial_coat(closures, grid, Coat{}.pieces(), {domed(grid, kPour_m, dome)}, accuracy);
      Radial<Reference> whole(closures, grid);
      auto y = whole.start(domed(grid, kPour_m, dome));
      Stepper<Radial<Reference>> stepper(whole, y, 1e-8);
      REQUIRE(stepper.run(Coat{}.pieces(), y,
                          [](double, const auto&, const auto&) { return Next::go_on; }));
      for (std::size_t i = 0; i < 64; ++i)
        CHECK(std::abs(quick.dry_m[i] / whole.dry_m(y, i) - 1.0) < accuracy);
    }
}

TEST_CASE("exact: an even puddle stays even and its front keeps a^2 h_s") {
  const RadialGrid grid = radial_grid(64, kRadius_m);
  const double share = 0.4;
  const auto pieces = held(rpm(500), seconds(200));
  const RadialStory story =
      radial_coat(thick_reference(), grid, pieces, {domed(grid, 2e-3, 1.0), share}, 1e-8);
  // The column alone says when the solids have thinned by the share squared.
  Column<Reference> column(thick_reference());
  auto y = column.start(2e-3);
  ColumnPath<Reference> path;
  REQUIRE(follow(column, pieces, y, 1e-10, path));
  double early = 0.0, late = 200.0;
  const double wanted = column.dry_m(column.start(2e-3)) * share * share;
  for (int i = 0; i < 60; ++i) {
    const double t = 0.5 * (early + late);
    (column.dry_m(path.at(t)) > wanted ? early : late) = t;
  }
  REQUIRE(story.covered_s);
  CHECK(*story.covered_s == Approx(late).epsilon(1e-5));
  CHECK(story.dry_m.front() == Approx(column.dry_m(y)).epsilon(1e-6));
  CHECK(story.dry_m.back() == Approx(story.dry_m.front()).epsilon(1e-6));
}

TEST_CASE("limit: a puddle that dries on the way never covers the plate") {
  const RadialGrid grid = radial_grid(32, kRadius_m);
  Reference fast = thin_reference();
  fast.solvent[0].gas *= 300.0;
  const RadialStory story =
      radial_coat(fast, grid, Coat{}.pieces(), {domed(grid, 200e-6, 1.0), 0.2}, 1e-5);
  CHECK_FALSE(story.covered_s);
  CHECK(story.covered_share > 0.2);
  CHECK(story.covered_share < 0.9);
}
