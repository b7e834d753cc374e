// The radial grid's own books: its Jacobian is its derivative, and no solids are lost.
#include "radial_testing.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film::thinning;
using namespace whirler::film::thinning::testing;

namespace {

/// Three solvents that dry unlike each other, vapour in the air, heat: every term at work.
DryingClosures<3> busy_closures() {
  DryingClosures<3> c;
  const Reference one = thin_reference();
  c.start_phi = one.start_phi;
  c.base_mobility = one.base_mobility;
  c.martin_b = one.martin_b;
  c.density_solvent = one.density_solvent;
  c.arrhenius_K = one.arrhenius_K;
  c.heat_still2 = 4.0;
  c.heat_pumped2 = one.heat_pumped2;
  for (std::size_t i = 0; i < 3; ++i) {
    c.solvent[i] = one.solvent[0];
    c.solvent[i].antoine_a += 0.9 * static_cast<double>(i);
    c.solvent[i].far_Pa = 20.0 * static_cast<double>(i);
    c.store.solvent[i] = one.store.solvent[0];
    c.store.latent[i] = one.store.latent[0];
  }
  c.share = {0.5, 0.3, 0.2};
  c.stefan = true;
  c.far_mole_share = 6e-4;
  return c;
}

/// The worst mismatch between (s - J)^-1 applied by the system and J by central differences, and
/// between f_t and its difference, as shares of the terms' sizes.
template <class System>
double jacobian_mismatch(System& system, std::vector<double> y, double t) {
  const std::size_t n = y.size();
  std::vector<double> f(n), f_t(n), up(n), down(n), back(n);
  system.linearise(t, y, f, f_t);
  const double shift = 3.0;
  system.factor(shift);
  double worst = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    // Column j of s - J by differences, solved by the system, must be the unit vector.
    const double step = 1e-6 * std::max(std::abs(y[j]), 1e-2);
    auto moved = y;
    moved[j] = y[j] + step;
    system.rhs(t, moved, up);
    moved[j] = y[j] - step;
    system.rhs(t, moved, down);
    for (std::size_t i = 0; i < n; ++i)
      back[i] = (i == j ? shift : 0.0) - (up[i] - down[i]) / (2.0 * step);
    system.solve(back);
    for (std::size_t i = 0; i < n; ++i) {
      const double size = std::max(std::abs(y[i]), 1e-2) / std::max(std::abs(y[j]), 1e-2);
      worst = std::max(worst, std::abs(back[i] - (i == j ? 1.0 : 0.0)) / size);
    }
  }
  const double dt = 1e-5;
  system.rhs(t + dt, y, up);
  system.rhs(t - dt, y, down);
  for (std::size_t i = 0; i < n; ++i) {
    const double size = std::max(std::abs(f[i]), 1e-3 * std::max(std::abs(y[i]), 1e-2));
    worst = std::max(worst, std::abs((up[i] - down[i]) / (2.0 * dt) - f_t[i]) / size);
  }
  return worst;
}

/// A state of the system that is even in nothing.
template <class System>
std::vector<double> rough_state(const System& system) {
  std::vector<double> wet;
  for (std::size_t i = 0; i < system.cells(); ++i)
    wet.push_back(40e-6 * (1.3 - 0.06 * static_cast<double>(i % 5)));
  auto y = system.start(wet);
  for (std::size_t i = 0; i < system.heat_at(); ++i)
    if (i % System::kBlock != 0)
      y[i] *= 0.6 + 0.05 * static_cast<double>(i % 7);
  y[system.heat_at()] -= 1.5;
  return y;
}

} // namespace

