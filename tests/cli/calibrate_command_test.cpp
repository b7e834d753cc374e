#include "run_program.hpp"

#include <filesystem>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr const char* kResist = R"(// a comment that has to survive
{"kind":"resist","format":1,"name":"test liquid","viscosity_mPa_s":25,"at_C":25,
 "density_g_cm3":1.04,"solids_mass_fraction":0.36,"solids_density_g_cm3":1.2,
 "solvent":"pgmea" /* here too */ })";

} // namespace

TEST_CASE("calibrate: boards go beside the resist, whose text stays as it was") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const Said said = run_program("calibrate " + resist + " --witness 2.1um@3000rpm --json");
  REQUIRE(said.status == 0);
  CHECK(folder.read("thin.json") == kResist);
  CHECK(said.json()["stored"].get<bool>() == true);
  const Said checked = run_program("check " + folder.path("thin.calibration.json"));
  CHECK(checked.status == 0);
  CHECK_THAT(folder.read("thin.calibration.json"), ContainsSubstring("\"speed_rpm\": 3000,"));
}

TEST_CASE("calibrate: each call adds a board, and speed says calibrated") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const std::string ask = "speed --target 2um --json --resist " + resist;
  const auto before = run_program(ask).json();
  CHECK(before["model"].get<std::string>() == "thinning");
  REQUIRE(run_program("calibrate " + resist + " --witness 2.1um@3000rpm").status == 0);
  const auto one = run_program(ask).json();
  CHECK(one["model"].get<std::string>() == "calibrated");
  const auto width = [](const nlohmann::json& json) {
    return json["interval_um"][1].get<double>() / json["interval_um"][0].get<double>();
  };
  CHECK(width(one) < 0.7 * width(before));
  const auto two = run_program("calibrate " + resist + " --witness 2.9um@1500rpm --json").json();
  CHECK(two["used"].get<int>() == 2);
  CHECK(width(run_program(ask).json()) < width(one));
}

TEST_CASE("calibrate: one board moves the factor alone, several speeds the exponent") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const auto none = run_program("calibrate " + resist + " --json").json();
  CHECK(none["factor"].get<double>() == Approx(1.0));
  CHECK(none["interval"][1].get<double>() == Approx(1.45).epsilon(0.01));
  CHECK(none["stored"].get<bool>() == false);
  const auto one =
      run_program("calibrate " + resist + " --witness 3um@3000rpm --dry-run --json").json();
  CHECK(one["factor"].get<double>() > 1.1);
  CHECK(one["exponent"].get<double>() == Approx(none["exponent"].get<double>()).margin(1e-3));
  CHECK_FALSE(std::filesystem::exists(folder.path("thin.calibration.json")));
  const auto steep = run_program("calibrate " + resist + " --dry-run --json " +
                                 "--witness 4.2um@1000rpm --witness 2.8um@2000rpm "
                                 "--witness 2.2um@3000rpm --witness 1.87um@4000rpm")
                         .json();
  CHECK(steep["exponent"].get<double>() > none["exponent"].get<double>() + 0.02);
}

TEST_CASE("calibrate: an outlier is named and left out") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const Said said = run_program("calibrate " + resist +
                                " --json --witness 2.1um@3000rpm --witness 2.12um@3000rpm"
                                " --witness 2.09um@3000rpm --witness 21um@3000rpm");
  REQUIRE(said.status == 0);
  CHECK(said.json()["used"].get<int>() == 3);
  REQUIRE(said.json()["suspects"].size() == 1);
  CHECK_THAT(said.json()["suspects"][0].get<std::string>(), ContainsSubstring("21 um"));
}

TEST_CASE("published: a board weighed 24.000 and 24.096 g, 80 cm2, carries 10 um") {
  // ISO 2808, difference in mass: 96.0 mg over 80 cm2 at 1.2 g/cm3.
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const std::string weigh =
      "calibrate " + resist + " --weighed 24.000g,24.096g --area 80cm2 --json";
  const auto only = run_program(weigh).json();
  CHECK(only["thickness_um"].get<double>() == Approx(10.0).epsilon(0.001));
  CHECK(only["stored"].get<bool>() == false); // no speed, nothing to learn
  const auto learnt = run_program(weigh + " --speed 150rpm").json();
  CHECK(learnt["stored"].get<bool>() == true);
  CHECK_THAT(folder.read("thin.calibration.json"), ContainsSubstring("weighed"));
}

TEST_CASE("calibrate: boards that cannot be are refused, and nothing is stored") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  CHECK(run_program("calibrate " + resist + " --witness 2.1um").status == 2);
  CHECK(run_program("calibrate " + resist + " --weighed 24g").status == 2);
  CHECK(run_program("calibrate " + resist + " --weighed 24g,24.1g").status == 2);
  CHECK(run_program("calibrate " + resist + " --weighed 24.1g,24g --area 80cm2").status == 3);
  CHECK(run_program("calibrate " + resist + " --witness 0um@3000rpm").status == 3);
  CHECK(run_program("calibrate " + resist + " --witness 5mm@3000rpm").status == 3);
  CHECK(run_program("calibrate " + resist + " --witness 2um@3000000rpm").status == 3);
  CHECK(run_program("calibrate " + folder.path("none.json")).status == 3);
  CHECK_FALSE(std::filesystem::exists(folder.path("thin.calibration.json")));
}

TEST_CASE("calibrate: a mistake in the stored boards is said with its place") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  folder.write("thin.calibration.json",
               R"({"kind":"calibration","format":1,"boards":[{"speed_rpm":-1,"thickness_um":2}]})");
  for (const std::string& command :
       {"calibrate " + resist, "speed --target 2um --resist " + resist}) {
    const Said said = run_program(command);
    CHECK(said.status == 3);
    CHECK_THAT(said.err, ContainsSubstring("/boards/0/speed_rpm"));
  }
}

TEST_CASE("calibrate: a board typed twice is counted once, and said") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const std::string board = " --witness 2.2um@3000rpm";
  const auto once = run_program("calibrate " + resist + board + " --dry-run --json").json();
  const auto twice = run_program("calibrate " + resist + board + board + " --json").json();
  CHECK(twice["interval"] == once["interval"]);
  CHECK(twice["used"] == 1);
  REQUIRE(twice["repeats"].size() == 1);
  CHECK_THAT(twice["repeats"][0].get<std::string>(), ContainsSubstring("2.2 um at 3000 rpm"));
  const auto again = run_program("calibrate " + resist + board + " --json").json();
  CHECK(again["interval"] == once["interval"]);
  CHECK(again["stored"] == false);
  const auto other = run_program("calibrate " + resist + " --witness 2.21um@3000rpm --json").json();
  CHECK(other["used"] == 2);
  CHECK(other["repeats"].empty());
}

TEST_CASE("calibrate: a mistake in the stored boards is said once") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  folder.write("thin.calibration.json",
               R"({"kind":"calibration","format":1,"boards":[{"speed_rpm":-1,"thickness_um":2}]})");
  const Said said = run_program("calibrate " + resist + " --json");
  CHECK(said.status == 3);
  CHECK(said.json()["faults"].size() == 1);
}
