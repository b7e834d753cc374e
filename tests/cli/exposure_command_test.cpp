#include "run_program.hpp"

#include <cmath>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

/// A resist with a wedge of depth 25 um and critical dose 20 mJ/cm2, 10 mW/cm2 for 60 s.
std::string resist(const std::string& wedge) {
  return R"({"kind":"resist","format":1,"name":"thick","viscosity_mPa_s":1250,
  "density_g_cm3":1.09,"solids_mass_fraction":0.6,"solids_density_g_cm3":1.2,
  "solvent":"pgmea")" +
         wedge + "}";
}

std::string wedge(double film_um, bool whole_steps_only) {
  std::string steps;
  for (int i = 1; i <= 12; ++i) {
    const double density = 0.15 * i;
    const double depth = 25.0 * std::log(600.0 * std::pow(10.0, -density) / 20.0);
    double left = std::min(film_um, std::max(0.0, depth));
    if (whole_steps_only)
      left = depth >= film_um ? film_um : 0.0;
    steps += (steps.empty() ? "" : ",") + std::string("{\"density\":") + std::to_string(density) +
             ",\"left_um\":" + std::to_string(left) + "}";
  }
  return R"({"irradiance_mW_cm2":10,"time_s":60,"film_um":)" + std::to_string(film_um) +
         ",\"steps\":[" + steps + "]}";
}

} // namespace

TEST_CASE("exposure: seconds follow the working curve of the file's wedge") {
  const TestFolder folder;
  const std::string file = folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const Said said = run_program("exposure --thickness 40um --lamp 8mW/cm2 --json --resist " + file);
  REQUIRE(said.status == 0);
  const auto json = said.json();
  const double dose = 20 * std::exp(40.0 / 25.0); // E_c exp(h/D_p), Jacobs 1992
  CHECK(json["dose_mJ_cm2"].get<double>() == Approx(dose).epsilon(1e-4));
  CHECK(json["time_s"].get<double>() == Approx(dose / 8).epsilon(1e-4));
  CHECK(json["interval_s"][0].get<double>() < dose / 8);
  CHECK(json["interval_s"][1].get<double>() > dose / 8);
  CHECK(json["curve"]["depth_um"].get<double>() == Approx(25).epsilon(1e-3));
  CHECK_THAT(said.err, ContainsSubstring("UV burns eyes"));
}

TEST_CASE("exposure: a past exposure is judged, an uneven film weighed") {
  const TestFolder folder;
  const std::string file = " --lamp 8mW/cm2 --json --resist " +
                           folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const auto was = run_program("exposure --thickness 40um --was 25s" + file).json()["was"];
  CHECK(was["verdict"].get<std::string>() == "over");
  CHECK(was["ratio"].get<double>() == Approx(25 * 8 / (20 * std::exp(1.6))).epsilon(1e-3));
  const auto range = run_program("exposure --thickness-range 18um,24um" + file).json()["range"];
  CHECK(range["over_at_thinnest"].get<double>() == Approx(std::exp(6.0 / 25.0)).epsilon(1e-3));
  CHECK(range["serves_both"].get<bool>() == true);
  const auto wide = run_program("exposure --thickness-range 10um,40um" + file).json()["range"];
  CHECK(wide["serves_both"].get<bool>() == false);
  const auto sides =
      run_program("exposure --thickness 20um --other-side 30um" + file).json()["sides"];
  CHECK(sides[1]["time_s"].get<double>() / sides[0]["time_s"].get<double>() ==
        Approx(std::exp(10.0 / 25.0)).epsilon(1e-3));
}

TEST_CASE("exposure: both sides of a board are judged, each by its own film and time") {
  const TestFolder folder;
  const std::string ask =
      "exposure --thickness 20um --other-side 40um --lamp 8mW/cm2 --json " +
      ("--resist " + folder.write("r.json", resist(",\"wedge\":" + wedge(60, false))));
  const auto needs = [](double um) { return 20 * std::exp(um / 25.0) / 8; };
  const Said same = run_program(ask + " --was 9s"); // they need 5.6 and 12.4 s
  const auto sides = same.json()["sides"];
  CHECK(sides[0]["was"]["verdict"] == "over");
  CHECK(sides[1]["was"]["verdict"] == "under");
  CHECK(sides[0]["was"]["ratio"].get<double>() == Approx(9 / needs(20)).epsilon(1e-3));
  CHECK(sides[1]["was"]["ratio"].get<double>() == Approx(9 / needs(40)).epsilon(1e-3));
  CHECK(sides[1]["was"]["next_s"].get<double>() == Approx(needs(40)).epsilon(1e-3));
  CHECK(same.json()["was"] == sides[0]["was"]); // the first side's, as before
  CHECK_THAT(same.err, ContainsSubstring("the side of 20 um: try next 5.56 s"));
  CHECK_THAT(same.err, ContainsSubstring("the side of 40 um: try next 12.4 s"));
  const auto own = run_program(ask + " --was 9s --was-other 12.4s").json()["sides"];
  CHECK(own[0]["was"]["verdict"] == "over");
  CHECK(own[1]["was"]["verdict"] == "within");
  CHECK(run_program(ask + " --was-other 12.4s").status == 2);
}

TEST_CASE("exposure: an uneven film's past exposure is judged at both its ends") {
  const TestFolder folder;
  const auto json = run_program("exposure --thickness-range 18um,24um --lamp 8mW/cm2 --json "
                                "--was 9s --resist " +
                                folder.write("r.json", resist(",\"wedge\":" + wedge(60, false))))
                        .json();
  CHECK(json["was"]["ratio"].get<double>() ==
        Approx(72 / (20 * std::exp(24 / 25.0))).epsilon(1e-3));
  CHECK(json["range"]["was_over_at_thinnest"].get<double>() ==
        Approx(72 / (20 * std::exp(18 / 25.0))).epsilon(1e-3));
}

