#include "run_program.hpp"

#include <atomic>
#include <filesystem>
#include <thread>
#include <vector>

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
                                " --witness 2.09um@3000rpm --witness 21um@3000rpm --sure");
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

TEST_CASE("calibrate: a board that note would doubt is doubted here, and --sure learns from it") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist); // some 2.4 um at 3000 rpm
  const auto learn = [&](const std::string& boards) {
    return run_program("calibrate " + resist + " " + boards);
  };
  for (const char* board : {"--witness 24um@3000rpm", "--witness 210nm@3000rpm",
                            "--weighed 24.00g,24.36g --area 80cm2 --speed 3000rpm", // 37 um
                            "--witness 2.1um@3000rpm --witness 19um@3000rpm@21C"}) {
    CAPTURE(board);
    const Said said = learn(board);
    CHECK(said.status == 3);
    CHECK_THAT(said.err, ContainsSubstring("is far from what this spin leaves") &&
                             ContainsSubstring("--sure learns from it although"));
    CHECK(learn(std::string(board) + " --dry-run").status == 3);
    CHECK_FALSE(std::filesystem::exists(folder.path("thin.calibration.json")));
  }
  for (const char* never : {"--witness 5nm@3000rpm", "--witness 2.1mm@3000rpm"}) {
    const Said said = learn(std::string(never) + " --sure");
    CHECK(said.status == 3);
    CHECK_THAT(said.err, ContainsSubstring("no spun film is"));
  }
  CHECK(learn("--witness 10um@150rpm").status == 0); // right for so slow a spin
  CHECK(learn("--witness 24um@3000rpm --sure").status == 0);
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

TEST_CASE("calibrate: a board of an unknown room was coated in the label's, not in each next one") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  const std::string stated = folder.write("stated.json", kResist);
  REQUIRE(run_program("calibrate " + resist + " --witness 2.1um@3000rpm").status == 0);
  REQUIRE(run_program("calibrate " + stated + " --witness 2.1um@3000rpm@25C").status == 0);
  const auto speed_at = [](const std::string& file, const char* room) {
    return run_program("speed --target 2um --json --resist " + file + " --temperature " + room)
        .json()["speed_rpm"]
        .get<double>();
  };
  for (const char* room : {"12C", "25C", "33C"})
    CHECK(speed_at(resist, room) == Approx(speed_at(stated, room)).epsilon(1e-6));
  CHECK(speed_at(resist, "33C") > 1.15 * speed_at(resist, "12C"));
}

TEST_CASE("calibrate: an option from which nothing would be learnt is refused") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  for (const char* options :
       {"--weighed 30.12g,30.14g --weighed 29.80g,29.90g --area 80cm2 --speed 3000rpm",
        "--area 80cm2", "--witness 2.1um@3000rpm --speed 3000rpm", "--ramp 500rpm/s"}) {
    CAPTURE(options);
    CHECK(run_program("calibrate " + resist + " " + options).status == 2);
  }
  CHECK(run_program("calibrate " + resist + " --weighed 0g,0.02g --area 80cm2").status == 3);
  CHECK_FALSE(std::filesystem::exists(folder.path("thin.calibration.json")));
}

TEST_CASE("calibrate: boards that several programs bring at once are all kept") {
  const TestFolder folder;
  const std::string resist = folder.write("thin.json", kResist);
  constexpr int kPrograms = 6;
  std::vector<std::thread> programs;
  std::atomic<int> stored = 0;
  for (int i = 0; i < kPrograms; ++i)
    programs.emplace_back([&, i] {
      const std::string board = "2.1" + std::to_string(i) + "um@3000rpm";
      if (run_program("calibrate " + resist + " --witness " + board).status == 0)
        ++stored;
    });
  for (std::thread& program : programs)
    program.join();
  CHECK(stored == kPrograms);
  CHECK(run_program("calibrate " + resist + " --json").json()["used"].get<int>() == kPrograms);
}

TEST_CASE("calibrate: scales too coarse for the film are said to be") {
  const TestFolder folder;
  const std::string ask = "calibrate " + folder.write("thin.json", kResist) +
                          " --dry-run --json --area 80cm2 --speed 3000rpm --weighed ";
  CHECK(run_program(ask + "24.0000g,24.0200g").json()["warnings"].empty());
  CHECK(run_program(ask + "24g,24.0200g").json()["warnings"].empty());
  CHECK(run_program(ask + "24000.0mg,24020.0mg").json()["warnings"].empty());
  const Said coarse = run_program(ask + "24.00g,24.02g"); // 0.8 of 10 mg, of 20 mg
  CHECK(coarse.json()["warnings"].size() == 1);
  CHECK_THAT(coarse.err, ContainsSubstring("unsure by 40 %"));
}
