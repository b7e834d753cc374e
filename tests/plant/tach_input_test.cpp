// The driver's side of the tach: what its speed loop is told.
#include "whirler/plant/tach_input.hpp"

#include "catch.hpp"

#include <array>
#include <cmath>

using namespace whirler;
using namespace whirler::plant;

TEST_CASE("exact: at a steady speed uneven marks do not reach the speed that the loop is told") {
  // A loop that saw them would answer with torque once a turn, and the shaft would swing as if the
  // plate were off its centre.
  const double speed_rpm = GENERATE(100.0, 220.0, 400.0, 1200.0, 3000.0);
  CAPTURE(speed_rpm);
  link::HelloReply driver;
  driver.tick_numerator = 1;
  driver.tick_denominator = 2000000;
  driver.tick_bits = 16;
  driver.marks_per_turn = 6;
  TachInput tach(driver);
  constexpr std::array<double, 6> kEarly{0.0, 0.02, -0.03, 0.01, 0.025, -0.02}; // of a mark's turn
  const double mark_ticks = 2e6 * 60.0 / speed_rpm / 6.0;
  for (int i = 0; i < 60; ++i) {
    const double at = mark_ticks * (i + kEarly[static_cast<std::size_t>(i % 6)]);
    tach.pulse(std::llround(at), i % 6 == 0);
    if (i >= 6)
      CHECK(tach.measured().rpm() == Approx(speed_rpm).epsilon(2e-4));
    if (i >= 6)
      CHECK(tach.age().s() == Approx(30.0 / speed_rpm).epsilon(0.02));
  }
}
