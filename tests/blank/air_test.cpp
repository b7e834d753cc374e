#include "catch.hpp"
#include "plates.hpp"
#include "whirler/blank/air.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::blank;

TEST_CASE("published: drag of a disc in laminar air has C_M 3.87 Re^-1/2 (von Karman)") {
  const Air air;
  const double w = rpm(1000.0).rad_per_s();
  const double r = 0.05;
  const double re = w * r * r / air.kinematic_viscosity.m2_per_s();
  REQUIRE(re < kReynoldsTurbulent);
  const double by_hand =
      3.87 / std::sqrt(re) * air.density.kg_per_m3() * w * w * std::pow(r, 5.0) / 2.0;
  CHECK(disc_drag(metres(r), rpm(1000.0)).N_m() == Approx(by_hand).epsilon(1e-12));
  CHECK(disc_drag(metres(r), rpm(0.0)).N_m() == 0.0);
}

TEST_CASE("limit: far past transition the drag has C_M 0.146 Re^-1/5 (Schlichting)") {
  const Air air;
  const double w = rpm(20000.0).rad_per_s();
  const double r = 1.0;
  const double re = w * r * r / air.kinematic_viscosity.m2_per_s();
  const double whole =
      0.146 * std::pow(re, -0.2) * air.density.kg_per_m3() * w * w * std::pow(r, 5.0) / 2.0;
  CHECK(disc_drag(metres(r), rpm(20000.0)).N_m() == Approx(whole).epsilon(1e-3));
}

TEST_CASE("limit: drag has no jump where the flow turns turbulent, and grows on") {
  const Air air;
  const double w = rpm(6000.0).rad_per_s();
  const double edge = std::sqrt(kReynoldsTurbulent * air.kinematic_viscosity.m2_per_s() / w);
  const double below = disc_drag(metres(edge * (1.0 - 1e-9)), rpm(6000.0)).N_m();
  const double above = disc_drag(metres(edge * (1.0 + 1e-9)), rpm(6000.0)).N_m();
  CHECK(above == Approx(below).epsilon(1e-6));
  CHECK(disc_drag(metres(edge * 1.1), rpm(6000.0)).N_m() > 1.4 * above);
}

TEST_CASE("exact: laminar friction 0.616 rho (nu omega^3)^1/2 r summed over a rectangle") {
  const Air air;
  const auto plate = properties(bare_plate(60.0, 40.0, 1.0, g_per_cm3(2.0)));
  const double w = rpm(2000.0).rad_per_s();
  // midpoint sum over one face, the hole left out; two faces
  constexpr int kSteps = 600;
  double second_m4 = 0.0;
  for (int i = 0; i < kSteps; ++i)
    for (int k = 0; k < kSteps; ++k) {
      const double x = 0.06 * ((i + 0.5) / kSteps - 0.5);
      const double y = 0.04 * ((k + 0.5) / kSteps - 0.5);
      if (std::hypot(x, y) > 2.1e-3)
        second_m4 += (x * x + y * y) * 0.06 * 0.04 / (kSteps * kSteps);
    }
  const double stress =
      0.616 * air.density.kg_per_m3() * std::sqrt(air.kinematic_viscosity.m2_per_s() * w * w * w);
  CHECK(air_drag(*plate, rpm(2000.0)).N_m() == Approx(2.0 * stress * second_m4).epsilon(1e-3));
}

TEST_CASE("exact: the turbulent zone starts where Re says, and faster is nearer the hole") {
  const auto slow = turbulent_zone(rpm(3000.0));
  const auto fast = turbulent_zone(rpm(12000.0));
  REQUIRE(slow.ok());
  CHECK(slow->onset.mm() == Approx(97.13).epsilon(1e-3)); // sqrt(1.9e5 x 1.56e-5 / 314.16)
  CHECK(slow->full > slow->onset);
  CHECK(fast->onset.mm() == Approx(slow->onset.mm() / 2.0).epsilon(1e-12));
  CHECK_FALSE(turbulent_zone(rpm(0.0)).ok());
}