TEST_CASE("exposure: a film that the wedge does not show is answered with a warning") {
  const TestFolder folder;
  const std::string with = " --lamp 8mW/cm2 --json --resist " +
                           folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const Said beyond = run_program("exposure --thickness 90um" + with);
  CHECK(beyond.status == 0);
  CHECK(beyond.json()["sides"][0]["outside_wedge"] == true);
  CHECK_THAT(beyond.err, ContainsSubstring("90 um lies outside the films that the wedge shows"));
  const Said inside = run_program("exposure --thickness 50um" + with);
  CHECK(inside.json()["warnings"].empty());
  CHECK(inside.json()["sides"][0]["outside_wedge"] == false);
  CHECK(run_program("exposure --thickness-range 1um,50um" + with).json()["warnings"].size() == 1);
}

TEST_CASE("exposure: whole steps on one film speak for that film alone, on two for all") {
  const TestFolder folder;
  const std::string one = folder.write("one.json", resist(",\"wedge\":" + wedge(40, true)));
  CHECK(run_program("exposure --thickness 40um --lamp 8mW/cm2 --resist " + one).status == 0);
  const Said other = run_program("exposure --thickness 55um --lamp 8mW/cm2 --resist " + one);
  CHECK(other.status == 3);
  CHECK_THAT(other.err, ContainsSubstring("second film"));
  const std::string two = folder.write(
      "two.json", resist(",\"wedge\":[" + wedge(20, true) + "," + wedge(60, true) + "]"));
  CHECK(run_program("check " + two).status == 0);
  CHECK(run_program("exposure --thickness 55um --lamp 8mW/cm2 --resist " + two).status == 0);
}

TEST_CASE("exposure: without a wedge there are no seconds") {
  const TestFolder folder;
  const std::string file = folder.write("r.json", resist(""));
  const Said said = run_program("exposure --thickness 40um --lamp 8mW/cm2 --resist " + file);
  CHECK(said.status == 3);
  CHECK_THAT(said.err, ContainsSubstring("step wedge"));
}

TEST_CASE("exposure: wrong words end with status 2, wrong lamps with 3") {
  const TestFolder folder;
  const std::string file = folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const std::string with = " --resist " + file;
  CHECK(run_program("exposure --lamp 8mW/cm2" + with).status == 2);
  CHECK(run_program("exposure --thickness 40um" + with).status == 2);
  CHECK(run_program("exposure --thickness 40um --lamp 8" + with).status == 2);
  CHECK(run_program("exposure --thickness 40um --lamp 0mW/cm2" + with).status == 3);
  CHECK(run_program("exposure --thickness 0um --lamp 8mW/cm2" + with).status == 3);
  CHECK(run_program("exposure --thickness-range 40um --lamp 8mW/cm2" + with).status == 2);
  CHECK(run_program("exposure --thickness-range 40um,20um --lamp 8mW/cm2" + with).status == 3);
  CHECK(run_program("exposure --thickness 40um --lamp 8mW/cm2 --was 0s" + with).status == 3);
}

TEST_CASE("exposure: one film is asked about, with a latitude that can be") {
  const TestFolder folder;
  const std::string with = " --lamp 8mW/cm2 --resist " +
                           folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const Said both = run_program("exposure --thickness 40um --thickness-range 18um,24um" + with);
  CHECK(both.status == 2);
  CHECK_THAT(both.err, ContainsSubstring("--thickness and --thickness-range"));
  for (const char* latitude : {"-1", "0.5", "nan", "inf"}) {
    const Said said =
        run_program(std::string("exposure --thickness 40um --latitude ") + latitude + with);
    CHECK(said.status == 2);
    CHECK_THAT(said.err, ContainsSubstring("1 or more"));
  }
}

TEST_CASE("exposure: it says that its seconds only just reach the copper") {
  const TestFolder folder;
  const Said said = run_program("exposure --thickness 40um --lamp 8mW/cm2 --json --resist " +
                                folder.write("r.json", resist(",\"wedge\":" + wedge(60, false))));
  CHECK_THAT(said.json()["margin"].get<std::string>(), ContainsSubstring("only just"));
  CHECK_THAT(said.err, ContainsSubstring("common practice, no source"));
}

TEST_CASE("exposure: what the usual margin adds is not called overexposed") {
  const TestFolder folder;
  const std::string file = folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  const std::string ask = "exposure --thickness 40um --lamp 8mW/cm2 --json --resist " + file;
  const double needed = run_program(ask).json()["time_s"].get<double>();
  const auto was = [&](double times) {
    return run_program(ask + " --was " + std::to_string(times * needed) + "s");
  };
  CHECK(was(1.3).json()["was"]["within_margin"].get<bool>());
  CHECK_THAT(was(1.3).err, ContainsSubstring("within the usual margin"));
  CHECK_THAT(was(1.3).err, ContainsSubstring("keep it"));
  CHECK_FALSE(was(1.7).json()["was"]["within_margin"].get<bool>());
  CHECK_THAT(was(1.7).err, ContainsSubstring("overexposed"));
  CHECK_FALSE(was(0.7).json()["was"]["within_margin"].get<bool>());
}

TEST_CASE("exposure: a lamp stronger than any is a slip in its unit") {
  const TestFolder folder;
  const std::string file = folder.write("r.json", resist(",\"wedge\":" + wedge(60, false)));
  CHECK(run_program("exposure --thickness 40um --lamp 1e300mW/cm2 --resist " + file).status == 3);
}
