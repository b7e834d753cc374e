#include "catch.hpp"
#include "whirler/files/calibration.hpp"
#include "whirler/files/read.hpp"

using namespace whirler;
using namespace whirler::files;
using Catch::Matchers::ContainsSubstring;

TEST_CASE("exact: boards are read back as they were written") {
  const CalibrationFile written{
      "odd \"name\"",
      {{{rpm(3000), celsius(21.5), {}}, micrometres(1.62), false},
       {{rpm(1234.5), {}, seconds(45)}, micrometres(13.0625), true},
       {{rpm(2500), {}, {}, rpm_per_s(1000), rpm(500), seconds(5)}, micrometres(2.2), false}}};
  const auto read = read_calibration(write_calibration(written), "c.json");
  REQUIRE(read.ok());
  CHECK(read->resist == "odd \"name\"");
  REQUIRE(read->boards.size() == 3);
  CHECK(read->boards[0].spin.speed.rpm() == Approx(3000).epsilon(1e-9));
  CHECK(read->boards[0].spin.temperature->celsius() == Approx(21.5).epsilon(1e-6));
  CHECK_FALSE(read->boards[0].spin.dwell.has_value());
  CHECK_FALSE(read->boards[0].weighed);
  CHECK(read->boards[1].spin.speed.rpm() == Approx(1234.5).epsilon(1e-9));
  CHECK(read->boards[1].thickness.um() == Approx(13.0625).epsilon(1e-9));
  CHECK(read->boards[1].spin.dwell->s() == Approx(45));
  CHECK(read->boards[1].weighed);
  CHECK_FALSE(read->boards[1].spin.spread_speed.has_value());
  CHECK(read->boards[2].spin.ramp->rpm_per_s() == Approx(1000));
  CHECK(read->boards[2].spin.spread_speed->rpm() == Approx(500));
  CHECK(read->boards[2].spin.spread_dwell.s() == Approx(5));
}

TEST_CASE("files: a calibration is a kind of its own, and may be empty") {
  const std::string text = write_calibration({"", {}});
  const auto any = read_any(text, "c.json");
  REQUIRE(any.ok());
  CHECK(kind_word(*any) == "calibration");
  CHECK_FALSE(read_resist(text, "c.json").ok());
}

TEST_CASE("files: boards that cannot be are refused at their place") {
  const auto pointer = [](const std::string& board) {
    const auto read =
        read_calibration(R"({"kind":"calibration","format":1,"boards":[)" + board + "]}", "c.json");
    REQUIRE_FALSE(read.ok());
    return read.faults().front().pointer;
  };
  CHECK(pointer(R"({"speed_rpm":0,"thickness_um":1})") == "/boards/0/speed_rpm");
  CHECK(pointer(R"({"speed_rpm":3000})") == "/boards/0/thickness_um");
  CHECK(pointer(R"({"speed_rpm":3000,"thickness_um":1,"ramp_rpm_s":0})") == "/boards/0/ramp_rpm_s");
  CHECK(pointer(R"({"speed_rpm":3000,"thickness_um":1,"spread_rpm":500})") ==
        "/boards/0/spread_rpm");
  CHECK(pointer(R"({"speed_rpm":3000,"thickness_um":1,"how":"guessed"})") == "/boards/0/how");
  CHECK(pointer(R"({"speed_rpm":3000,"thickness_um":1,"temperature_C":-300})") ==
        "/boards/0/temperature_C");
}

TEST_CASE("files: a resist holds one wedge or an array of them") {
  const std::string head =
      R"({"kind":"resist","format":1,"viscosity_mPa_s":25,"density_g_cm3":1,
      "solids_mass_fraction":1,"solvent":null,"wedge":)";
  const std::string wedge = R"({"irradiance_mW_cm2":8,"time_s":40,"film_um":18,
      "steps":[{"density":0.3,"left_um":18},{"density":0.9,"left_um":5}]})";
  CHECK(read_resist(head + wedge + "}", "r.json")->wedges.size() == 1);
  CHECK(read_resist(head + "[" + wedge + "," + wedge + "]}", "r.json")->wedges.size() == 2);
  CHECK_FALSE(read_resist(head + "[]}", "r.json").ok());
  CHECK_FALSE(read_resist(head + "7}", "r.json").ok());
  const auto bad = read_resist(head + "[" + wedge + R"(,{"time_s":1}]})", "r.json");
  REQUIRE_FALSE(bad.ok());
  CHECK_THAT(bad.faults().front().pointer, ContainsSubstring("/wedge/1"));
}
