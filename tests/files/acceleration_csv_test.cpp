#include "whirler/files/acceleration_csv.hpp"

#include "catch.hpp"

using namespace whirler;
using namespace whirler::files;

TEST_CASE("acceleration: a table of times and samples is read in either order of its columns") {
  const auto read =
      read_acceleration("t_s,accel_m_s2\r\n0,1.5\n0.001,-2\n0.002,0\n0.003,1e-3\n0.004,7\n\n", "a");
  REQUIRE(read.ok());
  CHECK(read->at[3].ms() == Approx(3.0));
  CHECK(read->m_s2[1] == -2.0);
  const auto turned = read_acceleration("accel_m_s2,t_s\n1,0\n2,1\n3,2\n4,3\n5,4\n", "a");
  REQUIRE(turned.ok());
  CHECK(turned->at[4].s() == 4.0);
  CHECK(turned->m_s2[4] == 5.0);
}

TEST_CASE("acceleration: a table that is none is refused with the place") {
  const auto line_of = [](std::string_view text) {
    const auto read = read_acceleration(text, "a.csv");
    return read.ok() ? 0 : static_cast<int>(read.faults().front().line);
  };
  CHECK(line_of("") > 0);
  CHECK(line_of("t_s\n1\n") == 1);
  CHECK(line_of("t_s,mark\n0,1\n") == 1);
  CHECK(line_of("t_s,accel_m_s2,t_s\n0,1,2\n") == 1);
  CHECK(line_of("t_s,accel_m_s2\n0,1\n0.1,1\n0.2,x\n0.3,1\n0.4,1\n") == 4);
  CHECK(line_of("t_s,accel_m_s2\n0,1\n0.1,1\n0.1,2\n0.3,1\n0.4,1\n") == 4);
  CHECK(line_of("t_s,accel_m_s2\n0,1\n0.1,nan\n0.2,2\n0.3,1\n0.4,1\n") == 3);
  CHECK(line_of("t_s,accel_m_s2\n0,1\n0.1\n0.2,2\n0.3,1\n0.4,1\n") == 3);
  CHECK(line_of("t_s,accel_m_s2\n0,1\n") > 0);
}