TEST_CASE("exact: the radial Jacobian is the derivative of the radial equations") {
  const Piece ramp{0.0, 10.0, 100.0, 35.0};
  const double t = 3.0;
  SECTION("one solvent, one film temperature") {
    Radial<Reference> system(thin_reference(), radial_grid(6, kRadius_m));
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("three solvents with their wind") {
    Radial<DryingClosures<3>> system(busy_closures(), radial_grid(4, kRadius_m));
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("a puddle in its own frame") {
    Radial<DryingClosures<3>, NewtonFlow, Frame::puddle> system(busy_closures(),
                                                                radial_grid(4, kRadius_m));
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("a screw on the hub") {
    Radial<Reference> system(thin_reference(), radial_grid(5, kRadius_m, 0.01));
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("a power-law liquid") {
    const PowerFlow flow{0.6, 2e4, kRadius_m};
    Radial<Reference, PowerFlow> system(thin_reference(), radial_grid(6, kRadius_m), flow);
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("turbulent air at the rim") {
    Radial<Reference> system(thin_reference(), radial_grid(6, 0.15));
    system.set_air_viscosity(1.56e-5);
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
  SECTION("a liquid that does not dry") {
    Radial<WetClosures> system(liquid(0.1), radial_grid(6, kRadius_m));
    system.enter(ramp);
    CHECK(jacobian_mismatch(system, rough_state(system), t) < 1e-6);
  }
}

TEST_CASE("conserves: what leaves a cell its neighbour receives, drying or not, to 1e-12") {
  const auto balance = [](auto& system) {
    using System = std::decay_t<decltype(system)>;
    system.enter({0.0, 10.0, 300.0, 0.0});
    const auto y = rough_state(system);
    std::vector<double> f(y.size());
    system.rhs(1.0, y, f);
    double change = 0.0, rim = 0.0, held = 0.0;
    const auto moment = system.closures().at(300.0, y[system.heat_at()]);
    for (std::size_t i = 0; i < system.cells(); ++i) {
      const double u = y[i * System::kBlock];
      const double cells = static_cast<double>(system.cells());
      change += -0.5 * std::pow(u, -1.5) * f[i * System::kBlock] / cells;
      held += std::pow(u, -0.5) / cells;
      const auto r = rates_at(system.closures(), moment, 9e4, System::solvents(y, i));
      rim = 2.0 * r.spread * std::pow(u, -1.5); // 2 xi K h^3 phi at xi = 1
    }
    // In a frame that grows, what is held per area falls as the area grows: f's last is d ln a^2.
    double grown = 0.0;
    if constexpr (System::kMoving)
      grown = f[system.front_at()] * held;
    CHECK(change + grown + (System::kMoving ? 0.0 : rim) == Approx(0.0).margin(1e-12 * rim));
  };
  Radial<Reference> disc(thin_reference(), radial_grid(40, kRadius_m));
  balance(disc);
  Radial<Reference, NewtonFlow, Frame::puddle> puddle(thin_reference(), radial_grid(40, kRadius_m));
  balance(puddle);
}

TEST_CASE("conserves: solids on the plate and over its rim are those poured, to 1e-10") {
  // A domed pour of the thin resist at constant speed; the rim's outflow integrated beside the
  // solver by a quadrature of its own (Hermite's, fourth order), every step short.
  const Reference closures = thin_reference();
  using System = Radial<Reference>;
  System system(closures, radial_grid(16, kRadius_m));
  const double omega = rpm(1500).rad_per_s();
  auto y = system.start(domed(system.grid(), kPour_m, 2.0));
  const std::size_t last = (system.cells() - 1) * System::kBlock;
  const auto outflow = [&](const std::vector<double>& at) {
    const auto moment = closures.at(omega, at[system.heat_at()]);
    const auto r = rates_at(closures, moment, omega * omega, System::solvents(at, 15));
    return 2.0 * r.spread * std::pow(at[last], -1.5);
  };
  const auto solids = [&](const std::vector<double>& at) {
    double sum = 0.0;
    for (std::size_t i = 0; i < system.cells(); ++i)
      sum += System::dry_m(at, i) / 16.0;
    return sum;
  };
  const double poured = solids(y);
  double gone = 0.0, t0 = 0.0, q0 = 0.0, dq0 = 0.0;
  Stepper<System> stepper(system, y, 1e-13);
  stepper.set_next_step(1e-7);
  const auto pieces = held(rpm(1500), seconds(20));
  REQUIRE(stepper.run(pieces, y, [&](double t, const auto& at, const auto& f) {
    auto up = at, down = at;
    const double e = 3e-6 * at[last] / std::max(std::abs(f[last]), 1e-300);
    for (std::size_t i = 0; i < at.size(); ++i) {
      up[i] += e * f[i];
      down[i] -= e * f[i];
    }
    const double q = outflow(at), dq = (outflow(up) - outflow(down)) / (2.0 * e);
    const double h = t - t0;
    gone += 0.5 * h * (q0 + q) + h * h / 12.0 * (dq0 - dq);
    t0 = t, q0 = q, dq0 = dq;
    return Next::go_on;
  }));
  const double off = (solids(y) + gone) / poured - 1.0;
  CAPTURE(stepper.counts().steps, off);
  CHECK(gone / poured > 0.9);
  CHECK(std::abs(off) < 1e-10);
}

TEST_CASE("conserves: a domed puddle carries all its solids to the rim") {
  const RadialGrid grid = radial_grid(32, kRadius_m);
  using System = Radial<Reference, NewtonFlow, Frame::puddle>;
  System system(thick_reference(), grid);
  auto y = system.start(domed(grid, 2e-3, 2.5));
  const auto solids = [&] {
    double mean = 0.0;
    for (std::size_t i = 0; i < 32; ++i)
      mean += System::dry_m(y, i) / 32.0;
    return mean * std::exp(y[system.front_at()]);
  };
  const double poured = solids();
  Stepper<System> stepper(system, y, 1e-10);
  REQUIRE(stepper.run(held(rpm(500), seconds(10)), y,
                      [](double, const auto&, const auto&) { return Next::go_on; }));
  CHECK(std::exp(0.5 * y[system.front_at()]) > 2.0); // it did spread
  CHECK(solids() == Approx(poured).epsilon(1e-9));
}
