// What lies under the watch of a run: a mount's columns beside a fit that all mounts share, and a
// mount that was passed before the first turn that counts.
#include "../../src/tach/mount_motion.hpp"
#include "../../src/tach/whirl_columns.hpp"
#include "catch.hpp"
#include "pulse_maker.hpp"

#include <algorithm>

using namespace whirler::tach;

namespace {

constexpr std::size_t kPlumbs = 2;
constexpr double kSlope = 0.03;

/// One turn of any numbers, as both fits take it.
struct Turn {
  std::array<double, kLiveRows> values{};
  std::array<double, kLiveRows> re{};
  std::array<double, kLiveRows> im{};
  std::array<double, kMostExtra * kLiveRows> extra{}; // plumb, then whirl
  double speed = 0.0;
  SharedTurn shared;
};

Turn turn_of(const TurnBasis& basis, int number, std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  Turn out;
  const double plumb = 1.0 / (1.0 + 0.05 * number);
  out.speed = 0.5 + 0.02 * number;
  const double weight = out.shared.weight = 0.5 + 0.01 * number;
  for (std::size_t p = 0; p < kPlumbs; ++p)
    out.extra[p * kLiveRows + p + 1] = plumb;
  for (std::size_t r = 0; r < kLiveRows; ++r) {
    out.values[r] = normal(random);
    out.re[r] = out.extra[kPlumbs * kLiveRows + r] = normal(random);
    out.im[r] = out.extra[(kPlumbs + 1) * kLiveRows + r] = normal(random);
    SharedRow& row = out.shared.design[r];
    for (std::size_t q = 0; q < kSplineWidth; ++q)
      row[q] =
          weight * out.speed * (basis.spline_rows[r][q] + kSlope * basis.spline_slope_rows[r][q]);
    if (r > 0)
      row[kSplineWidth + r - 1] = weight;
    if (r > 0)
      row[kSplineWidth + 2 + r - 1] = weight * plumb;
    row[kSplineWidth + 4] = weight * out.values[r];
  }
  return out;
}

} // namespace

TEST_CASE("exact: two columns beside a shared fit say what the whole triangle says") {
  const TurnBasis basis(6, kLiveRows, 1);
  std::mt19937_64 random(11);
  Elimination whole(basis, kPlumbs + 2);
  Elimination shared(basis, kPlumbs);
  WhirlColumns columns;
  for (int number = 0; number < 60; ++number) {
    Turn turn = turn_of(basis, number, random);
    if (number % 13 == 7) {
      whole.skip_turn();
      shared.skip_turn();
    } else {
      whole.add_turn(turn.values, turn.speed, kSlope, turn.extra, turn.shared.weight);
      shared.add_turn(turn.values, turn.speed, kSlope, turn.extra, turn.shared.weight);
      columns.add_turn(turn.shared, turn.re, turn.im);
    }
    std::copy(shared.last_pivot().begin(), shared.last_pivot().end(), turn.shared.pivot.begin());
    turn.shared.by_pivot = 1.0 / turn.shared.pivot[0];
    columns.next_knot(turn.shared);
  }
  const BorderSolution expected = solve(whole.border());
  const WhirlSolution found = columns.solve(shared_fit(shared));
  REQUIRE(expected.solvable);
  REQUIRE(found.solvable);
  CHECK(found.rss == Approx(expected.rss).epsilon(1e-10));
  CHECK(found.far_above.real() == Approx(expected.value[4]).epsilon(1e-9));
  CHECK(found.far_above.imag() == Approx(expected.value[5]).epsilon(1e-9));
  CHECK(found.far_variance ==
        Approx(std::max(expected.covariance(4, 4), expected.covariance(5, 5))).epsilon(1e-9));
  for (std::size_t i = 0; i < 4; ++i) {
    CHECK(found.border[i] == Approx(expected.value[i]).epsilon(1e-9));
    CHECK(found.variance[i] == Approx(expected.covariance(i, i)).epsilon(1e-9));
  }
}

TEST_CASE("limit: a soft mount passed in the first turns from rest rings as the equation says") {
  // 500 rpm/s through 6 Hz (360 rpm), the first mark 1.3 rad after the start. Against a Runge-Kutta
  // integration in plain coordinates; whirl in units of U/M.
  pulse_maker::Motion motion{{0.0}, {0.0}};
  motion.go_to(1500, 500, 1);
  constexpr double kFirst = 1.3;
  constexpr std::size_t kSteps = 16;
  const pulse_maker::Mount mount{0.6e-6, 0.6, 0.015, 6.0, 0.05, 0.0};
  const pulse_maker::Whirl truth(motion, mount, -kFirst);
  const double ramp = 500 * pulse_maker::kRpm;
  const auto time_at = [&](double psi) { return std::sqrt(2.0 * (kFirst + psi) / ramp); };
  MountMotion found({2.0 * pulse_maker::kPi * 6.0, 0.05}, kSteps);
  found.begin(ramp * time_at(0.0), ramp);
  std::vector<Complex> g(kSteps);
  double worst = 0.0;
  double largest = 0.0;
  for (int turn = 0; turn < 8; ++turn) {
    std::array<double, kSteps> step_s{};
    const auto psi = [&](std::size_t s) {
      return 2.0 * pulse_maker::kPi * (turn + static_cast<double>(s) / kSteps);
    };
    for (std::size_t s = 0; s < kSteps; ++s)
      step_s[s] = time_at(psi(s + 1)) - time_at(psi(s));
    found.turn(step_s, ramp, g);
    for (std::size_t s = 0; s < kSteps; ++s) {
      const double y = truth.y(time_at(psi(s))) / 1e-6;
      worst = std::max(worst, std::abs(g[s].imag() - y));
      largest = std::max(largest, std::abs(y));
    }
  }
  CHECK(largest > 1.5);
  CHECK(worst < 0.03 * largest);
}
